"""List what a design rests on: each input with its value and whether it was measured, given, assumed or a default.

Computes: nothing; walks the design beside the text it was read from.
Units: as the file writes them; defaults as their table writes them.
Source: the design file; canvas/design/tables/defaults.toml for defaults and their sources.
Limits: a default that is empty, none or zero is not listed. A part named in the file's ``assumed`` is assumed whole.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Literal

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from canvas.design.reading import Source
from canvas.design.tables import default_entry, default_text
from canvas.survey.marks import Marks

Standing = Literal["measured", "given", "assumed", "default"]
TITLES = ("name", "units", "words", "revision", "assumed", "decision", "reading")  # said elsewhere


@dataclass(frozen=True, slots=True, kw_only=True)
class InputRow:
    """One input.

    Attributes
    ----------
    part : str
        Of the file, such as ``hull`` or ``panel "spray hood"``.
    key : str
        In that part, such as ``edges "aft" finish``.
    value : str
        With its unit.
    standing : str
        ``measured``, ``given``, ``assumed`` or ``default``.
    note : str
        Source of a default, uncertainty of what was measured.
    """

    part: str
    key: str
    value: str
    standing: Standing
    note: str = ""


def input_rows(source: Source, marks: Marks) -> tuple[InputRow, ...]:
    """Return every input of a design in the order of its parts.

    Parameters
    ----------
    source : Source
        The design with its text.
    marks : Marks
        As adjusted, for what was measured.
    """
    raw = tomllib.loads(source.text)
    rows: list[InputRow] = []
    for name, value in _fields(source.design):
        if name in TITLES or name == "marks":
            continue
        given = raw.get(name)
        if isinstance(value, list):
            for index, element in enumerate(value):
                if isinstance(element, BaseModel):
                    title = getattr(element, "name", None) or index + 1
                    rows += _rows(
                        element, _at(given, index), part=f'{name} "{title}"', key="", assumed=source.design.assumed
                    )
        elif isinstance(value, BaseModel):
            rows += _rows(value, given, part=name, key="", assumed=source.design.assumed)
    return (*_mark_rows(source, raw, marks), *rows)


def _fields(record: BaseModel) -> Iterator[tuple[str, Any]]:
    for name in type(record).model_fields:
        yield name, getattr(record, name)


def _at(raw: Any, index: int) -> Any:
    return raw[index] if isinstance(raw, list) and index < len(raw) else None


def _rows(record: BaseModel, raw: Any, *, part: str, key: str, assumed: list[str]) -> list[InputRow]:
    """Return the inputs of one record and those inside it."""
    rows: list[InputRow] = []
    for name, field in type(record).model_fields.items():
        value = getattr(record, name)
        typed = raw.get(field.alias or name) if isinstance(raw, Mapping) else None
        here = f"{key} {field.alias or name}".strip()
        if isinstance(value, BaseModel):
            rows += _rows(value, typed, part=part, key=here, assumed=assumed)
        elif isinstance(value, list) and value and isinstance(value[0], BaseModel):
            for index, element in enumerate(value):
                title = getattr(element, "name", None)
                said = f'{here} "{title}"' if title else f"{here} {index + 1}"
                rows += _rows(element, _at(typed, index), part=part, key=said, assumed=assumed)
        elif typed is not None and name != "name":
            standing: Standing = "assumed" if _is_assumed(part, here, assumed) else "given"
            rows.append(InputRow(part=part, key=here, value=_text(typed), standing=standing))
        elif name not in record.model_fields_set:
            rows += _default_row(value, field, part=part, key=here)
    return rows


def _default_row(value: Any, field: FieldInfo, *, part: str, key: str) -> list[InputRow]:
    extra = field.json_schema_extra
    entry = extra.get("default_entry") if isinstance(extra, dict) else None
    if isinstance(entry, str):
        note = default_entry(entry).source
        return [InputRow(part=part, key=key, value=default_text(entry), standing="default", note=note)]
    if isinstance(value, str) and value:
        return [InputRow(part=part, key=key, value=value, standing="default")]
    return []


def _is_assumed(part: str, key: str, assumed: list[str]) -> bool:
    whole = f"{part.split(' ', maxsplit=1)[0]}.{key.replace(' ', '.')}"
    return any(whole == one or whole.startswith(f"{one}.") or part == one for one in assumed)


def _text(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return ", ".join(f"({_text(one)})" if isinstance(one, list) else _text(one) for one in value)
    if isinstance(value, Mapping):
        return ", ".join(f"{key} {_text(one)}" for key, one in value.items())
    return str(value)


def _mark_rows(source: Source, raw: Mapping[str, Any], marks: Marks) -> list[InputRow]:
    rows = []
    spread = dict(zip(marks.names, marks.largest_sd(), strict=True))
    for name, value in raw.get("marks", {}).items():
        if value == "survey":
            x, y, z = marks.at(name)
            row = InputRow(
                part="marks", key=name, value=f"{x:.3f} m, {y:.3f} m, {z:.3f} m", standing="measured",
                note=f"by tape, within {2000 * spread[name]:.0f} mm (95 %)",
            )  # fmt: skip
        else:
            assumed = _is_assumed("marks", name, source.design.assumed)
            row = InputRow(part="marks", key=name, value=_text(value), standing="assumed" if assumed else "given")
        rows.append(row)
    return rows

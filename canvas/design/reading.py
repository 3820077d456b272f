"""Read a design file: text to TOML to records, with every problem found, each with its line.

Computes: a `Design` with the text it came from, or the list of all problems.
Units: SI and radians out.
Source: TOML 1.0 (tomllib); records by pydantic.
Limits: geometry is checked later, by `canvas.geometry`; here only form, quantities and names.
"""

from __future__ import annotations

import hashlib
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path as FilePath
from typing import Any, get_args

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from canvas.design.names import name_problems
from canvas.design.positions import Path, key_lines, nearest_line, path_text
from canvas.design.problems import DesignError, Problem, nearest
from canvas.design.schema.design import Design
from canvas.design.units import BARE_LENGTHS

MOST_BYTES = 4_000_000  # a design is some tens of kilobytes; more than this is another kind of file


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Source:
    """A design with the text it was read from.

    Attributes
    ----------
    design : Design
    text : str
        As on disk.
    file : str
        As the user named it.
    folder : FilePath
        Where mesh files named in the design are looked for.
    lines : mapping
        Line of every key; see `canvas.design.positions.key_lines`.
    """

    design: Design
    text: str
    file: str
    folder: FilePath
    lines: Mapping[Path, int]

    @property
    def sha256(self) -> str:
        """Hash of the text, which names this state of the design."""
        return hashlib.sha256(self.text.encode("utf-8")).hexdigest()

    def problem(self, path: Path, *, code: str, found: str, wanted: str, severity: Any = "error") -> Problem:
        """Return a problem at a path of this file."""
        return Problem(
            code=code,
            severity=severity,
            file=self.file,
            line=nearest_line(self.lines, path),
            key=path_text(path, element_names(tomllib.loads(self.text))),
            found=found,
            wanted=wanted,
        )


def read_design(path: FilePath | str) -> Source:
    """Read the design file at `path`.

    Raises
    ------
    DesignError
        With all problems: not a file, not UTF-8, not TOML, unknown or missing keys, wrong quantities, unknown names.
    """
    file = str(path)
    return parse_design(_text_of(FilePath(path)), file=file, folder=FilePath(path).parent)


def parse_design(text: str, *, file: str, folder: FilePath) -> Source:
    """Read a design from text; see `read_design`."""
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise DesignError([_syntax_problem(error, file=file)]) from error
    except RecursionError as error:
        raise DesignError([_plain(file, "not-toml", "brackets nested too deep", "Flatten them.")]) from error
    lines = key_lines(text)
    names = element_names(data)
    try:
        design = Design.model_validate(data, context={"units": _declared_units(data)})
    except ValidationError as error:
        problems = [
            _record_problem(detail, data=data, file=file, lines=lines, names=names)
            for detail in error.errors(include_url=False)
        ]
        raise DesignError(sorted(set(problems), key=lambda problem: (problem.line or 0, problem.key))) from error
    source = Source(design=design, text=text, file=file, folder=folder, lines=lines)
    problems = [
        source.problem(issue.path, code=issue.code, found=issue.found, wanted=issue.wanted)
        for issue in name_problems(design)
    ]
    if problems:
        raise DesignError(problems)
    return source


def element_names(data: Mapping[str, Any]) -> Mapping[Path, str]:
    """Return the names of the elements of the file's arrays of tables, by path."""
    return {
        (key, index): element["name"]
        for key, value in data.items()
        if isinstance(value, list)
        for index, element in enumerate(value)
        if isinstance(element, dict) and isinstance(element.get("name"), str)
    }


def _text_of(path: FilePath) -> str:
    file = str(path)
    try:
        if path.is_dir():
            raise DesignError(
                [_plain(file, "not-a-file", "a folder", "Name the design file in it, such as boat.toml.")]
            )
        if path.stat().st_size > MOST_BYTES:
            raise DesignError(
                [_plain(file, "too-large", f"{path.stat().st_size} bytes", "A design file is text of a few pages.")]
            )
        raw = path.read_bytes()
    except FileNotFoundError as error:
        raise DesignError(
            [_plain(file, "no-file", "no such file", "Check the name, or start one with: canvas new FILE")]
        ) from error
    except OSError as error:
        raise DesignError(
            [_plain(file, "not-readable", error.strerror or "an error", "Check the file's permissions.")]
        ) from error
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        found = f"a byte that is not UTF-8 (0x{raw[error.start]:02x})"
        raise DesignError(
            [Problem(code="not-utf8", file=file, line=line, found=found, wanted="Save the file as UTF-8 text.")]
        ) from error
    return text


def _plain(file: str, code: str, found: str, wanted: str) -> Problem:
    return Problem(code=code, file=file, found=found, wanted=wanted)


def _syntax_problem(error: tomllib.TOMLDecodeError, *, file: str) -> Problem:
    message = str(error)
    line = None
    if "(at line " in message:
        message, _, tail = message.partition(" (at line ")
        line = int(tail.split(",")[0])
    return Problem(
        code="not-toml",
        file=file,
        line=line,
        found=f"text that is not TOML: {message.lower()}",
        wanted="Mend that line; see the examples for the form.",
    )


def _declared_units(data: Mapping[str, Any]) -> str:
    declared = data.get("units")
    return declared if declared in BARE_LENGTHS else "m"


def _record_problem(
    detail: ErrorDetails, *, data: Mapping[str, Any], file: str, lines: Mapping[Path, int], names: Mapping[Path, str]
) -> Problem:
    path = _path_in(data, detail["loc"])
    kind = detail["type"]
    found = _shown(detail.get("input"))
    context = detail.get("ctx", {})
    if kind == "extra_forbidden":
        path = (
            (*path[:-1], detail["loc"][-1]) if path and path[-1] != detail["loc"][-1] else path or (detail["loc"][-1],)
        )
        code, found, wanted = (
            "unknown-key",
            f'unknown key "{path[-1]}"',
            nearest(str(path[-1]), _keys_at(detail["loc"][:-1])),
        )
    elif kind == "missing":
        key = detail["loc"][-1]
        code, found, wanted = "missing-key", f'no key "{key}"', f'Add "{key}" here.'
    elif kind in ("literal_error", "union_tag_invalid"):
        expected = str(context.get("expected", context.get("expected_tags", "")))
        choices = [word.strip().strip("'") for word in expected.replace(" or ", ",").split(",")]
        code, wanted = "unknown-choice", nearest(str(detail.get("input")), choices)
        if kind == "union_tag_invalid":
            found = _shown(context.get("tag"))
    elif kind == "value_error":
        code, wanted = "wrong-value", str(context["error"])
    else:
        code, wanted = "wrong-value", f"{detail['msg']}."
    return Problem(
        code=code, file=file, line=nearest_line(lines, path), key=path_text(path, names), found=found, wanted=wanted
    )


def _path_in(data: Any, loc: tuple[str | int, ...]) -> Path:
    """Return the part of pydantic's location that stands in the file; tags of unions do not."""
    path: Path = ()
    here = data
    for part in loc:
        if (isinstance(here, dict) and part in here) or (
            isinstance(here, list) and isinstance(part, int) and part < len(here)
        ):
            here = here[part]
            path += (part,)
    return path


def _keys_at(loc: tuple[str | int, ...]) -> list[str]:
    """Return the keys that the record at pydantic's location knows."""
    models: list[type[BaseModel]] = [Design]
    for part in loc:
        fields = [
            field for model in models for name, field in model.model_fields.items() if part in (name, field.alias)
        ]
        if fields:
            models = [model for field in fields for model in _models_in(field.annotation)]
        elif isinstance(part, str):
            tagged = [
                model
                for model in models
                if "kind" in model.model_fields and part in get_args(model.model_fields["kind"].annotation)
            ]
            models = tagged or [model for model in models if model.__name__ == part] or models
    return sorted({field.alias or name for model in models for name, field in model.model_fields.items()})


def _models_in(annotation: Any) -> list[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    return [model for argument in get_args(annotation) for model in _models_in(argument)]


def _shown(value: Any) -> str:
    if isinstance(value, str):
        return f'"{value}"' if len(value) <= 60 else f'"{value[:57]}..."'
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        return "a list"
    return str(value).lower() if isinstance(value, bool) else str(value)

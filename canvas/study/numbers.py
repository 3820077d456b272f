"""Name numbers of a design, say between what they run, and write variants of the design with them.

Computes: paths from text such as ``panel "watch tent roof", edges "port".hollow``; values between two ends; the text of
    each variant.
Units: values as the file writes them, each with its own unit; both ends of a range in the same one, feet and inches in
    inches.
Source: paths as complaints write them, see `canvas.design.positions.path_text`; list places count from 0.
Limits: a number and one unit, a bare number, or feet and inches; each word of a unit begins with a letter or sign.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path as FilePath
from typing import Any

import numpy as np

from canvas.design import units
from canvas.design.editing import Draft
from canvas.design.positions import Path
from canvas.design.problems import DesignError, Problem, nearest
from canvas.design.reading import Source
from canvas.geometry.surface import Floats

_RANGE = re.compile(r"^(?P<paths>[^=]+)=\s*(?P<first>.+?)\s*\.\.\s*(?P<last>[^,]+?)\s*(?:,\s*(?P<steps>\d+)\s*)?$")
_VALUE = re.compile(r"^([-+]?(?:\d+\.?\d*|\.\d+))\s*([^\d\s]\S*(?:\s+[^\d\s]\S*)*)?$")
_UNIT = re.compile(r"[^\d\s.,/+-]+")
_TOKEN = re.compile(r'\s*[.,]?\s*(?:"([^"]+)"|\[(\d+)\]|([A-Za-z0-9_-]+))')
FEET_AND_INCHES = frozenset(unit for unit, size in units.LENGTHS.items() if size in (units.FOOT, units.INCH))
STEPS = 5
MOST_STEPS = 400
WANTED = "Write such as: marks.tent_aft_port[2] & marks.tent_aft_stbd[2] = 1.05 m .. 1.40 m, 8"


@dataclass(frozen=True, slots=True, kw_only=True)
class Vary:
    """One number that is varied, at one or more places of the file alike.

    Attributes
    ----------
    name : str
        As typed.
    paths : tuple of path
    first, last : float
        In `unit`.
    unit : str
        Empty for a bare number.
    steps : int
        Values in a sweep, both ends among them.
    """

    name: str
    paths: tuple[Path, ...]
    first: float
    last: float
    unit: str
    steps: int

    def written(self, value: float) -> str | float:
        """Return a value as the file writes it."""
        number = round(float(value), 6)
        return f"{number:g} {self.unit}" if self.unit else number

    def values(self) -> Floats:
        """Return the values of a sweep, (steps,)."""
        return np.linspace(self.first, self.last, self.steps)


def read_vary(text: str, source: Source) -> Vary:
    """Return what a ``--vary`` names.

    Raises
    ------
    DesignError
        When it does not read, or the design has no such number.
    """
    found = _RANGE.match(text.strip())
    if found is None:
        raise _wrong(text, WANTED)
    try:
        first, last, unit = _ends(found["first"].strip(), found["last"].strip())
    except ValueError as error:
        raise _wrong(text, str(error)) from None
    steps = int(found["steps"] or STEPS)
    if not 2 <= steps <= MOST_STEPS or first == last:
        raise _wrong(text, f"Let two ends differ, with 2 to {MOST_STEPS} steps.")
    data = tomllib.loads(source.text)
    names = [part.strip() for part in found["paths"].split("&")]
    return Vary(
        name=found["paths"].strip(),
        paths=tuple(_path(name, data) for name in names),
        first=first,
        last=last,
        unit=unit,
        steps=steps,
    )


def _ends(first: str, last: str) -> tuple[float, float, str]:
    """Return both ends of a range and their unit; a ValueError says what would do."""
    said = [set(_UNIT.findall(end)) for end in (first, last)]
    ends = _VALUE.match(first), _VALUE.match(last)
    alone = {end and end[2] for end in ends}  # one unit behind one number at both ends, or more is said
    if all(said) and said[0] | said[1] <= FEET_AND_INCHES and not (len(alone) == 1 and alone <= FEET_AND_INCHES):
        return units.length(first) / units.INCH, units.length(last) / units.INCH, "in"
    if ends[0] is None or ends[1] is None:
        raise ValueError(WANTED)
    unit = str(ends[0][2] or ends[1][2] or "").strip()
    if any((end[2] or unit).strip() != unit for end in ends if end is not None):
        raise ValueError("Write both ends in one unit.")
    return float(ends[0][1]), float(ends[1][1]), unit


def _path(text: str, data: Any) -> Path:
    """Return the path that a text names in a file; a name in quotes finds the element of that name."""
    at, here = 0, data
    path: list[str | int] = []
    while at < len(text):
        token = _TOKEN.match(text, at)
        if token is None:
            raise _wrong(text, WANTED)
        at = token.end()
        named, place, key = token.groups()
        part: str | int = int(place) if place is not None else named or key
        if isinstance(here, list) and isinstance(part, str):
            part = _place_of(part, here, text)
        try:
            here = here[part]
        except (KeyError, IndexError, TypeError):
            known = [str(one) for one in here] if isinstance(here, dict) else []
            if isinstance(here, dict) and isinstance(part, str) and at >= len(text):
                path.append(part)
                return tuple(path)  # a key with a default need not stand in the file
            raise _wrong(text, nearest(str(part), known) if known else "There is no such place in the file.") from None
        path.append(part)
    if isinstance(here, list | dict):
        raise _wrong(text, "Name one number of it.")
    return tuple(path)


def _place_of(name: str, listed: Sequence[Any], text: str) -> int:
    names = [one.get("name", "") if isinstance(one, dict) else "" for one in listed]
    if name not in names:
        raise _wrong(text, nearest(name, [one for one in names if one]))
    return names.index(name)


def variant_texts(source: Source, varies: Sequence[Vary], rows: Sequence[Sequence[float]]) -> tuple[str, ...]:
    """Return the text of the design with each varied number at a value, for each row of values; comments stay.

    Parameters
    ----------
    source : Source
    varies : sequence of Vary
    rows : sequence of sequence of float
        A value for each varied number, by variant.
    """
    draft = Draft(source.text, path=source.folder / FilePath(source.file).name)
    texts = []
    for row in rows:
        for vary, value in zip(varies, row, strict=True):
            for path in vary.paths:
                draft.set(path, vary.written(value))
        texts.append(draft.text)
    return tuple(texts)


def grid(varies: Sequence[Vary]) -> tuple[tuple[float, ...], ...]:
    """Return every combination of the values of a sweep, the last number running fastest."""
    mesh = np.meshgrid(*(vary.values() for vary in varies), indexing="ij")
    return tuple(tuple(float(part) for part in row) for row in np.stack([one.ravel() for one in mesh], axis=1))


def _wrong(found: str, wanted: str) -> DesignError:
    return DesignError([Problem(code="wrong-vary", key="--vary", found=f'"{found.strip()}"', wanted=wanted)])

"""Read the list of points that were picked on a scan, each with a name.

Computes: names, places in the scan's own unit and axes, and what the crew says of them.
Units: the scan's own.
Source: a CSV file with columns name, x, y, z and, where wanted, on; or a TOML file with a table [points] and, where
    wanted, a table [on].
Limits: one point a name. `on` says that a point lies on a face of the boat whose place is known: the centreline,
    the sole (height 0), the bulkhead (0 aft) or the waterline.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any, get_args

import numpy as np

from canvas.asbuilt.frame import Face
from canvas.asbuilt.listed import listed_rows
from canvas.design.problems import DesignError, Problem, nearest
from canvas.design.reading import decoded, raw_bytes, toml_data
from canvas.geometry.surface import Floats, locked

FACES: tuple[str, ...] = get_args(Face)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Picked:
    """Points picked on a scan.

    Attributes
    ----------
    names : tuple of str
    places : (n, 3) ndarray
        In the scan's own unit and axes.
    on : tuple of str or None
        The face of the boat each lies on.
    """

    names: tuple[str, ...]
    places: Floats
    on: tuple[Face | None, ...]

    def __post_init__(self) -> None:
        object.__setattr__(self, "places", locked(self.places))


def read_picked(path: Path) -> Picked:
    """Return the points of a list.

    Raises
    ------
    DesignError
        With every line that is wrong.
    """
    if not path.is_file():
        raise DesignError([Problem(code="points-missing", file=str(path), found="no such file", wanted=WANTED)])
    rows, problems = _toml_rows(path) if path.suffix.lower() == ".toml" else _csv_rows(path)
    seen: set[str] = set()
    for row in rows:
        if row.name in seen:
            problems.append(
                row.problem(str(path), "twice-named", f'"{row.name}" twice', "Give each point its own name.")
            )
        seen.add(row.name)
        if row.on is not None and row.on not in FACES:
            problems.append(row.problem(str(path), "unknown-face", f'on "{row.on}"', nearest(row.on, FACES)))
    if not rows and not problems:
        problems.append(Problem(code="points-empty", file=str(path), found="no points", wanted=WANTED))
    if problems:
        raise DesignError(problems)
    faces: Any = tuple(row.on for row in rows)
    return Picked(
        names=tuple(row.name for row in rows), places=np.array([row.place for row in rows], dtype=np.float64), on=faces
    )


WANTED = "Write a line for each point: name, x, y, z as the scan's program shows them."


@dataclass(frozen=True, slots=True, kw_only=True)
class _Row:
    name: str
    place: tuple[float, ...]
    on: str | None
    line: int | None = None

    def problem(self, file: str, code: str, found: str, wanted: str) -> Problem:
        return Problem(code=code, file=file, line=self.line, key=self.name, found=found, wanted=wanted)


def _csv_rows(path: Path) -> tuple[list[_Row], list[Problem]]:
    rows: list[_Row] = []
    problems: list[Problem] = []
    for number, cells in listed_rows(path, wanted=WANTED):
        if [cell.lower() for cell in cells[:2]] == ["name", "x"]:
            continue
        place = _numbers(cells[1:4])
        if place is None or not cells[0]:
            said = ", ".join(cells)[:60]
            problems.append(
                Problem(code="point-unreadable", file=str(path), line=number, found=f'"{said}"', wanted=WANTED)
            )
            continue
        rows.append(_Row(name=cells[0], place=place, on=(cells[4] or None) if len(cells) > 4 else None, line=number))
    return rows, problems


def _toml_rows(path: Path) -> tuple[list[_Row], list[Problem]]:
    file = str(path)
    tree = toml_data(decoded(raw_bytes(path), file=file), file=file)
    points, on = tree.get("points", {}), tree.get("on", {})
    rows: list[_Row] = []
    problems: list[Problem] = []
    wanted = "Write a table [points] with lines such as winch_port = [1.02, 0.33, -2.10]."
    if not isinstance(points, dict) or not isinstance(on, dict) or set(tree) - {"points", "on"}:
        return [], [Problem(code="points-unreadable", file=file, found="other tables or values", wanted=wanted)]
    for name, value in points.items():
        place = _numbers(value) if isinstance(value, list) else None
        if place is None:
            problems.append(
                Problem(code="point-unreadable", file=file, key=name, found=f'"{str(value)[:60]}"', wanted=wanted)
            )
        else:
            rows.append(_Row(name=name, place=place, on=None if name not in on else str(on[name])))
    return rows, problems


def _numbers(cells: list[Any]) -> tuple[float, ...] | None:
    try:
        place = tuple(float(cell) for cell in cells)
    except (TypeError, ValueError):
        return None
    return place if len(place) == 3 and all(np.isfinite(place)) else None

"""Find what keeps a set of readings from making a survey, and say what to do about it.

Computes: complaints, each with file, line and key; lengths that no triangle allows.
Units: metres.
Source: triangle inequality; the rest is counting.
Limits: a wrong length inside what its triangles allow is left to the adjustment; see `canvas.survey.suspects`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from itertools import pairwise
from math import isfinite

import numpy as np

from canvas.design.problems import DesignError, Problem, nearest
from canvas.survey.datum import Datum
from canvas.survey.marks import Floats
from canvas.survey.readings import (
    Entry,
    Height,
    Offset,
    OnPlane,
    OnTube,
    Plumb,
    Reading,
    Side,
    Tape,
    Where,
    describe,
)

UNITS = {"in": 0.0254, "ft": 0.3048, "m": 1.0, "cm": 0.01, "mm": 0.001}
GROSS = 0.25  # [m] a triangle that fails to close by more than this holds a wrong unit, not a wrong reading
LEAST_ON = {"plane": 4, "tube": 3}


def problem_at(where: Where, *, code: str, found: str, wanted: str, key: str = "") -> Problem:
    """Return a problem at the place of a reading.

    Parameters
    ----------
    where : Where
        The reading's place in the file.
    code, found, wanted : str
        As in `canvas.design.problems.Problem`.
    key : str
        The reading's own where absent.
    """
    return Problem(code=code, file=where.file, line=where.line, key=where.key or key, found=found, wanted=wanted)


def check_entries(entries: Sequence[Entry], *, datum: Datum, dimension: int) -> None:
    """Complain about everything that keeps `entries` from being adjusted.

    Parameters
    ----------
    entries : sequence of Reading or Side
        As they were typed.
    datum : Datum
    dimension : int
        2 or 3.

    Raises
    ------
    DesignError
        With every problem found.
    """
    readings = [entry for entry in entries if not isinstance(entry, Side)]
    problems = [problem for entry in entries for problem in _wrong_alone(entry, dimension=dimension)]
    if not readings:
        problems.append(
            Problem(
                code="too-few-readings",
                key="reading",
                found="no readings",
                wanted="Take tape lengths between the marks; `canvas sheet` says which.",
            )
        )
    if not problems:
        problems += _unknown_sides(entries, datum)
        problems += _few_on(readings)
        problems += _too_few(readings, datum, dimension=dimension)
        problems += _unconnected(readings, datum)
        problems += _mixed_units(readings)
    if problems:
        raise DesignError(problems)


def _wrong_alone(entry: Entry, *, dimension: int) -> Iterable[Problem]:
    """Complain about one entry by itself."""
    where, key, marks = entry.where, describe(entry), entry.marks
    if any(a == b for a, b in pairwise(marks)):
        yield problem_at(
            where,
            code="reading-to-itself",
            key=key,
            found=f'both ends at "{marks[0]}"',
            wanted="Name the two marks that the reading lies between.",
        )
    if isinstance(entry, Side):
        return
    if dimension == 2 and not (isinstance(entry, Tape) or (isinstance(entry, Offset) and entry.axis != "z")):
        yield problem_at(
            where,
            code="not-flat",
            key=key,
            found="a reading out of the plane",
            wanted="A survey in two dimensions takes tapes and offsets aft or to starboard only.",
        )
    value = {Tape: "length", Height: "height", Offset: "offset", Plumb: "offset"}.get(type(entry))
    number = getattr(entry, value) if value else 0.0
    if not isfinite(number) or (isinstance(entry, Tape) and number <= 0):
        yield problem_at(
            where,
            code="wrong-value",
            key=key,
            found=entry.where.text or str(number),
            wanted="Write a length above zero." if isinstance(entry, Tape) else "Write a finite length.",
        )
    if entry.sigma is not None and not (isfinite(entry.sigma) and entry.sigma > 0):
        yield problem_at(
            where,
            code="wrong-value",
            key=key,
            found=f"standard deviation {entry.sigma}",
            wanted="Write a standard deviation above zero, or none.",
        )


def _unknown_sides(entries: Sequence[Entry], datum: Datum) -> Iterable[Problem]:
    names = {mark for entry in entries if not isinstance(entry, Side) for mark in entry.marks} | set(datum.held)
    for entry in (*entries, *datum.sides):
        for mark in entry.marks:
            if isinstance(entry, Side) and mark not in names:
                yield problem_at(
                    entry.where,
                    code="unknown-mark",
                    key=describe(entry),
                    found=f'"{mark}"',
                    wanted=f"No reading touches it. {nearest(mark, names)}",
                )


def _few_on(readings: Sequence[Reading]) -> Iterable[Problem]:
    groups: dict[tuple[str, str], list[OnPlane | OnTube]] = {}
    for reading in readings:
        if isinstance(reading, OnPlane):
            groups.setdefault(("plane", reading.plane), []).append(reading)
        elif isinstance(reading, OnTube):
            groups.setdefault(("tube", reading.tube), []).append(reading)
    for (kind, name), members in groups.items():
        if len({member.mark for member in members}) < LEAST_ON[kind]:
            yield problem_at(
                members[0].where,
                code="too-few-readings",
                key=f'{kind} "{name}"',
                found=f"{len(members)} marks on it",
                wanted=f"A {kind} says something from {LEAST_ON[kind]} on.",
            )


def _equations(reading: Reading) -> int:
    if isinstance(reading, OnTube):
        return 2
    if isinstance(reading, Plumb):
        return 2 if reading.along is None and reading.offset == 0 else 1
    return 1


def _too_few(readings: Sequence[Reading], datum: Datum, *, dimension: int) -> Iterable[Problem]:
    number: Counter[str] = Counter()
    for reading in readings:
        for mark in set(reading.marks):
            number[mark] += _equations(reading)
    for condition in datum.conditions:
        for mark in {mark for mark, _, _ in condition.terms} & set(number):
            number[mark] += 1
    for mark, count in number.items():
        if mark not in datum.held and count < dimension:
            first = next(reading for reading in readings if mark in reading.marks)
            yield problem_at(
                first.where,
                code="too-few-readings",
                key=f"marks.{mark}",
                found=f'{count} reading{"" if count == 1 else "s"} to "{mark}"',
                wanted=f"A mark needs {dimension} readings to have a place, and 6 to have it checked.",
            )


def _unconnected(readings: Sequence[Reading], datum: Datum) -> Iterable[Problem]:
    """Complain about groups of marks that no reading joins."""
    group: dict[str, str] = {}

    def root(name: str) -> str:
        group.setdefault(name, name)
        while group[name] != name:
            name = group[name]
        return name

    for reading in readings:
        names = list(reading.marks)
        if isinstance(reading, Height | Plumb):
            names.append(f"session:{reading.session}")
        if isinstance(reading, Offset) and reading.of is None:
            names.append("boat:")
        names += ["boat:" for mark in reading.marks if mark in datum.held]
        for name in names[1:]:
            group[root(name)] = root(names[0])
    marks = list(dict.fromkeys(mark for reading in readings for mark in reading.marks))
    parts: dict[str, list[str]] = {}
    for mark in marks:
        parts.setdefault(root(mark), []).append(mark)
    for part in sorted(parts.values(), key=len, reverse=True)[1:]:
        first = next(reading for reading in readings if part[0] in reading.marks)
        yield problem_at(
            first.where,
            code="unconnected-marks",
            key=f"marks.{part[0]}",
            found=f"{_listed(part)} joined to the other marks by no reading",
            wanted="Take at least 6 readings from these marks to the others, from 3 marks or more.",
        )


def _listed(names: Sequence[str]) -> str:
    shown = ", ".join(names[:6])
    return shown + (f" and {len(names) - 6} more" if len(names) > 6 else "")


def _mixed_units(readings: Sequence[Reading]) -> Iterable[Problem]:
    """Complain about tapes whose triangles close only if their number was meant in another unit."""
    tapes = [r for r in readings if isinstance(r, Tape) and not r.via and not r.slack]
    names = list(dict.fromkeys(mark for tape in tapes for mark in tape.marks))
    length = np.full((len(names), len(names)), np.nan)
    which = np.full(length.shape, -1)
    for number, tape in enumerate(tapes):
        a, b = names.index(tape.a), names.index(tape.b)
        length[a, b] = length[b, a] = tape.length
        which[a, b] = which[b, a] = number
    while True:
        open_by = _open(length)
        bad = [int(np.sum(open_by[np.where(which == k)] > GROSS)) // 2 for k in range(len(tapes))]
        worst = int(np.argmax(bad)) if bad else 0
        if not bad or bad[worst] == 0:
            return
        ties = [k for k, count in enumerate(bad) if count == bad[worst]]
        worst = max(ties, key=lambda k: tapes[k].length)
        a, b = names.index(tapes[worst].a), names.index(tapes[worst].b)
        low, high = _allowed(length, a, b)
        yield from _unit_problem(tapes[worst], low, high)
        length[a, b] = length[b, a] = np.nan


def _open(length: Floats) -> Floats:
    """Return by how much each triangle fails to close, [i, j, k] for the side i-j against k; nan reads as closed."""
    sides = np.stack(np.broadcast_arrays(length[:, :, None], length[:, None, :], length[None, :, :]))
    longest = np.max(sides, axis=0)
    closed: Floats = np.nan_to_num(2 * longest - sides.sum(axis=0), nan=0.0)
    return closed


def _allowed(length: Floats, a: int, b: int) -> tuple[float, float]:
    """Return the least and greatest length a-b that all its triangles allow."""
    both = ~np.isnan(length[a]) & ~np.isnan(length[b])
    return (
        float(np.max(np.abs(length[a, both] - length[b, both]), initial=0.0)),
        float(np.min(length[a, both] + length[b, both], initial=np.inf)),
    )


def _unit_problem(tape: Tape, low: float, high: float) -> Iterable[Problem]:
    typed = tape.length / UNITS[tape.where.unit]
    slack = 0.02
    meant = [u for u, size in UNITS.items() if u != tape.where.unit and low - slack <= typed * size <= high + slack]
    found = tape.where.text or f"{tape.length:.3f} m"
    between = f"The triangles with its neighbours allow {low:.3f} to {high:.3f} m"
    if meant:
        fitting = " or ".join(f'write "{typed:g} {unit}" ({typed * UNITS[unit]:.3f} m)' for unit in meant)
        yield problem_at(
            tape.where,
            code="mixed-units",
            key=describe(tape),
            found=found,
            wanted=f"{between}; the number fits in another unit: {fitting}. Else measure it again.",
        )
    elif tape.length > 3 * high or tape.length < low / 3:
        yield problem_at(
            tape.where,
            code="impossible-length",
            key=describe(tape),
            found=found,
            wanted=f"{between}. Measure it again, or check which marks it lies between.",
        )


def check_determined(names: Sequence[str], readings: Sequence[Reading], directions: Floats, *, dimension: int) -> None:
    """Complain about marks that move in `directions` which no reading notices.

    Parameters
    ----------
    names : sequence of str
    readings : sequence of Reading
    directions : (3n, d) ndarray
        Moves of the marks that are left once the whole boat's own moves and turns are taken out.
    dimension : {2, 3}

    Raises
    ------
    DesignError
        When there are any.
    """
    if directions.shape[1] == 0:
        return
    move = np.linalg.norm(directions.reshape(len(names), 3, -1), axis=(1, 2))
    loose = [name for name, size in zip(names, move, strict=True) if size > 0.02 * move.max()]
    first = next(reading for reading in readings if loose[0] in reading.marks)
    raise DesignError(
        [
            problem_at(
                first.where,
                code="undetermined-marks",
                key=f"marks.{loose[0]}",
                found=f"readings that leave {_listed(loose)} free to move",
                wanted="Add lengths or heights from them to marks not in one plane with the others."
                if dimension == 3
                else "Add lengths from these marks to others not in one line.",
            ),
        ]
    )

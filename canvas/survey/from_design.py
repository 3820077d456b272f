"""Turn a design's readings into survey entries, and its marks into adjusted marks.

Computes: marks typed in with zero covariance, joined by those left to the survey, adjusted all at once.
Units: metres, boat frame.
Source: none beyond `canvas.survey.adjust`.
Limits: readings taken on a panel are left to `canvas.asbuilt`; a mark with coordinates that no reading touches stands
    as typed; with three or more held marks the network is tied to them, else its datum must come from offsets.
"""

from __future__ import annotations

import tomllib

from canvas.design.positions import Path
from canvas.design.problems import DesignError
from canvas.design.reading import Source
from canvas.design.schema.voyage import (
    AboveReading,
    LevelReading,
    OffsetReading,
    OnTubeReading,
    TapeReading,
)
from canvas.survey.adjust import adjust
from canvas.survey.datum import Datum
from canvas.survey.marks import Marks, given_marks, joined
from canvas.survey.readings import Entry, Height, Offset, OnPlane, Precision, Session, Side, Tape, Where

AXES = {"aft": "x", "starboard": "y", "up": "z"}


def marks_of(source: Source) -> Marks:
    """Return all marks of a design, those left to the survey adjusted from its readings.

    Raises
    ------
    DesignError
        When readings do not fix the marks, or contradict one another beyond use; each with its line.
    """
    design = source.design
    typed = {name: place for name, place in design.marks.items() if not isinstance(place, str)}
    surveyed = [name for name, place in design.marks.items() if isinstance(place, str)]
    if not surveyed:
        return given_marks(typed)
    entries = entries_of(source)
    touched = {mark for entry in entries for mark in entry.marks}
    missing = [name for name in surveyed if name not in touched]
    if missing:
        raise DesignError(
            [
                source.problem(
                    ("marks", name),
                    code="no-reading",
                    found=f'"{name}" is left to the survey and no reading touches it',
                    wanted="Take readings to it (six or more), or give its coordinates.",
                )  # fmt: skip
                for name in missing
            ]
        )
    held = {name: place for name, place in typed.items() if name in touched or name in design.survey.held}
    adjusted = adjust(
        entries,
        datum=Datum(held=held),
        sessions=_sessions(source),
        precision=Precision(tape_constant=design.survey.tape_sd, tape_proportional=design.survey.tape_sd_share),
    )
    return joined(adjusted, typed, order=tuple(design.marks))


def entries_of(source: Source) -> tuple[Entry, ...]:
    """Return the survey's entries of a design: readings and statements not taken on a panel, each with its line."""
    entries: list[Entry] = []
    for index, reading in enumerate(source.design.reading):
        path: Path = ("reading", index)
        if getattr(reading, "panel", None) is not None:
            continue
        if isinstance(reading, TapeReading):
            where = _where(source, path, "length")
            entries.append(
                Tape(
                    a=reading.start,
                    b=reading.to,
                    length=reading.length,
                    slack=reading.slack,
                    sigma=reading.sd,
                    where=where,
                )
            )
        elif isinstance(reading, LevelReading):
            where = _where(source, path, "height")
            entries.append(
                Height(mark=reading.at, height=reading.height, session=reading.session, sigma=reading.sd, where=where)
            )
        elif isinstance(reading, OffsetReading):
            where = _where(source, path, "length")
            entries.append(
                Offset(
                    mark=reading.at,
                    offset=reading.length,
                    axis=AXES[reading.axis],
                    of=reading.start,  # type: ignore[arg-type]
                    sigma=reading.sd,
                    where=where,
                )  # fmt: skip
            )
        elif isinstance(reading, OnTubeReading):
            where = _where(source, path, "marks")
            entries += [
                OnPlane(mark=mark, plane=f"plane {index + 1}", sigma=reading.sd, where=where) for mark in reading.marks
            ]
        elif isinstance(reading, AboveReading):
            entries.append(Side(mark=reading.at, of=reading.below, side="above", where=_where(source, path, "at")))
    return tuple(entries)


def _sessions(source: Source) -> tuple[Session, ...]:
    level = {reading.session: reading.ashore for reading in source.design.reading if isinstance(reading, LevelReading)}
    return tuple(Session(name=name, level=ashore) for name, ashore in level.items())


def _where(source: Source, path: Path, key: str) -> Where:
    problem = source.problem((*path, key), code="", found="", wanted="")
    here = tomllib.loads(source.text)["reading"][path[1]].get(key, "")
    return Where(file=source.file, line=problem.line, key=problem.key, text=str(here), unit=source.design.units)

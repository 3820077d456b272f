"""Read the survey out of a design: its readings, what they hang on, and the marks that come of them.

Computes: readings with their file and line; the marks of the whole design, given and surveyed.
Units: metres, boat frame.
Source: the design file.
Limits: readings on the mock-up or finished canvas of a new panel are left to `canvas.asbuilt`. Marks with coordinates
    that are not in `survey.held` and have readings are adjusted; without held marks the network keeps to all of these
    on the whole (inner constraints).
"""

from __future__ import annotations

import tomllib
from collections.abc import Collection
from dataclasses import dataclass
from typing import Any, Literal

from canvas.design.positions import Path, nearest_line, path_text
from canvas.design.problems import DesignError
from canvas.design.reading import Source, element_names
from canvas.design.schema.rig import Panel
from canvas.design.schema.voyage import (
    AboveReading,
    LevelReading,
    MeterReading,
    OffsetReading,
    OnStraightReading,
    OnTubeReading,
    PlaceReading,
    PlumbReading,
    RibbonReading,
    TapeReading,
)
from canvas.survey.adjust import adjust
from canvas.survey.datum import Datum
from canvas.survey.marks import Marks, given_marks, joined
from canvas.survey.readings import (
    Axis,
    Entry,
    Height,
    Offset,
    OnPlane,
    OnTube,
    Plumb,
    Precision,
    Session,
    Side,
    Tape,
    Where,
)

AXES: dict[str, Axis] = {"aft": "x", "starboard": "y", "up": "z"}
TOWARD: dict[str | None, tuple[Literal["aft", "starboard"] | None, int]] = {
    None: (None, 1), "aft": ("aft", 1), "forward": ("aft", -1),
    "starboard": ("starboard", 1), "port": ("starboard", -1),
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Survey:
    """What a design says about where its marks are.

    Attributes
    ----------
    entries : tuple of Entry
    datum : Datum
    sessions : tuple of Session
    precision : Precision
    """

    entries: tuple[Entry, ...]
    datum: Datum
    sessions: tuple[Session, ...]
    precision: Precision


def survey_of(source: Source, *, panel: str | None = None) -> Survey:
    """Return the readings of a design and what they hang on.

    Parameters
    ----------
    source : Source
    panel : str, optional
        Take the readings on the mock-up or finished canvas of this panel too.
    """
    design = source.design
    aboard = {record.name for record in design.panel if record.existing} | ({panel} if panel else set())
    entries: list[Entry] = []
    places = _Places(source)
    sessions: dict[str, bool] = {}
    for index, reading in enumerate(design.reading):
        if isinstance(reading, MeterReading | RibbonReading):
            continue
        on = getattr(reading, "panel", None)
        if on is not None and on not in aboard:
            continue
        entries += _entries(places, index, reading)
        if isinstance(reading, LevelReading):
            sessions[reading.session] = sessions.get(reading.session, True) and reading.ashore
    for index, record in enumerate(design.panel):
        if record.existing:
            entries += _zip_lengths(places, index, record, design.marks)
    coordinates = {name: spot for name, spot in design.marks.items() if not isinstance(spot, str)}
    held = {name: coordinates[name] for name in design.survey.held if name in coordinates}
    return Survey(
        entries=tuple(entries),
        datum=Datum(held=held, rough={name: spot for name, spot in coordinates.items() if name not in held}),
        sessions=tuple(Session(name=name, level=level) for name, level in sessions.items()),
        precision=Precision(tape_constant=design.survey.tape_sd, tape_proportional=design.survey.tape_sd_share),
    )


def adjusted(source: Source, *, panel: str | None = None) -> Marks:
    """Return the marks that the readings of a design touch, adjusted; none where it has no readings.

    Parameters
    ----------
    source : Source
    panel : str, optional
        As in `survey_of`.

    Raises
    ------
    DesignError
        See `canvas.survey.adjust.adjust`.
    CouldNot
        When the readings do not settle on one shape.
    """
    survey = survey_of(source, panel=panel)
    if not any(not isinstance(entry, Side) for entry in survey.entries):
        return given_marks({})
    return adjust(survey.entries, datum=survey.datum, sessions=survey.sessions, precision=survey.precision)


def marks_of(source: Source) -> Marks:
    """Return all marks of a design, in the order of the file: surveyed with their covariance, others as given.

    Raises
    ------
    DesignError
        When a mark is left to the survey and no reading touches it, or the readings make no survey; each with its line.
    CouldNot
        When the readings do not settle on one shape.
    """
    design = source.design
    surveyed = [name for name, spot in design.marks.items() if isinstance(spot, str)]
    touched = {mark for entry in survey_of(source).entries for mark in entry.marks}
    problems = [
        source.problem(
            ("marks", name),
            code="no-reading",
            found=f'"{name}" is left to the survey and no reading touches it',
            wanted="Take readings to it (six or more), or give its coordinates.",
        )
        for name in surveyed
        if name not in touched
    ]
    if problems:
        raise DesignError(problems)
    typed = {name: spot for name, spot in design.marks.items() if not isinstance(spot, str)}
    return joined(adjusted(source), typed, order=tuple(design.marks))


class _Places:
    """Where the readings of one file stand, and how they were typed."""

    def __init__(self, source: Source) -> None:
        self._source = source
        self._data = tomllib.loads(source.text)
        self._names = element_names(self._data)

    def of(self, index: int, key: str) -> Where:
        """Return the place of one key of one reading."""
        return self.at(("reading", index, key))

    def at(self, path: Path) -> Where:
        """Return the place of a key anywhere in the file."""
        found: Any = self._data
        for part in path:
            known = isinstance(part, int) or part in found
            found = found[part] if known else ""
        return Where(
            file=self._source.file,
            line=nearest_line(self._source.lines, path),
            key=path_text(path, self._names),
            text=str(found),
            unit=self._source.design.units,
        )


def _entries(places: _Places, index: int, reading: Any) -> list[Entry]:
    """Return what one reading of the file says, as one entry or one a mark."""
    found: list[Entry]
    match reading:
        case TapeReading(start=a, to=b, via=via, length=length, slack=slack, sd=sd):
            where = places.of(index, "length")
            found = [Tape(a=a, b=b, via=tuple(via), length=length, slack=slack, sigma=sd, where=where)]
        case LevelReading(at=at, height=height, session=session, sd=sd):
            found = [Height(mark=at, height=height, session=session, sigma=sd, where=places.of(index, "height"))]
        case OffsetReading(at=at, axis=axis, length=length, start=of, sd=sd):
            where = places.of(index, "length")
            found = [Offset(mark=at, offset=length, axis=AXES[axis], of=of, sigma=sd, where=where)]
        case PlaceReading(at=at, point=point, sd=sd):
            where = places.of(index, "point")
            found = [
                Offset(mark=at, offset=value, axis=axis, sigma=sd, where=where)
                for axis, value in zip(AXES.values(), point, strict=True)
            ]
        case OnTubeReading() | OnStraightReading():
            found = _in_line(places, index, reading)
        case PlumbReading(start=a, to=b, session=session, length=length, toward=toward, sd=sd):
            along, sign = TOWARD[toward]
            where = places.of(index, "length")
            found = [Plumb(a=a, b=b, session=session, offset=sign * length, along=along, sigma=sd, where=where)]
        case _:
            above: AboveReading = reading
            found = [Side(mark=above.at, of=above.below, side="above", where=places.of(index, "at"))]
    return found


def _in_line(places: _Places, index: int, reading: OnTubeReading | OnStraightReading) -> list[Entry]:
    """Return what is said of marks that lie in one plane or on one straight tube, one entry a mark."""
    name, where = f"reading[{index}]", places.of(index, "marks")
    if isinstance(reading, OnStraightReading):
        return [OnTube(mark=mark, tube=name, sigma=reading.sd, where=where) for mark in reading.marks]
    return [OnPlane(mark=mark, plane=name, sigma=reading.sd, where=where) for mark in reading.marks]


def _zip_lengths(places: _Places, index: int, panel: Panel, marks: Collection[str]) -> list[Entry]:
    """Return the measured lengths of zips on canvas aboard, where they run between marks.

    A zip may curve between the marks it passes: its length is the most that the straight stretches can be.
    """
    entries: list[Entry] = []
    for place, edge in enumerate(panel.edges):
        spots = [edge.start or panel.edges[place - 1].to, *edge.through, edge.to]
        path = [spot for spot in spots if isinstance(spot, str) and spot in marks]
        if edge.zip is None or edge.zip.length is None or edge.along is not None or len(path) != len(spots):
            continue
        where = places.at(("panel", index, "edges", place, "zip", "length"))
        entries.append(
            Tape(a=path[0], b=path[-1], via=tuple(path[1:-1]), length=edge.zip.length, slack=True, where=where)
        )
    return entries

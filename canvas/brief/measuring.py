"""Lay out the measuring sheet: numbered marks, the readings to take in order, boxes to write them in; a list to type.

Computes: nothing beyond what a reading should roughly come to, from rough places, so that a slip shows on the spot.
Units: the design's own.
Source: the plan of `canvas.survey.plan`; how to hold a tape is common practice.
Limits: marks outside the pictures are listed only.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass

from canvas.asbuilt.tomeasure import ToMeasure
from canvas.brief.blocks import BOX, Block, Bullets, Document, Figure, Grid, Heading, Prose
from canvas.brief.dimensions import dimension_text
from canvas.brief.drawing import MM
from canvas.brief.paper import text_room
from canvas.brief.pictures import MARKED, drafter_of
from canvas.brief.spots import Spot, key_drawing
from canvas.cloth.rigging import Rigging
from canvas.design.schema.design import BARE, Design
from canvas.design.units import small_length
from canvas.survey.plan import Possible, effort_of
from canvas.survey.readings import Height, Offset, Tape

HOLDING = (
    "Two people: one holds the zero on the mark, the other reads aloud, the first writes and reads back.",
    "Steel tape, straight and firm; where its hook is loose measure from the 100 mm or the 4 in line, and take it off.",
    "Marks are points, not places: stick a cross of tape on each, measure to its middle; on tubes to the middle line.",
    "Read to the millimetre, or to a sixteenth of an inch; write what you read, even where it looks wrong.",
    "If something is in the way, skip the reading, strike it out and say why. Never bend the tape round a corner.",
    "Canvas that stays up stays up: tubes move when its tension goes.",
    "Heights: with a water tube or a level, all in one session without anyone moving about; the boat may list.",
)
SIDES = {"x": "aft", "y": "to starboard", "z": "up"}
AXES = {"x": "aft", "y": "starboard", "z": "up"}


def measuring_sheet(rigging: Rigging, found: ToMeasure, *, paper: str = "A4", units: str | None = None) -> Document:
    """Return the sheet.

    Parameters
    ----------
    rigging : Rigging
    found : ToMeasure
    paper : str
        ``A4`` or ``Letter``.
    units : str, optional
        ``m``, ``mm``, ``ft`` or ``in``; the design's own where absent.
    """
    design = rigging.model.design
    marks = rigging.model.marks
    unit = units or design.units
    number = {name: k for k, name in enumerate(marks.names, start=1)}
    spots = [Spot(text=str(number[name]), at=marks.at(name)) for name in marks.names]
    drafter = drafter_of(rigging, paper=text_room(paper)[0], text=2.5 * MM, units=unit)
    scene = rigging.rig(BARE).scene
    key = key_drawing([(str(k), name) for name, k in number.items()], width=text_room(paper)[0] - 4 * MM)
    blocks: list[Block] = [
        Heading(text=f"{design.name}: what to measure", level=1),
        Prose(text=f"{summary(found, unit)} Write in {_unit_words(unit)}."),
        Heading(text="How to hold the tape"),
        Bullets(items=HOLDING),
        Heading(text="The marks"),
        *(Figure(drawing=drafter.view(scene, view, spots=spots)) for view in MARKED),
        Figure(drawing=key),
        *_shortfalls(found),
        *_advice(found, number, unit),
        *_readings(found, number, unit),
    ]
    odd = "Date, who measured, which canvas was up, anything odd"
    blocks.append(Grid(heads=(odd,), rows=((BOX,), (BOX,)), shares=(1.0,), tall=True))
    return Document(
        title=f"{design.name}: measuring sheet", foot=f"{design.name}, revision {design.revision}", blocks=tuple(blocks)
    )


def summary(found: ToMeasure, unit: str) -> str:
    """Return what there is to do, in a sentence, lengths in `unit`."""
    plan = found.plan
    left = [reading for reading, text in zip(plan.readings, found.entered, strict=True) if text is None]
    done = "" if len(left) == len(plan.readings) else f" {len(plan.readings) - len(left)} of them are entered."
    minutes = sum(effort_of(reading) for reading in left)
    return (
        f"{len(plan.readings)} readings between {len(plan.names)} marks.{done} About {minutes:.0f} minutes for two; "
        f"then every mark is known within {small_length(float(plan.sd.max()), unit)} (one standard deviation)."
    )


def fill_in(design: Design, found: ToMeasure, *, units: str | None = None) -> str:
    """Return the readings as lines of a design file, to type the values into.

    Parameters
    ----------
    design : Design
    found : ToMeasure
    units : str, optional
        Of the values that are expected; the design's own where absent.
    """
    unit = units or design.units
    lines = [
        f"# {design.name}, revision {design.revision}: readings in the order of the measuring sheet.",
        f"# Type each value between its quotes, in {_unit_words(unit)}.",
        "# Take out the lines of readings that could not be taken. Then put the rest into the list `reading` of the",
        "# design file, which stands before its first [table].",
        "reading = [",
    ]
    for number, (reading, text) in enumerate(zip(found.plan.readings, found.entered, strict=True), start=1):
        value, said = json.dumps(text or "", ensure_ascii=False), dimension_text(_value(reading), units=unit)
        lines.append(f"  {{ {_asked(reading)} = {value} }},  # {number}, about {said}")
    return "\n".join([*lines, "]", ""])


def _asked(reading: Possible) -> str:
    """Return a reading's keys up to its value."""
    match reading:
        case Tape(a=a, b=b):
            return f'kind = "tape", from = "{a}", to = "{b}", length'
        case Height(mark=mark, session=session):
            return f'kind = "level", at = "{mark}", session = "{session}", height'
    return f'kind = "offset", at = "{reading.mark}", axis = "{AXES[reading.axis]}", length'


def _value(reading: Possible) -> float:
    match reading:
        case Tape(length=length):
            return length
        case Height(height=height):
            return height
    return reading.offset


def _shortfalls(found: ToMeasure) -> list[Block]:
    """Return which marks are not measured, and which are checked less than the others."""
    blocks: list[Block] = []
    for title, rows in (("Not on this sheet", found.left_out), ("Checked less than the others", found.short)):
        if rows:
            items = tuple(f"{one.name.replace('_', ' ')}: {one.why}." for one in rows)
            blocks += [Heading(text=title, level=3), Bullets(items=items)]
    return blocks


def _advice(found: ToMeasure, number: dict[str, int], unit: str) -> list[Block]:
    """Return the further readings that help most, with boxes."""
    if not found.advice:
        return []
    rows = tuple(
        (
            " to ".join(_named(mark, number) for mark in one.reading.marks),
            dimension_text(_value(one.reading), units=unit),
            f"{small_length(one.worst_before, unit)}, then {small_length(one.worst_after, unit)}",
            BOX,
        )
        for one in found.advice
    )
    heads = ("reading", "about", "worst mark known within", "reading")
    return [
        Heading(text="To what is entered, these would add most", level=3),
        Grid(heads=heads, rows=rows, shares=(0.48, 0.12, 0.2, 0.2), tall=True),
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Row:
    """One reading of a table: its number, marks, about what it comes to, and what is in its box."""

    number: str
    reading: Possible
    about: str
    box: str


def _readings(found: ToMeasure, number: dict[str, int], unit: str) -> list[Block]:
    """Return the readings to take, by kind, numbered through as in the list to type into."""
    rows = [
        _Row(
            number=str(k), reading=reading, about=dimension_text(_value(reading), units=unit),
            box=BOX if text is None else text,
        )
        for k, (reading, text) in enumerate(zip(found.plan.readings, found.entered, strict=True), start=1)
    ]  # fmt: skip
    blocks: list[Block] = []
    for kind, title, grid in ((Height, "Heights", _heights), (Offset, "Offsets", _offsets), (Tape, "Tape", _tapes)):
        own = [row for row in rows if isinstance(row.reading, kind)]
        if own:
            blocks += [Heading(text=title, page=not blocks), *grid(own, number)]
    return blocks


def _unit_words(unit: str) -> str:
    return {
        "m": "metres, three decimals, such as 2.347",
        "mm": "millimetres, such as 2347",
        "ft": "feet, inches and sixteenths, such as 7 ft 8 3/8 in",
        "in": "inches and sixteenths, such as 92 3/8 in",
    }[unit]


def _named(name: str, number: dict[str, int]) -> str:
    return f"{number[name]}  {name.replace('_', ' ')}"


def _tapes(rows: Sequence[_Row], number: dict[str, int]) -> list[Block]:
    cells = tuple(
        (
            row.number, _named(row.reading.marks[0], number), _named(row.reading.marks[-1], number), row.about,
            row.box, BOX,
        )
        for row in rows
    )  # fmt: skip
    heads = ("no.", "zero at", "read at", "about", "reading", "note")
    return [Grid(heads=heads, rows=cells, shares=(0.06, 0.25, 0.25, 0.12, 0.2, 0.12), tall=True)]


def _heights(rows: Sequence[_Row], number: dict[str, int]) -> list[Block]:
    grids: list[Block] = []
    for session in dict.fromkeys(row.reading.session for row in rows if isinstance(row.reading, Height)):
        cells = tuple(
            (row.number, _named(row.reading.mark, number), row.about, row.box, BOX)
            for row in rows
            if isinstance(row.reading, Height) and row.reading.session == session
        )
        heads = ("no.", "mark", "above the sole", "height above the level", "note")
        grids.append(
            Grid(title=f"Session: {session}", heads=heads, rows=cells, shares=(0.08, 0.37, 0.15, 0.25, 0.15), tall=True)
        )
    return grids


def _offsets(rows: Sequence[_Row], number: dict[str, int]) -> list[Block]:
    cells = tuple(
        (
            row.number, _named(row.reading.mark, number), SIDES[row.reading.axis],
            _named(row.reading.of, number) if row.reading.of is not None else "the boat's axes", row.about, row.box,
        )
        for row in rows
        if isinstance(row.reading, Offset)
    )  # fmt: skip
    heads = ("no.", "mark", "which way", "from", "about", "reading")
    return [Grid(heads=heads, rows=cells, shares=(0.07, 0.27, 0.14, 0.2, 0.12, 0.2), tall=True)]

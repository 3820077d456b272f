"""Lay out the measuring sheet: numbered marks, the readings to take in order, boxes to write them in.

Computes: nothing beyond what a reading should roughly come to, from rough places, so that a slip shows on the spot.
Units: the design's own.
Source: the plan of `canvas.survey.plan`; how to hold a tape is common practice.
Limits: what is in the way of a tape is not known; marks outside the pictures are listed only.
"""

from __future__ import annotations

from collections.abc import Sequence

from canvas.brief.blocks import BOX, Block, Bullets, Document, Figure, Grid, Heading, Prose
from canvas.brief.dimensions import dimension_text
from canvas.brief.drawing import MM
from canvas.brief.paper import text_room
from canvas.brief.pictures import MARKED, drafter_of
from canvas.brief.spots import Spot, key_drawing
from canvas.cloth.rigging import Rigging
from canvas.design.schema.design import BARE
from canvas.survey.readings import Height, Offset, Tape

HOLDING = (
    "Two people: one holds the zero on the mark, the other reads aloud, the first writes and reads back.",
    "Steel tape, pulled straight and firm; measure from the 100 mm line where the hook is loose, and take it off.",
    "Marks are points, not places: stick a cross of tape on each, measure to its middle; on tubes to the middle line.",
    "Read to the millimetre, or to a sixteenth of an inch; write what you read, even where it looks wrong.",
    "If something is in the way, skip the reading, strike it out and say why. Never bend the tape round a corner.",
    "Canvas that stays up stays up: tubes move when its tension goes.",
    "Heights: with a water tube or a level, all in one session without anyone moving about; the boat may list.",
)
SIDES = {"x": "aft", "y": "to starboard", "z": "up"}


def measuring_sheet(
    rigging: Rigging, readings: Sequence[Tape | Height | Offset], *, paper: str = "A4", units: str | None = None
) -> Document:
    """Return the sheet.

    Parameters
    ----------
    rigging : Rigging
    readings : sequence of Tape, Height or Offset
        In the order in which they are taken.
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
    drafter = drafter_of(rigging, paper=text_room(paper)[0], text=2.5 * MM)
    scene = rigging.rig(BARE).scene
    key = key_drawing([(str(k), name) for name, k in number.items()], width=text_room(paper)[0] - 4 * MM)
    tapes = [reading for reading in readings if isinstance(reading, Tape)]
    heights = [reading for reading in readings if isinstance(reading, Height)]
    offsets = [reading for reading in readings if isinstance(reading, Offset)]
    blocks: list[Block] = [
        Heading(text=f"{design.name}: what to measure", level=1),
        Prose(text=f"{len(readings)} readings between {len(number)} marks. Write in {_unit_words(unit)}."),
        Heading(text="How to hold the tape"),
        Bullets(items=HOLDING),
        Heading(text="The marks"),
        *(Figure(drawing=drafter.view(scene, view, spots=spots)) for view in MARKED),
        Figure(drawing=key),
    ]
    if tapes:
        blocks += [Heading(text="Tape", page=True), _tapes(tapes, number, unit)]
    if heights:
        blocks += [Heading(text="Heights", page=not tapes), *_heights(heights, number, unit)]
    if offsets:
        blocks += [Heading(text="Offsets"), _offsets(offsets, number, unit)]
    blocks.append(Prose(text="Date, who measured, which canvas was up, anything odd:"))
    blocks.append(Grid(heads=("",), rows=((BOX,), (BOX,)), shares=(1.0,), tall=True))
    return Document(
        title=f"{design.name}: measuring sheet", foot=f"{design.name}, revision {design.revision}", blocks=tuple(blocks)
    )


def _unit_words(unit: str) -> str:
    return {
        "m": "metres, three decimals, such as 2.347",
        "mm": "millimetres, such as 2347",
        "ft": "feet, inches and sixteenths, such as 7 ft 8 3/8 in",
        "in": "inches and sixteenths, such as 92 3/8 in",
    }[unit]


def _named(name: str, number: dict[str, int]) -> str:
    return f"{number[name]}  {name.replace('_', ' ')}"


def _tapes(tapes: Sequence[Tape], number: dict[str, int], unit: str) -> Grid:
    rows = tuple(
        (str(k), _named(one.a, number), _named(one.b, number), dimension_text(one.length, units=unit), BOX, BOX)
        for k, one in enumerate(tapes, start=1)
    )
    heads = ("no.", "zero at", "read at", "about", "reading", "note")
    return Grid(heads=heads, rows=rows, shares=(0.06, 0.25, 0.25, 0.12, 0.2, 0.12), tall=True)


def _heights(heights: Sequence[Height], number: dict[str, int], unit: str) -> list[Grid]:
    sessions = dict.fromkeys(one.session for one in heights)
    grids = []
    for session in sessions:
        rows = tuple(
            (str(k), _named(one.mark, number), dimension_text(one.height, units=unit), BOX, BOX)
            for k, one in enumerate((one for one in heights if one.session == session), start=1)
        )
        title = f"Session: {session}"
        heads = ("no.", "mark", "about", "height above the level", "note")
        grids.append(Grid(title=title, heads=heads, rows=rows, shares=(0.08, 0.37, 0.15, 0.25, 0.15), tall=True))
    return grids


def _offsets(offsets: Sequence[Offset], number: dict[str, int], unit: str) -> Grid:
    rows = tuple(
        (
            str(k), _named(one.mark, number), SIDES[one.axis],
            _named(one.of, number) if one.of is not None else "the boat's axes",
            dimension_text(one.offset, units=unit), BOX,
        )
        for k, one in enumerate(offsets, start=1)
    )  # fmt: skip
    heads = ("no.", "mark", "which way", "from", "about", "reading")
    return Grid(heads=heads, rows=rows, shares=(0.07, 0.27, 0.14, 0.2, 0.12, 0.2), tall=True)

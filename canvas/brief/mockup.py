"""Lay out the mock-up sheet: how two people rig a set with cord and old cloth, a picture a step; a list to type.

Computes: lengths rounded to whole centimetres or quarter inches.
Units: the design's own.
Source: `canvas.brief.rigging_steps`.
Limits: cord stretches: measure it under the pull it will have.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import count

import numpy as np

from canvas.brief.blocks import BOX, Block, Bullets, Document, Figure, Grid, Heading, Prose
from canvas.brief.cautions import cautions_for
from canvas.brief.drawing import MM, Drawing, Pen, Stroke, drawing_of
from canvas.brief.palette import SERIES
from canvas.brief.paper import text_room
from canvas.brief.pictures import MARKED, drafter_of
from canvas.brief.projection import LOOKS
from canvas.brief.rigging_steps import EdgeStep, FreeCorner, PanelSteps, rigging_steps
from canvas.brief.spots import Spot
from canvas.brief.views import Drafter
from canvas.cloth.rigging import Rigging
from canvas.design.schema.rig import Tie
from canvas.design.units import INCH, length_text
from canvas.geometry.scene import Scene

CLOSE = 0.10  # width of paper for one panel from above [m]


def mockup_sheet(rigging: Rigging, set_name: str, *, paper: str = "A4", units: str | None = None) -> Document:
    """Return the sheet for one set.

    Parameters
    ----------
    rigging : Rigging
    set_name : str
    paper : str
    units : str, optional
        The design's own where absent.

    Raises
    ------
    CouldNot
        When the set has no shape in balance.
    """
    design = rigging.model.design
    unit = units or design.units
    steps = rigging_steps(rigging, set_name)
    scene = rigging.rig(set_name).scene
    drafter = drafter_of(rigging, paper=text_room(paper)[0], text=2.5 * MM, units=unit)
    blocks: list[Block] = [
        Heading(text=f"{design.name}: mock-up of “{set_name}”", level=1),
        Prose(text=HOW),
        Figure(drawing=drafter.view(scene, "profile"), caption="As it will hang"),
    ]
    if not steps:
        blocks.append(Prose(text="This set has no new canvas: there is nothing to mock up."))
    for number, panel in enumerate(steps, start=1):
        blocks += _panel(panel, number, scene=scene, drafter=drafter, unit=unit)
    blocks += [Heading(text="Before you take it down"), Bullets(items=AFTER, boxes=True)]
    blocks += [Prose(text=caution, strong=True) for caution in cautions_for("mockup")]
    return Document(
        title=f"{design.name}: mock-up of {set_name}", foot=f"{design.name}, revision {design.revision}, {set_name}",
        blocks=tuple(blocks),
    )  # fmt: skip


HOW = (
    "Cord first, old cloth over it, then look: from the seats, from the helm, at the vane. Two people, in harbour. "
    "Lengths are under the pull the cord will have; heights are above the cockpit sole; distances from the centreline "
    "are square to it."
)
AFTER = (
    "Sat on every seat and stood at the helm, by day; looked ahead and to leeward.",
    "Winched, tacked the boom over by hand, opened the lockers, gone below and come up.",
    "Hung a ribbon where the vane's blade is and looked at it from every side, with the wind ahead and abeam.",
    "Measured every corner where it really is and wrote it in the boxes: such readings go into the file.",
)


def cord_text(metres: float, *, units: str) -> str:
    """Return a length of so many `metres` in whole centimetres, or to a quarter of an inch."""
    if units == "m":
        return f"{metres:.2f} m"
    if units == "mm":
        return f"{round(metres * 100) * 10:d} mm"
    return length_text(round(metres / INCH * 4) / 4 * INCH, units)


def _panel(panel: PanelSteps, number: int, *, scene: Scene, drafter: Drafter, unit: str) -> list[Block]:
    blocks: list[Block] = [Heading(text=f"{number}. {panel.panel}", page=True)]
    others = [surface.panel for surface in scene.of_kind("cloth") if surface.panel not in (panel.panel, None)]
    alone = scene.without(other for other in others if other is not None)
    spots = [np.stack([corner.at, *(cord.start for cord in corner.cords)]) for corner in panel.corners]
    near = drafter.closer(np.vstack([*(s.vertices for s in alone.of_kind("cloth")), *spots]), paper=CLOSE)
    step = count(1)
    if panel.held:
        heads: tuple[str, ...] = ("edge", "lies along", "finish", "length")
        rows = tuple(_held(edge, unit) for edge in panel.held)
        title = f"Step {next(step)}: the edges that are held"
        blocks.append(Grid(title=title, heads=heads, rows=rows, shares=(0.2, 0.4, 0.22, 0.18)))
    blocks.append(Figure(drawing=near.view(alone, "plan"), caption=f"{panel.panel} by itself, from above"))
    for corner in panel.corners:
        blocks += _corner(corner, next(step), scene=alone, drafter=near, unit=unit)
    if panel.free:
        rows = tuple(_free(edge, unit) for edge in panel.free)
        heads = ("edge", "finish", "along it", "corner to corner", "hollow in the middle")
        title = f"Step {next(step)}: the free edges"
        blocks.append(Grid(title=title, heads=heads, rows=rows, shares=(0.2, 0.22, 0.18, 0.2, 0.2)))
    if panel.ties:
        title = f"Step {next(step)}: the ties"
        blocks += [Heading(text=title, level=3), Bullets(items=tuple(_tie(o, unit) for o in panel.ties))]
    return blocks


def _tie(tie: Tie, unit: str) -> str:
    """Return what a tie is, where it goes and how long it is, where that is said."""
    long = "" if tie.length is None else f", {cord_text(tie.length, units=unit)} long"
    at = tie.at.replace("_", " ") if isinstance(tie.at, str) else "the point given"
    return f"{tie.kind} at {at}{long}"


def _held(edge: EdgeStep, unit: str) -> tuple[str, ...]:
    return (edge.name, edge.along or "between its corners", edge.finish, cord_text(edge.length, units=unit))


def _free(edge: EdgeStep, unit: str) -> tuple[str, ...]:
    hollow = cord_text(edge.hollow, units=unit) if edge.hollow is not None and edge.hollow > 0.004 else "none"
    return (
        edge.name, edge.finish, cord_text(edge.length, units=unit), cord_text(edge.chord, units=unit), hollow
    )  # fmt: skip


def _corner(corner: FreeCorner, step: int, *, scene: Scene, drafter: Drafter, unit: str) -> list[Block]:
    x, y, z = (float(part) for part in corner.at)
    side = "starboard" if y > 0 else "port"
    rows = [
        *((f"cord from {cord.name.replace('_', ' ')}", cord_text(cord.length, units=unit), _give(corner, unit), BOX)
          for cord in corner.cords),
        ("height above the sole", cord_text(z, units=unit), _give(corner, unit), BOX),
        (f"from the centreline, to {side}", cord_text(abs(y), units=unit), _give(corner, unit), BOX),
        (f"{'aft' if x >= 0 else 'forward'} of the bulkhead", cord_text(abs(x), units=unit), _give(corner, unit), BOX),
    ]  # fmt: skip
    where = f", at the mark {corner.mark.replace('_', ' ')}" if corner.mark else ""
    title = f"Step {step}: corner {corner.name}{where}"
    heads = ("what", "length", "may be off by", "found")
    spots = [
        Spot(text="corner", at=corner.at),
        *(Spot(text=c.name.replace("_", " "), at=c.start) for c in corner.cords),
    ]
    figures = [
        Figure(
            drawing=_with_cords(drafter.view(scene, view, spots=spots), corner, drafter, view),
            caption=f"{title}: cords dashed",
        )
        for view in MARKED[:1]
    ]
    return [*figures, Grid(title=title, heads=heads, rows=tuple(rows), shares=(0.44, 0.2, 0.18, 0.18))]


def fill_in(rigging: Rigging, set_name: str, *, units: str | None = None) -> str:
    """Return the readings of the mock-up's corners as lines of a design file, to type what was found into.

    Parameters
    ----------
    rigging : Rigging
    set_name : str
    units : str, optional
        Of the values that are expected; the design's own where absent.

    Raises
    ------
    CouldNot
        When the set has no shape in balance.
    """
    design = rigging.model.design
    unit = units or design.units
    marks: list[str] = []
    lines: list[str] = []
    for panel in rigging_steps(rigging, set_name):
        for number, corner in enumerate(panel.corners, start=1):
            own = f"{panel.panel.replace(' ', '_')}_corner_{number}"
            name = corner.mark if corner.mark is not None and corner.hangs else own
            if name == own:
                place = ", ".join(f'"{length_text(float(part), unit)}"' for part in corner.at)
                marks.append(f"#   {name} = [{place}]")
            lines += _to_type(corner, name, panel.panel, unit)
    head = [
        f"# {design.name}, revision {design.revision}: what the mock-up of {set_name} came out as.",
        "# Type what was found between the quotes, take out the lines of what was not measured, and put the rest into",
        "# the list `reading` of the design file, which stands before its first [table].",
        *(["# Put these under [marks]:", *marks] if marks else []),
    ]
    return "\n".join([*head, "reading = [", *lines, "]", ""])


def _to_type(corner: FreeCorner, name: str, panel: str, unit: str) -> list[str]:
    """Return a line for each cord and each distance of a corner."""
    rest = f'length = "", panel = "{panel}" }},  # about'
    lines = [
        f'  {{ kind = "tape", from = "{cord.name}", to = "{name}", {rest} {cord_text(cord.length, units=unit)}'
        for cord in corner.cords
    ]
    for axis, value in zip(("up", "starboard", "aft"), (corner.at[2], corner.at[1], corner.at[0]), strict=True):
        about = cord_text(float(value), units=unit)
        lines.append(f'  {{ kind = "offset", at = "{name}", axis = "{axis}", {rest} {about}')
    return lines


def _give(corner: FreeCorner, unit: str) -> str:
    return cord_text(max(corner.tolerance, 0.01), units=unit)


def _with_cords(view: Drawing, corner: FreeCorner, drafter: Drafter, name: str) -> Drawing:
    look = next(one for one in LOOKS.values() if one.name == name)
    lines: Sequence[np.ndarray] = [
        look.flat(np.stack([cord.start, corner.at])) / drafter.sheet.scale
        for cord in corner.cords
        if drafter.frame.holds(cord.start)
    ]
    cords = Stroke(lines=tuple(lines), pen=Pen(colour=SERIES[2], width=0.5 * MM, dash=(2 * MM, 1 * MM)))
    return drawing_of(view.title, [*view.items, cords])

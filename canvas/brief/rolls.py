"""Draw parts as they lie on the roll, to scale.

Computes: a drawing of each roll: its width, the length used, every part's cut line, finished line, grain and label.
Units: metres; paper in metres.
Source: common practice.
Limits: for looking at; what is cut from is the DXF.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from canvas.brief.dimensions import dimension, dimension_text, scale_bar, scale_for
from canvas.brief.drawing import MM, Area, Drawing, Item, Pen, Stroke, Words, drawing_of
from canvas.brief.labels import Name, named
from canvas.brief.palette import INK, QUIET, tint
from canvas.cutting.part import FlatPart
from canvas.cutting.result import CutResult, RollLayout
from canvas.cutting.sheet import Layer, Line, placed
from canvas.geometry.surface import Floats

AROUND = 3.0  # letter heights of room for names round the roll; its title stands above them, its length below


def roll_drawing(
    cut: CutResult, roll: RollLayout, *, paper: float, units: str, panels: Sequence[str], text: float = 2.4 * MM
) -> Drawing:
    """Return one roll with its parts.

    Parameters
    ----------
    cut : CutResult
    roll : RollLayout
    paper : float
        Width of paper [m].
    units : str
    panels : sequence of str
        All panels of the design, for their tints.
    text : float
        Height of letters on paper [m].
    """
    layout = roll.layout
    scale = scale_for(max(layout.length, layout.width), paper=paper - 8 * text)  # a short piece of a wide roll fits too
    parts = [cut.parts[index] for index in roll.parts]
    whole = np.array([[0, 0], [layout.length, 0], [layout.length, layout.width], [0, layout.width]]) / scale
    items: list[Item] = [Area(loops=(whole,), fill="#f6f6f3", pen=Pen(width=0.3 * MM))]
    names: list[Name] = []
    for index, part in enumerate(parts):
        outline = layout.outline(index, part.cut) / scale
        colours = tint(part.panel, names=panels)
        items.append(Area(loops=(outline,), fill=colours.fill, opacity=0.75, pen=Pen(colour=INK, width=0.2 * MM)))
        shift = (float(layout.x[index]), float(layout.y[index]))
        for layer, width in ((Layer.SEW, 0.1), (Layer.GRAIN, 0.15)):
            items += _lines(part, layer, shift, turned=bool(layout.turned[index]), scale=scale, width=width * MM)
        names.append(
            Name(
                text=_short(part, panels),
                area=shapely.Polygon(outline).buffer(0),
                colour=colours.line,
                size=0.85 * text,
            )
        )
    room = shapely.box(*(whole.min(axis=0) - AROUND * text), *(whole.max(axis=0) + AROUND * text))
    items += named(sorted(names, key=lambda name: -name.area.area), within=room)
    items += _measures(roll, scale, whole, units=units, text=text)
    return drawing_of(f"{roll.cloth} on a roll {dimension_text(layout.width, units=units)} wide", items)


def _lines(
    part: FlatPart, layer: Layer, shift: tuple[float, float], *, turned: bool, scale: int, width: float
) -> list[Item]:
    drawn = placed(part.items, shift=shift, turned=turned)
    lines: list[Floats] = []
    for item in drawn:
        if isinstance(item, Line) and item.layer is layer:
            points = np.vstack([item.points, item.points[:1]]) if item.closed else item.points
            lines.append(points / scale)
    return [Stroke(lines=tuple(lines), pen=Pen(colour=QUIET, width=width))] if lines else []


def _short(part: FlatPart, panels: Sequence[str]) -> str:
    """Return a part's name without its panel's where the colour and its neighbours say it."""
    rest = part.name.removeprefix(part.panel).strip(": ")
    return f"{list(panels).index(part.panel) + 1}.{rest}" if rest and part.panel in panels else part.name


def _measures(roll: RollLayout, scale: int, whole: Floats, *, units: str, text: float) -> list[Item]:
    layout = roll.layout
    long = f"{dimension_text(layout.length, units=units)} of roll, {100 * layout.used:.0f} % used"
    wide = dimension_text(layout.width, units=units)
    items = [
        *dimension(whole[0], whole[1], text=long, lane=-(AROUND + 1) * text, size=0.9 * text),
        *dimension(whole[0], whole[3], text=wide, lane=-1.8 * text, size=0.9 * text, upright=True),
    ]
    top = float(whole[2, 1])
    title = Words(
        at=np.array([0.0, top + (AROUND + 0.6) * text]), text=roll.cloth, size=text, anchor="start", bold=True
    )
    return [*items, title, *scale_bar(scale, at=(0.0, -(AROUND + 4.6) * text), units=units, size=text)]

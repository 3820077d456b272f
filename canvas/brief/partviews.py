"""Draw one flat part with its finished size, edges and match marks.

Computes: a drawing to scale: cut line, finished line, folds, match marks, grain, and each edge's name, length, fit.
Units: metres; paper in metres.
Source: the part.
Limits: for reading; what is cut from is the DXF.
"""

from __future__ import annotations

import numpy as np
import shapely

from canvas.brief.dimensions import dimension, scale_bar, scale_for
from canvas.brief.drawing import MM, Area, Drawing, Item, Pen, Stroke, Words, drawing_of
from canvas.brief.labels import Name, named
from canvas.brief.palette import INK, QUIET, Tint
from canvas.cutting.part import FlatPart, PartEdge
from canvas.cutting.sheet import Layer, Line
from canvas.design.units import length_text, small_length

DRAWN = ((Layer.FOLD, 0.12), (Layer.NOTCHES, 0.4), (Layer.GRAIN, 0.2), (Layer.CUT_OUT, 0.2), (Layer.TEXT, 0.3))


def part_drawing(part: FlatPart, *, colours: Tint, paper: float, units: str, text: float = 2.3 * MM) -> Drawing:
    """Return one part.

    Parameters
    ----------
    part : FlatPart
    colours : Tint
        Of its panel.
    paper : float
        Width of paper [m].
    units : str
    text : float
        Height of letters [m].
    """
    low, high = part.cut.min(axis=0), part.cut.max(axis=0)
    scale = scale_for(float(max(high - low)), paper=paper - 24 * text)
    cut, finished = part.cut / scale, part.finished / scale
    items: list[Item] = [
        Area(loops=(cut,), fill="#ffffff", pen=Pen(colour=INK, width=0.3 * MM)),
        Area(loops=(finished,), fill=colours.fill, opacity=0.6, pen=Pen(colour=QUIET, width=0.15 * MM)),
    ]
    for layer, width in DRAWN:
        lines = tuple(
            (np.vstack([item.points, item.points[:1]]) if item.closed else item.points) / scale
            for item in part.items
            if isinstance(item, Line) and item.layer is layer
        )
        if lines:
            items.append(Stroke(lines=lines, pen=Pen(colour=INK, width=width * MM)))
    inner, outer = finished.min(axis=0), finished.max(axis=0)
    size = outer - inner
    below = float(cut[:, 1].min()) - 2.4 * text
    items += dimension(
        inner, np.array([outer[0], inner[1]]), text=length_text(float(size[0]) * scale, units), lane=below, size=text
    )
    left = float(cut[:, 0].min()) - 2.0 * text
    items += dimension(
        inner, np.array([inner[0], outer[1]]), text=length_text(float(size[1]) * scale, units), lane=left, size=text,
        upright=True,
    )  # fmt: skip
    words = [_edge_name(edge, scale, units, text, colours) for edge in part.edges]
    room = shapely.box(*(cut.min(axis=0) - 11 * text), *(cut.max(axis=0) + 11 * text))
    taken = [shapely.Polygon(item.corners()) for item in items if isinstance(item, Words)]
    items += named(words, within=room, avoid=taken)
    items += scale_bar(scale, at=(float(inner[0]), below - 4 * text), units=units, size=text)
    return drawing_of(part.name, items)


def _edge_name(edge: PartEdge, scale: int, units: str, text: float, colours: Tint) -> Name:
    middle = shapely.LineString(edge.points).interpolate(0.5, normalized=True)
    long = f", long by {small_length(edge.long_by, units)}"
    fit = {"final": "", "long": long, "on board": ", patterned on board"}[edge.fit]
    said = f"{edge.name}: {length_text(edge.length, units)}{fit}"
    at = shapely.Point(middle.x / scale, middle.y / scale)
    return Name(text=said, area=at, colour=colours.line, size=0.9 * text)

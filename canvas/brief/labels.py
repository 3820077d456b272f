"""Put names beside what they name, so that no two collide.

Computes: for each name, the first free place among those inside its thing, then those round it, with a leader line.
Units: metres on the paper.
Source: greedy placement by preference, common practice in map lettering.
Limits: greedy: an earlier name may take a place that a later one needed more; where none is free it goes to the place
    with the least overlap.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from canvas.brief.drawing import MM, Area, Item, Pen, Stroke, Words, circle
from canvas.brief.palette import INK, PAPER
from canvas.geometry.surface import Bools, Floats

RINGS = (5 * MM, 8 * MM, 12 * MM, 17 * MM, 23 * MM, 30 * MM, 38 * MM)  # distances tried for a name outside


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Name:
    """Something to be named.

    Attributes
    ----------
    text : str
    area : shapely geometry
        What it names, on the paper; a point for a spot [m].
    colour : str
    size : float
        Of the letters [m].
    bold : bool
    """

    text: str
    area: shapely.Geometry
    colour: str = INK
    size: float = 2.6 * MM
    bold: bool = False


def named(
    names: Sequence[Name],
    *,
    within: shapely.Polygon,
    avoid: Sequence[shapely.Geometry] = (),
    rings: Sequence[float] = RINGS,
) -> tuple[Item, ...]:
    """Return the words, and leaders to those that stand outside their thing.

    Parameters
    ----------
    names : sequence of Name
        The ones that matter most first.
    within : shapely polygon
        The upright rectangle in which words may stand [m].
    avoid : sequence of shapely geometries
        What they must keep off: words already there, small important things [m].
    rings : sequence of float
        Distances tried for a name outside its thing, best first [m].
    """
    taken = [np.array(shape.bounds) for shape in avoid if not shape.is_empty]
    items: list[Item] = []
    for name in names:
        words, inside = _place(name, within=within, taken=taken, rings=rings)
        taken.append(np.array(_box(words).buffer(0.4 * MM).bounds))
        if not inside:
            items += _leader(name, words)
        items.append(words)
    return tuple(items)


def _box(words: Words) -> shapely.Polygon:
    return shapely.Polygon(words.corners())


def _place(
    name: Name, *, within: shapely.Polygon, taken: Sequence[Floats], rings: Sequence[float]
) -> tuple[Words, bool]:
    base = Words(at=np.zeros(2), text=name.text, size=name.size, colour=name.colour, bold=name.bold, halo=True)
    shape = base.corners()
    spots, inside = _candidates(name, base.width, rings)
    low, high = spots + shape.min(axis=0), spots + shape.max(axis=0)
    room = np.array(within.bounds)
    beyond = np.maximum(room[:2] - low, 0).sum(axis=1) + np.maximum(high - room[2:], 0).sum(axis=1)
    overlap = np.zeros(len(spots))
    for box in taken:
        overlap += np.prod(np.maximum(np.minimum(high, box[2:]) - np.maximum(low, box[:2]), 0), axis=1)
    free = (overlap == 0) & (beyond == 0)
    for index in np.flatnonzero(free):
        chosen = int(index)
        if not inside[chosen] or name.area.contains(shapely.box(*low[chosen], *high[chosen])):
            return replace(base, at=spots[chosen]), bool(inside[chosen])
    chosen = int(np.argmin(overlap + 0.01 * beyond + np.where(inside, 1.0, 0.0)))
    return replace(base, at=spots[chosen]), bool(inside[chosen])


def _candidates(name: Name, width: float, rings: Sequence[float]) -> tuple[Floats, Bools]:
    """Return places for the middle of the text, best first, and whether each lies in the thing itself."""
    low_x, low_y, high_x, high_y = name.area.bounds
    middle = np.asarray(name.area.representative_point().coords[0])
    first = np.zeros((0, 2))
    if name.area.area > width * name.size:
        shapely.prepare(name.area)
        across, up = np.meshgrid(np.linspace(low_x, high_x, 17), np.linspace(low_y, high_y, 17))
        grid = np.c_[across.ravel(), up.ravel()]
        centre = np.asarray(name.area.centroid.coords[0])
        first = grid[np.argsort(np.sum((grid - centre) ** 2, axis=1), kind="stable")]
    turns = np.radians([90, 45, 135, 0, 180, -45, -135, -90, 67, 113, 22, 158, -22, -158, -67, -113])
    way = np.c_[np.cos(turns), np.sin(turns)]
    clear = np.c_[np.sign(way[:, 0].round(3)) * width / 2, np.zeros(len(turns))]  # the near end stands on the ring
    ring = middle + clear + np.array(rings)[:, None, None] * way
    spots = np.vstack([first, ring.reshape(-1, 2)])
    return spots, np.arange(len(spots)) < len(first)


def _leader(name: Name, words: Words) -> list[Item]:
    spot = name.area.representative_point()
    edge = shapely.shortest_line(_box(words), spot)
    end = np.asarray(edge.coords)
    pen = Pen(colour=name.colour, width=0.18 * MM)
    dot = Area(loops=(circle(end[1], 0.5 * MM),), fill=name.colour, pen=Pen(colour=PAPER, width=0.1 * MM))
    return [Stroke(lines=(end,), pen=pen), dot]

"""Make a flat part: finished outline, cut line, folds, rows of stitching, points, match marks, grain and label.

Computes: everything a cutter draws of one piece of cloth. Terms: *finished* is the outline when sewn, *cut* the
    line the knife follows, *net* the part without allowances.
Units: metres, warp along +u; the part is seen from its outside.
Source: marks and labels are common practice.
Limits: text is placed by an upper bound of its width; fonts differ. Points start a fixed way off each corner.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from canvas.cutting.outline import OutlineEdge, beside, cut_line
from canvas.cutting.sheet import Item, Layer, Line, Point
from canvas.design.problems import Problem
from canvas.geometry.surface import Floats, locked

Fit = Literal["final", "long", "on board"]
STROKE = 0.006  # [m] of a match mark; common practice
FROM_CORNER = 0.03  # [m] first stud or eye from a corner; common practice


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Notch:
    """One match mark.

    Attributes
    ----------
    joint : str
        Seam or zip it belongs to.
    number : int
        From 1, along the joint; both sides carry the same.
    place : float
        Flat length along the joint from its first corner. [m]
    at : (2,) ndarray
        On the finished edge. [m]
    out : (2,) ndarray
        Where it meets the cut line; a little inside where there is no allowance. [m]
    """

    joint: str
    number: int
    place: float
    at: Floats
    out: Floats

    def __post_init__(self) -> None:
        object.__setattr__(self, "at", locked(self.at))
        object.__setattr__(self, "out", locked(self.out))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PartEdge:
    """One finished edge of a part.

    Attributes
    ----------
    name, finish : str
    points : (k, 2) ndarray
        [m]
    length : float
        Flat, finished. [m]
    seam : bool
        Joins two pieces of one panel.
    sd : float or None
        Standard deviation of its place. [m]
    fit : str
        ``final``, ``long`` or ``on board``.
    long_by : float
        Cloth left on for fitting. [m]
    strain : float
        Largest strain along it, either sign. [1]
    span : (float, float) or None
        Flat length along the panel's edge, or the seam, from its first corner to where this one starts and ends;
        a panel in one piece spans its whole edges. [m]
    note : str
        What it meets, which zip half, how long a tape.
    """

    name: str
    finish: str
    points: Floats
    length: float
    seam: bool
    sd: float | None
    fit: Fit
    long_by: float
    strain: float
    span: tuple[float, float] | None = None
    note: str = ""

    def __post_init__(self) -> None:
        object.__setattr__(self, "points", locked(self.points))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FlatPart:
    """One part to cut.

    Attributes
    ----------
    name, panel, set_name, cloth : str
    finished : (k, 2) ndarray
        Finished outline, counter-clockwise. [m]
    cut : (k, 2) ndarray
        Cut line. [m]
    edges : tuple of PartEdge
    notches : tuple of Notch
    items : tuple
        All that is drawn, the cut line included.
    area : float
        Finished. [m2]
    cut_area : float
        [m2]
    strain_edge_max, strain_inside_max : float
        Strain left from flat to shape, along edges and in triangles. [1]
    strain_at : (2,) ndarray
        Middle of the triangle that strains most. [m]
    stretch : (float, float) or None
        Mean strain along warp and weft from flat to shape: the compensation as cut; None for patches and the like. [1]
    turnable : bool
        May be turned half round on the roll.
    count : int
        How many to cut.
    """

    name: str
    panel: str
    set_name: str
    cloth: str
    finished: Floats
    cut: Floats
    edges: tuple[PartEdge, ...]
    notches: tuple[Notch, ...]
    items: tuple[Item, ...]
    area: float
    cut_area: float
    strain_edge_max: float
    strain_inside_max: float
    strain_at: Floats
    stretch: tuple[float, float] | None = None
    turnable: bool = True
    count: int = 1

    def __post_init__(self) -> None:
        for name in ("finished", "cut", "strain_at"):
            object.__setattr__(self, name, locked(getattr(self, name)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Label:
    """What is written on a part.

    Attributes
    ----------
    lines : tuple of str
        Name first.
    forward : (2,) ndarray or None
        Flat direction that points forward on the boat; None where it has none.
    units : str
        In which lengths are said.
    """

    lines: tuple[str, ...]
    forward: Floats | None = None
    units: str = "m"


def drawn_edges(edges: Sequence[OutlineEdge], *, finished: Polygon, cut: Polygon) -> list[Item]:
    """Return folds, rows of stitching and points along each edge."""
    items: list[Item] = []
    for edge in edges:
        strip = cut.difference(finished.buffer(-1e-6))
        for fold in edge.finish.folds:
            if fold > 0:
                items.extend(
                    Line(layer=Layer.FOLD, points=p, dashed=True) for p in beside(edge.points, fold, within=strip)
                )
        for row in edge.finish.sews:
            if row != 0:
                within = finished if row > 0 else strip
                items.extend(
                    Line(layer=Layer.SEW, points=p, dashed=True) for p in beside(edge.points, -row, within=within)
                )
        if edge.finish.points is not None:
            items.extend(
                Point(layer=Layer.DRILL, at=at, diameter=None)
                for at in points_along(edge.points, spacing=edge.finish.spacing, inset=edge.finish.inset)
            )
    return items


def points_along(points: Floats, *, spacing: float, inset: float) -> Floats:
    """Return the places of studs or eyes along an edge, evenly spaced at most `spacing` apart, shape (n, 2). [m].

    Parameters
    ----------
    points : (k, 2) ndarray
        Finished edge, outline order. [m]
    spacing, inset : float
        Between points; inward from the edge. [m]
    """
    line = LineString(points)
    start = min(FROM_CORNER, line.length / 4)
    free = line.length - 2 * start
    count = max(2, math.ceil(free / spacing - 1e-9) + 1)
    places = start + free * np.arange(count) / (count - 1)
    return np.array([_off(line, place, inset) for place in places])


def _off(line: LineString, place: float, inset: float) -> Floats:
    """Return the point at a place along a line, moved to its left."""
    at, along = _frame(line, place)
    result: Floats = at + inset * np.array([-along[1], along[0]])
    return result


def _frame(line: LineString, place: float) -> tuple[Floats, Floats]:
    a, b = (np.asarray(line.interpolate(min(max(place + d, 0), line.length)).coords[0]) for d in (-1e-3, 1e-3))
    along = (b - a) / np.hypot(*(b - a))
    return np.asarray(line.interpolate(place).coords[0]), along


def notch_on(
    edge: OutlineEdge, *, place: float, joint: str, number: int, along_joint: float, most: float | None = None
) -> Notch:
    """Return a match mark at a flat length from the start of an edge.

    Parameters
    ----------
    edge : OutlineEdge
    place : float
        Along the edge in outline order. [m]
    joint : str
    number : int
    along_joint : float
        Along the joint from its first corner. [m]
    most : float, optional
        How far out it may reach; over the whole allowance where absent. [m]
    """
    at, along = _frame(LineString(edge.points), place)
    reach = edge.width if most is None else min(edge.width, most)
    out = at + (reach if edge.width > 0 else -STROKE) * np.array([along[1], -along[0]])
    return Notch(joint=joint, number=number, place=along_joint, at=at, out=out)


def notch_items(notches: Sequence[Notch]) -> list[Item]:
    """Return what is drawn of match marks: a stroke in from the cut line, a point on the finished edge."""
    items: list[Item] = []
    for notch in notches:
        span = notch.at - notch.out
        size = float(np.hypot(*span))
        tip = notch.out + span * min(1.0, STROKE / size) if size > 1e-6 else notch.at
        if size > 1e-6:
            items.append(Line(layer=Layer.NOTCHES, points=np.stack([notch.out, tip])))
        items.append(Point(layer=Layer.NOTCHES, at=notch.at))
    return items


def grain_items(inside: Polygon) -> list[Item]:
    """Return the grain line: an arrow along the warp through the part's widest place."""
    middle = shapely.maximum_inscribed_circle(inside, tolerance=0.002)
    centre = np.asarray(middle.coords[0])
    across = np.array([50.0, 0.0])
    reach = shapely.intersection(inside, LineString([centre - across, centre + across]))
    spans = [g for g in getattr(reach, "geoms", [reach]) if g.distance(shapely.Point(centre)) < 1e-6]
    low, _, high, _ = spans[0].bounds
    half = min(0.3, 0.4 * (high - low) / 2)
    middle_of_span = np.array([(low + high) / 2, centre[1]])
    head = min(0.02, half / 3)
    shaft = np.array([[-half, 0.0], [half, 0.0]])
    point = np.array([[half - head, head / 2], [half, 0.0], [half - head, -head / 2]])
    return [Line(layer=Layer.GRAIN, points=middle_of_span + shape) for shape in (shaft, point, -point)]


def _outline_items(edges: Sequence[OutlineEdge], finished: Polygon, cut: Polygon) -> list[Item]:
    """Return cut line, finished outline, corner points, folds, rows of stitching and points along the edges."""
    items: list[Item] = [
        Line(layer=Layer.CUT, points=np.asarray(cut.exterior.coords)[:-1], closed=True),
        Line(layer=Layer.SEW, points=np.asarray(finished.exterior.coords)[:-1], closed=True),
    ]
    items.extend(Point(layer=Layer.DRILL, at=edge.points[0]) for edge in edges)
    if finished.is_valid and cut.is_valid:
        items.extend(drawn_edges(edges, finished=finished, cut=cut))
    return items


def make_part(
    edges: Sequence[OutlineEdge],
    *,
    name: str,
    panel: str,
    set_name: str,
    cloth: str,
    part_edges: Sequence[PartEdge],
    notches: Sequence[Notch],
    extra_items: Sequence[Item],
    holes: Sequence[Floats],
    strains: tuple[float, float, Floats],
    stretch: tuple[float, float],
    turnable: bool = True,
) -> tuple[FlatPart, tuple[Problem, ...]]:
    """Return the part bounded by `edges`, without its label, and what is wrong with it.

    Parameters
    ----------
    edges : sequence of OutlineEdge
    name, panel, set_name, cloth : str
    part_edges : sequence of PartEdge
    notches : sequence of Notch
    extra_items : sequence
        Drawn besides: openings, patches.
    holes : sequence of (k, 2) ndarray
        What is cut out inside. [m]
    strains : (float, float, (2,) ndarray)
        Largest along edges, largest inside, and where.
    stretch : (float, float)
        Mean along warp and weft from flat to shape.
    turnable : bool
    """
    line = cut_line(edges, part=name)
    finished = Polygon(np.vstack([edge.points[:-1] for edge in edges]))
    cut = Polygon(line.cut)
    lost = sum(Polygon(hole).area for hole in holes)
    items = [*_outline_items(edges, finished, cut), *notch_items(notches), *extra_items]
    part = FlatPart(
        name=name,
        panel=panel,
        set_name=set_name,
        cloth=cloth,
        finished=np.asarray(finished.exterior.coords)[:-1],
        cut=line.cut,
        edges=tuple(part_edges),
        notches=tuple(notches),
        items=tuple(items),
        area=finished.area - lost,
        cut_area=cut.area - lost,
        strain_edge_max=strains[0],
        strain_inside_max=strains[1],
        strain_at=strains[2],
        stretch=stretch,
        turnable=turnable,
    )
    return part, line.problems

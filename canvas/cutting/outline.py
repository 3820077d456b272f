"""Draw the cut line round a part: the finished outline and each edge's allowance outside it, corners handled.

Computes: a strip of allowance along each edge, corners mitred, squared off or stopped short, all united with the
    finished outline; fold lines and rows of stitching beside an edge.
Units: metres, radians.
Source: planar offsets and unions (shapely); corner forms are common practice.
Limits: the outline runs counter-clockwise. What cannot be cut or folded comes back as problems, never as a broken line.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import LineString, MultiLineString, Point, Polygon
from shapely.ops import substring

from canvas.cutting.finish import Finish
from canvas.cutting.sheet import Layer, Line
from canvas.design.problems import Problem
from canvas.geometry.surface import Floats

MITRE_LIMIT = 2.5  # length of a mitred point over the larger allowance
SHARPEST = math.radians(20)  # a turned hem's smallest inside angle; common practice
LEFT_IN = 0.01  # [m] a dart's turnings nearer to each other than this are not cut apart
TUBE_END_TURN = 0.013  # [m] left of a pocket's allowance where it stops short


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OutlineEdge:
    """One edge of a part, flat.

    Attributes
    ----------
    name : str
    finish : Finish
    points : (k, 2) ndarray
        Finished edge, in outline order. [m]
    seam : bool
        True where a piece of the same panel goes on beyond it: allowances of its neighbours run through.
    extra : float
        Cloth left on beyond the allowance, for fitting on board. [m]
    """

    name: str
    finish: Finish
    points: Floats
    seam: bool = False
    extra: float = 0.0

    @property
    def width(self) -> float:
        """Cloth outside the finished edge. [m]."""
        return self.finish.allowance + self.extra

    @property
    def dart(self) -> bool:
        """Whether it is a leg of a dart."""
        return self.seam and self.finish.name == "dart"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CutLine:
    """The cut line of a part, and what is wrong with it."""

    cut: Floats
    problems: tuple[Problem, ...]


def cut_line(edges: Sequence[OutlineEdge], *, part: str) -> CutLine:
    """Return the cut line round a part.

    Parameters
    ----------
    edges : sequence of OutlineEdge
        Round the outline, counter-clockwise.
    part : str
        Named in problems.
    """
    finished = Polygon(np.vstack([edge.points[:-1] for edge in edges]))
    if not finished.is_valid:
        problem = Problem(
            code="outline-crosses",
            key=f'part "{part}"',
            found="a finished outline that crosses itself",
            wanted="Make the panel wider where it is narrowest, or divide it with a seam there.",
        )
        return CutLine(cut=np.asarray(finished.exterior.coords)[:-1], problems=(problem,))
    problems = [p for edge in edges for p in _edge_problems(edge, finished, part)]
    pieces = [finished]
    for k, edge in enumerate(edges):
        before, after = edges[k - 1], edges[(k + 1) % len(edges)]
        pieces.extend(_strips(edge, before=before, after=after))
        pieces.append(_dart_cloth(edge, after, before=before, beyond=edges[(k + 2) % len(edges)]))
        pieces.append(_corner(edge, after))
        problems.extend(_corner_problems(edge, after, part=part))
    shape = shapely.union_all([piece.buffer(1e-7, join_style="mitre") for piece in pieces if not piece.is_empty])
    problems.extend(_collisions(edges, finished, part))
    if shape.geom_type != "Polygon" or len(shape.interiors) > 0:
        problems.append(_meets(part))
        shape = max(getattr(shape, "geoms", [shape]), key=lambda g: g.area)
    ring = shapely.orient_polygons(Polygon(shape.exterior)).simplify(2e-6)
    return CutLine(cut=np.asarray(ring.exterior.coords)[:-1], problems=tuple(problems))


def _strips(edge: OutlineEdge, *, before: OutlineEdge, after: OutlineEdge) -> list[Polygon]:
    """Return the allowance along an edge, shortened where a pocket stops before its corners."""
    line = LineString(edge.points)
    if edge.width <= 0 or line.length == 0 or edge.dart:
        return []
    if edge.finish.corner != "tube end":
        return [_trimmed(_beside(line, edge.width), edge, before=before, after=after)]
    start = 0.0 if before.seam else edge.finish.stop
    stop = line.length - (0.0 if after.seam else edge.finish.stop)
    core = substring(line, start, max(stop, start + 1e-3))
    turn = min(TUBE_END_TURN, edge.width)
    return [_beside(core, edge.width), _trimmed(_beside(line, turn), edge, before=before, after=after)]


def _beside(line: LineString, width: float) -> Polygon:
    """Return the strip of that width to the right of a line, its ends square."""
    return shapely.make_valid(line.buffer(-width, single_sided=True, join_style="mitre", mitre_limit=1.5))


def _dart_cloth(into: OutlineEdge, back: OutlineEdge, *, before: OutlineEdge, beyond: OutlineEdge) -> Polygon:
    """Return the cloth left between the legs of a dart and in the allowance at its mouth; empty between other edges.

    Narrow darts stay whole and are folded; of wide ones only the turnings are left.
    """
    if not (into.dart and back.dart) or into.name != back.name:
        return Polygon()
    come, go = _direction(before.points, at_end=True), _direction(beyond.points, at_end=False)
    one = into.points[0] + before.width * np.array([come[1], -come[0]])
    two = back.points[-1] + beyond.width * np.array([go[1], -go[0]])
    legs = np.vstack([one, into.points, back.points[1:], two])
    region = shapely.make_valid(Polygon(legs))
    if np.hypot(*(two - one)) > 2 * into.width + LEFT_IN:
        lines = (LineString(np.vstack([one, into.points])), LineString(np.vstack([back.points, two])))
        region = region.intersection(shapely.union_all([_beside(line, into.width) for line in lines]))
    return max((g for g in getattr(region, "geoms", [region]) if g.area > 0), key=lambda g: g.area, default=Polygon())


def dart_folds(edges: Sequence[OutlineEdge]) -> list[Line]:
    """Return the line each dart is folded on, from the middle of its mouth to its point.

    Parameters
    ----------
    edges : sequence of OutlineEdge
        Round the outline, counter-clockwise.
    """
    return [
        Line(layer=Layer.FOLD, points=np.stack([(into.points[0] + back.points[-1]) / 2, into.points[-1]]), dashed=True)
        for into, back in zip(edges, [*edges[1:], *edges[:1]], strict=True)
        if into.dart and back.dart and into.name == back.name
    ]


def _trimmed(strip: Polygon, edge: OutlineEdge, *, before: OutlineEdge, after: OutlineEdge) -> Polygon:
    """Return a strip cut back at sharp corners along the mirror of the neighbouring edge, so that it folds inside."""
    for other, at_end in ((before, False), (after, True)):
        angle = inside_angle(edge, other) if at_end else inside_angle(other, edge)
        if other.seam or edge.seam or not edge.finish.folds or angle >= math.pi / 2:
            continue
        corner = edge.points[-1] if at_end else edge.points[0]
        inner = _direction(edge.points, at_end=at_end) * (-1 if at_end else 1)  # along the edge, away from the corner
        outward = np.array([inner[1], -inner[0]]) * (-1 if at_end else 1)
        mirror = inner * math.cos(angle) + outward * math.sin(angle)
        far = 4 * edge.width
        wedge = Polygon([corner, corner + mirror * far, corner - inner * far + outward * far, corner - inner * far])
        strip = strip.difference(wedge)
    return strip


def _direction(points: Floats, *, at_end: bool) -> Floats:
    step = points[-1] - points[-2] if at_end else points[1] - points[0]
    result: Floats = step / np.hypot(*step)
    return result


def inside_angle(edge: OutlineEdge, after: OutlineEdge) -> float:
    """Return the angle inside the part at the corner between an edge and the next, 0 to 2 pi."""
    come, go = _direction(edge.points, at_end=True), _direction(after.points, at_end=False)
    turn = math.atan2(come[0] * go[1] - come[1] * go[0], come @ go)
    return math.pi - turn


def _corner(edge: OutlineEdge, after: OutlineEdge) -> Polygon:
    """Return the allowance that fills an outward corner between two edges; empty where it stays square."""
    angle = inside_angle(edge, after)
    if edge.dart or after.dart:
        return Polygon()
    through = edge.seam or after.seam
    square = "mitre" not in (edge.finish.corner, after.finish.corner) or edge.finish.corner != after.finish.corner
    if angle >= math.pi - 1e-3 or (square and not through) or min(edge.width, after.width) <= 0:
        return Polygon()
    corner = edge.points[-1]
    come, go = _direction(edge.points, at_end=True), _direction(after.points, at_end=False)
    one = corner + edge.width * np.array([come[1], -come[0]])
    two = corner + after.width * np.array([go[1], -go[0]])
    cross = come[0] * go[1] - come[1] * go[0]
    gap = two - one
    along = (gap[0] * go[1] - gap[1] * go[0]) / cross
    tip = one + along * come
    if np.hypot(*(tip - corner)) > MITRE_LIMIT * max(edge.width, after.width):
        return Polygon([corner, one, two])
    return Polygon([corner, one, tip, two])


def _edge_problems(edge: OutlineEdge, finished: Polygon, part: str) -> list[Problem]:
    """Return what is wrong along one edge: wider turned in than the part, or turned on too tight a curve."""
    finish = edge.finish
    if not finish.folds or finish.allowance <= 0:
        return []
    problems: list[Problem] = []
    line = LineString(edge.points)
    deep = 0
    for share in (0.3, 0.5, 0.7):
        at, ahead = (np.asarray(line.interpolate(share + d, normalized=True).coords[0]) for d in (-0.005, 0.005))
        along = (ahead - at) / np.hypot(*(ahead - at))
        inner = (at + ahead) / 2 + finish.allowance * np.array([-along[1], along[0]])
        deep += finished.contains(Point(inner))
    if deep < 2:
        problems.append(
            Problem(
                code="finish-wider-than-part",
                key=f'part "{part}", edge "{edge.name}"',
                found=f"{finish.allowance * 1000:.0f} mm of {finish.name} to turn in, more than the part is deep there",
                wanted="Make the panel deeper there, or choose binding or a narrower finish for this edge.",
            )
        )
    radius = hollow_radius(edge.points)
    if finish.bend * finish.allowance > radius:
        problems.append(
            Problem(
                code="finish-puckers",
                severity="warning",
                key=f'part "{part}", edge "{edge.name}"',
                found=f"{finish.name} of {finish.allowance * 1000:.0f} mm turned on a curve of {radius:.2f} m radius",
                wanted="Use a facing cut to the same curve, or binding, or less hollow.",
            )
        )
    return problems


def hollow_radius(points: Floats) -> float:
    """Return the radius of the circle through both ends and the middle of an edge; infinite where it is straight. [m].

    Parameters
    ----------
    points : (k, 2) ndarray
        [m]
    """
    line = LineString(points)
    a, b = points[0], points[-1]
    m = np.asarray(line.interpolate(0.5, normalized=True).coords[0])
    doubled = abs((b[0] - a[0]) * (m[1] - a[1]) - (b[1] - a[1]) * (m[0] - a[0]))
    if doubled < 1e-9:
        return math.inf
    sides = math.dist(a, b) * math.dist(b, m) * math.dist(m, a)
    return float(sides / (2 * doubled))


def _corner_problems(edge: OutlineEdge, after: OutlineEdge, *, part: str) -> list[Problem]:
    """Return what is wrong at one corner: a hem that cannot be turned."""
    angle = inside_angle(edge, after)
    turned = [e for e in (edge, after) if e.finish.folds and e.finish.allowance > 0.02 and not e.seam]
    if not turned or edge.seam or after.seam:
        return []
    outside = 2 * math.pi - angle
    if min(angle, outside) >= SHARPEST:
        return []
    return [
        Problem(
            code="corner-too-sharp",
            key=f'part "{part}", corner between "{edge.name}" and "{after.name}"',
            found=f"{math.degrees(angle):.0f} deg inside, with {turned[0].finish.name}",
            wanted="Blunt the corner with a short edge of 60 mm or more, or bind one of its edges.",
        )
    ]


def _collisions(edges: Sequence[OutlineEdge], finished: Polygon, part: str) -> list[Problem]:
    """Return where the allowance of one edge would lie on the part itself beyond another edge."""
    problems: list[Problem] = []
    for edge in edges:
        line = LineString(edge.points)
        if edge.width <= 0 or line.length == 0 or edge.dart:
            continue
        strip = _beside(line, edge.width)
        lapped = strip.intersection(finished.buffer(-1e-4)).area
        if lapped > 1e-5:
            problems.append(
                Problem(
                    code="corner-too-sharp",
                    key=f'part "{part}", edge "{edge.name}"',
                    found=f"an inside corner in which {edge.width * 1000:.0f} mm of allowance has no room",
                    wanted="Open the inside corner, divide the panel with a seam there, or give the edge binding.",
                )
            )
    return problems


def _meets(part: str) -> Problem:
    return Problem(
        code="allowances-meet",
        key=f'part "{part}"',
        found="allowances of two edges that meet across a gap",
        wanted="Make the gap wider than both allowances, or divide the panel with a seam there.",
    )


def beside(points: Floats, distance: float, *, within: Polygon) -> list[Floats]:
    """Return the line at a distance outside an edge (negative: inside), clipped to a region.

    Parameters
    ----------
    points : (k, 2) ndarray
        [m]
    distance : float
        [m]
    within : Polygon
        Only what lies in it is returned.
    """
    line = LineString(points)
    moved = line if distance == 0 else line.offset_curve(-distance, join_style="mitre", mitre_limit=2.0)
    kept = moved.intersection(within)
    if isinstance(kept, LineString):
        parts = [kept]
    elif isinstance(kept, MultiLineString):
        merged = shapely.line_merge(kept)
        parts = list(getattr(merged, "geoms", [merged]))
    else:
        parts = [g for g in getattr(kept, "geoms", []) if isinstance(g, LineString)]
    return [np.asarray(part.coords) for part in parts if part.length > 0.005]

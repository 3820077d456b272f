"""Fill a plane outline with triangles: every outline and inner line is a chain of triangle sides.

Computes: points on hexagonal lattices graded to the outline, their Delaunay triangulation, lines recovered by flips.
Units: metres, in the plane of the domain.
Source: Delaunay by Qhull (scipy); recovery of lines by Sloan SW, A fast algorithm for generating constrained Delaunay
    triangulations, Computers & Structures 47, 1993; smoothing towards triangle centroids after Chen L and Xu J, Optimal
    Delaunay triangulations, J. Comput. Math. 22, 2004.
Limits: inner lines may not cross the outline or each other.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from scipy.spatial import Delaunay, QhullError

from canvas.arrays import distinct
from canvas.geometry.surface import Bools, Floats, Ints

HIGH = np.sqrt(3.0) / 2  # of a lattice's rows, in steps
GRADE = 0.3  # how fast triangles may grow away from a fine outline, metre per metre
PASSES = 3  # rounds of smoothing
CLEAR = 0.55  # least distance of a free point from outline and lines, in local spacings


class NoMesh(Exception):
    """Raised for an outline that no mesh fills: what was found, and what would do."""

    def __init__(self, found: str, wanted: str) -> None:
        super().__init__(found)
        self.found, self.wanted = found, wanted


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlaneMesh:
    """Triangles in a plane.

    Attributes
    ----------
    points : (n, 2) ndarray
        The outline's points first, then those of each inner line, then single points, then free ones [m].
    faces : (m, 3) ndarray of int
        Counter-clockwise.
    """

    points: Floats
    faces: Ints


def triangulate(
    outline: Floats,
    *,
    spacing: float,
    lines: tuple[Ints, ...] = (),
    inner: Floats | None = None,
) -> PlaneMesh:
    """Return a triangulation of the inside of `outline`.

    Parameters
    ----------
    outline : (b, 2) ndarray
        Closed and simple, counter-clockwise, first point not repeated [m].
    spacing : float
        Greatest side wanted [m].
    lines : tuple of (k,) ndarray of int
        Chains of triangle sides, as indices into outline and `inner` points together.
    inner : (q, 2) ndarray or None
        Points inside that must be vertices [m].

    Raises
    ------
    NoMesh
        When a line cannot be made of triangle sides, which means that lines cross.
    """
    inner = np.zeros((0, 2)) if inner is None else inner
    fixed = np.vstack([outline, inner])
    polygon = shapely.Polygon(outline)
    loop = np.arange(len(outline))
    sides = np.vstack(
        [np.stack([loop, np.roll(loop, -1)], axis=1)] + [np.stack([line[:-1], line[1:]], axis=1) for line in lines]
    )
    local = _local_spacing(fixed, sides, spacing)
    free = _lattices(polygon, fixed, sides, local, spacing)
    points = np.vstack([fixed, free])
    faces = _constrained(points, sides, polygon)
    for _ in range(PASSES):
        if len(free) == 0:
            break
        points = _smooth(points, faces, len(fixed))
        faces = _constrained(points, sides, polygon)
    return PlaneMesh(points=points, faces=faces)


def _local_spacing(fixed: Floats, sides: Ints, spacing: float) -> Floats:
    """Return for each fixed point the mean length of its own sides, at most `spacing`."""
    length = np.linalg.norm(fixed[sides[:, 0]] - fixed[sides[:, 1]], axis=1)
    count = np.bincount(sides.ravel(), minlength=len(fixed))
    total = np.bincount(sides.ravel(), weights=np.repeat(length, 2), minlength=len(fixed))
    return np.where(count > 0, np.minimum(total / np.maximum(count, 1), spacing), spacing)


def _spacing_at(where: Floats, fixed: Floats, local: Floats, spacing: float) -> Floats:
    """Return the side wanted at points, growing away from the fixed ones."""
    distance = np.linalg.norm(where[:, None, :] - fixed[None], axis=2)
    return np.asarray(np.minimum(np.min(local[None] + GRADE * distance, axis=1), spacing))


def _lattices(polygon: shapely.Polygon, fixed: Floats, sides: Ints, local: Floats, spacing: float) -> Floats:
    """Return free points: a hexagonal lattice where sides are long, finer ones where they must be short."""
    barrier = shapely.MultiLineString([fixed[side] for side in sides])
    shapely.prepare(barrier)
    shapely.prepare(polygon)
    kept = np.zeros((0, 2))
    step = spacing
    while step > 0.7 * float(local.min()):
        reach = (1.44 * step - local) / GRADE  # further off, triangles may be larger
        fine = reach >= 0.0
        if step == spacing:
            spots = _hexagons(polygon.bounds, step)
        else:
            spots = _hexagons_near(polygon.bounds, step, fixed[fine], reach[fine])
        spots = spots[shapely.contains_xy(polygon, spots[:, 0], spots[:, 1])]
        wish = _spacing_at(spots, fixed, local, spacing) if len(spots) else np.zeros(0)
        want = (wish > 0.72 * step) & ((wish <= 1.44 * step) | (step == spacing))
        spots, wish = spots[want], wish[want]
        if len(spots):
            spots = spots[shapely.distance(shapely.points(spots), barrier) > CLEAR * wish]
            wish = _spacing_at(spots, fixed, local, spacing) if len(spots) else np.zeros(0)
        for known in (kept, fixed):
            if len(spots) and len(known):
                apart = np.linalg.norm(spots[:, None, :] - known[None], axis=2).min(axis=1)
                near = apart > 0.75 * wish
                spots, wish = spots[near], wish[near]
        kept = np.vstack([kept, spots])
        step /= 2
    return kept


def _hexagons(bounds: tuple[float, float, float, float], step: float) -> Floats:
    """Return a hexagonal lattice centred in a rectangle."""
    low, high = np.array(bounds[:2]), np.array(bounds[2:])
    half = (high - low) / 2
    rows = np.arange(-np.ceil(half[1] / (step * HIGH)), np.ceil(half[1] / (step * HIGH)) + 1)
    columns = np.arange(-np.ceil(half[0] / step) - 1, np.ceil(half[0] / step) + 2)
    row, column = (part.ravel() for part in np.meshgrid(rows, columns, indexing="ij"))
    return _nodes(bounds, step, row, column)


def _hexagons_near(bounds: tuple[float, float, float, float], step: float, spots: Floats, reach: Floats) -> Floats:
    """Return those points of the same lattice that may lie within a reach (k,) of spots (k, 2), in the same order."""
    middle = (np.array(bounds[:2]) + np.array(bounds[2:])) / 2
    row, column = (spots[:, 1] - middle[1]) / (step * HIGH), (spots[:, 0] - middle[0]) / step
    wide = int(np.ceil(float(reach.max()) / (step * HIGH))) + 1
    around = np.arange(-wide, wide + 1)
    rows = np.repeat((np.rint(row).astype(np.int64)[:, None] + around).ravel(), len(around))
    columns = np.tile((np.rint(column).astype(np.int64)[:, None] + around)[:, None], (1, len(around), 1)).ravel()
    found, _, _ = distinct(np.stack([rows, columns], axis=1))
    return _nodes(bounds, step, found[:, 0], found[:, 1])


def _nodes(bounds: tuple[float, float, float, float], step: float, row: Floats | Ints, column: Floats | Ints) -> Floats:
    middle = (np.array(bounds[:2]) + np.array(bounds[2:])) / 2
    return np.stack([middle[0] + step * (column + 0.5 * (row % 2)), middle[1] + step * HIGH * row], axis=1)


def _smooth(points: Floats, faces: Ints, fixed: int) -> Floats:
    """Return points with each free one moved to the area-weighted mean of its triangles' centroids."""
    corner = points[faces]
    side1, side2 = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
    size = np.linalg.norm(side1, axis=1) * np.linalg.norm(side2, axis=1)
    weight = np.sqrt(np.abs(side1[:, 0] * side2[:, 1] - side1[:, 1] * side2[:, 0]) / np.maximum(size, 1e-300))
    centroid = corner.mean(axis=1)
    total = np.bincount(faces.ravel(), weights=np.repeat(weight, 3), minlength=len(points))
    moved = points.copy()
    for axis in range(2):
        pull = np.bincount(faces.ravel(), weights=np.repeat(weight * centroid[:, axis], 3), minlength=len(points))
        moved[fixed:, axis] = (pull / np.maximum(total, 1e-300))[fixed:]
    lonely = total[fixed:] <= 0
    moved[fixed:][lonely] = points[fixed:][lonely]
    return moved


def _constrained(points: Floats, sides: Ints, polygon: shapely.Polygon) -> Ints:
    """Return counter-clockwise triangles inside the outline that hold every wanted side."""
    try:
        faces = np.asarray(Delaunay(points).simplices, dtype=np.int64)
    except QhullError as error:
        raise NoMesh("an outline without area", "Check its corners.") from error
    corner = points[faces]
    twice = _twice_area(corner)
    faces[twice < 0] = faces[twice < 0][:, ::-1]
    faces = _recover(points, faces, sides)
    corner = points[faces]
    centroid = corner.mean(axis=1)
    span = np.linalg.norm(corner - np.roll(corner, 1, axis=1), axis=2).max(axis=1)
    inside = shapely.contains_xy(polygon, centroid[:, 0], centroid[:, 1]) & (_twice_area(corner) > 1e-9 * span**2)
    kept: Ints = faces[inside]
    return kept


def _twice_area(corner: Floats) -> Floats:
    """Return twice the signed area of triangles (m, 3, 2)."""
    one, two = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
    return np.asarray(one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0])


def _missing(faces: Ints, sides: Ints, count: int) -> Bools:
    """Return which of the wanted sides are no triangle's side."""
    edges = np.sort(np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]), axis=1)
    wanted = np.sort(sides, axis=1)
    return np.asarray(~np.isin(wanted[:, 0] * count + wanted[:, 1], edges[:, 0] * count + edges[:, 1]))


def _recover(points: Floats, faces: Ints, sides: Ints) -> Ints:
    """Return triangles with every wanted side present, by flipping the sides that cross it."""
    lost = sides[_missing(faces, sides, len(points))]
    if len(lost) == 0:
        return faces
    triangles = [tuple(int(v) for v in face) for face in faces]
    opposite = {(t[k], t[(k + 1) % 3]): (n, t[(k + 2) % 3]) for n, t in enumerate(triangles) for k in range(3)}
    for first, last in lost:
        _force(points, triangles, opposite, int(first), int(last))
    mended = np.array(triangles, dtype=np.int64)
    if _missing(mended, sides, len(points)).any():
        raise _crossing()
    return mended


def _crossing() -> NoMesh:
    return NoMesh(
        "a line that crosses another or the panel's outline",
        "Check the panel's corners, slits and windows, and the bows it lies over.",
    )


def _crosses(points: Floats, first: int, last: int, sides: Ints) -> Bools:
    """Return which sides, (k, 2), properly cross first-last."""
    one, two = sides.T
    apart = (sides != first).all(axis=1) & (sides != last).all(axis=1)
    ends = _turn(points, first, last, one) * _turn(points, first, last, two)
    return np.asarray(apart & (ends < 0) & (_turn(points, one, two, first) * _turn(points, one, two, last) < 0))


def _turn(points: Floats, one: Ints | int, two: Ints | int, three: Ints | int) -> Floats:
    """Return which way, by its sign, one goes from points over second to third ones."""
    a, b, c = points[one], points[two], points[three]
    one_way, other_way = b - a, c - a
    return np.asarray(one_way[..., 0] * other_way[..., 1] - one_way[..., 1] * other_way[..., 0])


def _force(
    points: Floats,
    triangles: list[tuple[int, ...]],
    opposite: dict[tuple[int, int], tuple[int, int]],
    first: int,
    last: int,
) -> None:
    """Flip crossing sides until first-last is a side; both tables are kept up to date."""
    for _ in range(4 * len(triangles)):
        if (first, last) in opposite or (last, first) in opposite:
            return
        inner = np.array([side for side in opposite if side[0] < side[1] and side[::-1] in opposite]).reshape(-1, 2)
        crossing = sorted(inner[_crosses(points, first, last, inner)].tolist())
        if not crossing:
            break
        for a, b in crossing:
            left, apex = opposite[(a, b)]
            right, foot = opposite[(b, a)]
            if _turn(points, foot, b, apex) > 0 and _turn(points, apex, a, foot) > 0:
                _flip(triangles, opposite, (a, b), (left, apex), (right, foot))
    raise _crossing()


def _flip(
    triangles: list[tuple[int, ...]],
    opposite: dict[tuple[int, int], tuple[int, int]],
    side: tuple[int, int],
    over: tuple[int, int],
    under: tuple[int, int],
) -> None:
    """Replace the side shared by two triangles by the other diagonal."""
    (a, b), (left, apex), (right, foot) = side, over, under
    del opposite[(a, b)], opposite[(b, a)]
    triangles[left], triangles[right] = (apex, a, foot), (foot, b, apex)
    for number in (left, right):
        t = triangles[number]
        for k in range(3):
            opposite[(t[k], t[(k + 1) % 3])] = (number, t[(k + 2) % 3])

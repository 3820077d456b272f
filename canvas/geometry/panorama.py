"""Find which of many directions a mesh stands in the way of as seen from points: face by face, not ray by ray.

Computes: directions sorted into the cells of a cube; for each point and face of the mesh, the cells of a cube round the
    point that the face is seen in, and of their directions those that meet it.
Units: metres, boat frame.
Source: d meets the triangle a, b, c if it is a sum of them with shares of zero or more (Moeller and Trumbore 1997);
    the cells are those of a cube map (Greene 1986).
Limits: a face costs about what a ray costs, so where rays are fewer than faces, single rays are quicker. Faces that
    share an edge decide it by the same products: no ray slips through between them. A face in whose plane the point
    lies is not met.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from canvas.geometry.surface import Bools, Floats, Ints
from canvas.jobs.compiled import compiled

CELLS = 32  # along each side of the cube: a cell then holds one direction or two of the usual grid
HALF = CELLS / 2
FEW = 6  # rows of cells beyond the first up to which a face's window is searched whole
PAIR = 2  # directions tried together: the rest of a short run would cost more than one direction tried in vain
GRAZING = -1e-9  # cosine down to which an area counts as facing, so that the horizon itself belongs to the sky
SLACK = 1e-9  # by which cells are taken as wider than they are, above the rounding


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Spread:
    """Directions in the order of the cells of a cube that they pass through.

    Attributes
    ----------
    directions : (3, d + PAIR) ndarray
        nan at the end, which meets nothing.
    number : (d,) ndarray of int
        Where each stood before.
    start : (6 CELLS CELLS + 1,) ndarray of int
        Where each cell's directions begin: side by side, row by row.
    """

    directions: Floats
    number: Ints
    start: Ints


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shell:
    """A mesh with what is asked of its faces.

    Attributes
    ----------
    vertices : (n, 3) ndarray
        [m]
    faces : (m, 3) ndarray of int
    normals, offsets : (m, 3), (m,) ndarray
        Of the faces' planes: points with ``normal @ point`` above the offset lie outside.
    closed : bool
        Whether it bounds bodies: a ray that meets it then leaves it again through a face seen from within.
    """

    vertices: Floats
    faces: Ints
    normals: Floats
    offsets: Floats
    closed: bool


def spread(directions: Floats) -> Spread:
    """Return directions, (d, 3), sorted by the cells they pass through."""
    towards, side, row, column = _empty_views(len(directions))
    _view(directions, 0.0, 0.0, 0.0, towards, side, row, column)
    cell = (side.astype(np.int64) * CELLS + row) * CELLS + column
    order = np.argsort(cell, kind="stable")
    start = np.searchsorted(cell[order], np.arange(6 * CELLS**2 + 1))
    return Spread(
        directions=np.hstack([directions[order].T, np.full((3, PAIR), np.nan)]),
        number=order.astype(np.int32),
        start=start.astype(np.int32),
    )


def shell_of(vertices: Floats, faces: Ints) -> Shell:
    """Return a mesh ready to be looked at; `vertices` and `faces` as in `Shell`."""
    corners = vertices[faces]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    edges = faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2)
    there, back = (np.sort(edges @ way) for way in ([len(vertices), 1], [1, len(vertices)]))
    return Shell(
        vertices=vertices,
        faces=faces.astype(np.int32),
        normals=normals,
        offsets=np.einsum("ij,ij->i", normals, corners[:, 0]),
        closed=np.array_equal(there, back),
    )


def mark_met(shell: Shell, points: Floats, normals: Floats, towards: Spread, met: Bools) -> None:
    """Mark which directions meet a mesh.

    Parameters
    ----------
    shell : Shell
    points : (p, 3) ndarray
        [m]
    normals : (p, 3) ndarray
        Of the areas they lie on: directions into the area are not marked, faces wholly behind it not looked at. Zeros
        for points that lie on none.
    towards : Spread
    met : (p, d) ndarray of bool
        Filled in, in the order that the directions had before they were sorted.
    """
    _mark(
        shell.vertices, shell.faces, shell.normals, shell.offsets, points, normals, shell.closed,
        towards.directions, towards.number, towards.start, met,
    )  # fmt: skip


@compiled
def _mark(  # noqa: PLR0917 (compiled code takes no keywords)
    vertices: Floats, faces: Ints, planes: Floats, offsets: Floats, points: Floats, normals: Floats,
    closed: bool,  # noqa: FBT001
    directions: Floats, number: Ints, start: Ints, met: Bools,
) -> None:  # fmt: skip
    seen, side, row, column = _empty_views(len(vertices))
    behind = np.empty(len(vertices), dtype=np.bool_)
    words = np.zeros((len(number) + PAIR + 7) // 8, dtype=np.uint64)
    found = words.view(np.bool_)  # eight to a word
    for p in range(len(points)):
        x, y, z = points[p, 0], points[p, 1], points[p, 2]
        u, v, w = normals[p, 0], normals[p, 1], normals[p, 2]
        _view(vertices, x, y, z, seen, side, row, column)
        for k in range(len(vertices)):
            behind[k] = seen[k, 0] * u + seen[k, 1] * v + seen[k, 2] * w < 0.0
        for face in range(len(faces)):
            if closed and planes[face, 0] * x + planes[face, 1] * y + planes[face, 2] * z > offsets[face]:
                continue
            i, j, k = faces[face, 0], faces[face, 1], faces[face, 2]
            if behind[i] and behind[j] and behind[k]:
                continue
            one = side[i]
            if one != side[j] or one != side[k]:
                _mark_all_sides(seen, i, j, k, directions, start, found)
                continue
            low, high = min(row[i], row[j], row[k]), max(row[i], row[j], row[k])
            left, right = min(column[i], column[j], column[k]), max(column[i], column[j], column[k])
            first = (one * CELLS + low) * CELLS
            last = first + (high - low) * CELLS
            if high > low + FEW:
                _mark_window(_walls(seen, i, j, k), one, low, high, left, right, directions, start, found)
                continue
            walls = _walls(seen, i, j, k)
            for cell in range(first, last + 1, CELLS):
                _mark_run(walls, start[cell + left], start[cell + right + 1], directions, found)
        met[p, :] = False
        _keep_faced(words, directions, number, u, v, w, met[p])


@compiled
def _keep_faced(  # noqa: PLR0917 (compiled code takes no keywords)
    words: Ints, directions: Floats, number: Ints, u: float, v: float, w: float, met: Bools
) -> None:
    """Mark those found that the area faces, and empty the words; those in which none is found are passed over."""
    found = words.view(np.bool_)
    for word in range(len(words)):
        if words[word] == 0:
            continue
        for n in range(8 * word, min(8 * word + 8, len(number))):
            faced = directions[0, n] * u + directions[1, n] * v + directions[2, n] * w > GRAZING
            met[number[n]] = found[n] and faced
        words[word] = 0


@compiled
def _empty_views(count: int) -> tuple[Floats, Ints, Ints, Ints]:
    """Return arrays for `_view` to fill in."""
    return (
        np.empty((count, 3)),
        np.empty(count, dtype=np.int32),
        np.empty(count, dtype=np.int32),
        np.empty(count, dtype=np.int32),
    )


@compiled
def _view(  # noqa: PLR0917 (compiled code takes no keywords)
    places: Floats, x: float, y: float, z: float, seen: Floats, side: Ints, row: Ints, column: Ints
) -> None:
    """Fill in places as seen from a point: from there on, and side of the cube, row and column of the cell there."""
    for k in range(len(places)):
        u, v, w = places[k, 0] - x, places[k, 1] - y, places[k, 2] - z
        seen[k, 0], seen[k, 1], seen[k, 2] = u, v, w
        a, b, c = abs(u), abs(v), abs(w)
        if a >= b and a >= c:
            side[k], deep, first, second = 0 if u > 0.0 else 1, a, v, w
        elif b >= c:
            side[k], deep, first, second = 2 if v > 0.0 else 3, b, w, u
        else:
            side[k], deep, first, second = 4 if w > 0.0 else 5, c, u, v
        scale = HALF / deep
        row[k] = min(int(first * scale + HALF), CELLS - 1)
        column[k] = min(int(second * scale + HALF), CELLS - 1)


@compiled
def _walls(seen: Floats, i: int, j: int, k: int) -> tuple[float, ...]:
    """Return inward normals of the planes through the point and each edge of a face; nan where it lies in one."""
    a, b, c = seen[i, 0], seen[i, 1], seen[i, 2]
    d, e, f = seen[j, 0], seen[j, 1], seen[j, 2]
    g, h, m = seen[k, 0], seen[k, 1], seen[k, 2]
    p, q, r = e * m - f * h, f * g - d * m, d * h - e * g
    whole = a * p + b * q + c * r
    sign = 1.0 if whole > 0.0 else (-1.0 if whole < 0.0 else np.nan)
    return (
        sign * p, sign * q, sign * r,
        sign * (h * c - m * b), sign * (m * a - g * c), sign * (g * b - h * a),
        sign * (b * f - c * e), sign * (c * d - a * f), sign * (a * e - b * d),
    )  # fmt: skip


@compiled
def _mark_all_sides(  # noqa: PLR0917 (compiled code takes no keywords)
    seen: Floats, i: int, j: int, k: int, directions: Floats, start: Ints, found: Bools
) -> None:
    """Mark the directions that meet a face seen through several sides of the cube."""
    walls = _walls(seen, i, j, k)
    for side in range(6):
        sign, axis = 1.0 - 2.0 * (side % 2), side // 2
        a, b, c = sign * seen[i, axis], sign * seen[j, axis], sign * seen[k, axis]
        axis = (axis + 1) % 3
        low, high = _band(seen[i, axis], seen[j, axis], seen[k, axis], a, b, c)
        axis = (axis + 1) % 3
        left, right = _band(seen[i, axis], seen[j, axis], seen[k, axis], a, b, c)
        if high >= low and right >= left:
            _mark_window(walls, side, low, high, left, right, directions, start, found)


@compiled
def _band(  # noqa: PLR0917 (compiled code takes no keywords)
    f: float, g: float, h: float, a: float, b: float, c: float
) -> tuple[int, int]:
    """Return first and last cell along one way of corners so far along it and `a`, `b`, `c` deep; (0, -1) for none."""
    if (a <= 0.0 and b <= 0.0 and c <= 0.0) or (f > a and g > b and h > c) or (f < -a and g < -b and h < -c):
        return 0, -1
    low, high = _stretched(np.inf, -np.inf, f, a, g, b)
    low, high = _stretched(low, high, g, b, h, c)
    low, high = _stretched(low, high, h, c, f, a)
    if low > 1.0 or high < -1.0:
        return 0, -1
    first, last = int(HALF * (max(low, -1.0) + 1.0)), int(HALF * (min(high, 1.0) + 1.0))
    return min(first, CELLS - 1), min(last, CELLS - 1)


@compiled
def _stretched(  # noqa: PLR0917 (compiled code takes no keywords)
    low: float, high: float, f: float, a: float, g: float, b: float
) -> tuple[float, float]:
    """Return from where to where a line is seen too, from a corner `f` along and `a` deep to one `g` along, `b` deep.

    A line that goes on behind the point leaves the side of the cube at one end.
    """
    if a > 0.0:
        low, high = min(low, f / a), max(high, f / a)
    if (a > 0.0) != (b > 0.0):
        way = g * a - f * b if a > 0.0 else f * b - g * a
        low, high = -np.inf if way <= 0.0 else low, np.inf if way >= 0.0 else high
    return low, high


@compiled
def _mark_window(  # noqa: PLR0917 (compiled code takes no keywords)
    walls: tuple[float, ...], side: int, low: int, high: int, left: int, right: int,
    directions: Floats, start: Ints, found: Bools,
) -> None:  # fmt: skip
    """Mark the directions in a window of many cells that lie inside all three walls."""
    one, two, three = _limit(walls, 0, side), _limit(walls, 3, side), _limit(walls, 6, side)
    for row in range(low, high + 1):
        below, above = row / HALF - 1.0 - SLACK, (row + 1) / HALF - 1.0 + SLACK
        least, most = _narrowed(-1.0, 1.0, one, below, above)
        least, most = _narrowed(least, most, two, below, above)
        least, most = _narrowed(least, most, three, below, above)
        first, last = max(left, int(HALF * (least + 1.0 - SLACK))), min(right, int(HALF * (most + 1.0 + SLACK)))
        if last >= first and most >= least - SLACK:
            cell = (side * CELLS + row) * CELLS
            _mark_run(walls, start[cell + first], start[cell + last + 1], directions, found)


@compiled
def _mark_run(walls: tuple[float, ...], first: int, last: int, directions: Floats, found: Bools) -> None:
    """Mark those directions that lie inside all three walls, from the first to the end of the last pair."""
    a, b, c, d, e, f, g, h, m = walls
    for pair in range(first, last, PAIR):
        for n in range(pair, pair + PAIR):
            u, v, w = directions[0, n], directions[1, n], directions[2, n]
            found[n] |= (u * a + v * b + w * c >= 0.0) & (u * d + v * e + w * f >= 0.0) & (u * g + v * h + w * m >= 0.0)


@compiled
def _limit(walls: tuple[float, ...], wall: int, side: int) -> tuple[float, float, float]:
    """Return where a wall cuts the middle row of a side of the cube, how that leans from row to row, and at which end.

    The end is 1 where columns beyond the cut lie inside, -1 where those before it do, 0 where no column is cut off.
    """
    sign, axis = 1.0 - 2.0 * (side % 2), side // 2
    along, slope = walls[wall + (axis + 1) % 3], walls[wall + (axis + 2) % 3]
    if slope > 0.0 or slope < 0.0:
        return -sign * walls[wall + axis] / slope, -along / slope, 1.0 if slope > 0.0 else -1.0
    return 0.0, 0.0, 0.0


@compiled
def _narrowed(
    low: float, high: float, limit: tuple[float, float, float], below: float, above: float
) -> tuple[float, float]:
    """Return from where to where along a row, as high as from `below` to `above`, may lie inside a wall's limit too."""
    cut, lean, end = limit
    one, other = cut + lean * below, cut + lean * above
    if end > 0.0:
        return min(max(low, min(one, other)), 1.0), high
    if end < 0.0:
        return low, max(min(high, max(one, other)), -1.0)
    return low, high

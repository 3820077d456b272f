"""Join an outline's points by triangles without inner points: a surface of flat cloth.

Computes: of all triangulations of a closed space polygon the one that bends least.
Units: metres.
Source: dynamic programming over chords after Barequet G and Sharir M, Filling gaps in the boundary of a polyhedron,
    Computer Aided Geometric Design 12, 1995. A side of length l that bends by the angle a costs l a^4, so that one
    sharp fold never stands for a round bend (own choice). Triangles without inner points unroll without strain.
Limits: bends gather on the triangles' sides; an outline that no flat cloth can follow smoothly shows as sharp bends.
"""

from __future__ import annotations

import numpy as np

from canvas.geometry.surface import Floats, Ints
from canvas.jobs.compiled import compiled

SHORT = 1e-3  # weight of the sides' length over that of bending, which decides where nothing bends
THIN = 1e-6  # a triangle smaller than this share of its longest side squared is none


def ruled_faces(ring: Floats) -> Ints:
    """Return triangles (n - 2, 3) over a closed polygon (`ring`, (n, 3)), in its order [m]."""
    count = len(ring)
    size = float(np.linalg.norm(np.ptp(ring, axis=0)))
    scaled = np.ascontiguousarray((ring - ring.mean(axis=0)) / size)
    cost = _least_bending(scaled)
    faces: list[tuple[int, int, int]] = []
    stack = [(0, count - 1, int(np.argmin(cost[0, count - 1])))]
    while stack:
        first, last, middle = stack.pop()
        faces.append((first, middle, last))
        for a, b in ((first, middle), (middle, last)):
            if b - a > 1:
                outer = last if a == first else first
                inner = [cost[a, b, m] + _hinge(scaled, a, b, m, outer) for m in range(a + 1, b)]
                stack.append((a, b, a + 1 + int(np.argmin(inner))))
    return np.array(sorted(faces), dtype=np.int64)


def unrolled(ring: Floats, faces: Ints) -> Floats:
    """Return the points of `ring` as (n, 2) when its `faces` are unrolled into a plane, counter-clockwise [m]."""
    flat = np.zeros((len(ring), 2))
    beside: dict[tuple[int, int], int] = {}
    for a, b, c in faces.tolist():
        beside.update({(a, b): c, (b, c): a, (c, a): b})
    one, two, _ = (int(v) for v in faces[0])
    flat[two, 0] = np.linalg.norm(ring[two] - ring[one])
    waiting = [(one, two), (two, one)]
    while waiting:
        one, two = waiting.pop()
        three = beside.get((one, two))
        if three is None:
            continue
        side, way = flat[two] - flat[one], ring[two] - ring[one]
        length = float(np.linalg.norm(way))
        along = float((ring[three] - ring[one]) @ way) / length
        off = float(np.sqrt(max(float((ring[three] - ring[one]) @ (ring[three] - ring[one])) - along**2, 0.0)))
        flat[three] = flat[one] + (along * side + off * np.array([-side[1], side[0]])) / length
        waiting += [(one, three), (three, two)]
    return flat


@compiled
def _least_bending(ring: Floats) -> Floats:
    """Return the least bending inside the chord (i, j) with the triangle (i, m, j) on it (n, n, n)."""
    count = len(ring)
    cost = np.full((count, count, count), np.inf)
    for width in range(2, count):
        for first in range(count - width):
            last = first + width
            for middle in range(first + 1, last):
                if _area(ring, first, middle, last) <= THIN * _length(ring, first, last) ** 2:
                    continue
                total = SHORT * _length(ring, first, last)
                for side in range(2):
                    a, b, outer = (first, middle, last) if side == 0 else (middle, last, first)
                    if b - a < 2:
                        continue
                    best = np.inf
                    for inner in range(a + 1, b):
                        if cost[a, b, inner] < best:
                            best = min(best, cost[a, b, inner] + _hinge(ring, a, b, inner, outer))
                    total += best
                cost[first, last, middle] = total
    return cost


@compiled
def _area(ring: Floats, one: int, two: int, three: int) -> float:
    x, y, z = _normal(ring, one, two, three)
    area: float = 0.5 * np.sqrt(x * x + y * y + z * z)
    return area


@compiled
def _length(ring: Floats, one: int, two: int) -> float:
    total = 0.0
    for k in range(3):
        total += (ring[one, k] - ring[two, k]) ** 2
    length: float = np.sqrt(total)
    return length


@compiled
def _normal(ring: Floats, one: int, two: int, three: int) -> tuple[float, float, float]:
    """Return twice the area vector of a triangle."""
    ax, ay, az = ring[two, 0] - ring[one, 0], ring[two, 1] - ring[one, 1], ring[two, 2] - ring[one, 2]
    bx, by, bz = ring[three, 0] - ring[one, 0], ring[three, 1] - ring[one, 1], ring[three, 2] - ring[one, 2]
    return ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx


@compiled
def _hinge(ring: Floats, one: int, two: int, inner: int, outer: int) -> float:
    """Return the bending at the side one-two between the triangles to `inner` and to `outer`."""
    ax, ay, az = _normal(ring, one, inner, two)
    bx, by, bz = _normal(ring, one, two, outer)
    dot = ax * bx + ay * by + az * bz
    cx, cy, cz = ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx
    angle = np.arctan2(np.sqrt(cx * cx + cy * cy + cz * cz), dot)
    bending: float = _length(ring, one, two) * angle**4
    return bending

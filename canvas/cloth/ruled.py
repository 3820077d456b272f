"""Join an outline's points by triangles without inner points: a surface of flat cloth.

Computes: the triangulation of a closed space polygon with the least area, then turned towards least bending.
Units: metres.
Source: least-area triangulation by dynamic programming after Barequet G and Sharir M, Filling gaps in the boundary of a
    polyhedron, Computer Aided Geometric Design 12, 1995. Triangles without inner points unroll without strain.
Limits: bends gather on the triangles' sides; an outline that no flat cloth can follow smoothly shows as sharp bends.
"""

from __future__ import annotations

import numpy as np

from canvas.cloth.compiled import compiled
from canvas.geometry.surface import Floats, Ints

ROUNDS = 40


def ruled_faces(ring: Floats) -> Ints:
    """Return triangles (n - 2, 3) over a closed polygon (n, 3), in its order [m]."""
    split = _least_area(np.ascontiguousarray(ring))
    faces: list[tuple[int, int, int]] = []
    stack = [(0, len(ring) - 1)]
    while stack:
        first, last = stack.pop()
        if last - first < 2:
            continue
        middle = int(split[first, last])
        faces.append((first, middle, last))
        stack += [(first, middle), (middle, last)]
    return _unbend(ring, np.array(sorted(faces), dtype=np.int64))


@compiled
def _least_area(ring: Floats) -> Ints:
    """Return for each chord the third corner of the triangle that stands on it."""
    count = len(ring)
    cost = np.zeros((count, count))
    split = np.zeros((count, count), dtype=np.int64)
    for width in range(2, count):
        for first in range(count - width):
            last = first + width
            best = np.inf
            for middle in range(first + 1, last):
                one, two = ring[middle] - ring[first], ring[last] - ring[first]
                x = one[1] * two[2] - one[2] * two[1]
                y = one[2] * two[0] - one[0] * two[2]
                z = one[0] * two[1] - one[1] * two[0]
                area = cost[first, middle] + cost[middle, last] + 0.5 * np.sqrt(x * x + y * y + z * z)
                if area < best:
                    best = area
                    split[first, last] = middle
            cost[first, last] = best
    return split


def _unbend(ring: Floats, faces: Ints) -> Ints:
    """Return triangles with sides flipped while that lowers the bending, sum of length times angle squared."""
    triangles = [tuple(int(v) for v in face) for face in faces]
    for _ in range(ROUNDS):
        sides = {(t[k], t[(k + 1) % 3]): n for n, t in enumerate(triangles) for k in range(3)}
        moved = False
        for (a, b), left in sorted(sides.items()):
            right = sides.get((b, a))
            if a > b or right is None or (moved and (a, b) not in sides):
                continue
            apex = next(v for v in triangles[left] if v not in (a, b))
            foot = next(v for v in triangles[right] if v not in (a, b))
            before = _bending(ring, triangles, sides, (left, right))
            kept = triangles[left], triangles[right]
            triangles[left], triangles[right] = (apex, a, foot), (foot, b, apex)
            after_sides = {(t[k], t[(k + 1) % 3]): n for n, t in enumerate(triangles) for k in range(3)}
            if len(after_sides) == len(sides) and _bending(ring, triangles, after_sides, (left, right)) < before - 1e-9:
                sides, moved = after_sides, True
                break
            triangles[left], triangles[right] = kept
        if not moved:
            break
    return np.array(triangles, dtype=np.int64)


def _bending(
    ring: Floats, triangles: list[tuple[int, ...]], sides: dict[tuple[int, int], int], touched: tuple[int, int]
) -> float:
    """Return the bending over the inner sides of two triangles."""
    total = 0.0
    seen = set()
    for number in touched:
        t = triangles[number]
        for k in range(3):
            a, b = t[k], t[(k + 1) % 3]
            other = sides.get((b, a))
            if other is None or (min(a, b), max(a, b)) in seen:
                continue
            seen.add((min(a, b), max(a, b)))
            one, two = _normal(ring, t), _normal(ring, triangles[other])
            angle = np.arctan2(float(np.linalg.norm(np.cross(one, two))), float(one @ two))
            total += float(np.linalg.norm(ring[a] - ring[b])) * angle**2
    return total


def _normal(ring: Floats, triangle: tuple[int, ...]) -> Floats:
    a, b, c = (ring[v] for v in triangle)
    normal = np.cross(b - a, c - a)
    return np.asarray(normal / max(float(np.linalg.norm(normal)), 1e-12))

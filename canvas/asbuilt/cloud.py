"""Spread points evenly over a scan, each with the direction its surface looks and the area it stands for.

Computes: points at an even spacing whatever the size of the scan's triangles; the nearest surface to given points.
Units: metres, boat frame.
Source: even spots in a triangle by the recurrence R2 (M. Roberts, 2018, from memory); one point a cube of the spacing.
Limits: triangles must all look outward, as scanners write them; a surface thinner than the spacing is one layer.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from canvas.asbuilt.frame import Frame
from canvas.asbuilt.scanfile import Scan
from canvas.geometry.surface import Floats, Ints, locked
from canvas.geometry.triangles import area_vectors

BLOCK = 400_000  # triangles worked on at a time
MOST_POINTS = 6_000_000  # spread over large triangles
_R2 = np.array([0.7548776662466927, 0.5698402909980532])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cloud:
    """Points of a scan.

    Attributes
    ----------
    points, normals : (n, 3) ndarray
        [m]; unit vectors, outward.
    areas : (n,) ndarray
        [m2]
    spacing : float
        [m]
    """

    points: Floats
    normals: Floats
    areas: Floats
    spacing: float

    def __post_init__(self) -> None:
        for name in ("points", "normals", "areas"):
            object.__setattr__(self, name, locked(getattr(self, name)))


def cloud_of(scan: Scan, frame: Frame, *, low: Floats, high: Floats, spacing: float) -> Cloud:
    """Return the points of a scan within a box of the boat.

    Parameters
    ----------
    scan : Scan
    frame : Frame
    low, high : (3,) ndarray
        Corners of the box [m]; what lies outside is trimmed off.
    spacing : float
        [m]
    """
    parts = []
    for first in range(0, len(scan.faces), BLOCK):
        corners = frame.to_boat(scan.vertices[scan.faces[first : first + BLOCK]].reshape(-1, 3)).reshape(-1, 3, 3)
        near = (corners.max(axis=1) > low).all(axis=1) & (corners.min(axis=1) < high).all(axis=1)
        parts.append(_thinned(*_spread(corners[near], spacing), low, high, spacing))
    points, weighted, areas = _merged(
        np.vstack([part[0] for part in parts]), np.vstack([part[1] for part in parts]),
        np.concatenate([part[2] for part in parts]), low, spacing,
    )  # fmt: skip
    length = np.linalg.norm(weighted, axis=1)
    keep = length > 0.2 * areas  # both faces of a thin sheet in one cube look nowhere
    return Cloud(points=points[keep], normals=weighted[keep] / length[keep, None], areas=areas[keep], spacing=spacing)


def _spread(corners: Floats, spacing: float) -> tuple[Floats, Floats]:
    """Return points over triangles and the area vector that each stands for."""
    vector = area_vectors(corners)
    area = np.linalg.norm(vector, axis=1)
    count = np.maximum(1, np.ceil(3.0 * area / spacing**2)).astype(np.int64)
    if count.sum() > MOST_POINTS:
        count = np.maximum(1, count * (MOST_POINTS / count.sum())).astype(np.int64)
    owner, u, v = strewn(count)
    single = count[owner] == 1
    u, v = np.where(single, 1 / 3, u), np.where(single, 1 / 3, v)
    a, b, c = (corners[owner, k] for k in range(3))
    return a + u[:, None] * (b - a) + v[:, None] * (c - a), vector[owner] / count[owner, None]


def strewn(count: Ints) -> tuple[Ints, Floats, Floats]:
    """Return of points strewn evenly, `count` (m,) a triangle, each one's triangle and shares of two of its sides."""
    owner = np.repeat(np.arange(len(count)), count)
    order = np.arange(len(owner)) - np.repeat(np.cumsum(count) - count, count)
    u, v = ((0.5 + (order[:, None] + 1) * _R2) % 1.0).T
    over = u + v > 1
    return owner, np.where(over, 1 - u, u), np.where(over, 1 - v, v)


def _thinned(
    points: Floats, vectors: Floats, low: Floats, high: Floats, spacing: float
) -> tuple[Floats, Floats, Floats]:
    inside = ((points >= low) & (points <= high)).all(axis=1)
    points, vectors = points[inside], vectors[inside]
    return _merged(points, vectors, np.linalg.norm(vectors, axis=1), low, spacing)


def _merged(
    points: Floats, vectors: Floats, areas: Floats, low: Floats, spacing: float
) -> tuple[Floats, Floats, Floats]:
    """Return one point a cube and main direction: area-weighted mean, sums of vectors and areas."""
    cell = np.floor((points - low) / spacing).astype(np.int64)
    main = np.abs(vectors).argmax(axis=1)
    side = 2 * main + (vectors[np.arange(len(main)), main] > 0) if len(main) else main
    key = ((cell[:, 0] * 100_003 + cell[:, 1]) * 100_003 + cell[:, 2]) * 6 + side
    _, owner = np.unique(key, return_inverse=True)
    count = int(owner.max(initial=-1)) + 1
    total = np.bincount(owner, areas, count)
    weight = np.maximum(areas, 1e-30)
    whole = np.bincount(owner, weight, count)
    mean: Floats = np.column_stack([np.bincount(owner, weight * points[:, k], count) / whole for k in range(3)])
    summed: Floats = np.column_stack([np.bincount(owner, vectors[:, k], count) for k in range(3)])
    return mean, summed, np.asarray(total, dtype=np.float64)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Nearest:
    """The surface of a scan nearest to each of some points.

    Attributes
    ----------
    feet : (n, 3) ndarray
        Nearest places on the surface, smoothed over a hand's breadth [m].
    normals : (n, 3) ndarray
    distance : (n,) ndarray
        To the nearest point of the cloud [m].
    support : (n,) ndarray of int
        Points that the smoothed surface rests on; 0 in a hole.
    """

    feet: Floats
    normals: Floats
    distance: Floats
    support: Ints


def nearest_surface(cloud: Cloud, points: Floats, *, reach: float) -> Nearest:
    """Return the scan's surface near each point: a plane through the neighbours that look the same way.

    Parameters
    ----------
    cloud : Cloud
    points : (n, 3) ndarray
        [m]
    reach : float
        Neighbours are taken within this of the nearest point [m].
    """
    tree = cKDTree(cloud.points)
    distance, first = (np.asarray(one) for one in tree.query(points))
    feet, normals = points.copy(), cloud.normals[first].copy()
    support = np.zeros(len(points), dtype=np.int64)
    for k, near in enumerate(tree.query_ball_point(cloud.points[first], reach)):
        own = np.asarray(near)
        alike = own[cloud.normals[own] @ cloud.normals[first[k]] > 0.8]
        support[k] = len(alike)
        weight = cloud.areas[alike]
        normal = weight @ cloud.normals[alike]
        normals[k] = normal / np.linalg.norm(normal)
        middle = weight @ cloud.points[alike] / weight.sum()
        feet[k] = points[k] - ((points[k] - middle) @ normals[k]) * normals[k]
    return Nearest(feet=feet, normals=normals, distance=distance, support=support)

"""Measure how far points are from surfaces.

Computes: distance from each point to the nearest triangle, and where that is.
Units: metres, boat frame.
Source: nearest triangles among those of the nearest of points spread over them (scipy's tree).
Limits: exact where the nearest triangle is among those of the sixteen nearest spread points, otherwise too far by at
    most the spacing of those. What lies out of reach is not looked at.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.spatial import cKDTree

from canvas.arrays import distinct
from canvas.geometry.nearest import nearest_shares
from canvas.geometry.surface import Floats, Ints, Surface, locked
from canvas.geometry.triangles import area_vectors

SPACING = 0.04  # between points spread over surfaces [m]
CANDIDATES = 16
_COUNTS = np.unique(np.ceil(1.25 ** np.arange(40)).astype(int))  # of cuts, so that few different ones are made


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Closest:
    """Where some points come closest to some surfaces.

    Attributes
    ----------
    distance : float
        Infinite where no surface is within reach [m].
    point, spot : (3,) ndarray
        Of the points, and on the surface [m].
    surface : Surface or None
    """

    distance: float
    point: Floats
    spot: Floats
    surface: Surface | None


class Near:
    """Surfaces made ready for distances.

    Parameters
    ----------
    surfaces : sequence of Surface
    around : (n, 3) ndarray
        What farther than `reach` from the box round these points does not matter [m].
    reach : float
        [m]
    """

    def __init__(self, surfaces: Sequence[Surface], *, around: Floats, reach: float) -> None:
        low, high = np.atleast_2d(around).min(axis=0) - reach, np.atleast_2d(around).max(axis=0) + reach
        self.surfaces: list[Surface] = []
        corners = []
        for surface in surfaces:
            each = surface.vertices[surface.faces]
            meets = (each.max(axis=1) >= low).all(axis=1) & (each.min(axis=1) <= high).all(axis=1)
            if meets.any():
                self.surfaces.append(surface)
                corners.append(each[meets])
        self._triangles = np.vstack(corners) if corners else np.zeros((0, 3, 3))
        self._owner = np.repeat(np.arange(len(corners)), [len(one) for one in corners])
        points, faces = spread(self._triangles)
        inside = ((points >= low - SPACING) & (points <= high + SPACING)).all(axis=1)
        self._face = faces[inside]
        self._tree = cKDTree(points[inside]) if inside.any() else None

    def closest(self, points: Floats) -> Closest:
        """Return where points come closest to the surfaces.

        Parameters
        ----------
        points : (n, 3) ndarray
            [m]
        """
        points = np.atleast_2d(points)
        if self._tree is None:
            return Closest(distance=float("inf"), point=points[0], spot=points[0], surface=None)
        rough = np.asarray(self._tree.query(points)[0])
        worth = points[rough <= rough.min() + SPACING]
        _, rows = self._tree.query(worth, k=min(CANDIDATES, self._tree.n))
        faces = self._face[np.reshape(rows, (len(worth), -1))]
        corners, asked = self._triangles[faces.ravel()], np.repeat(worth, faces.shape[1], axis=0)
        one, two = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
        shares, away = nearest_shares(asked - corners[:, 0], one, two)
        best = int(np.argmin(away))
        return Closest(
            distance=float(away[best]),
            point=worth[best // faces.shape[1]],
            spot=shares[best] @ corners[best],
            surface=self.surfaces[int(self._owner[faces.ravel()[best]])],
        )


def spread(triangles: Floats, *, spacing: float = SPACING) -> tuple[Floats, Ints]:
    """Return points spread over triangles, corners included, and the triangle each lies on.

    Parameters
    ----------
    triangles : (m, 3, 3) ndarray
        [m]
    spacing : float
        At most this between neighbours along a side [m].
    """
    if not len(triangles):
        return np.zeros((0, 3)), np.zeros(0, dtype=np.int64)
    corners = _longest_first(triangles)
    along = np.linalg.norm(corners[:, 1] - corners[:, 0], axis=1)
    high = 2 * np.linalg.norm(area_vectors(corners), axis=1) / np.maximum(along, 1e-12)
    cuts = _COUNTS[np.searchsorted(_COUNTS, np.c_[along, high] / spacing)]
    kinds, group, _ = distinct(cuts)
    points, faces = [], []
    for number, (long, tall) in enumerate(kinds):
        rows = np.flatnonzero(group == number)
        share = _grid(int(long), int(tall))
        points.append((share @ corners[rows]).reshape(-1, 3))
        faces.append(np.repeat(rows, len(share)))
    return np.vstack(points), np.concatenate(faces).astype(np.int64)


def _longest_first(triangles: Floats) -> Floats:
    """Return triangles turned so that their longest side runs from the first to the second corner."""
    sides = np.linalg.norm(np.roll(triangles, -1, axis=1) - triangles, axis=2)
    turn = np.argmax(sides, axis=1)
    order = (turn[:, None] + np.arange(3)) % 3
    turned: Floats = np.take_along_axis(triangles, order[:, :, None], axis=1)
    return turned


@lru_cache(maxsize=512)
def _grid(long: int, tall: int) -> Floats:
    """Return shares of the three corners, rows parallel to the first side, the last row its apex."""
    rows = []
    for step in range(tall + 1):
        up = step / tall
        count = max(1, int(np.ceil(long * (1 - up))))
        right = np.linspace(0.0, 1.0, count + 1) * (1 - up) if step < tall else np.zeros(1)
        rows.append(np.c_[1 - up - right, right, np.full(len(right), up)])
    shares: Floats = locked(np.vstack(rows))
    return shares

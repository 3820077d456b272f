"""Say what each triangle of a formed piece would be when flat and free of strain, and where the piece ends.

Computes: each triangle in its own plane, axes along warp and weft, made smaller by the compensation; outline edges.
Units: metres; compensation is a share.
Source: geometry.
Limits: triangles are wound alike.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from canvas.geometry.surface import Floats, Ints
from canvas.jobs.failure import CouldNot

Complexes = npt.NDArray[np.complex128]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RestShape:
    """What each triangle would be when flat and free of strain.

    Attributes
    ----------
    corners : (m, 3) ndarray of complex
        Corners of each triangle in its own plane, real axis along the warp. [m]
    faces : (m, 3) ndarray of int
    count : int
        Number of vertices.
    """

    corners: Complexes
    faces: Ints
    count: int


def rest_shape(
    vertices: Floats,
    faces: Ints,
    *,
    warp: Floats,
    shrink_warp: Floats | float = 0.0,
    shrink_weft: Floats | float = 0.0,
) -> RestShape:
    """Return each triangle in its own plane, made smaller by what the cloth is to be stretched.

    Parameters
    ----------
    vertices : (n, 3) ndarray
        [m]
    faces : (m, 3) ndarray of int
    warp : (m, 3) ndarray
        Direction of the warp in each triangle; any length, need not lie exactly in the plane.
    shrink_warp, shrink_weft : float or (m,) ndarray
        Share by which the cloth is cut smaller along warp and weft. [1]
    """
    a, b, c = (vertices[faces[:, k]] for k in range(3))
    normal = np.cross(b - a, c - a)
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    along = warp - np.sum(warp * normal, axis=1, keepdims=True) * normal
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    across = np.cross(normal, along)
    corners = [
        np.sum(p * along, axis=1) * (1 - shrink_warp) + 1j * np.sum(p * across, axis=1) * (1 - shrink_weft)
        for p in (a - a, b - a, c - a)
    ]
    return RestShape(corners=np.stack(corners, axis=1), faces=np.asarray(faces, dtype=np.int64), count=len(vertices))


def outline_edges(faces: Ints) -> Ints:
    """Return the directed edges (k, 2) that belong to one of the triangles (`faces`, (m, 3)) only.

    Raises
    ------
    CouldNot
        When an edge belongs to more than two triangles, or two neighbours are wound against each other.
    """
    directed = faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2)
    size = int(directed.max()) + 1
    key = directed[:, 0] * size + directed[:, 1]
    if len(np.unique(key)) != len(key):
        raise CouldNot("The cloth mesh has triangles wound against each other.", "Form the panel again.")
    back = directed[:, 1] * size + directed[:, 0]
    alone: Ints = directed[~np.isin(key, back)]
    return alone


def doubled_area(z: Complexes) -> Floats:
    """Return twice the signed area (m,) of each triangle [m2]; corners in the complex plane, `z` (m, 3)."""
    result: Floats = (np.conj(z[:, 1] - z[:, 0]) * (z[:, 2] - z[:, 0])).imag
    return result

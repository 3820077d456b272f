"""Measure triangles in space: warp frames, normals, rims, and the hollow of an edge.

Computes: unit warp and weft in each face, vertex normals, outline vertices, how far an edge runs inside its chord.
Units: metres.
Source: geometry.
Limits: an edge's tangent plane is the mean plane of the faces along it.
"""

from __future__ import annotations

import numpy as np

from canvas.arrays import distinct
from canvas.geometry.surface import Floats, Ints
from canvas.geometry.triangles import area_vectors


def warp_frames(vertices: Floats, faces: Ints, warp: Floats) -> tuple[Floats, Floats, Floats]:
    """Return unit warp (m, 3), unit weft (m, 3) and twice the area (m,) of each face.

    Parameters
    ----------
    vertices : (n, 3) ndarray
        [m]
    faces : (m, 3) ndarray of int
    warp : (3,) or (m, 3) ndarray
        Way of the warp, laid into each face; where it stands square to one, the face's first side is taken.
    """
    corner = vertices[faces]
    normal = 2 * area_vectors(corner)
    twice = np.maximum(np.linalg.norm(normal, axis=1), 1e-300)
    normal = normal / twice[:, None]
    along = warp - np.einsum("ij,ij->i", warp, normal)[:, None] * normal
    size = np.linalg.norm(along, axis=1)
    side = corner[:, 1] - corner[:, 0]
    along = np.where((size > 1e-6)[:, None], along, side)
    along = along / np.maximum(np.linalg.norm(along, axis=1, keepdims=True), 1e-300)
    return along, np.cross(normal, along), twice


def hollow_of(vertices: Floats, faces: Ints, line: Ints) -> float:
    """Return an edge's greatest distance inside its chord, in the mean tangent plane of `faces` along it [m].

    Parameters
    ----------
    vertices : (n, 3) ndarray
        [m]
    faces : (m, 3) ndarray of int
        Those along the edge.
    line : (k,) ndarray of int
        Vertices of the edge, in order.

    Returns
    -------
    float
        Negative where the edge bulges [m].
    """
    corner = vertices[faces]
    normal = area_vectors(corner).sum(axis=0)
    start, end = vertices[line[0]], vertices[line[-1]]
    inward = np.cross(normal, end - start)
    inward = inward / max(float(np.linalg.norm(inward)), 1e-300)
    if inward @ (corner.mean(axis=(0, 1)) - vertices[line].mean(axis=0)) < 0:
        inward = -inward
    reach = (vertices[line] - start) @ inward
    return float(reach[np.argmax(np.abs(reach))])


def faces_along(faces: Ints, line: Ints) -> Ints:
    """Return the faces, (k, 3) of (m, 3), that touch a line of vertices (j,)."""
    return faces[np.isin(faces, line).any(axis=1)]


def vertex_normals(vertices: Floats, faces: Ints) -> Floats:
    """Return unit normals (n, 3) of `vertices`, (n, 3), each the sum of its faces' area vectors; faces (m, 3)."""
    corner = vertices[faces]
    normal = area_vectors(corner)
    total = np.stack(
        [
            np.bincount(faces.ravel(), weights=np.repeat(normal[:, axis], 3), minlength=len(vertices))
            for axis in range(3)
        ],
        axis=1,
    )
    return np.asarray(total / np.maximum(np.linalg.norm(total, axis=1, keepdims=True), 1e-300))


def rim_of(faces: Ints) -> Ints:
    """Return the vertices (k,) on sides that only one of the `faces`, (m, 3), has."""
    sides = np.sort(np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]), axis=1)
    once, _, count = distinct(sides)
    return np.unique(once[count == 1])

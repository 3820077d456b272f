"""Carry points between the formed cloth and the same cloth laid flat.

Computes: each point's nearest triangle and its barycentric coordinates there.
Units: metres.
Source: geometry.
Limits: on the line of a dart a point may go to either side.
"""

from __future__ import annotations

import numpy as np
from scipy.spatial import cKDTree

from canvas.cutting.piece import Piece
from canvas.geometry.surface import Floats, Ints


def on_flat(piece: Piece, uv: Floats, points: Floats) -> Floats:
    """Return flat places (k, 2) of points (k, 3) lying on the formed cloth, whose vertices lie flat at `uv` (n, 2) [m].

    Each point goes to its nearest triangle by barycentric coordinates.
    """
    return _carried(piece.vertices, piece.faces, points, to=uv)


def on_formed(piece: Piece, uv: Floats, points: Floats) -> Floats:
    """Return formed places (k, 3) of points (k, 2) lying on the flat cloth, its vertices at `uv` (n, 2) [m]."""
    level = np.zeros((len(uv), 1))
    raised = np.concatenate([points, np.zeros((len(points), 1))], axis=1)
    return _carried(np.concatenate([uv, level], axis=1), piece.faces, raised, to=piece.vertices)


def _carried(vertices: Floats, faces: Ints, points: Floats, *, to: Floats) -> Floats:
    a, b, c = (vertices[faces[:, k]] for k in range(3))
    reach = np.max(np.linalg.norm(np.stack([a, b, c]) - (a + b + c) / 3, axis=2))
    tree = cKDTree((a + b + c) / 3)
    result = np.empty((len(points), to.shape[1]))
    for k, point in enumerate(points):
        off, _ = tree.query(point)
        near = np.array(sorted(tree.query_ball_point(point, off + 2 * reach + 1e-9)), dtype=np.int64)
        weights = _barycentric(a[near], b[near], c[near], point)
        clipped = np.clip(weights, 0.0, None)
        clipped /= clipped.sum(axis=1, keepdims=True)
        foot = clipped[:, :1] * a[near] + clipped[:, 1:2] * b[near] + clipped[:, 2:] * c[near]
        best = int(np.argmin(np.sum((foot - point) ** 2, axis=1)))
        result[k] = clipped[best] @ to[faces[near[best]]]
    return result


def _barycentric(a: Floats, b: Floats, c: Floats, point: Floats) -> Floats:
    """Return barycentric coordinates of a point's foot in each triangle's plane."""
    u, v, w = b - a, c - a, point - a
    uu, uv, vv = (np.sum(x * y, axis=1) for x, y in ((u, u), (u, v), (v, v)))
    wu, wv = np.sum(w * u, axis=1), np.sum(w * v, axis=1)
    det = np.maximum(uu * vv - uv * uv, np.finfo(np.float64).tiny)  # a triangle of no area is a line
    second, third = (vv * wu - uv * wv) / det, (uu * wv - uv * wu) / det
    result: Floats = np.stack([1 - second - third, second, third], axis=1)
    return result

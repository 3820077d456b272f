"""Weigh how much a panel's shape changes when its vertices move.

Computes: the stiffness of stretched cloth and its edges against displacement, smoothed so that single points can pull.
Units: metres; energies are per unit of cloth tension, so that only their ratio to the readings' errors counts.
Source: small moves of a membrane under even tension: the surface's Laplace operator, by cotangents (U. Pinkall and
    K. Polthier, Experimental Mathematics 2, 1993); webbing in an edge adds its force over the length of each stretch.
Limits: small against the panel; cloth is taken as evenly tensioned.
Departs: the square of the operator is added over a length `SMOOTH`: a pure membrane would spike at each reading.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.sparse import coo_array, csc_array, diags_array

from canvas.cloth.domain import cotangents
from canvas.cloth.faces import rim_of
from canvas.geometry.surface import Floats, Ints
from canvas.geometry.triangles import area_vectors

SMOOTH = 0.3  # [m] length below which a reading's pull is spread
FREE = 1e-3  # [1/m2] stiffness against moving the whole panel, per unit of tension: next to nothing


def shape_stiffness(vertices: Floats, faces: Ints, *, lines: Sequence[Ints], forces: Sequence[float]) -> csc_array:
    """Return the stiffness of each coordinate's displacements, shape (n, n).

    Parameters
    ----------
    vertices : (n, 3) ndarray
        [m]
    faces : (m, 3) ndarray of int
    lines : sequence of (k,) ndarray of int
        Vertices along edges with webbing, rope, wire or batten.
    forces : sequence of float
        [m] Force in each, over the cloth's tension.
    """
    count = len(vertices)
    surface = _graph(
        faces[:, [1, 2, 0]].ravel(),
        faces[:, [2, 0, 1]].ravel(),
        cotangents(vertices, faces).clip(min=0.0).ravel(),
        count,
    )
    stretched = surface
    for line, force in zip(lines, forces, strict=True):
        length = np.linalg.norm(np.diff(vertices[line], axis=0), axis=1)
        stretched = stretched + _graph(line[:-1], line[1:], force / length, count)
    corner = vertices[faces]
    area = np.linalg.norm(area_vectors(corner), axis=1)
    mass = np.bincount(faces.ravel(), weights=np.repeat(area / 3, 3), minlength=count).clip(min=1e-12)
    inside = np.ones(count)
    inside[rim_of(faces)] = 0.0  # there the operator holds the slope across the rim, which is free
    curved = surface @ diags_array(inside / mass) @ surface
    return csc_array(stretched + SMOOTH**2 * curved + diags_array(FREE * mass))


def _graph(first: Ints, second: Ints, stiffness: Floats, count: int) -> csc_array:
    """Return the stiffness matrix of springs between vertices."""
    rows = np.concatenate([first, second, first, second])
    columns = np.concatenate([first, second, second, first])
    values = np.concatenate([stiffness, stiffness, -stiffness, -stiffness])
    return csc_array(coo_array((values, (rows, columns)), shape=(count, count)))

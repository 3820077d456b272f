"""Describe the edges of a hanging panel: length, hollow, and what the cloth pulls on them with.

Computes: one `EdgeShape`.
Units: metres, newtons, newtons a metre.
Source: geometry; a vertex's pull is spread over half of either side of it.
Limits: pulls at corners are left out of line tensions: they go into ties.
"""

from __future__ import annotations

import numpy as np

from canvas.cloth.faces import faces_along, hollow_of
from canvas.cloth.lines import arc_lengths
from canvas.cloth.shape import EdgeShape
from canvas.geometry.outline import PanelEdge
from canvas.geometry.surface import Floats, Ints


def edge_shape(
    edge: PanelEdge,
    line: Ints,
    *,
    vertices: Floats,
    faces: Ints,
    forces: Floats,
    loose: bool,
    cable_force: float | None,
) -> EdgeShape:
    """Return one edge of a panel.

    Parameters
    ----------
    edge : PanelEdge
    line : (k,) ndarray of int
        Its vertices, corner to corner.
    vertices : (n, 3) ndarray
        [m]
    faces : (m, 3) ndarray of int
        The panel's own.
    forces : (n, 3) ndarray
        Pull of the panel's own cloth on each vertex [N].
    loose : bool
        Whether it is held by nothing but its corners.
    cable_force : float or None
        In its webbing, rope or wire [N].
    """
    along = arc_lengths(vertices[line])
    share = np.zeros(len(line))
    share[:-1] += np.diff(along) / 2
    share[1:] += np.diff(along) / 2
    tangent = np.gradient(vertices[line], axis=0)
    tangent /= np.maximum(np.linalg.norm(tangent, axis=1, keepdims=True), 1e-300)
    pull = forces[line] - np.einsum("ij,ij->i", forces[line], tangent)[:, None] * tangent
    inner = slice(1, -1) if len(line) > 2 else slice(None)
    each = np.linalg.norm(pull, axis=1)[inner] / share[inner]
    return EdgeShape(
        name=edge.name,
        kind=edge.kind,
        finish=edge.finish,
        length=float(along[-1]),
        chord=float(np.linalg.norm(vertices[line[-1]] - vertices[line[0]])),
        hollow=hollow_of(vertices, faces_along(faces, line), line) if loose else None,
        cable_force=cable_force,
        line_tension=float((each * share[inner]).sum() / share[inner].sum()),
        line_tension_most=float(each.max()),
    )

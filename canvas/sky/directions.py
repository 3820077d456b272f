"""Lay a structured grid of directions over the whole sphere, and interpolate between them.

Computes: the nodes of an equiangular cube grid, the solid angle each stands for, which four nodes a direction lies
    between and with what weights, and the weights of the nodes for an integral over the sky alone.
Units: unit vectors in the boat frame; steradians.
Source: equiangular cube projection (Ronchi, Iacono and Paolucci 1996); bilinear interpolation on each face.
Limits: a function with a sharp step between nodes is smeared over one cell; no face has a pole, so the zenith is as
    good as anywhere. An even count of cells puts nodes on the boat's own horizon, so that a step there stays sharp.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.sparse import csr_array

from canvas.geometry.surface import Floats, Ints, locked

CELLS = 26  # cells along a face's edge: 3.46 deg, 4,058 directions; see tests/benchmarks/sky


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DirectionGrid:
    """Directions over the whole sphere.

    Attributes
    ----------
    cells : int
        Cells along the edge of each of the cube's six faces.
    directions : (d, 3) ndarray
        Unit vectors, boat frame.
    solid_angles : (d,) ndarray
        What each node stands for under bilinear interpolation [sr]; they add up to 4 pi.
    node : (6, cells + 1, cells + 1) ndarray of int
        Which node lies at each place of each face.
    """

    cells: int
    directions: Floats
    solid_angles: Floats
    node: Ints


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stencil:
    """The nodes that directions lie between.

    Attributes
    ----------
    nodes : (m, 4) ndarray of int
    weights : (m, 4) ndarray
        Add up to 1.
    """

    nodes: Ints
    weights: Floats

    def of(self, table: Floats) -> Floats:
        """Return the interpolated values of a table of shape (..., d), as (..., m)."""
        return np.asarray(sum(table[..., self.nodes[:, k]] * self.weights[:, k] for k in range(4)))


@lru_cache(maxsize=4)
def direction_grid(cells: int = CELLS) -> DirectionGrid:
    """Return the equiangular cube grid with `cells` cells along each face's edge.

    Parameters
    ----------
    cells : int
        Even and at least 4.

    Raises
    ------
    ValueError
        When `cells` is odd or below 4.
    """
    if cells < 4 or cells % 2:
        raise ValueError(f"a grid of directions has an even count of cells, 4 or more; found {cells}")
    node, first = _nodes(cells)
    _, solid_angle, hats = _quadrature(cells)
    return DirectionGrid(
        cells=cells,
        directions=locked(first),
        solid_angles=locked(hats @ solid_angle),
        node=locked(node, dtype=np.int64),
    )


def stencil(grid: DirectionGrid, directions: npt.ArrayLike) -> Stencil:
    """Return the four nodes around each direction and their weights.

    Parameters
    ----------
    grid : DirectionGrid
    directions : array_like, shape (m, 3)
        Need not be unit, boat frame.
    """
    return _stencil(grid.cells, grid.node, np.atleast_2d(np.asarray(directions, dtype=float)))


def coarse_stencil(grid: DirectionGrid, directions: npt.ArrayLike) -> Stencil:
    """Return the same as `stencil` for the grid made of every second node; how far the two differ tells the error."""
    half = _stencil(grid.cells // 2, grid.node[:, ::2, ::2], np.atleast_2d(np.asarray(directions, dtype=float)))
    return half


def lobe_weights(grid: DirectionGrid, normals: npt.ArrayLike, *, up: npt.ArrayLike = (0.0, 0.0, 1.0)) -> Floats:
    """Return the weights of the nodes in the share of an even sky that falls on small flat areas.

    The share is the integral over the sky, the half of the sphere around `up`, of max(0, n . d) / pi (Lambert). With
    `up` turned over it is that of the sea below.

    Parameters
    ----------
    grid : DirectionGrid
    normals : array_like, shape (k, 3)
        Unit normals of the areas.
    up : array_like, shape (3,)
        True vertical in the boat frame.

    Returns
    -------
    (k, d) ndarray
        Rows add up to the open share: 1 for an area that faces `up`, (1 + cos(tilt))/2 for a tilted one.
    """
    directions, solid_angle, hats = _quadrature(grid.cells)
    above = np.where(directions @ np.asarray(up, dtype=float) > 0.0, solid_angle, 0.0) / np.pi
    lobes = np.maximum(np.atleast_2d(np.asarray(normals, dtype=float)) @ directions.T, 0.0) * above
    return np.asarray((hats @ lobes.T).T)


def _on_face(face: Ints, u: Floats, v: Floats) -> Floats:
    """Return unit vectors on cube faces 0..5 (+x, -x, +y, -y, +z, -z) at equiangular places in -1..1."""
    a, b = np.tan(u * np.pi / 4.0), np.tan(v * np.pi / 4.0)
    axis, sign = face // 2, 1.0 - 2.0 * (face % 2)
    out = np.empty((*np.shape(face), 3))
    for k in range(3):
        out[..., k] = np.where(axis == k, sign, np.where((axis + 1) % 3 == k, a, b))
    return np.asarray(out / np.linalg.norm(out, axis=-1, keepdims=True))


def _stencil(cells: int, node: Ints, directions: Floats) -> Stencil:
    axis = np.argmax(np.abs(directions), axis=1)
    row = np.arange(len(directions))
    main = directions[row, axis]
    face = 2 * axis + (main < 0.0)
    u = np.arctan(directions[row, (axis + 1) % 3] / np.abs(main)) * (4.0 / np.pi)
    v = np.arctan(directions[row, (axis + 2) % 3] / np.abs(main)) * (4.0 / np.pi)
    s, t = (u + 1.0) * (cells / 2.0), (v + 1.0) * (cells / 2.0)
    i = np.clip(s.astype(np.int64), 0, cells - 1)
    j = np.clip(t.astype(np.int64), 0, cells - 1)
    p, q = np.clip(s - i, 0.0, 1.0), np.clip(t - j, 0.0, 1.0)
    nodes = np.stack([node[face, i, j], node[face, i + 1, j], node[face, i, j + 1], node[face, i + 1, j + 1]], axis=1)
    weights = np.stack([(1 - p) * (1 - q), p * (1 - q), (1 - p) * q, p * q], axis=1)
    return Stencil(nodes=nodes, weights=weights)


@lru_cache(maxsize=4)
def _nodes(cells: int) -> tuple[Ints, Floats]:
    """Return the node at each place of each face, and the nodes' directions; faces share those on their edges."""
    angle = np.linspace(-1.0, 1.0, cells + 1)
    u, v = np.meshgrid(angle, angle, indexing="ij")
    faces = np.stack([_on_face(np.full(u.shape, face), u, v) for face in range(6)])
    flat = np.round(faces.reshape(-1, 3), 9) + 0.0
    _, first, inverse = np.unique(flat, axis=0, return_index=True, return_inverse=True)
    return inverse.reshape(6, cells + 1, cells + 1), faces.reshape(-1, 3)[first]


@lru_cache(maxsize=4)
def _quadrature(cells: int) -> tuple[Floats, Floats, Any]:
    """Return directions and solid angles of a 2 x 2 Gauss rule in each cell, and the sparse (d, q) sum to the nodes."""
    step = 2.0 / cells
    corner = -1.0 + step * np.arange(cells)
    gauss = (corner[:, None] + step * (0.5 + np.array([-0.5, 0.5]) / np.sqrt(3.0))).ravel()
    u, v = np.meshgrid(gauss, gauss, indexing="ij")
    a, b = np.tan(u * np.pi / 4.0), np.tan(v * np.pi / 4.0)
    # area on the sphere of a gnomonic face: da db / (1 + a^2 + b^2)^(3/2), with da = pi/4 (1 + a^2) du
    jacobian = (np.pi / 4.0) ** 2 * (1 + a**2) * (1 + b**2) / (1 + a**2 + b**2) ** 1.5
    one = (jacobian * (step / 2.0) ** 2).ravel()
    directions = np.vstack([_on_face(np.full(u.shape, face), u, v).reshape(-1, 3) for face in range(6)])
    node, first = _nodes(cells)
    here = _stencil(cells, node, directions)
    column = np.repeat(np.arange(len(directions)), 4)
    hats = csr_array((here.weights.ravel(), (here.nodes.ravel(), column)), shape=(len(first), len(directions)))
    return directions, np.tile(one * (4.0 * np.pi / 6.0 / one.sum()), 6), hats

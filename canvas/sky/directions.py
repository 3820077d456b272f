"""Lay a structured grid of directions over the whole sphere, and interpolate between them.

Computes: the nodes of a grid in rows round the sphere, closer together where the sun is low; which four nodes a
    direction lies between and with what weights; the weights of the nodes in the light of an even sky on small areas.
Units: unit vectors in the boat frame; radians; steradians.
Source: bilinear interpolation along and between rows; Lambert's cosine law; Gauss quadrature.
Limits: a step between nodes is smeared over one cell; the boat's own horizon is a row, so that a step there is sharp.
    Below the horizon, where the boat stands in the way of nearly everything, the rows lie further apart.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.sparse import csr_array

from canvas.air.attitude import way_to
from canvas.geometry.surface import Floats, Ints, locked

# Bands of altitude above and below the boat's horizon: where each ends and the step between rows in it [deg]. A shadow
# thrown by a coaming opposite crosses a seat within some 4 deg of altitude, so rows lie close together low down.
UPPER = ((12.0, 1.0), (30.0, 2.0), (90.0, 2.7))
LOWER = ((12.0, 2.0), (30.0, 4.0), (90.0, 10.0))
AROUND_DEG, AROUND_BELOW_DEG = 3.3, 4.8  # step along a row at and above the horizon, and below it [deg]
WAVES, RISE = 4, 4.0  # waves of a row in one turn; rows over which they rise from the horizon and die to the zenith
# Height of a wave in rows, 2.4048 / (2 pi): a zero of the Bessel function J0, where the error of a round hole, a
# saw-tooth in its radius, has no first harmonic left.
SWING = 0.3827
GOLDEN = (np.sqrt(5.0) - 1.0) / 2.0  # of a step, by which each row is turned on, so that an edge cuts no two rows alike
PATCHES, PARTS = 400, 3  # cells divided, and into how many parts each way
HEELED = 0.25  # what a cell below the boat's horizon counts beside one above, where the sun comes only as she heels


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DirectionGrid:
    """Directions over the whole sphere, in rows from straight down to straight up.

    Rows wave up and down by part of their spacing, but for the horizon and the poles: a round hole overhead then cuts a
    row here and there and never the whole of it at once.

    Attributes
    ----------
    directions : (d, 3) ndarray
        Unit vectors, boat frame; row after row, each from the bow round by starboard.
    altitude : (r,) ndarray
        Middle of each row above the boat's own horizon, rising [rad].
    start, count : (r / stride,) ndarray of int
        First node of each row in use, and how many it has.
    offset : (r / stride,) ndarray
        How far the first node of each row lies round from the bow, in steps along the row.
    stride : int
        1; 2 in the grid made of every second node of every second row.
    base : DirectionGrid or None
        The undivided grid, whose nodes come first; None where this is one.
    patch : (r - 1, c) ndarray of int or None
        For each cell between two rows, from the bow round: where its division starts in `corners`, -1 where it is not
        divided.
    corners : (k,) ndarray of int or None
        Nodes of the divided cells, (PARTS + 1)^2 of each, row after row; cells share those on their common sides.
    """

    directions: Floats
    altitude: Floats
    start: Ints
    count: Ints
    offset: Floats
    stride: int = 1
    base: DirectionGrid | None = None
    patch: Ints | None = None
    corners: Ints | None = None


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
def direction_grid(fineness: float = 1.0) -> DirectionGrid:
    """Return the grid of directions.

    Parameters
    ----------
    fineness : float
        1 for the usual grid of some 5,000 directions; 2 halves every step.

    Raises
    ------
    ValueError
        When `fineness` is below 0.25.
    """
    if fineness < 0.25:
        raise ValueError(f"the fineness of a grid of directions is 0.25 or more; found {fineness}")
    above = _rows(UPPER, fineness)
    below = -_rows(LOWER, fineness)[::-1]
    altitude = np.radians(np.concatenate([below[:-1], above]))
    step = np.radians(np.where(altitude < 0.0, AROUND_BELOW_DEG, AROUND_DEG)) / fineness
    count = 4 * np.maximum(np.ceil(2.0 * np.pi * np.cos(altitude) / step / 4.0 - 1e-9), 1.0).astype(np.int64)
    count[[0, -1]] = 1
    start = np.concatenate([[0], np.cumsum(count)[:-1]])
    offset = np.where(count > 1, np.arange(len(count)) * GOLDEN % 1.0, 0.0)
    grid = DirectionGrid(
        directions=np.zeros((0, 3)),
        altitude=locked(altitude),
        start=locked(start, dtype=np.int64),
        count=locked(count, dtype=np.int64),
        offset=locked(offset),
    )
    turn = np.concatenate([(np.arange(n) + first) / n for n, first in zip(count, offset, strict=True)])
    return replace(grid, directions=locked(_towards(grid, np.repeat(np.arange(len(count)), count), turn)))


def coarse(grid: DirectionGrid) -> DirectionGrid:
    """Return the undivided grid of every second node of every second row; how far the two differ tells the error."""
    return DirectionGrid(
        directions=grid.directions,
        altitude=grid.altitude,
        start=grid.start[::2],
        count=np.maximum(grid.count[::2] // 2, 1),
        offset=grid.offset[::2] / 2,
        stride=2,
    )


def divided(grid: DirectionGrid, lit: Floats) -> DirectionGrid:
    """Return the grid with those cells divided in which lit shares are most uneven, the edges of far, large things.

    Parameters
    ----------
    grid : DirectionGrid
        Not divided yet.
    lit : (p, d) ndarray
        Lit shares of some places at its nodes.
    """
    cells = _cells(grid)
    band, number = _numbered(cells)
    turn = 1.0 / cells[band]
    uneven = _unevenness(grid, lit)
    cut = np.sort(np.argsort(-uneven, kind="stable")[:PATCHES])
    cut = cut[uneven[cut] > 0.0]
    part = np.arange(PARTS + 1) / PARTS
    place = np.repeat(band[cut][:, None] + part, PARTS + 1, axis=1).ravel()
    around = ((number[cut][:, None] + np.tile(part, PARTS + 1)) * turn[cut][:, None]).ravel()
    directions, corners = _merged(grid.directions, _towards(grid, place, around))
    patch = np.full((len(cells), int(cells.max())), -1, dtype=np.int64)
    patch[band[cut], number[cut]] = (PARTS + 1) ** 2 * np.arange(len(cut))
    return replace(
        grid,
        directions=locked(directions),
        base=grid,
        patch=locked(patch, dtype=np.int64),
        corners=locked(corners, dtype=np.int64),
    )


def _numbered(cells: Ints) -> tuple[Ints, Ints]:
    """Return the row of each cell, and its number there."""
    return np.repeat(np.arange(len(cells)), cells), np.concatenate([np.arange(n) for n in cells])


def _unevenness(grid: DirectionGrid, lit: Floats) -> Floats:
    """Return for each cell what interpolation in it may miss: second differences at its corners times its solid angle.

    Differences are taken over one cell each way, added up over the four corners and all places.
    """
    band, _ = _numbered(_cells(grid))
    around = np.array([[here.of(lit) for here in row] for row in _neighbourhood(grid)])
    rise, along = (np.abs(np.diff(one, n=2, axis=axis)) for axis, one in ((0, around[:, 1:3]), (1, around[1:3])))
    solid_angle = 2.0 * np.pi * np.diff(np.sin(grid.altitude))[band] * (1.0 / _cells(grid)[band])
    seen = np.where(grid.altitude[band] > -1e-9, 1.0, HEELED)
    high_enough = grid.altitude[band] > -np.radians(LOWER[0][0]) - 1e-9  # the sun comes no lower but in a great heel
    return np.asarray((rise + along).sum(axis=(0, 1, 2)) * solid_angle * seen * high_enough)


@lru_cache(maxsize=2)
def _neighbourhood(grid: DirectionGrid) -> tuple[tuple[Stencil, ...], ...]:
    """Return the stencils of each cell's corners and of those one cell further, by rows; every boat has the same."""
    band, number = _numbered(_cells(grid))
    turn = 1.0 / _cells(grid)[band]
    rows = [np.clip(band + a, 0, len(grid.altitude) - 1).astype(float) for a in (-1, 0, 1, 2)]
    return tuple(tuple(stencil(grid, _towards(grid, row, (number + b) * turn)) for b in (-1, 0, 1, 2)) for row in rows)


def _merged(nodes: Floats, more: Floats) -> tuple[Floats, Ints]:
    """Return nodes with those of `more` added that are not among them yet, and the number of each of `more`."""
    both = np.vstack([nodes, more])
    _, first, same = np.unique(np.round(both * 1e9).astype(np.int64), axis=0, return_index=True, return_inverse=True)
    kept = np.unique(np.concatenate([np.arange(len(nodes)), first[first >= len(nodes)]]))
    number = np.searchsorted(kept, first[same.ravel()])
    return both[kept], number[len(nodes) :]


def stencil(grid: DirectionGrid, directions: npt.ArrayLike) -> Stencil:
    """Return the four nodes around each direction and their weights.

    Parameters
    ----------
    grid : DirectionGrid
    directions : array_like, shape (m, 3)
        Need not be unit, boat frame.
    """
    d = np.atleast_2d(np.asarray(directions, dtype=float))
    altitude = np.arctan2(d[:, 2], np.hypot(d[:, 0], d[:, 1]))
    turn = (np.arctan2(d[:, 1], -d[:, 0]) / (2.0 * np.pi)) % 1.0
    level = np.interp(altitude, grid.altitude, np.arange(len(grid.altitude), dtype=float))
    place = (level + _wave(grid.altitude, level, 2.0 * np.pi * turn)) / grid.stride
    row = np.clip(place.astype(np.int64), 0, len(grid.start) - 2)
    q = np.clip(place - row, 0.0, 1.0)
    nodes, weights = [], []
    for one, share in ((row, 1.0 - q), (row + 1, q)):
        count = grid.count[one]
        along = turn * count - grid.offset[one]
        k = np.floor(along).astype(np.int64)
        p = along - k
        nodes += [grid.start[one] + grid.stride * (k % count), grid.start[one] + grid.stride * ((k + 1) % count)]
        weights += [share * (1.0 - p), share * p]
    found = Stencil(nodes=np.stack(nodes, axis=1), weights=np.stack(weights, axis=1))
    return found if grid.patch is None else _in_patches(grid, found, row=row, rise=q, turn=turn)


def _in_patches(grid: DirectionGrid, found: Stencil, *, row: Ints, rise: Floats, turn: Floats) -> Stencil:
    """Return the stencil with the nodes of the divided cells where a direction lies in one."""
    patch, corners = np.asarray(grid.patch), np.asarray(grid.corners)
    along = turn * _cells(grid)[row]
    cell = np.minimum(along.astype(np.int64), _cells(grid)[row] - 1)
    first = patch[row, cell]
    inside = first >= 0
    s, t = rise[inside] * PARTS, (along - cell)[inside] * PARTS
    i, j = (np.clip(one.astype(np.int64), 0, PARTS - 1) for one in (s, t))
    p, q = np.clip(s - i, 0.0, 1.0), np.clip(t - j, 0.0, 1.0)
    corner = first[inside] + i * (PARTS + 1) + j
    nodes, weights = found.nodes.copy(), found.weights.copy()
    nodes[inside] = corners[np.stack([corner, corner + 1, corner + PARTS + 1, corner + PARTS + 2], axis=1)]
    weights[inside] = np.stack([(1 - p) * (1 - q), (1 - p) * q, p * (1 - q), p * q], axis=1)
    return Stencil(nodes=nodes, weights=weights)


def _cells(grid: DirectionGrid) -> Ints:
    """Return how many cells lie between each two rows."""
    return np.asarray(np.maximum(grid.count[:-1], grid.count[1:]))


def _towards(grid: DirectionGrid, place: npt.ArrayLike, turn: npt.ArrayLike) -> Floats:
    """Return unit vectors at places given in rows (fractions between) and turns from the bow round by starboard."""
    bearing = 2.0 * np.pi * np.asarray(turn, dtype=float)
    level = _unwaved(grid.altitude, np.asarray(place, dtype=float), bearing)
    high = np.interp(level, np.arange(len(grid.altitude)), grid.altitude)
    return way_to(bearing, high)


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
    plain = grid if grid.base is None else grid.base
    directions, solid_angle, hats = _quadrature(plain)
    above = np.where(directions @ np.asarray(up, dtype=float) > 0.0, solid_angle, 0.0) / np.pi
    lobes = np.maximum(np.atleast_2d(np.asarray(normals, dtype=float)) @ directions.T, 0.0) * above
    weights = np.zeros((len(lobes), len(grid.directions)))
    weights[:, : len(plain.directions)] = (hats @ lobes.T).T
    return weights


def _wave(altitude: Floats, level: Floats, bearing: Floats) -> Floats:
    """Return by how many rows the rows lie lower at a bearing, for places given in rows (fractions between)."""
    horizon, top = float(np.argmin(np.abs(altitude))), len(altitude) - 1.0
    strength = np.clip(np.minimum(level - horizon, top - level) / RISE, 0.0, 1.0)
    return np.asarray(strength * SWING * np.cos(WAVES * bearing))


def _unwaved(altitude: Floats, place: Floats, bearing: Floats) -> Floats:
    """Return the level whose wave puts it at a place given in rows; each turn gains a factor of RISE / SWING."""
    level = place
    for _ in range(20):
        level = place - _wave(altitude, level, bearing)
    return level


def _rows(bands: tuple[tuple[float, float], ...], fineness: float) -> Floats:
    """Return altitudes from 0 to 90 deg, an even number of steps in each band of (its end, the step in it) [deg]."""
    altitude = [0.0]
    for end, step in bands:
        steps = 2 * int(np.ceil((end - altitude[-1]) * fineness / step / 2.0 - 1e-9))
        altitude += list(np.linspace(altitude[-1], end, steps + 1)[1:])
    return np.array(altitude)


@lru_cache(maxsize=4)
def _quadrature(grid: DirectionGrid) -> tuple[Floats, Floats, Any]:
    """Return directions and solid angles of a rule over the sphere, and the sparse (d, q) sum onto the nodes."""
    gauss = 0.5 + np.array([-0.5, 0.5]) / np.sqrt(3.0)
    rules = []
    for low, high, count in zip(
        np.sin(grid.altitude[:-1]), np.sin(grid.altitude[1:]), np.maximum(grid.count[:-1], grid.count[1:]), strict=True
    ):
        bearing = 2.0 * np.pi * (np.arange(2 * count) + 0.5) / (2 * count)
        z, turn = (a.ravel() for a in np.meshgrid(low + (high - low) * gauss, bearing, indexing="ij"))
        flat = np.sqrt(1.0 - z**2)
        area = np.full(len(z), 2.0 * np.pi * (high - low) / len(z))
        rules.append(np.stack([-flat * np.cos(turn), flat * np.sin(turn), z, area], axis=1))
    rule = np.vstack(rules)
    here = stencil(grid, rule[:, :3])
    column = np.repeat(np.arange(len(rule)), 4)
    hats = csr_array((here.weights.ravel(), (here.nodes.ravel(), column)), shape=(len(grid.directions), len(rule)))
    return rule[:, :3], rule[:, 3], hats

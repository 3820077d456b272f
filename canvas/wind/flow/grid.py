"""Lay out nested grids: each region half the cell size of the one round it.

Computes: sizes, origins, which cells lie in a region, the ring of coarse cells that fills the two layers of fine cells
round them, and the coarse cells that take their values back.
Units: metres; flat cell indices, x fastest.
Source: cell-centred 2:1 nesting, two fine layers filled from one ring of coarse cells once a coarse step.
Limits: a region is convex; it keeps at least three coarse cells from the side of the one round it, but for the sea. Its
arrays hold the whole box round it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from scipy.ndimage import binary_dilation, binary_erosion
from scipy.spatial import ConvexHull

from canvas.jobs.failure import CouldNot

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]
GAP = 3  # coarse cells between a region and the side of the one round it
WITH_ALL_ROUND = np.ones((3, 3, 3), dtype=bool)


class Region(NamedTuple):
    """What is to be refined.

    Attributes
    ----------
    low, high : (3,) ndarray
        Corners of the box round it [m].
    planes : (n, 4) ndarray or None
        Outward unit normals and offsets of the planes that bound it: inside, a x + b y + c z + d <= 0 [m]; the whole
        box where None.
    """

    low: Floats
    high: Floats
    planes: Floats | None = None

    @classmethod
    def over(cls, plan: Floats, bottom: float, top: float) -> Region:
        """Return the upright prism over the convex hull of (n, 2) points in plan [m]."""
        a, b, d = ConvexHull(plan).equations.T
        low, high = np.array([*plan.min(axis=0), bottom]), np.array([*plan.max(axis=0), top])
        return cls(low, high, np.stack([a, b, np.zeros_like(a), d], axis=1))

    @property
    def box(self) -> Region:
        """Return the box round it."""
        return self._replace(planes=None)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Grid:
    """One grid of the nest.

    Attributes
    ----------
    cell : float
        Size of a cell [m].
    shape : tuple of int
        Cells along x, y, z, outer layers included.
    origin : (3,) ndarray
        Centre of the first cell [m].
    low, high : (3,) ndarray of int
        First cell inside, and first beyond, in the indices of the grid round it; zero for the outermost.
    ghosts : (3,) ndarray of int
        Layers before the first cell inside.
    own : (z, y, x) ndarray of bool
        Which cells of the grid round it, from `low` to `high`, are this grid's own; none for the outermost.
    stepped : (z, y, x) ndarray of bool
        Which of its cells are marched: those inside, and the nearer of the two layers round them.
    """

    cell: float
    shape: tuple[int, int, int]
    origin: Floats
    low: Ints
    high: Ints
    ghosts: Ints
    own: Flags
    stepped: Flags

    @property
    def size(self) -> int:
        """Return the number of cells."""
        return self.shape[0] * self.shape[1] * self.shape[2]

    def marched(self, finer: Grid | None = None) -> Flags:
        """Return which cells a step updates, (z, y, x): those that a finer grid refines have their values from it."""
        if finer is None:
            return self.stepped
        left = self.stepped.copy()
        x, y, z = (slice(int(a), int(b)) for a, b in zip(finer.low, finer.high, strict=True))
        left[z, y, x] &= ~finer.own
        return left

    def known(self, finer: Grid | None = None) -> Flags:
        """Return which of its own cells hold the flow between steps, (z, y, x).

        Of those that a finer grid refines only the ones along its sides do, which take their values back from it.
        """
        found = self.marched(finer) & self.inside
        if finer is not None:
            found.flat[self.flat(covered(finer))] = True
        return found

    def updates(self, finer: Grid | None = None) -> int:
        """Return the number of cells that a step updates."""
        return int(np.count_nonzero(self.marched(finer)))

    def rows(self, finer: Grid | None = None) -> Ints:
        """Return for each row of cells along x the first that a step updates and the first beyond, (z, y, 4).

        Twice: before the cells that a finer grid refines, and after them.
        """
        refined = self.stepped & ~self.marched(finer)
        first, begin = self.stepped.argmax(axis=2), refined.argmax(axis=2)
        after, end = (at + np.count_nonzero(of, axis=2) for at, of in ((first, self.stepped), (begin, refined)))
        none = begin == end
        return np.stack([first, np.where(none, after, begin), np.where(none, after, end), after], axis=2)

    def flat(self, index: Ints) -> Ints:
        """Return flat indices of (..., 3) indices."""
        return np.asarray(index[..., 0] + self.shape[0] * (index[..., 1] + self.shape[1] * index[..., 2]))

    @property
    def inside(self) -> Flags:
        """Return which cells are this grid's own, (z, y, x)."""
        if not self.high.any():
            return self.stepped
        return np.pad(_children(self.own), ((self.ghosts[2], 2), (2, 2), (2, 2)))

    def holds(self, corner: Ints) -> Flags:
        """Return whether the cells at (n, 3) indices, and all up to the next in x, y and z, are this grid's own."""
        within: Flags = np.all((corner >= 0) & (corner < np.array(self.shape) - 1), axis=1)
        x, y, z = np.where(within[:, None], corner, 0).T
        inside = self.inside
        held = [within, *(inside[z + k, y + j, x + i] for i, j, k in np.ndindex(2, 2, 2))]
        return np.asarray(np.all(held, axis=0))

    def inner(self) -> tuple[Floats, Floats]:
        """Return the corners of the part that is this grid's own [m]."""
        last = np.array(self.shape) - np.where(self.low.any() or self.high.any(), 2, 1)
        return self.origin + (self.ghosts - 0.5) * self.cell, self.origin + (last - 0.5) * self.cell

    def child_of(self, coarse: Ints) -> Ints:
        """Return the flat index of the first fine cell in each coarse cell, given (n, 3) indices."""
        return self.flat(self.ghosts + 2 * (coarse - self.low))


def nest(
    low: Floats, high: Floats, regions: Sequence[Region | tuple[Floats, Floats]], *, cell: float, sea: bool = True
) -> list[Grid]:
    """Return nested grids over a domain.

    Parameters
    ----------
    low, high : (3,) ndarray
        Corners of the domain; with `sea` its floor is the water [m].
    regions : sequence of Region, or of the two corners of boxes
        What to refine, outermost first; each is grown to whole cells.
    cell : float
        Size of the outermost cells [m].
    sea : bool
        Whether regions that reach the floor rest on it.

    Raises
    ------
    CouldNot
        When a region does not fit in the grid round it.
    """
    count = np.maximum(np.round((high - low) / cell).astype(np.int64), 1)
    zero = np.zeros(3, dtype=np.int64)
    shape = count + 2
    grids = [
        Grid(
            cell=cell, shape=(int(shape[0]), int(shape[1]), int(shape[2])), origin=low - 0.5 * cell,
            low=zero, high=zero, ghosts=np.ones(3, dtype=np.int64), own=np.zeros((0, 0, 0), dtype=bool),
            stepped=np.pad(np.ones(count[::-1], dtype=bool), 1),
        )
    ]  # fmt: skip
    for region in regions:
        grids.append(_inside(grids[-1], Region(*region), floor=float(low[2]), sea=sea))
    return grids


def _inside(outer: Grid, region: Region, *, floor: float, sea: bool) -> Grid:
    start = np.floor((region.low - outer.origin) / outer.cell + 0.5).astype(np.int64)
    stop = np.ceil((region.high - outer.origin) / outer.cell + 0.5).astype(np.int64)
    first = outer.ghosts + GAP
    last = np.array(outer.shape) - 1 - GAP - (1 if outer.high.any() else 0)
    rests = sea and abs(outer.origin[2] + (outer.ghosts[2] - 0.5) * outer.cell - floor) < 1e-9 and outer.ghosts[2] == 1
    grounded = bool(rests and start[2] <= first[2])
    start, stop = np.maximum(start, first), np.minimum(stop, last)
    if grounded:
        start[2] = 1
    if (stop - start < 2).any():
        raise CouldNot("A fine grid does not fit in the coarse one round it.", "Use smaller cells or a larger domain.")
    own = _room(outer, start, stop, grounded=grounded) & _touched(outer, region.planes, start, stop)
    ghosts = np.array([2, 2, 1 if grounded else 2], dtype=np.int64)
    shape = ghosts + 2 * (stop - start) + 2
    cell = 0.5 * outer.cell
    origin = outer.origin + (start - 0.5) * outer.cell + (0.5 - ghosts) * cell
    inside = np.pad(_children(own), ((ghosts[2] - 1, 1), (1, 1), (1, 1)))
    return Grid(
        cell=cell, shape=(int(shape[0]), int(shape[1]), int(shape[2])), origin=origin, low=start, high=stop,
        ghosts=ghosts, own=own, stepped=np.pad(binary_dilation(inside, WITH_ALL_ROUND), 1),
    )  # fmt: skip


def _room(outer: Grid, start: Ints, stop: Ints, *, grounded: bool) -> Flags:
    """Return which cells of a grid, from `start` to `stop`, keep far enough from its sides."""
    inside, below = outer.inside, 0
    if grounded:
        below = GAP  # the sea is no side
        inside = np.pad(inside[1:], ((below + 1, 0), (0, 0), (0, 0)), mode="edge")
    room = binary_erosion(inside, WITH_ALL_ROUND, iterations=GAP)[below:]
    return np.asarray(room[start[2] : stop[2], start[1] : stop[1], start[0] : stop[0]])


def _touched(outer: Grid, planes: Floats | None, start: Ints, stop: Ints) -> Flags:
    """Return which cells of a grid, from `start` to `stop`, planes do not leave outside as a whole."""
    z, y, x = (outer.origin[k] + outer.cell * np.arange(start[k], stop[k]) for k in (2, 1, 0))
    found = np.ones((len(z), len(y), len(x)), dtype=bool)
    for a, b, c, d in planes if planes is not None else ():
        reach = 0.5 * outer.cell * (abs(a) + abs(b) + abs(c))
        found &= a * x + (b * y)[:, None] + (c * z)[:, None, None] + d <= reach
    return found


def _children(own: Flags) -> Flags:
    """Return which fine cells lie in the coarse ones named."""
    return own.repeat(2, axis=0).repeat(2, axis=1).repeat(2, axis=2)


def own(fine: Grid) -> Ints:
    """Return the coarse cells (n, 3) that a fine grid refines."""
    return np.asarray(np.argwhere(fine.own)[:, ::-1] + fine.low)


def ring(fine: Grid) -> Ints:
    """Return the coarse cells (n, 3) one layer round a fine grid, whose children are its outer layers."""
    below = 0 if fine.ghosts[2] == 1 else 1  # under cells that rest on the sea there are none
    own = np.pad(fine.own, ((below, 1), (1, 1), (1, 1)))
    found = np.argwhere(binary_dilation(own, WITH_ALL_ROUND) & ~own)[:, ::-1]
    return np.asarray(found + fine.low - np.array([1, 1, below]))


def covered(fine: Grid) -> Ints:
    """Return the coarse cells (n, 3) under a fine grid along its sides: all of those that others read."""
    below = 1 if fine.ghosts[2] == 1 else 0  # cells that rest on the sea have no side there
    own = np.pad(fine.own, ((below, 0), (0, 0), (0, 0)), mode="edge")
    core = binary_erosion(own, WITH_ALL_ROUND)
    return np.asarray(np.argwhere((own & ~core)[below:])[:, ::-1] + fine.low)

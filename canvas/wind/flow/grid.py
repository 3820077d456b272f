"""Lay out nested grids: each box half the cell size of the one round it.

Computes: sizes, origins, the ring of coarse cells that fills a fine grid's outer two layers, and the coarse cells that
take their values back.
Units: metres; flat cell indices, x fastest.
Source: cell-centred 2:1 nesting, two fine layers filled from one ring of coarse cells once a coarse step.
Limits: a box keeps at least three coarse cells from the side of the grid round it, but for the sea.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from canvas.jobs.failure import CouldNot

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
GAP = 3  # coarse cells between a box and the side of the grid round it


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
    """

    cell: float
    shape: tuple[int, int, int]
    origin: Floats
    low: Ints
    high: Ints
    ghosts: Ints

    @property
    def size(self) -> int:
        """Return the number of cells."""
        return self.shape[0] * self.shape[1] * self.shape[2]

    def flat(self, index: Ints) -> Ints:
        """Return flat indices of (..., 3) indices."""
        return np.asarray(index[..., 0] + self.shape[0] * (index[..., 1] + self.shape[1] * index[..., 2]))

    def inner(self) -> tuple[Floats, Floats]:
        """Return the corners of the part that is this grid's own [m]."""
        last = np.array(self.shape) - np.where(self.low.any() or self.high.any(), 2, 1)
        return self.origin + (self.ghosts - 0.5) * self.cell, self.origin + (last - 0.5) * self.cell

    def child_of(self, coarse: Ints) -> Ints:
        """Return the flat index of the first fine cell in each coarse cell, given (n, 3) indices."""
        return self.flat(self.ghosts + 2 * (coarse - self.low))


def nest(
    low: Floats, high: Floats, boxes: Sequence[tuple[Floats, Floats]], *, cell: float, sea: bool = True
) -> list[Grid]:
    """Return nested grids over a domain.

    Parameters
    ----------
    low, high : (3,) ndarray
        Corners of the domain; with `sea` its floor is the water [m].
    boxes : sequence of two (3,) ndarrays
        Corners of the boxes to refine, outermost first; each is grown to whole cells [m].
    cell : float
        Size of the outermost cells [m].
    sea : bool
        Whether boxes that reach the floor rest on it.

    Raises
    ------
    CouldNot
        When a box does not fit in the grid round it.
    """
    count = np.maximum(np.round((high - low) / cell).astype(np.int64), 1)
    zero = np.zeros(3, dtype=np.int64)
    shape = count + 2
    grids = [
        Grid(
            cell=cell, shape=(int(shape[0]), int(shape[1]), int(shape[2])), origin=low - 0.5 * cell,
            low=zero, high=zero, ghosts=np.ones(3, dtype=np.int64),
        )
    ]  # fmt: skip
    for corner, far in boxes:
        grids.append(_inside(grids[-1], corner, far, floor=float(low[2]), sea=sea))
    return grids


def _inside(outer: Grid, corner: Floats, far: Floats, *, floor: float, sea: bool) -> Grid:
    start = np.floor((corner - outer.origin) / outer.cell + 0.5).astype(np.int64)
    stop = np.ceil((far - outer.origin) / outer.cell + 0.5).astype(np.int64)
    first = outer.ghosts + GAP
    last = np.array(outer.shape) - 1 - GAP - (1 if outer.high.any() else 0)
    rests = sea and abs(outer.origin[2] + (outer.ghosts[2] - 0.5) * outer.cell - floor) < 1e-9 and outer.ghosts[2] == 1
    grounded = bool(rests and start[2] <= first[2])
    start, stop = np.maximum(start, first), np.minimum(stop, last)
    if grounded:
        start[2] = 1
    if (stop - start < 2).any():
        raise CouldNot("A fine grid does not fit in the coarse one round it.", "Use smaller cells or a larger domain.")
    ghosts = np.array([2, 2, 1 if grounded else 2], dtype=np.int64)
    shape = ghosts + 2 * (stop - start) + 2
    cell = 0.5 * outer.cell
    origin = outer.origin + (start - 0.5) * outer.cell + (0.5 - ghosts) * cell
    return Grid(
        cell=cell, shape=(int(shape[0]), int(shape[1]), int(shape[2])), origin=origin,
        low=start, high=stop, ghosts=ghosts,
    )  # fmt: skip


def _block(low: Ints, high: Ints) -> Ints:
    axes = [np.arange(a, b) for a, b in zip(low, high, strict=True)]
    z, y, x = np.meshgrid(axes[2], axes[1], axes[0], indexing="ij")
    return np.stack([x.ravel(), y.ravel(), z.ravel()], axis=1)


def ring(fine: Grid) -> Ints:
    """Return the coarse cells (n, 3) one layer round a fine grid, whose children are its outer layers."""
    grounded = fine.ghosts[2] == 1
    low = fine.low - np.array([1, 1, 0 if grounded else 1])
    found = _block(low, fine.high + 1)
    within = ((found >= fine.low) & (found < fine.high)).all(axis=1)
    return np.asarray(found[~within])


def covered(fine: Grid, *, depth: int = 2) -> Ints:
    """Return the coarse cells (n, 3) under a fine grid within `depth` of its sides."""
    grounded = fine.ghosts[2] == 1
    found = _block(fine.low, fine.high)
    core_low = fine.low + np.array([depth, depth, 0 if grounded else depth])
    core = ((found >= core_low) & (found < fine.high - depth)).all(axis=1)
    return np.asarray(found[~core])

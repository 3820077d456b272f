"""Lay grids out on a device: populations, cut links, sides, and what passes between a grid and the finer one in it.

Computes: where in the device's arrays each link, each cell that is passed on and its neighbours stand.
Units: lattice units; flat indices of cells.
Source: steps in place: Bailey, Myre, Walsh, Lilja & Saar, ICPP 2009, 550 ("A-A pattern"), from memory; else `solver`.
Limits: those of `solver`.
"""
# mypy: disable-error-code="no-untyped-call"

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from canvas.wind.flow import cells
from canvas.wind.flow.backend import CACHE_LINE, Backend
from canvas.wind.flow.cut import Links
from canvas.wind.flow.grid import Grid, covered, ring

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Single = np.float32
_LINE = CACHE_LINE // 4  # single-precision numbers
_MOST_STRIDE = 1024


class Level:
    """One grid on the device: its populations, links and exchange lists.

    A step is made in place: what a cell takes in stands round it, and what it sends out is put there, each direction
    where its opposite was. So after an odd number of steps each population stands where the next step wants it.
    """

    def __init__(self, grid: Grid, on: Backend, links: Links, tau: float) -> None:
        self.grid, self.links, self.tau = grid, links, Single(tau)
        self.nx, self.ny, self.nz = grid.shape
        onward = cells.CX + self.nx * (cells.CY + self.ny * cells.CZ)
        margin = -(-int(onward.max()) // _LINE) * _LINE
        self._stride = _stride(grid.size + 2 * margin)
        self.begins = margin + self._stride * np.arange(cells.DIRECTIONS)
        self._at = tuple(on.array(at) for at in (self.begins, self.begins[cells.OPPOSITE] + onward))
        self.odd = False
        self.rows, self.updates = on.array(grid.rows().ravel()), grid.updates()
        self.f: Any = None
        self.air: Any = None  # which cells lie outside closed bodies
        ahead = self.begins[links.direction] + links.cell
        back = self.begins[links.direction + 1] + links.towards
        porous = slice(links.solid, None)
        self.count, self.porous = len(ahead), len(ahead) - links.solid
        self.first_porous = links.solid
        self.solid_share = on.array(np.ones(links.solid, dtype=Single))
        self.screen_share = on.array(np.zeros(self.porous, dtype=Single))
        self.ahead, self.back = on.array(ahead[: links.solid]), on.array(back[: links.solid])
        self.screen_ahead, self.screen_back = on.array(ahead[porous]), on.array(back[porous])
        cell, towards, lowest = links.cell[porous], links.towards[porous], self.nx * self.ny
        self.here = on.array(np.where(cell < lowest, towards, cell))  # what lies under the lowest cells has no speed
        self.there = on.array(np.where(towards < lowest, cell, towards))
        self.normal = on.array(links.normal[porous].astype(Single).ravel())
        self.loss = on.array((links.loss[porous] * evenness(links.normal[porous])).astype(Single))
        self.gained = on.array(np.zeros(links.solid))
        self.screen_gained = on.array(np.zeros(self.porous))
        self.probes: Any = None
        self.sums: Any = None

    @property
    def at(self) -> Any:
        """Return where in `f` each direction of cell 0 stands now."""
        return self._at[self.odd]

    def laid(self, populations: Any) -> Any:
        """Return populations (19, size) as `f` holds them after an even number of steps."""
        whole = np.zeros(cells.DIRECTIONS * self._stride, dtype=Single)
        for begin, one in zip(self.begins, populations, strict=True):
            whole[begin : begin + self.grid.size] = one
        return whole

    def across(self, ahead: Any, back: Any) -> tuple[Any, Any]:
        """Return where what crosses links stands now, of where it stands after even numbers of steps."""
        return (back, ahead) if self.odd else (ahead, back)


class Sides:
    """What stands in the outermost grid's outer layer: what repeats, and elsewhere what flows in.

    A step in place takes it away, so that both are put there before each.
    """

    def __init__(self, level: Level, periodic: tuple[int, ...], on: Backend) -> None:
        grid, shape = level.grid, np.array(level.grid.shape)
        outer = np.argwhere(~grid.stepped)[:, ::-1]
        source = outer.copy()
        for axis in periodic:
            source[:, axis] = (outer[:, axis] - 1) % (shape[axis] - 2) + 1
        repeats = (source != outer).any(axis=1)
        if 2 not in periodic:
            repeats &= (outer[:, 2] > 0) & (outer[:, 2] < shape[2] - 1)
        cell = outer[~repeats]
        takes = np.ones(shape[::-1], dtype=bool)
        takes[tuple(cell[:, ::-1].T)] = False
        even, odd = [], []
        for q, c in enumerate(np.stack([cells.CX, cells.CY, cells.CZ], axis=1)):
            to = cell + c
            enters = ((to >= 0) & (to < shape)).all(axis=1)
            falls = (to[:, 2] == 0) & (cell[:, 2] > 0)  # the floor turns it back
            enters[enters] = takes[tuple(to[enters, ::-1].T)] | falls[enters]
            even.append(level.begins[q] + grid.flat(cell[enters]))
            odd.append(level.begins[cells.OPPOSITE[q]] + grid.flat(to[enters]))
        self._on, self._where = on, np.concatenate(even)
        self.even, self.odd, self.kept = on.array(self._where), on.array(np.concatenate(odd)), len(self._where)
        self.target, self.source = on.array(grid.flat(outer[repeats])), on.array(grid.flat(source[repeats]))
        self.repeated = int(np.count_nonzero(repeats))
        self.keep(level)

    def keep(self, level: Level) -> None:
        """Let flow in from now on what stands in the outer layer, after an even number of steps."""
        self.values = self._on.array(self._on.host(level.f)[self._where])


class Passage:
    """What some cells of a grid pass down to the finer cells in them."""

    def __init__(self, coarse: Level, fine: Level, parents: Ints, on: Backend) -> None:
        steps = np.vstack([np.zeros((1, 3), dtype=np.int64), np.repeat(np.eye(3, dtype=np.int64), 2, axis=0)])
        steps[1::2] *= -1
        around = coarse.grid.flat(parents[:, None, :] + steps[None])
        blocked = _blocked(coarse)[around[:, 0]]
        known, entry = np.unique(around, return_inverse=True)
        entry = entry.reshape(around.shape)
        slopes = np.where(blocked[:, [0, 0, 1, 1, 2, 2]], -1, entry[:, 1:])
        self.parents, self.known = len(parents), on.array(known)
        self.count = len(known)
        self.buffer = on.array(np.zeros(10 * len(known), dtype=Single))
        self.entry, self.slopes = on.array(entry[:, 0].astype(np.int64)), on.array(slopes.astype(np.int64).ravel())
        self.child = on.array(fine.grid.child_of(parents))


class Joint:
    """What passes between a grid and the finer one in it, each step, and what is left to march of the coarser one."""

    def __init__(self, coarse: Level, fine: Level, on: Backend) -> None:
        self.rows, self.updates = on.array(coarse.grid.rows(fine.grid).ravel()), coarse.grid.updates(fine.grid)
        self.down = Passage(coarse, fine, ring(fine.grid), on)
        under = covered(fine.grid)
        self.under_count = len(under)
        self.under, self.under_child = on.array(coarse.grid.flat(under)), on.array(fine.grid.child_of(under))


def evenness(normal: Floats) -> Floats:
    """Return the factor that makes a screen's loss the same however it lies to the lattice.

    Links resist along themselves: the normal force of a sheet goes with 6 sum w |c.n|^3, which is 1 along an axis.
    """
    c = np.stack([cells.CX, cells.CY, cells.CZ], axis=1)[1::2].astype(float)
    return np.asarray(1.0 / np.maximum(6.0 * (np.abs(normal @ c.T) ** 3 @ cells.WEIGHTS[1::2]), 1e-6))


def _stride(size: int) -> int:
    stride = -(-size // _LINE) * _LINE + _LINE
    return stride + _LINE if stride % _MOST_STRIDE == 0 else stride


def _blocked(level: Level) -> npt.NDArray[np.bool_]:
    """Return for each cell and axis whether a sheet or the sea stands on either side."""
    shut = np.zeros((level.grid.size, 3), dtype=bool)
    for axis, direction in enumerate((1, 3, 5)):
        mine = level.links.direction == direction
        shut[level.links.cell[mine], axis] = True
        shut[level.links.towards[mine], axis] = True
    shut[: 2 * level.nx * level.ny, 2] = True
    return shut

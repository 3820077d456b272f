"""Find the lattice links that surfaces cut, and the cells that closed solids hold.

Computes: for each link between two cells whether a triangle lies across it, which surface, its normal and loss;
cells inside closed surfaces by counting crossings along x.
Units: cells of the grid in question; cell centres lie on whole numbers.
Source: segment and triangle: Moller & Trumbore, J. Graphics Tools 2 (1997) 21; inside by parity of crossings.
Limits: a surface is felt half-way along each link it cuts, so its edges snap to half cells; two sheets across one link
add their losses; a tube thinner than a cell is felt through the few links it cuts.
"""
# mypy: disable-error-code="untyped-decorator"
# ruff: noqa: PLR0917

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
import numpy.typing as npt

from canvas.wind.flow import cells
from canvas.wind.flow.compiled import compiled

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
SOLID = 1e3  # pressure loss coefficient from which a sheet counts as solid
_EDGE = 1e-7  # how far outside a triangle a link still counts as cut, so that none slips through a joint
_SLACK = 1e-3  # cells by which a link may miss the box round a triangle and still be tried
_C = np.stack([cells.CX, cells.CY, cells.CZ], axis=1)[1::2].astype(np.float64)
_STEPS = np.stack([cells.CX, cells.CY, cells.CZ], axis=1)[1::2].astype(np.int64)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sheet:
    """A surface in grid coordinates.

    Attributes
    ----------
    corners : (m, 3, 3) ndarray
        Triangles [m].
    loss : float
        Pressure loss coefficient; infinity for solid.
    closed : bool
        Whether it encloses a solid.
    """

    corners: Floats
    loss: float = float("inf")
    closed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Links:
    """Cut links of one grid, solid ones first.

    Attributes
    ----------
    cell, towards : (n,) ndarray of int
        Flat index of the cell a link starts in, and of the one it leads to.
    direction : (n,) ndarray of int
        Lattice direction of the link, an odd number.
    owner : (n,) ndarray of int
        Which sheet cuts it.
    normal : (n, 3) ndarray
        Unit normal of the triangle there.
    loss : (n,) ndarray
        Pressure loss coefficient; infinity for solid.
    """

    cell: Ints
    towards: Ints
    direction: Ints
    owner: Ints
    normal: Floats
    loss: Floats

    @property
    def solid(self) -> int:
        """Return how many of the links, from the first, are solid."""
        return int(np.isinf(self.loss).sum())

    def met(self, stepped: npt.NDArray[np.bool_]) -> Links:
        """Return the links that begin or end in a cell that is marched, given which are, (z, y, x)."""
        kept = stepped.ravel()[self.cell] | stepped.ravel()[self.towards]
        return Links(**{one.name: getattr(self, one.name)[kept] for one in fields(self)})


@compiled(fast=False)
def _reach(corners: Any, shape: Any, first: Any, last: Any) -> None:
    """Write between which cells a link can begin that reaches a triangle, by axis and by how far it goes along it.

    A link that goes by -1 stands last in a row, as Python counts.
    """
    for axis in range(3):
        near = min(corners[0, axis], corners[1, axis], corners[2, axis]) - _SLACK
        far = max(corners[0, axis], corners[1, axis], corners[2, axis]) + _SLACK
        for step in range(-1, 2):
            first[axis, step] = max(0, -step, int(np.ceil(near - max(step, 0))))
            last[axis, step] = min(shape[axis] - 1 - max(step, 0), int(np.floor(far - min(step, 0))))


@compiled(fast=False)
def _cut(corners: Any, shape: Any, where: Any, which: Any, face: Any) -> int:
    """Write the links that triangles cut, as far as there is room, and return how many there are."""
    room, found = where.size, 0
    first, last = np.empty((3, 3), dtype=np.int64), np.empty((3, 3), dtype=np.int64)
    for m in range(corners.shape[0]):
        a, e1, e2 = corners[m, 0], corners[m, 1] - corners[m, 0], corners[m, 2] - corners[m, 0]
        n0 = e1[1] * e2[2] - e1[2] * e2[1]
        n1 = e1[2] * e2[0] - e1[0] * e2[2]
        n2 = e1[0] * e2[1] - e1[1] * e2[0]
        size2 = n0 * n0 + n1 * n1 + n2 * n2
        if size2 < 1e-18:
            continue
        _reach(corners[m], shape, first, last)
        begin = max(0, int(np.floor(min(corners[m, 0, 0], corners[m, 1, 0], corners[m, 2, 0]))) - 1)
        for d in range(9):
            slope = n0 * _C[d, 0] + n1 * _C[d, 1] + n2 * _C[d, 2]
            if slope == 0.0:
                continue
            x, y, z = _STEPS[d]
            for k in range(first[2, z], last[2, z] + 1):
                for j in range(first[1, y], last[1, y] + 1):
                    flat = n0 * (begin - 1 - a[0]) + n1 * (j - a[1]) + n2 * (k - a[2])
                    for i in range(begin, last[0, x] + 1):
                        flat += n0
                        if i < first[0, x]:
                            continue
                        t = -flat / slope
                        if t < 0.0 or t >= 1.0:
                            continue
                        p0, p1, p2 = i + t * _C[d, 0] - a[0], j + t * _C[d, 1] - a[1], k + t * _C[d, 2] - a[2]
                        u = n0 * (p1 * e2[2] - p2 * e2[1]) + n1 * (p2 * e2[0] - p0 * e2[2])
                        u += n2 * (p0 * e2[1] - p1 * e2[0])
                        v = n0 * (e1[1] * p2 - e1[2] * p1) + n1 * (e1[2] * p0 - e1[0] * p2)
                        v += n2 * (e1[0] * p1 - e1[1] * p0)
                        if u < -_EDGE * size2 or v < -_EDGE * size2 or u + v > (1.0 + _EDGE) * size2:
                            continue
                        if found < room:
                            where[found], which[found], face[found] = (k * shape[1] + j) * shape[0] + i, d, m
                        found += 1
    return found


@compiled(fast=False)
def _toggle(corners: Any, shape: Any, marks: Any) -> None:
    nx, ny, nz = shape
    for m in range(corners.shape[0]):
        x, y, z = corners[m, :, 0], corners[m, :, 1] + 1.3e-5, corners[m, :, 2] + 1.7e-5
        area = (y[1] - y[0]) * (z[2] - z[0]) - (y[2] - y[0]) * (z[1] - z[0])
        if area == 0.0:
            continue
        for k in range(max(0, int(np.ceil(z.min()))), min(nz - 1, int(np.floor(z.max()))) + 1):
            for j in range(max(0, int(np.ceil(y.min()))), min(ny - 1, int(np.floor(y.max()))) + 1):
                u = ((j - y[0]) * (z[2] - z[0]) - (y[2] - y[0]) * (k - z[0])) / area
                v = ((y[1] - y[0]) * (k - z[0]) - (j - y[0]) * (z[1] - z[0])) / area
                if u < 0.0 or v < 0.0 or u + v > 1.0:
                    continue
                first = max(0, int(np.ceil(x[0] + u * (x[1] - x[0]) + v * (x[2] - x[0]))))
                if first < nx:
                    marks[k, j, first] ^= True


def cut_links(sheets: Sequence[Sheet], *, origin: Floats, cell: float, shape: tuple[int, int, int]) -> Links:
    """Return the links of a grid that sheets cut.

    Parameters
    ----------
    sheets : sequence of Sheet
        In grid coordinates [m].
    origin : (3,) ndarray
        Centre of the first cell [m].
    cell : float
        Size of a cell [m].
    shape : tuple of int
        Cells along x, y, z.

    Returns
    -------
    Links
        Each link once, sorted, solid ones first.
    """
    parts: list[tuple[Any, ...]] = []
    for owner, sheet in enumerate(sheets):
        corners = (sheet.corners - origin) / cell
        where, which, face = _found(corners, shape)
        _, first = np.unique(where * 9 + which, return_index=True)
        normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])[face[first]]
        normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-30)
        loss = sheet.loss if sheet.loss < SOLID else np.inf
        parts.append((where[first], which[first], np.full(len(first), owner), normal, np.full(len(first), loss)))
    if not parts:
        parts.append((np.zeros(0, np.int64),) * 3 + (np.zeros((0, 3)), np.zeros(0)))
    columns = [np.concatenate(column) for column in zip(*parts, strict=True)]
    return _merge(columns[0], columns[1], columns[2], columns[3], columns[4], shape)


def _found(corners: Floats, shape: tuple[int, int, int]) -> Ints:
    """Return cell, direction and triangle of each link that is cut, (3, n), as often as it is."""
    cut = np.empty((3, 4 * len(corners) + 1000), dtype=np.int64)
    count = _cut(corners, shape, *cut)
    if count > cut.shape[1]:
        cut = np.empty((3, count), dtype=np.int64)
        _cut(corners, shape, *cut)
    return cut[:, :count]


def _merge(where: Ints, which: Ints, owner: Ints, normal: Floats, loss: Floats, shape: tuple[int, int, int]) -> Links:
    order = np.lexsort((owner, -loss, where * 9 + which))
    key = (where * 9 + which)[order]
    first = np.ones(len(key), dtype=bool)
    first[1:] = key[1:] != key[:-1]
    total = np.add.reduceat(loss[order], np.flatnonzero(first)) if len(key) else loss
    kept = order[first]
    rank = np.lexsort((key[first], ~np.isinf(total)))
    kept, total = kept[rank], total[rank]
    offsets = _STEPS @ np.array([1, shape[0], shape[0] * shape[1]])
    return Links(
        cell=where[kept],
        towards=where[kept] + offsets[which[kept]],
        direction=1 + 2 * which[kept],
        owner=owner[kept],
        normal=normal[kept],
        loss=total,
    )


def inside(
    sheets: Sequence[Sheet], *, origin: Floats, cell: float, shape: tuple[int, int, int]
) -> npt.NDArray[np.bool_]:
    """Return which cells lie inside a closed sheet, as an array (z, y, x)."""
    held = np.zeros(shape[::-1], dtype=bool)
    for sheet in sheets:
        if not sheet.closed or not len(sheet.corners):
            continue
        corners = (sheet.corners - origin) / cell
        low = np.maximum(np.floor(corners.min(axis=(0, 1))).astype(int) - 1, 0)
        high = np.minimum(np.ceil(corners.max(axis=(0, 1))).astype(int) + 2, np.array(shape))
        if (high <= low).any():
            continue
        window = tuple(int(n) for n in high - low)
        marks = np.zeros(window[::-1], dtype=bool)
        _toggle(corners - low, window, marks)
        part = np.logical_xor.accumulate(marks, axis=2)
        held[low[2] : high[2], low[1] : high[1], low[0] : high[0]] |= part
    return held

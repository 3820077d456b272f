"""Trace which rays from the sample points each body and surface stops: what a dome map is made of, and is kept.

Computes: for points and directions, one bit a ray for each caster; the usual grid divided where the edges of boat,
    solids and sails are steep.
Units: metres, boat frame.
Source: any-hit rays (canvas/geometry/rays.py).
Limits: what lies behind the boat does not count, so bits are meant together with the boat's; below level places nothing
    is traced.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from canvas.geometry.panorama import GRAZING
from canvas.geometry.surface import Bools, Floats, locked
from canvas.sky.bits import Bytes, packed
from canvas.sky.casters import Caster
from canvas.sky.directions import DirectionGrid, divided


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BesideBoat:
    """Rays from sample points, and those that the boat stops, in packed bits; normals as `level_normals` gives them."""

    points: Floats
    normals: Floats
    directions: Floats
    boat: Bytes


def stopped(caster: Caster, beside: BesideBoat) -> Bytes:
    """Return in packed bits which rays beside the boat a caster stops."""
    met = caster.tracer().occluded_grid(beside.points, beside.directions, normals=beside.normals)
    found: Bytes = locked(packed(met) & ~beside.boat, dtype=np.uint8)
    return found


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ground:
    """The directions of a map, and which of them each body stops, in packed bits."""

    grid: DirectionGrid
    bits: tuple[Bytes, ...]


def ground_of(
    bodies: Sequence[Caster],
    points: Floats,
    normals: Floats,
    rows: Sequence[slice],
    plain: DirectionGrid,
    *,
    divide: bool,
) -> Ground:
    """Return which rays the bodies stop, on the grid given or on that grid divided for these places.

    Parameters
    ----------
    bodies : sequence of Caster
        The boat first; behind it none other is traced.
    points, normals : (n, 3) ndarray
        Sample points, lifted off what they lie on [m], and what `level_normals` gives for them.
    rows : sequence of slice
        Which of them belong to each place.
    plain : DirectionGrid
    divide : bool
        Whether cells are divided where the edges of the bodies are steep.
    """
    tracers = [body.tracer() for body in bodies]

    def traced(directions: Floats, *, facing: Floats | None) -> list[Bools]:
        boat, *rest = (tracer.occluded_grid(points, directions, normals=facing) for tracer in tracers)
        return [boat, *(one & ~boat for one in rest)]

    if not divide:
        return Ground(grid=plain, bits=tuple(map(packed, traced(plain.directions, facing=normals))))
    met = traced(plain.directions, facing=None)  # all round, or the horizon of a place would look like an edge
    shut = np.logical_or.reduce(met)
    grid = divided(plain, np.stack([1.0 - shut[mine].mean(axis=0) for mine in rows]))
    faced = np.vstack([normals[mine] @ plain.directions.T > GRAZING for mine in rows])
    more = traced(grid.directions[len(plain.directions) :], facing=normals)
    whole = (np.hstack([one & faced, two]) for one, two in zip(met, more, strict=True))
    return Ground(grid=grid, bits=tuple(map(packed, whole)))

"""Trace which rays from the sample points each body and surface stops: what a dome map is made of, and is kept.

Computes: for points and directions, one bit a ray for each caster; the usual grid divided where the edges of boat,
    solids and sails are steep.
Units: metres, boat frame.
Source: any-hit rays (canvas/geometry/rays.py).
Limits: behind the boat nothing else is traced, so bits are meant together with the boat's.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from canvas.geometry.surface import Bools, Floats
from canvas.sky.bits import Bytes, packed, unpacked
from canvas.sky.casters import Caster
from canvas.sky.directions import DirectionGrid, divided


@dataclass(frozen=True, kw_only=True, eq=False)
class BesideBoat:
    """Rays from sample points, and those that the boat stops."""

    points: Floats
    directions: Floats
    boat: Bytes

    @cached_property
    def free(self) -> Bools:
        """Return which rays the boat does not stop, (n, d)."""
        return ~unpacked(self.boat, len(self.directions))


def stopped(caster: Caster, beside: BesideBoat) -> Bytes:
    """Return in packed bits which rays beside the boat a caster stops."""
    return packed(caster.tracer().occluded_grid(beside.points, beside.directions, ask=beside.free))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ground:
    """The directions of a map, and which of them each body stops, in packed bits."""

    grid: DirectionGrid
    bits: tuple[Bytes, ...]


def ground_of(
    bodies: Sequence[Caster], points: Floats, rows: Sequence[slice], plain: DirectionGrid, *, divide: bool
) -> Ground:
    """Return which rays the bodies stop, on the grid given or on that grid divided for these places.

    Parameters
    ----------
    bodies : sequence of Caster
        The boat first; behind it none other is traced.
    points : (n, 3) ndarray
        Sample points, lifted off what they lie on [m].
    rows : sequence of slice
        Which of them belong to each place.
    plain : DirectionGrid
    divide : bool
        Whether cells are divided where the edges of the bodies are steep.
    """
    tracers = [body.tracer() for body in bodies]

    def traced(directions: Floats) -> list[Bools]:
        ask = np.ones((len(points), len(directions)), dtype=bool)
        boat = tracers[0].occluded_grid(points, directions, ask=ask)
        return [boat, *(tracer.occluded_grid(points, directions, ask=~boat) for tracer in tracers[1:])]

    grid, met = plain, traced(plain.directions)
    if divide:
        shut = np.logical_or.reduce(met)
        grid = divided(plain, np.stack([1.0 - shut[mine].mean(axis=0) for mine in rows]))
        more = traced(grid.directions[len(plain.directions) :])
        met = [np.hstack(pair) for pair in zip(met, more, strict=True)]
    return Ground(grid=grid, bits=tuple(packed(one) for one in met))

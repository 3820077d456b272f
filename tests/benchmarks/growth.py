"""Measure how cost grows with size: samples, directions, triangles, parts, readings, cells.

Computes: least wall time of some runs at three or more sizes, and the exponent of a power law through them.
Units: seconds; exponents without unit.
Source: least squares on logarithms.
Limits: small sizes carry a constant cost, which makes the exponent smaller than its limit.
"""

from __future__ import annotations

import itertools
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from unittest import mock

import numpy as np

from canvas.cloth.rigging import Rigging
from canvas.cutting.flatten import flatten
from canvas.cutting.nest import nest_outlines
from canvas.design.reading import read_design
from canvas.geometry import places
from canvas.geometry.model import build_model
from canvas.sky.directions import direction_grid
from canvas.sky.dome import dome_map
from canvas.survey.adjust import adjust
from canvas.wind.flow.grid import nest
from canvas.wind.flow.solver import Flow
from tests.benchmarks.sky.map_study import EXAMPLES
from tests.cutting import cut_shapes
from tests.cutting.test_nesting import WIDTH, random_parts
from tests.survey.boats import PRECISION, planned, taken


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Growth:
    """Times at some sizes of one thing."""

    name: str
    sizes: tuple[int, ...]
    seconds: tuple[float, ...]

    @property
    def exponent(self) -> float:
        return float(np.polyfit(np.log(self.sizes), np.log(self.seconds), 1)[0])

    @property
    def told(self) -> str:
        ends = f"{self.seconds[0]:.2f} to {self.seconds[-1]:.2f} s"
        return f"size^{self.exponent:.2f}, {self.sizes[0]} to {self.sizes[-1]}: {ends}"


def growth_rows() -> Iterator[Growth]:
    """Yield how the main computations grow."""
    yield _grown("dome map with sample points a place", (125, 250, 500, 1000), _map_of_points)
    yield _grown("dome map with directions", (0.5, 0.7, 1.0), _map_of_directions)
    yield _grown("flatten with triangles", (2_500, 10_000, 40_000), _flatten_of)
    yield _grown("nest with parts", (8, 16, 32), _nest_of)
    yield _grown("ten steps of flow with cells", (32, 64, 128), _flow_of)
    yield _grown("survey with readings", (8, 14, 24), _survey_of)


def _grown(name: str, sizes: Sequence[float], work_of: Callable[..., object]) -> Growth:
    """Time each size; work_of gives the work, or the work with the size that it turned out to have."""
    found, seconds = [], []
    for size in sizes:
        given = work_of(size)
        work, had = given if isinstance(given, tuple) else (given, size)
        runs = []
        for _ in range(2):
            start = time.perf_counter()
            work()
            runs.append(time.perf_counter() - start)
        found.append(int(had))
        seconds.append(min(runs))
    return Growth(name=name, sizes=tuple(found), seconds=tuple(seconds))


def _scene(points: int = 500):
    with mock.patch.dict(places.place_over.__kwdefaults__, points=points):
        return Rigging(build_model(read_design(EXAMPLES / "marrowgrass.toml"))).rig("wet watch").scene


def _map_of_points(points: int):
    scene = _scene(points)
    return lambda: dome_map(scene)


def _map_of_directions(fineness: float):
    scene, grid = _scene(), direction_grid(fineness)
    return (lambda: dome_map(scene, grid=grid)), len(grid.directions)


def _flatten_of(triangles: int):
    side = np.linspace(-1, 1, round((triangles / 2) ** 0.5) + 1)
    vertices, faces = cut_shapes.surface(lambda u, v: (u, v, 0.15 * (u * u - v * v) + 0.05 * u * v), side, side)
    warp = np.tile([1.0, 0.0, 0.0], (len(faces), 1))
    return lambda: flatten(vertices, faces, warp=warp)


def _nest_of(count: int):
    parts, runs = random_parts(1, count), itertools.count()
    return lambda: nest_outlines(parts, width=WIDTH + 1e-9 * next(runs))  # the same nest twice is kept, not laid


def _flow_of(side: int):
    far = np.full(3, float(side))
    flow = Flow(nest(np.zeros(3), far, [], cell=1.0), [], wind=_level, viscosity=0.01, device="cpu")
    return lambda: flow.advance(10), side**3


def _level(heights: np.ndarray) -> np.ndarray:
    return np.tile([0.08, 0.0], (len(heights), 1))


def _survey_of(marks: int):
    boat = planned(3, marks=marks)
    readings = taken(boat, np.random.default_rng(1))
    return (lambda: adjust(readings, datum=boat.datum, precision=PRECISION)), len(readings)

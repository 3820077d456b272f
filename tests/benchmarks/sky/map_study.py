"""Measure the dome map: its error against single rays at many other points, and its speed against one call an hour.

Run: python -m tests.benchmarks.sky.map_study [--boats NAME ...] [--sets NAME ...] [--hours N] [--points N] [--no-speed]

Error: the sun at hours drawn (seeded) from all sun-up hours of a year at five latitudes, on one heading, for each place
of each set; the truth is traced at 20,000 other points a place. Speed: the same year, every sun-up hour, looked up in
the map, against one batched any-hit call an hour on the same points and threads (a sample of hours, scaled); sun
positions on neither side, building the map printed beside.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from unittest import mock

import numpy as np

from canvas.cloth.rigging import Rigging
from canvas.design.reading import read_design
from canvas.geometry import places
from canvas.geometry.model import build_model
from canvas.geometry.rays import tracer_of
from canvas.geometry.scene import Place, Scene
from canvas.sky.casters import caster_of, casters_of, lifted, what_passes
from canvas.sky.direct import traced_bits
from canvas.sky.dome import dome_map, light_from, place_tables, with_casters, without
from canvas.sky.heading import on_heading
from canvas.sky.instants import mean_solar_times
from canvas.sky.samples import slices_of
from canvas.sky.shade import shade_hours
from canvas.sky.sun import Sun, sun_directions, sun_positions

BOATS = ("marrowgrass", "oddfellow", "lantern-hill")
LATITUDES_DEG = (0.0, 10.0, -17.5, 30.0, 45.0)
HEADING = np.radians(220.0)
EXAMPLES = Path(__file__).parents[3] / "examples"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MapError:
    """Error of the map by place, in shares of the place's area.

    Attributes
    ----------
    names : tuple of str
    mean, mean_partly, p95, covered, margin : (p,) ndarray
        Mean over all hours; over hours with 2-98 % true shade (nan where there is none); 95th percentile; share of the
        hours that lie between the map's own limits; mean half width of those.
    """

    names: tuple[str, ...]
    mean: np.ndarray
    mean_partly: np.ndarray
    p95: np.ndarray
    covered: np.ndarray
    margin: np.ndarray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MapSpeed:
    """Times of one run, in seconds, and the ratio that counts."""

    build: float
    one_panel: float
    look_up: float
    call_an_hour: float
    hours: int

    @property
    def ratio(self) -> float:
        return self.call_an_hour / self.look_up


def year_of_suns(step_minutes: float = 60.0) -> Sun:
    times = mean_solar_times(date(2026, 1, 1), date(2026, 12, 31), step_minutes=step_minutes)
    return sun_positions(np.tile(times, len(LATITUDES_DEG)), latitude=np.repeat(np.radians(LATITUDES_DEG), len(times)))


def other_places(boat: str, points: int) -> tuple[Place, ...]:
    """Return the places of an example with many more points than the map has."""
    with mock.patch.dict(places.place_over.__kwdefaults__, points=points):
        return build_model(read_design(EXAMPLES / f"{boat}.toml")).places


def true_light(scene: Scene, many: tuple[Place, ...], towards: np.ndarray, *, at_once: int = 8) -> np.ndarray:
    """Return the share of each place lit from each direction by single rays, (p, m)."""
    casters, points = casters_of(scene), lifted(many)
    shares = np.array([caster.light for caster in casters])
    normals = np.vstack([place.normals for place in many])
    rows, out = slices_of(many), []
    for first in range(0, len(towards), at_once):
        some = towards[first : first + at_once]
        faced = normals @ some.T > 0.0
        lit = what_passes(traced_bits(casters, points, some, normals=normals), shares) * faced
        out.append(np.stack([lit[where].mean(axis=0) for where in rows]))
    return np.concatenate(out, axis=1)


def map_error(scene: Scene, many: tuple[Place, ...], sun: Sun, *, hours: int, seed: int = 5) -> MapError:
    up = np.flatnonzero(sun.up)
    towards = sun_directions(sun, heading=HEADING)[np.random.default_rng(seed).choice(up, hours, replace=False)]
    truth = true_light(scene, many, towards)
    read = light_from(place_tables(dome_map(scene)), towards)
    error = np.abs(read.lit - truth)
    partly = (truth > 0.02) & (truth < 0.98)
    within = (truth >= read.low - 1e-9) & (truth <= read.high + 1e-9)
    return MapError(
        names=read.names,
        mean=error.mean(axis=1),
        mean_partly=np.array([e[k].mean() if k.any() else np.nan for e, k in zip(error, partly, strict=True)]),
        p95=np.percentile(error, 95, axis=1),
        covered=within.mean(axis=1),
        margin=(read.high - read.low).mean(axis=1) / 2,
    )


def best(work: Callable[[], object], *, tries: int = 3) -> float:
    """Return the shortest time of a few, which another program on the same cores lengthens least [s]."""
    times = []
    for _ in range(tries):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def map_speed(scene: Scene, sun: Sun, *, sample: int = 200, seed: int = 5) -> MapSpeed:
    dome_map(scene)
    start = time.perf_counter()
    known = dome_map(scene)
    build = time.perf_counter() - start
    panel = scene.of_kind("cloth")[-1]
    start = time.perf_counter()
    with_casters(without(known, [panel.panel]), [caster_of(panel)])
    one_panel = time.perf_counter() - start
    shade_hours(place_tables(known), sun, headings=on_heading(HEADING))
    look_up = best(lambda: shade_hours(place_tables(known), sun, headings=on_heading(HEADING)))
    up = np.flatnonzero(sun.up)
    towards = sun_directions(sun, heading=HEADING)[np.random.default_rng(seed).choice(up, sample, replace=False)]
    tracer, points = tracer_of(*scene.of_kind("boat", "solid", "tube", "sail", "cloth")), lifted(scene.places)
    ask = np.ones((len(points), 1), dtype=bool)
    tracer.occluded_grid(points, towards[:1], ask=ask)
    call = best(lambda: [tracer.occluded_grid(points, one[None], ask=ask) for one in towards]) / sample
    # the same in one plain call, where that is the faster way to ask for a single direction
    plain = best(lambda: [tracer.occluded(points, np.broadcast_to(one, points.shape)) for one in towards]) / sample
    return MapSpeed(
        build=build, one_panel=one_panel, look_up=look_up, call_an_hour=min(call, plain) * len(up), hours=len(up)
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--boats", nargs="*", default=list(BOATS))
    parser.add_argument("--sets", nargs="*")
    parser.add_argument("--hours", type=int, default=400)
    parser.add_argument("--points", type=int, default=20000)
    parser.add_argument("--no-speed", action="store_true")
    asked = parser.parse_args()
    sun = year_of_suns()
    for boat in asked.boats:
        rigging = Rigging(build_model(read_design(EXAMPLES / f"{boat}.toml")))
        many = other_places(boat, asked.points)
        for name in asked.sets or rigging.model.design.set_names():
            if name not in rigging.model.design.set_names():
                continue
            scene = rigging.rig(name).scene
            print(f"{boat}, {name}", flush=True)
            if not asked.no_speed and name != "bare":
                s = map_speed(scene, sun)
                print(
                    f"  build {s.build:.2f} s, one panel {s.one_panel:.3f} s, {s.hours} hours looked up "
                    f"{s.look_up * 1e3:.0f} ms, a call an hour {s.call_an_hour:.1f} s: {s.ratio:.0f} x"
                )
            e = map_error(scene, many, sun, hours=asked.hours)
            for row in zip(e.names, e.mean, e.mean_partly, e.p95, e.covered, e.margin, strict=True):
                print(
                    "  {:28s} mean {:.2%} partly {:.2%} p95 {:.2%} covered {:.1%} margin {:.2%}".format(*row),
                    flush=True,
                )


if __name__ == "__main__":
    main()

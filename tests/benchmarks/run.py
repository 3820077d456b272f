"""Print one table of how fast the program is, and how its cost grows: figure, goal, and what it is measured against.

Computes: wall seconds of whole commands and of the parts that the goals name, each beside a plain reference timed in
    the same run; exponents of cost against size, fitted on logarithms.
Units: seconds, shares, counts.
Source: the goals stand in the project's issues and are repeated in the table.
Limits: run on an idle machine; another machine gives other seconds, but much the same ratios. The map's error and a
    fine angle of flow take many minutes; a whole rose of flow takes hours and is not here, see `tests/benchmarks/flow`.

Run: python -m tests.benchmarks.run [--only NAME ...] [--csv FILE]
"""

from __future__ import annotations

import argparse
import csv
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from itertools import product
from pathlib import Path
from unittest import mock

import numpy as np

from tests.benchmarks.growth import growth_rows
from tests.benchmarks.sky.map_study import BOATS, EXAMPLES, map_error, map_speed, other_places, year_of_suns

VERBS = ("check", "shade", "rain", "vane", "fit", "loads", "cut", "buy", "report")
GOALS = {"rain": 3.0, "fit": 3.0, "loads": 3.0, "report": 25.0}  # seconds, where one is set


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One figure: what was measured, its goal in words, and the plain reference of the same run."""

    group: str
    name: str
    figure: str
    goal: str = ""
    reference: str = ""


def best_of(work: Callable[[], object], times: int = 3) -> float:
    """Return the least of some wall times of one piece of work [s]."""
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return min(taken)


def command(*words: str) -> None:
    subprocess.run([sys.executable, *words], check=True, capture_output=True)


def start_rows() -> Iterator[Row]:
    bare = best_of(lambda: command("-c", "pass"), 5)
    helped = best_of(lambda: command("-m", "canvas.cli", "--help"), 5)
    yield Row(group="start", name="canvas --help", figure=f"{helped:.2f} s", goal="< 0.3 s",
              reference=f"python -c pass {bare:.2f} s")  # fmt: skip


def verb_rows() -> Iterator[Row]:
    """Time every verb on every example as a user calls it, everything included: with nothing kept, and again."""
    bare = best_of(lambda: command("-c", "import numpy, scipy.sparse.linalg, pvlib"))
    for boat, verb in product(BOATS, VERBS):
        taken = []
        for _ in range(2):
            kept = tempfile.TemporaryDirectory()
            with kept as folder, mock.patch.dict(os.environ, {"CANVAS_CACHE": f"{folder}/kept"}):
                out = ["-o", f"{folder}/out"] if verb in ("cut", "report") else []
                asked = partial(command, "-m", "canvas.cli", verb, str(EXAMPLES / f"{boat}.toml"), *out)
                taken.append([best_of(asked, 1) for _ in ("first", "again")])
        first, again = np.min(taken, axis=0)
        goal = f"< {GOALS[verb]:.0f} s" if verb in GOALS else ""
        yield Row(group="verb", name=f"{verb} {boat}", figure=f"{first:.1f} s, again {again:.1f} s", goal=goal,
                  reference=f"importing numpy, scipy, pvlib {bare:.1f} s")  # fmt: skip


def map_rows() -> Iterator[Row]:
    from canvas import verbs

    sun = year_of_suns()
    for boat in BOATS:
        rigging = verbs.rigging_of(EXAMPLES / f"{boat}.toml")
        most = max(rigging.model.design.set_names(), key=lambda name: len(rigging.rig(name).scene.of_kind("cloth")))
        scene = rigging.rig(most).scene
        points = sum(len(place.points) for place in scene.places)
        speed = map_speed(scene, sun)
        name = f"{boat}, {most}, {points} points"
        yield Row(group="map", name=f"build, {name}", figure=f"{speed.build:.2f} s", goal="< 2 s for 2,000 points")
        yield Row(group="map", name=f"one panel, {name}", figure=f"{speed.one_panel:.3f} s", goal="< 0.1 s")
        figure = f"{speed.look_up:.3f} s, {speed.ratio:.0f} x"
        yield Row(group="map", name=f"a year, {name}", figure=figure, goal=">= 50 x",
                  reference=f"a call an hour {speed.call_an_hour:.1f} s")  # fmt: skip


def survey_rows() -> Iterator[Row]:
    from canvas.survey.adjust import adjust
    from tests.survey.boats import five_hundred

    boat = five_hundred()
    design = np.random.default_rng(11).normal(size=(len(boat.readings), 3 * len(boat.places)))
    whole = best_of(lambda: adjust(boat.readings, datum=boat.datum))
    once = best_of(lambda: np.linalg.lstsq(design, np.ones(len(design))))
    yield Row(group="survey", name="adjust 500 readings from no coordinates", figure=f"{whole:.2f} s", goal="< 1 s",
              reference=f"one dense least squares of that size {once:.3f} s")  # fmt: skip


def cloth_rows() -> Iterator[Row]:
    from canvas.cutting.flatten import flatten
    from canvas.cutting.nest import nest_outlines, shelf_length
    from tests.cutting import cut_shapes
    from tests.cutting.test_flattening import one_factor
    from tests.cutting.test_nesting import WIDTH, random_parts

    vertices, faces = cut_shapes.surface(
        lambda u, v: (u, v, 0.15 * (u * u - v * v) + 0.05 * u * v), np.linspace(-1, 1, 101), np.linspace(-1, 1, 101)
    )
    warp = np.tile([1.0, 0.0, 0.0], (len(faces), 1))
    flat = best_of(lambda: flatten(vertices, faces, warp=warp))
    factor = best_of(lambda: one_factor(vertices, faces))
    yield Row(group="cloth", name="flatten 20,000 triangles", figure=f"{flat:.2f} s", goal="< 1 s",
              reference=f"one sparse factor of that size {factor:.2f} s")  # fmt: skip
    vertices, faces = cut_shapes.surface(
        lambda u, v: (u, 0.5 * np.sin(v), 0.5 * np.cos(v)), np.linspace(0, 2, 101), np.linspace(-1, 1, 101)
    )
    rolled = flatten(vertices, faces, warp=warp)
    wide = [np.linalg.norm(np.diff(rolled.uv[row], axis=0), axis=1).sum() for row in (range(101), range(-101, 0))]
    chords = 100 * 2 * 0.5 * np.sin(1 / 100)
    yield Row(group="cloth", name="flatten part of a cylinder, 20,000 triangles", goal="< 0.1 % along an edge",
              figure=f"{100 * max(abs(one / chords - 1) for one in wide):.4f} %", reference="unrolled")  # fmt: skip
    for seed in range(4):
        parts = random_parts(seed)
        start = time.perf_counter()
        layout = nest_outlines(parts, width=WIDTH)
        taken = time.perf_counter() - start
        saved = 1 - layout.length / shelf_length(parts, width=WIDTH)
        yield Row(group="cloth", name=f"nest 20 drawn parts, list {seed}", goal=">= 8 %, < 20 s",
                  figure=f"{100 * saved:.1f} % shorter, {taken:.1f} s", reference="shelf packing")  # fmt: skip


def error_rows(hours: int = 400, points: int = 20_000) -> Iterator[Row]:
    """Compare each example's map with direct rays on many other points, the worst place of all sets in each figure."""
    from canvas import verbs

    sun = year_of_suns()
    for boat in BOATS:
        rigging, many = verbs.rigging_of(EXAMPLES / f"{boat}.toml"), other_places(boat, points)
        found = [
            map_error(rigging.rig(name).scene, many, sun, hours=hours) for name in rigging.model.design.set_names()
        ]
        worst = [max(float(np.nanmax(getattr(one, key))) for one in found) for key in ("mean", "mean_partly", "p95")]
        yield Row(group="error", name=f"shade by the map, {boat}, worst place of {len(found)} sets",
                  figure="{:.2f}, {:.2f}, {:.2f} %".format(*(100 * one for one in worst)),
                  goal="<= 0.5, 0.8, 2.5 %", reference=f"rays on {points} other points")  # fmt: skip


def viewer_rows() -> Iterator[Row]:
    """Ask the viewer's own measure, which says what was asked in each of its lines."""
    done = subprocess.run(
        [sys.executable, "-m", "tests.benchmarks.viewer.recolour"], check=True, capture_output=True, text=True
    )
    for line in done.stdout.splitlines():
        what, _, found = line.partition(": ")
        name, _, asked = what.partition(", asked ")
        if asked:
            yield Row(group="viewer", name=name, figure=found.partition(" (")[0], goal=f"{asked} ms",
                      reference=done.stdout.splitlines()[0])  # fmt: skip


def flow_rows() -> Iterator[Row]:
    from canvas.verbs.asking import rigging_of
    from canvas.wind.flow.run import Rose, rose
    from canvas.wind.flow.runner import Conditions
    from tests.benchmarks.flow.speed import rates

    best = max(rates(2, kinds=("uniform",)), key=lambda one: float(str(one["share_of_roofline"])))
    yield Row(group="flow", name="updates a second, even grid, 2 threads", goal=">= 70 % of the bandwidth",
              figure=f"{float(str(best['updates_per_s'])) / 1e6:.0f} million, {best['share_of_roofline']:.0%}",
              reference=f"a triad moves {float(str(best['bytes_per_s'])) / 1e9:.1f} GB/s")  # fmt: skip
    rigging = rigging_of(EXAMPLES / "marrowgrass.toml")
    scenes = [rigging.rig(name).scene for name in ("bare", "wet watch")]
    wind = Conditions(aws=6.0, instrument_height=rigging.model.instrument_height)
    ring = [float(np.radians(angle)) for angle in range(-165, 181, 15)]
    for name, goal, cell, angles in (
        ("coarse rose: 24 angles, bare and one set", "< 90 s", 0.20, ring),
        ("fine angle: bare and one set", "<= 300 s", 0.04, [float(np.radians(32))]),
    ):
        with tempfile.TemporaryDirectory() as kept:  # one brief run first: loops are compiled once
            run = partial(rose, scenes, wind, fine=None, folder=Path(kept), device="cpu")
            run(angles=angles[:1], coarse=0.2, settle=0.02, average=0.02)
            found: list[Rose] = []
            taken = best_of(lambda: found.append(run(angles=angles, coarse=cell)), 1)  # noqa: B023 - called at once
        yield Row(group="flow", name=name, figure=f"{taken:.0f} s, {found[0].updates / 1e9:.1f}e9 updates", goal=goal)


GROUPS: dict[str, Callable[[], Iterator[Row]]] = {
    "start": start_rows, "verb": verb_rows, "map": map_rows, "survey": survey_rows, "cloth": cloth_rows,
    "error": error_rows, "viewer": viewer_rows, "flow": flow_rows,
    "growth": lambda: (Row(group="growth", name=one.name, figure=one.told) for one in growth_rows()),
}  # fmt: skip


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--only", nargs="*", choices=list(GROUPS), default=list(GROUPS))
    parser.add_argument("--csv", type=Path)
    asked = parser.parse_args()
    rows = []
    print(f"{'':8}{'what':58}{'figure':36}{'goal':26}reference in the same run")
    for group in asked.only:
        for row in GROUPS[group]():
            rows.append(row)
            print(f"{row.group:8}{row.name:58}{row.figure:36}{row.goal:26}{row.reference}", flush=True)
    if asked.csv is not None:
        with asked.csv.open("w", newline="", encoding="utf-8") as stream:
            writer = csv.writer(stream, lineterminator="\n")
            writer.writerow(["group", "what", "figure", "goal", "reference"])
            writer.writerows((r.group, r.name, r.figure, r.goal, r.reference) for r in rows)


if __name__ == "__main__":
    main()

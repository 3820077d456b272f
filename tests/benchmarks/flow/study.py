"""March many (boat, set, angle, cell) cases and keep their reduced series; resumable by case.

Run: python -m tests.benchmarks.flow.study --plan NAME ... --out DIR [--boats NAME ...] [--scenes DIR] [--workers N]
    [--seconds N]
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import pickle
import time
from dataclasses import replace
from pathlib import Path

import numpy as np

BOATS = ("marrowgrass", "oddfellow", "lantern-hill")
SETS = {
    "marrowgrass": ("hood and bimini", "wet watch", "closed tent"),
    "oddfellow": ("spray hood", "wet watch", "wet watch, side up"),
    "lantern-hill": ("windscreen and roof", "wet watch", "closed in"),
}


def case(boat, name, awa, cell, **more):
    return {"boat": boat, "set": name, "awa": awa, "cell": cell, "turned": 0, "seed": 1, **more}


def plan(name: str) -> list[dict]:
    """Return the cases of a plan, the most telling first."""
    sets = ("bare", *SETS["marrowgrass"])
    if name == "smoke":
        return [case("marrowgrass", s, 0, 0.08) for s in sets]
    if name == "convergence":
        first = [case("marrowgrass", s, a, c) for c in (0.04, 0.06, 0.08, 0.12) for a in (0, 15, 30, 8) for s in sets]
        return first + [case("marrowgrass", s, a, 0.03) for a in (0, 15, 8, 30) for s in sets]
    if name == "rose":
        return [
            case(b, s, a, 0.06)
            for a in (0, 180, 32, 90, -32, 135, 15, -90, -135, 60, -60, 160)
            for b in BOATS
            for s in ("bare", *SETS[b])
        ]
    if name == "coarse":
        return [case(b, s, a, 0.2) for a in range(-165, 181, 15) for b in BOATS for s in ("bare", *SETS[b])]
    if name == "coarse-short":
        return [
            case(b, s, a, 0.2, settle=0.6, average=0.6)
            for a in range(-165, 181, 15)
            for b in BOATS
            for s in ("bare", *SETS[b])
        ]
    if name == "short":
        return [
            case(b, s, a, 0.04, settle=0.6, average=1.2)
            for b in BOATS
            for a in ((0, 15, 30, 8, 32, 90, 135, -32, 60, -60) if b == BOATS[0] else (0, 32, 180, 90, 135, 15))
            for s in ("bare", *SETS[b])
        ]
    if name == "finest":
        return [case("marrowgrass", s, 0, 0.03) for s in sets]
    if name == "others":
        return [case(b, s, a, 0.04) for a in (0, 32, 180, 90, 135, 15) for b in BOATS[1:] for s in ("bare", *SETS[b])]
    if name == "courses":
        return [case("marrowgrass", s, a, 0.04) for a in (32, 90, 135, -32, 60, -60) for s in sets]
    if name == "third":
        return [case(b, s, a, 0.03) for a in (15, 135) for b in BOATS[1:] for s in ("bare", *SETS[b])]
    if name == "turned-fine":
        return [case("marrowgrass", s, 15, 0.04, turned=30) for s in sets]
    if name == "turned":
        return [
            case("marrowgrass", s, a, 0.06, turned=t, seed=d)
            for s in sets for a in (15, 0) for t, d in ((30, 1), (0, 2), (0, 3))
        ]  # fmt: skip
    if name == "uniform":
        where = [(a, s) for a, some in ((0, sets), (15, ("bare", "wet watch"))) for s in some]
        return [case("marrowgrass", s, a, 0.08, average=6, **how) for a, s in where for how in ({"uniform": True}, {})]
    if name == "uniform-fine":  # 190 million cells: 27 GB on the card, 70 GB beside it
        return [case("marrowgrass", s, 0, 0.04, uniform=True) for s in sets]
    if name == "ahead":
        return [case("marrowgrass", s, 0, 0.03, grow=0.12) for s in sets]
    if name == "turned-long":
        return [case("marrowgrass", s, 15, 0.04, turned=t, average=6) for t in (0, 30) for s in ("bare", "closed tent")]
    if name == "turned-third":
        return [case("marrowgrass", s, 15, 0.03, turned=t, average=4) for t in (0, 30) for s in ("bare", "closed tent")]
    if name == "fourth":
        return [
            case(b, s, a, 0.03) for b, a in ((BOATS[1], 0), (BOATS[1], 32), (BOATS[2], 32)) for s in ("bare", *SETS[b])
        ]
    if name == "deep":  # where bare boat and set both lie in a wake, and beside it
        where = [(a, c) for a in (-15, -105, -30, -45) for c in (0.04, 0.03)]
        return [case(BOATS[1], s, a, c) for a, c in where for s in ("bare", "wet watch")]
    if name == "half":
        return [case(BOATS[1], s, a, 0.02) for a in (15, 0, -15) for s in ("bare", "wet watch")]
    if name == "half-beside":
        return [case(BOATS[1], s, a, 0.02) for a in (-105, -30, -45) for s in ("bare", "wet watch")]
    if name == "half-first":
        return [case(BOATS[0], s, a, 0.02) for a in (8, 0, 15) for s in ("bare", "closed tent", "wet watch")]
    if name == "half-last":
        return [case(BOATS[2], s, 15, 0.02) for s in ("bare", *SETS[BOATS[2]])]
    if name == "half-astern":  # -75 deg runs away with 2 cm
        where = [(a, c) for a in (60, 75, 180, -75) for c in (0.04, 0.03, 0.02) if (a, c) != (-75, 0.02)]
        return [case(BOATS[2], s, a, c) for a, c in where for s in ("bare", "wet watch")]
    if name == "half-close":
        return [case(BOATS[0], s, a, 0.02) for a in (30, 32) for s in ("bare", "closed tent", "wet watch")]
    if name == "half-rose":
        where = {BOATS[0]: (-32, 60, 90, 135), BOATS[1]: (32, 90, 135, 180), BOATS[2]: (0, 32, 90, 135)}
        return [case(b, s, a, 0.02) for b, angles in where.items() for a in angles for s in ("bare", "wet watch")]
    if name == "half-others":
        held = [case(BOATS[1], s, a, 0.02) for a in (15, 0) for s in ("spray hood", "wet watch, side up")]
        return [*held, *(case(BOATS[1], "spray hood", -15, c) for c in (0.03, 0.02))]
    if name == "astern":
        return [case("marrowgrass", s, 180, c) for c in (0.04, 0.08) for s in sets]
    if name == "checks":
        close = [case("marrowgrass", s, 32, 0.04, without="mainsail") for s in ("bare", "wet watch")]
        mirror = [
            case("marrowgrass", s, a, 0.04, average=12, **how)
            for s in ("bare", "wet watch") for a, how in ((-32, {"mirror": True}), (32, {}))
        ]  # fmt: skip
        grown = [case("lantern-hill", s, 180, 0.04, grow=g) for s in ("bare", "closed in") for g in (0.12,)]
        return close + mirror + grown
    raise SystemExit(f"no plan {name}")


def key(one: dict) -> str:
    return json.dumps(one, sort_keys=True)


def scenes_of(boat: str, folder: str | None):
    if folder:
        return pickle.loads((Path(folder) / f"{boat}.pickle").read_bytes())
    from canvas import verbs

    rigging = verbs.rigging_of(f"examples/{boat}.toml")
    return {name: rigging.rig(name).scene for name in verbs.chosen_sets(rigging, None)}


def changed(scene, one: dict):
    """Return the scene mirrored, or without one surface, where the case asks for it."""
    flip = np.array([1.0, -1.0, 1.0]) if one.get("mirror") else np.ones(3)
    order = [0, 2, 1] if one.get("mirror") else [0, 1, 2]
    surfaces = tuple(
        replace(s, vertices=s.vertices * flip, faces=s.faces[:, order])
        for s in scene.surfaces
        if s.name != one.get("without")
    )
    blade = replace(scene.blade, points=scene.blade.points * flip, foot=scene.blade.foot * flip)
    return replace(scene, surfaces=surfaces, blade=blade)


def run(task):
    one, folder = task
    from canvas.air.profile import profile_ratio
    from canvas.jobs.failure import CouldNot
    from canvas.wind.blade import felt
    from canvas.wind.flow.domain import lay
    from canvas.wind.flow.grid import nest
    from canvas.wind.flow.march import AVERAGE, SETTLE, march
    from canvas.wind.trim import eased

    start = time.time()
    scenes = scenes_of(one["boat"], folder)
    scenes = {name: changed(scene, one) for name, scene in scenes.items()}
    layout = lay(
        [scenes[s] for s in ("bare", *SETS[one["boat"]])], awa=np.radians(one["awa"]), cell=one["cell"],
        turned=np.radians(one["turned"]), grow=one.get("grow", 0.0),
    )  # fmt: skip

    if one.get("uniform"):
        outer = layout.grids[0]
        low = outer.origin + 0.5 * outer.cell
        high = low + (np.array(outer.shape) - 2) * outer.cell
        layout = replace(layout, grids=tuple(nest(low, high, [], cell=one["cell"])))

    def wind(z):
        return np.stack([profile_ratio(z, reference=10.0), np.zeros_like(z)], axis=1)

    try:
        got = march(
            layout, eased(scenes[one["set"]], layout.pose.awa), wind=wind, device="auto", seed=one["seed"],
            settle=one.get("settle", SETTLE), average=one.get("average", AVERAGE),
        )  # fmt: skip
    except CouldNot as error:
        return key(one), None, f"{type(error).__name__}: {error}", time.time() - start
    blade = felt(time=got.time, velocity=got.velocity, free=got.free)
    series = np.stack([blade.along, blade.across, blade.speed, blade.square]).astype(np.float32)
    about = {
        "updates": got.updates, "seconds": time.time() - start, "step": float(got.time[1]),
        "free": [blade.free_along, blade.free_across],
    }  # fmt: skip
    return key(one), series, about, time.time() - start


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--plan", nargs="+", required=True)
    parser.add_argument("--out", required=True)
    parser.add_argument("--scenes")
    parser.add_argument("--boats", nargs="*", default=list(BOATS))
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--seconds", type=float, default=1e9)
    wanted = parser.parse_args()
    start = time.time()
    out = Path(wanted.out)
    done: dict[str, tuple] = {}
    for old in sorted(out.glob("*.npz")):
        with np.load(old, allow_pickle=False) as held:
            done |= {k: (held[f"s{i}"], json.loads(str(held[f"a{i}"]))) for i, k in enumerate(held["keys"])}
    todo = [one for name in wanted.plan for one in plan(name) if one["boat"] in wanted.boats]
    todo = [one for one in todo if key(one) not in done]
    fresh: dict[str, tuple] = {}
    spawn = multiprocessing.get_context("spawn")
    with spawn.Pool(wanted.workers, maxtasksperchild=200) as pool:
        tasks = pool.imap_unordered(run, [(one, wanted.scenes) for one in todo])
        for _ in todo:
            left = wanted.seconds - (time.time() - start)
            try:
                name, series, about, took = tasks.next(timeout=max(left, 0.1))
            except multiprocessing.TimeoutError:
                print("stopped: out of time", flush=True)
                pool.terminate()
                break
            if series is None:
                print("FAILED", name, about, flush=True)
                continue
            fresh[name] = (series, about)
            one = json.loads(name)
            print(
                f"{time.time() - start:6.0f}s {one['boat'][:6]:6s} {one['set'][:16]:16s} {one['awa']:5d}"
                f" {one['cell']:.2f}"
                f" speed {series[2].mean():.3f} along {series[0].mean():+.3f} rms {series[2].std():.3f}"
                f" {about['updates'] / 1e9:6.1f}G {took:5.1f}s",
                flush=True,
            )
    held = {"keys": np.array(list(fresh))}
    for i, (series, about) in enumerate(fresh.values()):
        held[f"s{i}"], held[f"a{i}"] = series, np.array(json.dumps(about))
    out.mkdir(parents=True, exist_ok=True)
    np.savez_compressed(out / f"{'-'.join(wanted.plan)}-{len(done):04d}.npz", **held)
    print("cases", len(fresh), "seconds", round(time.time() - start), flush=True)


if __name__ == "__main__":
    main()

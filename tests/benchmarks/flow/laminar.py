"""Laminar flows against published figures: cavity, cylinder in a channel, thin fence, backward-facing step.

Run: python -m tests.benchmarks.flow.laminar --out FILE.csv [--only NAME ...] [--workers N]
Resumable by case: cases already in FILE are not run again.
"""

from __future__ import annotations

import argparse
import csv
import multiprocessing
import time
from pathlib import Path

import numpy as np

from canvas.wind.flow import cells
from canvas.wind.flow.cut import Sheet
from canvas.wind.flow.grid import nest
from canvas.wind.flow.solver import Flow
from tests.wind.flow_cases import box, cavity, outward, plate

FAR = (-5.0, -5.0)
PUBLISHED = Path(__file__).parents[2] / "published" / "flow"
COLUMNS = ("case", "cells", "quantity", "value", "updates")


class Channel:
    """A flow between two walls, one cell deep along y, held to a mean speed.

    The ends of a grid hold what flows in at density one, so that a pressure drop along the channel would slow it: the
    profile held there is scaled until the flux inside is the one asked for.
    """

    def __init__(self, length, height, sheets, *, profile, mean, viscosity, device):
        self.profile, self.mean, self.height, self.factor = profile, mean, height, 1.0
        self.flow = channel(length, height, sheets, profile=profile, viscosity=viscosity, device=device)

    def hold(self) -> float:
        """Scale what is held at the ends towards the flux asked for; return the flux found over it."""
        level = self.flow.levels[0]
        now = self.flow.now(0)
        found = float(((1 + now[0]) * now[1])[2 : self.height + 2, 1, 5:-5].mean(dtype=float)) / self.mean
        self.factor /= found
        nx, ny, nz = level.grid.shape
        heights = level.grid.origin[2] + np.arange(nz)
        start = np.zeros((10, nz, ny), dtype=np.float32)
        start[1] = (self.factor * self.profile(np.maximum(heights, 0.0)))[:, None]
        ends = np.stack(cells.populations(*start)).astype(np.float32)
        for name in ("f", "g"):
            whole = np.array(self.flow.device.host(getattr(level, name))).reshape(19, -1)
            grid = whole[:, : level.grid.size].reshape(19, nz, ny, nx)
            grid[..., 0], grid[..., -1] = ends, ends
            whole[:, : level.grid.size] = grid.reshape(19, -1)
            setattr(level, name, self.flow.device.array(whole.ravel()))
        return found

    def until_steady(self, *, chunk: int, most: int) -> None:
        """March until neither flow nor flux changes by more than 5e-5 in a chunk of steps."""
        before = None
        for _ in range(most):
            self.flow.advance(chunk)
            found = self.hold()
            now = self.flow.now(0)[1:, :, 1]
            if before is not None and np.abs(now - before).max() < 5e-5 * self.mean and abs(found - 1.0) < 2e-4:
                return
            before = now
        self.flow.check()


def channel(length: float, height: int, sheets: list, *, profile, viscosity: float, device: str) -> Flow:
    """Return a flow between two walls, one cell deep along y; `profile` is held at both ends."""
    far = (length + 5.0, 9.0)
    walls = [plate(2, 0.0, FAR, far), plate(2, float(height), FAR, far)]
    grids = nest(np.array([0.0, 0.0, -1.0]), np.array([length, 1.0, height + 1.0]), [], cell=1.0, sea=False)

    def wind(z):
        return np.stack([profile(z), np.zeros_like(z)], axis=1)

    return Flow(
        grids, [*walls, *sheets], wind=wind, viscosity=viscosity, periodic=(1,), smagorinsky=0.0, noise=0.0,
        device=device,
    )  # fmt: skip


def parabola(low: float, high: float, mean: float):
    """Return a profile of the mean speed given between two heights, zero outside."""

    def profile(z):
        part = np.clip((z - low) / (high - low), 0.0, 1.0)
        return 6.0 * mean * part * (1.0 - part)

    return profile


def cylinder(reynolds: float, diameter: int, device: str) -> list[tuple[str, float, int]]:
    """Return drag (mean, largest), lift and Strouhal number of the cylinder in its channel."""
    mean, height, length = 0.04, round(4.1 * diameter), 22 * diameter
    turn = np.linspace(0.0, 2 * np.pi, 361)
    x, z = 2 * diameter + 0.5 * diameter * np.cos(turn), 2 * diameter + 0.5 * diameter * np.sin(turn)
    low, high = (np.stack([x, np.full_like(x, y), z], axis=1) for y in (-5.0, 9.0))
    side = np.concatenate(
        [np.stack([low[:-1], low[1:], high[1:]], axis=1), np.stack([low[:-1], high[1:], high[:-1]], axis=1)]
    )
    held = Channel(
        length, height, [Sheet(corners=side, closed=True)], profile=parabola(0.0, height, mean), mean=mean,
        viscosity=mean * diameter / reynolds, device=device,
    )  # fmt: skip
    flow = held.flow
    every, period = 25, diameter / (0.3 * mean)
    average = 1 if reynolds < 50 else 10
    if reynolds < 50:
        held.until_steady(chunk=10000, most=20)
    else:
        for _ in range(16):
            flow.advance(round(3 * period))
            held.hold()
        flow.advance(round(8 * period))
        flow.check()
    drag, lift = [], []
    for _ in range(round(average * period / every)):
        flow.forget()
        flow.advance(every)
        force = flow.force()[2] / (0.5 * mean**2 * diameter)
        drag.append(force[0])
        lift.append(force[2])
    drag, lift = np.array(drag), np.array(lift)
    found = [("flux_over_asked", held.hold()), ("c_D", drag.mean()), ("c_D_max", drag.max()), ("c_L_max", lift.max())]
    if reynolds > 50:
        up = np.flatnonzero((lift[:-1] < lift.mean()) & (lift[1:] >= lift.mean()))
        at = up + (lift.mean() - lift[up]) / (lift[up + 1] - lift[up])
        found.append(("Strouhal", diameter / (every * np.diff(at).mean() * mean)))
    return [(name, float(value), flow.updates) for name, value in found]


def crossings(speed: np.ndarray) -> tuple[list[float], list[float]]:
    """Return the places in a row of speeds where it turns from negative to positive, and from positive to negative."""
    up = np.flatnonzero((speed[:-1] < 0) & (speed[1:] >= 0))
    down = np.flatnonzero((speed[:-1] >= 0) & (speed[1:] < 0))
    return tuple([float(i + speed[i] / (speed[i] - speed[i + 1])) for i in part] for part in (up, down))


def fence(height: int, thickness: float, reynolds: float, device: str) -> list[tuple[str, float, int]]:
    """Return the bubbles behind a fence of three quarters of the channel, in fence heights."""
    mean, tall = 0.02, 0.75 * height
    thick = thickness * height
    rear = round(8 * tall) + thick
    body = (
        outward(box((rear - thick, -5.0, -5.0), (rear, 9.0, tall)))
        if thickness
        else plate(0, rear, (-5.0, -5.0), (9.0, tall))
    )
    held = Channel(
        round(23 * tall), height, [body], profile=parabola(0.0, height, mean), mean=mean,
        viscosity=mean * tall / reynolds, device=device,
    )  # fmt: skip
    held.until_steady(chunk=10000, most=40)
    now = held.flow.now(0)[1, :, 1]
    behind = int(np.ceil(rear)) + 2
    up, _ = crossings(now[2, behind:-20])
    closed, opened = crossings(now[height + 1, 1:-20])
    found = [("flux_over_asked", held.hold()), ("reattachment_length", (up[-1] + behind - 0.5 - rear) / tall)]
    if opened and closed:
        found.append(("upper_wall_separation", (opened[0] + 0.5 - rear) / tall))
        found.append(("upper_wall_reattachment", (closed[-1] + 0.5 - rear) / tall))
    return [(name, float(value), held.flow.updates) for name, value in found]


def step(height: int, device: str) -> list[tuple[str, float, int]]:
    """Return the bubbles behind a step of half the channel at Reynolds number 800, in channel heights."""
    mean = 0.06
    held = Channel(
        30 * height, height, [], profile=parabola(0.5 * height, height, mean), mean=0.5 * mean,
        viscosity=mean * height / 800.0, device=device,
    )  # fmt: skip
    held.until_steady(chunk=20000, most=25)
    now = held.flow.now(0)[1, :, 1]
    up, _ = crossings(now[2, 1 : 25 * height])
    closed, opened = crossings(now[height + 1, 1 : 25 * height])
    found = [("flux_over_asked", held.hold()), ("lower_reattachment", (up[-1] + 0.5) / height)]
    found += [("upper_separation", (opened[0] + 0.5) / height), ("upper_reattachment", (closed[-1] + 0.5) / height)]
    return [(name, float(value), held.flow.updates) for name, value in found]


def lid(reynolds: int, size: int, device: str) -> list[tuple[str, float, int]]:
    """Return u up the middle and v across the middle of the lid-driven cavity, at the places of the table."""
    centres, u, v = cavity(reynolds, size, device=device, most=400)
    found = []
    for name, axis, values in (("u", "y", u), ("v", "x", v)):
        with (PUBLISHED / f"ghia_{name}.csv").open(newline="", encoding="utf-8") as stream:
            places = [row[f"{axis}_over_L"] for row in csv.DictReader(stream)]
        for at in places:
            if 0 < float(at) < 1:
                found.append((f"{name} at {axis}/L = {at}", float(np.interp(float(at), centres, values)), 0))
    return found


CASES = {
    "cavity Re 100": (lid, (100, 128)),
    "cavity Re 400": (lid, (400, 128)),
    "cavity Re 1000": (lid, (1000, 192)),
    "cylinder 2D-1": (cylinder, (20, 40)),
    "cylinder 2D-2": (cylinder, (100, 40)),
    "fence": (fence, (60, 0.133, 82.5)),
    "thin fence": (fence, (60, 0.0, 82.5)),
    "fence, 40 cells": (fence, (40, 0.133, 82.5)),
    "thin fence, 40 cells": (fence, (40, 0.0, 82.5)),
    "fence, 40 cells, Re 55": (fence, (40, 0.133, 55.0)),
    "thin fence, 40 cells, Re 55": (fence, (40, 0.0, 55.0)),
    "step Re 800, 48 cells": (step, (48,)),
    "step Re 800, 96 cells": (step, (96,)),
    "step Re 800": (step, (64,)),
}


def run(task: tuple[str, str]) -> list[dict]:
    name, device = task
    work, asked = CASES[name]
    start = time.time()
    about = {"case": name, "cells": asked[1] if work in {lid, cylinder} else asked[0]}
    rows = [
        {**about, "quantity": quantity, "value": f"{value:.5f}", "updates": updates}
        for quantity, value, updates in work(*asked, device)
    ]
    print(f"{time.time() - start:5.0f}s", name, [(r["quantity"], r["value"]) for r in rows][:4], flush=True)
    return rows


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--out", required=True)
    parser.add_argument("--only", nargs="*", default=list(CASES))
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--device", default="auto")
    wanted = parser.parse_args()
    out = Path(wanted.out)
    rows = list(csv.DictReader(out.open(newline="", encoding="utf-8"))) if out.exists() else []
    done = {row["case"] for row in rows}
    todo = [(name, wanted.device) for name in wanted.only if name not in done]
    with multiprocessing.get_context("spawn").Pool(wanted.workers) as pool:
        for found in pool.imap_unordered(run, todo):
            rows += found
            with out.open("w", newline="", encoding="utf-8") as stream:
                writer = csv.DictWriter(stream, COLUMNS, lineterminator="\n")
                writer.writeheader()
                writer.writerows(rows)


if __name__ == "__main__":
    main()

"""Drag of plates, cube and porous strips, and the slowing ahead of a disc, at several resolutions.

Run: python -m tests.benchmarks.flow.drag --out FILE.csv [--workers N]
Resumable by case: cases already in FILE are not run again. A sheet is felt by the links it cuts, so that its edges snap
to half cells; `area` is what those links make of the body (the area on which an even pressure acts), over the nominal,
and `c_D_felt` the drag on it.
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
from canvas.wind.flow.domain import LATTICE_SPEED
from canvas.wind.flow.grid import nest
from canvas.wind.flow.march import VISCOSITY
from canvas.wind.flow.solver import Flow
from tests.wind.flow_cases import box, plate

SETTLE, AVERAGE = 40.0, 100.0  # sizes of the body that the wind travels, before and in each of two halves
STRIP_SETTLE, STRIP_AVERAGE, SHED_AVERAGE = 51.0, 30.0, 90.0  # the same of strips, and of those that shed eddies


def uniform(heights):
    return np.tile([LATTICE_SPEED, 0.0], (len(heights), 1))


def body(shape: str, n: int) -> tuple[Sheet, float]:
    """Return a body of size 1 at the origin and its frontal area; its sides lie between cells, or where said."""
    if shape.startswith("square plate"):
        off = {"square plate": 0.0, "square plate, 1/4 cell in": -0.25, "square plate, 1/4 cell out": 0.25}[shape]
        half = 0.5 + off / n
        return plate(0, 0.0, (-half, -half), (half, half)), (2 * half) ** 2
    if shape == "cube":
        return box((0.0, -0.5, -0.5), (1.0, 0.5, 0.5)), 1.0
    rim = np.linspace(0, 2 * np.pi, 97)
    edge = np.stack([0 * rim, 0.5 * np.cos(rim), 0.5 * np.sin(rim)], axis=1)
    corners = np.stack([np.zeros((96, 3)), edge[:-1], edge[1:]], axis=1)
    return Sheet(corners=corners), np.pi / 4


WIDE, NARROW = (16.0, 16.0, 30.0), (6.0, 7.0, 15.0)  # to the side, ahead and behind, in sizes of the body


def felt_area(flow: Flow) -> float:
    """Return the frontal area that the links of the finest grid make of the body [cells squared]: the force of an even
    pressure on it over the pressure, by the links through faces that look ahead.
    """
    links = flow.levels[-1].links
    c = np.stack([cells.CX, cells.CY, cells.CZ], axis=1)[links.direction]
    ahead = np.abs(links.normal[:, 0]) > 0.5
    index = np.stack(np.unravel_index(links.cell, flow.levels[-1].grid.shape[::-1]), axis=1)[:, ::-1]
    own = ((index > 0) & (index < np.array(flow.levels[-1].grid.shape) - 1)).all(axis=1)
    total = float((6.0 * cells.WEIGHTS[links.direction] * np.abs(c[:, 0]))[ahead & own].sum())
    return total / (2.0 if flow.sheets[0].closed else 1.0)


def bluff(shape: str, n: int, room: tuple[float, float, float], device: str) -> dict:
    """Return drag, and speed on the axis 0.5, 1 and 1.5 sizes ahead, of a body n cells wide."""
    sheet, area = body(shape, n)
    cell = 4.0 / n
    side, ahead, behind = (round(size / cell) * cell for size in room)
    boxes = [
        (np.array([-2.0, -1.8, -1.8]), np.array([6.0, 1.8, 1.8])),
        (np.array([-1.0, -1.0, -1.0]), np.array([3.0, 1.0, 1.0])),
    ]
    grids = nest(np.array([-ahead, -side, -side]), np.array([behind, side, side]), boxes, cell=cell, sea=False)
    flow = Flow(grids, [sheet], wind=uniform, viscosity=VISCOSITY, sponge=2.0, device=device)
    steps = round(SETTLE / (LATTICE_SPEED * cell))
    flow.advance(steps)
    flow.check()
    halves, slowed = [], []
    for _ in range(2):
        flow.forget()
        for i in range(round(AVERAGE / SETTLE * steps / 8)):
            flow.advance(8)
            if i % 2 == 0:
                flow.collect()
        halves.append(flow.force()[0, 0] / (0.5 * LATTICE_SPEED**2 * n * n * area))
        slowed.append([_on_axis(flow, x) for x in (-0.5, -1.0, -1.5)])
    u = np.mean(slowed, axis=0) / LATTICE_SPEED
    share = felt_area(flow) / (n * n * area)
    return {
        "shape": shape, "cells": n, "loss": "", "side": room[0], "span": "", "area": share, "c_D": np.mean(halves),
        "c_D_felt": np.mean(halves) / share, "c_D_halves_apart": abs(halves[0] - halves[1]),
        "ahead_0.5": u[0], "ahead_1.0": u[1], "ahead_1.5": u[2], "updates": flow.updates,
    }  # fmt: skip


def _on_axis(flow: Flow, x: float) -> float:
    for number in (2, 1, 0):
        grid = flow.levels[number].grid
        low, high = grid.inner()
        if low[0] + grid.cell < x < high[0] - grid.cell:
            mean = flow.mean(number)[1]
            place = (np.array([x, 0.0, 0.0]) - grid.origin) / grid.cell
            i, j, k = np.floor(place).astype(int)
            part = place[0] - i
            square = mean[k : k + 2, j : j + 2].mean(axis=(0, 1))
            return float((1 - part) * square[i] + part * square[i + 1])
    raise ValueError(x)


def porous_strip(loss: float, n: int, room: tuple[float, float, float, float, float], device: str) -> dict:
    """Return the drag of a strip across the wind that repeats along y, of a given loss.

    `room` is that to the side, ahead and behind, the span that repeats, and over what way either half is averaged.
    """
    side, ahead, behind, span, average = room
    strip = plate(0, 0.0, (-5.0, -0.5), (5.0, 0.5), loss=loss)
    grids = nest(np.array([-ahead, 0.0, -side]), np.array([behind, span, side]), [], cell=1.0 / n, sea=False)
    flow = Flow(grids, [strip], wind=uniform, viscosity=1e-4, periodic=(1,), device=device)
    flow.advance(round(STRIP_SETTLE * n / LATTICE_SPEED))
    flow.check()
    halves = []
    for _ in range(2):
        flow.forget()
        flow.advance(round(average * n / LATTICE_SPEED))
        halves.append(flow.force()[0, 0] / (0.5 * LATTICE_SPEED**2 * n * span * n))
    share = felt_area(flow) / (n * n * span)
    return {
        "shape": "strip", "cells": n, "loss": loss, "side": side, "span": span, "area": share, "c_D": np.mean(halves),
        "c_D_felt": np.mean(halves) / share, "c_D_halves_apart": abs(halves[0] - halves[1]),
        "ahead_0.5": "", "ahead_1.0": "", "ahead_1.5": "", "updates": flow.updates,
    }  # fmt: skip


def cases() -> list[tuple]:
    wide, wider, narrow = (40.0, 30.0, 45.0), (80.0, 30.0, 45.0), (9.0, 7.0, 13.0)
    steady, thick, shed = (0.25, STRIP_AVERAGE), (1.0, STRIP_AVERAGE), (1.0, SHED_AVERAGE)
    jobs = [(bluff, "square plate", 24, WIDE), (bluff, "cube", 24, WIDE), (bluff, "disc", 24, WIDE)]
    jobs += [(porous_strip, loss, 16, (*wide, *thick)) for loss in (15.0, 10.0, 5.0)]
    jobs += [(porous_strip, loss, 16, (*wide, *steady)) for loss in (2.0, 1.0, 0.5)]
    jobs += [(porous_strip, loss, 16, (*wider, *shed)) for loss in (15.0, 10.0)]  # that block the wind most
    jobs += [(porous_strip, 15.0, 16, (*wide, 4.0, SHED_AVERAGE))]  # eddies need not be alike over so long a span
    jobs += [(bluff, "square plate", n, WIDE) for n in (16, 12, 8)] + [(bluff, "cube", 12, WIDE)]
    jobs += [(bluff, f"square plate, 1/4 cell {way}", n, WIDE) for n in (24, 16, 12, 8) for way in ("in", "out")]
    return [*jobs, (bluff, "square plate", 16, NARROW), (porous_strip, 1.0, 16, (*narrow, *steady))]


def run(task: tuple) -> dict:
    start = time.time()
    (work, what, n, room), device = task
    row = work(what, n, room, device)
    print(f"{time.time() - start:5.0f}s", row, flush=True)
    return {key: f"{value:.5f}" if isinstance(value, float) else value for key, value in row.items()}


def name_of(row: dict) -> tuple:
    return row["shape"], str(row["cells"]), row["loss"] and float(row["loss"]), float(row["side"]), row["span"]


def asked(job: tuple) -> tuple:
    work, what, n, room = job
    return (what, str(n), "", room[0], "") if work is bluff else ("strip", str(n), what, room[0], f"{room[3]:.5f}")


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--out", required=True)
    parser.add_argument("--device", default="auto")
    parser.add_argument("--workers", type=int, default=1)
    wanted = parser.parse_args()
    out = Path(wanted.out)
    rows = list(csv.DictReader(out.open(newline="", encoding="utf-8"))) if out.exists() else []
    done = {name_of(row) for row in rows}
    todo = [(job, wanted.device) for job in cases() if asked(job) not in done]
    with multiprocessing.get_context("spawn").Pool(wanted.workers) as pool:
        for row in pool.imap_unordered(run, todo):
            rows.append(row)
            with out.open("w", newline="", encoding="utf-8") as stream:
                writer = csv.DictWriter(stream, list(rows[0]), lineterminator="\n")
                writer.writeheader()
                writer.writerows(rows)


if __name__ == "__main__":
    main()

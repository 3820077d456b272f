"""Drag of plates, cube and porous strips, and the slowing ahead of a disc, at several resolutions.

Run: python -m tests.benchmarks.flow.drag --out FILE.csv
"""

from __future__ import annotations

import argparse
import csv
import time
from pathlib import Path

import numpy as np

from canvas.wind.flow.cut import Sheet
from canvas.wind.flow.grid import nest
from canvas.wind.flow.march import LATTICE_SPEED, VISCOSITY
from canvas.wind.flow.solver import Flow
from tests.wind.flow_cases import box, plate


def uniform(heights):
    return np.tile([LATTICE_SPEED, 0.0], (len(heights), 1))


def body(shape: str, n: int) -> tuple[Sheet, float]:
    """Return a body of size 1 at the origin and its frontal area; its sides lie between cells."""
    if shape == "square plate":
        return plate(0, 0.0, (-0.5, -0.5), (0.5, 0.5)), 1.0
    if shape == "cube":
        return box((0.0, -0.5, -0.5), (1.0, 0.5, 0.5)), 1.0
    rim = np.linspace(0, 2 * np.pi, 97)
    edge = np.stack([0 * rim, 0.5 * np.cos(rim), 0.5 * np.sin(rim)], axis=1)
    corners = np.stack([np.zeros((96, 3)), edge[:-1], edge[1:]], axis=1)
    return Sheet(corners=corners), np.pi / 4


def bluff(shape: str, n: int, device: str) -> dict:
    """Return drag, and speed on the axis 0.5, 1 and 1.5 sizes ahead, of a body n cells wide."""
    sheet, area = body(shape, n)
    cell = 4.0 / n
    low = -np.array([round(7 / cell), round(6 / cell), round(6 / cell)]) * cell
    high = np.array([round(15 / cell), round(6 / cell), round(6 / cell)]) * cell
    boxes = [
        (np.array([-2.0, -1.8, -1.8]), np.array([6.0, 1.8, 1.8])),
        (np.array([-1.0, -1.0, -1.0]), np.array([3.0, 1.0, 1.0])),
    ]
    grids = nest(low, high, boxes, cell=cell, sea=False)
    flow = Flow(grids, [sheet], wind=uniform, viscosity=VISCOSITY, sponge=2.0, device=device)
    steps = round(30.0 / (LATTICE_SPEED * cell))
    flow.advance(steps)
    flow.check()
    halves, ahead = [], []
    for _ in range(2):
        flow.forget()
        for i in range(steps):
            flow.advance(1)
            if i % 8 == 0:
                flow.collect()
        halves.append(flow.force()[0, 0] / (0.5 * LATTICE_SPEED**2 * n * n * area))
        ahead.append([_on_axis(flow, x) for x in (-0.5, -1.0, -1.5)])
    u = np.mean(ahead, axis=0) / LATTICE_SPEED
    return {
        "shape": shape, "cells": n, "loss": "", "c_D": np.mean(halves), "c_D_halves_apart": abs(halves[0] - halves[1]),
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


def porous_strip(loss: float, n: int, device: str) -> dict:
    """Return the drag of a strip across the wind, endless along y, of a given loss."""
    low, high = np.array([-7.0, 0.0, -9.0]), np.array([13.0, 0.5, 9.0])
    strip = plate(0, 0.0, (-5.0, -0.5), (5.0, 0.5), loss=loss)
    grids = nest(low, high, [], cell=1.0 / n, sea=False)
    flow = Flow(grids, [strip], wind=uniform, viscosity=1e-4, periodic=(1,), device=device)
    steps = round(25.0 * n / LATTICE_SPEED)
    flow.advance(steps)
    flow.check()
    halves = []
    for _ in range(2):
        flow.forget()
        flow.advance(steps)
        halves.append(flow.force()[0, 0] / (0.5 * LATTICE_SPEED**2 * n * 0.5 * n))
    return {
        "shape": "strip", "cells": n, "loss": loss, "c_D": np.mean(halves),
        "c_D_halves_apart": abs(halves[0] - halves[1]), "ahead_0.5": "", "ahead_1.0": "", "ahead_1.5": "",
        "updates": flow.updates,
    }  # fmt: skip


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--out", required=True)
    parser.add_argument("--device", default="auto")
    wanted = parser.parse_args()
    rows = []
    start = time.time()
    jobs = [(bluff, "square plate", n) for n in (8, 12, 16, 24)] + [(bluff, "cube", n) for n in (12, 24)]
    jobs += [(bluff, "disc", 24)] + [(porous_strip, loss, 16) for loss in (0.5, 1.0, 2.0, 5.0, 10.0)]
    for work, what, n in jobs:
        rows.append(work(what, n, wanted.device))
        print(f"{time.time() - start:5.0f}s", rows[-1])
        with Path(wanted.out).open("w", newline="") as stream:
            writer = csv.DictWriter(stream, list(rows[0]))
            writer.writeheader()
            writer.writerows(rows)


if __name__ == "__main__":
    main()

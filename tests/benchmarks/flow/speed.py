"""Cell updates a second on the processor beside the memory bandwidth of the same run, and what refinement costs.

Run: python -m tests.benchmarks.flow.speed [--threads 2] [--out FILE.csv]
Counted in processor time over threads, because a shared machine's wall clock says little; reading and writing whole
arrays (a triad) is timed the same way, turn and turn about with the lattice. A step reads 19 values a cell and writes
19 where those stood: 152 bytes an update. A triad moves 16 bytes an element, since what it writes is first read.
"""

from __future__ import annotations

import argparse
import csv
import time
from collections.abc import Iterator
from pathlib import Path

import numba
import numpy as np

from canvas.wind.flow.grid import nest
from canvas.wind.flow.solver import Flow

CELL_BYTES, TRIAD_BYTES = 2 * 19 * 4, 4 * 4
TURNS = 5


@numba.njit(parallel=True, fastmath=True, error_model="numpy")
def triad(a, b, c, s):
    for i in numba.prange(a.size):
        a[i] = b[i] + s * c[i]


def along(heights):
    return np.tile([0.08, 0.0], (len(heights), 1))


def flow_of(kind: str) -> Flow:
    """Return a flow on one grid, or on three nested ones of about as many cells."""
    if kind == "uniform":
        grids = nest(np.zeros(3), np.full(3, 160.0), [], cell=1.0, sea=False)
    else:
        boxes = [(np.full(3, 28.0), np.full(3, 92.0)), (np.full(3, 40.0), np.full(3, 76.0))]
        grids = nest(np.zeros(3), np.full(3, 120.0), boxes, cell=1.0, sea=False)
    return Flow(grids, [], wind=along, viscosity=1e-5, device="cpu", noise=0.01)


def rates(threads: int, *, kinds: tuple[str, ...] = ("uniform", "three grids")) -> Iterator[dict[str, object]]:
    """Yield turn by turn the updates of a kind of grid, and the bandwidth beside them."""
    numba.set_num_threads(threads)
    size = 40_000_000
    a, b, c = np.zeros(size, np.float32), np.ones(size, np.float32), np.ones(size, np.float32)
    triad(a, b, c, np.float32(2))
    for kind in kinds:
        flow, steps = flow_of(kind), 6 if kind == "uniform" else 2
        flow.advance(2)
        for _ in range(TURNS):
            start = time.process_time()
            for _ in range(3):
                triad(a, b, c, np.float32(2))
            middle, before = time.process_time(), flow.updates
            flow.advance(steps)
            bandwidth = 3 * size * TRIAD_BYTES * threads / (middle - start)
            rate = (flow.updates - before) * threads / (time.process_time() - middle)
            yield {
                "grid": kind, "threads": threads, "updates_per_s": round(rate), "bytes_per_s": round(bandwidth),
                "share_of_roofline": round(rate * CELL_BYTES / bandwidth, 3),
            }  # fmt: skip


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--threads", type=int, default=2)
    parser.add_argument("--out")
    wanted = parser.parse_args()
    rows = []
    for row in rates(wanted.threads):
        rows.append(row)
        print(row, flush=True)
    if wanted.out:
        with Path(wanted.out).open("w", newline="", encoding="utf-8") as stream:
            writer = csv.DictWriter(stream, list(rows[0]), lineterminator="\n")
            writer.writeheader()
            writer.writerows(rows)


if __name__ == "__main__":
    main()

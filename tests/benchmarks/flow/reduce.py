"""Add the series that `study` kept to the committed tables.

Run: python -m tests.benchmarks.flow.reduce FILE.npz ...
Plain cases go to cases.csv; mirrored, grown, uniform, longer ones and those without a sail go to checks.csv.
"""

from __future__ import annotations

import argparse
import csv
import json
from pathlib import Path

import numpy as np

from canvas.wind.blade import Felt

FOLDER = Path(__file__).parent
PLAIN = {"boat", "set", "awa", "cell", "turned", "seed"}


def felt_of(series: np.ndarray, about: dict) -> Felt:
    """Return what the blade feels from a kept series."""
    along, across, speed, square = series.astype(float)
    time = about["step"] * np.arange(len(along))
    free = about["free"]
    return Felt(
        time=time, along=along, across=across, speed=speed, square=square, free_along=free[0], free_across=free[1]
    )


def row_of(one: dict, blade: Felt, about: dict) -> dict:
    """Return the columns of a case."""
    return {
        "boat": one["boat"], "set": one["set"], "awa_deg": one["awa"], "cell_m": one["cell"],
        "turned_deg": one["turned"], "seed": one["seed"], "mirrored": "yes" if one.get("mirror") else "",
        "without": one.get("without", ""), "grown_m": one.get("grow", ""),
        "uniform": "yes" if one.get("uniform") else "",
        "average": one.get("average", ""),
        "speed_ratio_free": f"{blade.speed.mean():.4f}",
        "standard_error": f"{blade.error(blade.speed):.4f}", "square_free": f"{blade.square.mean():.4f}",
        "square_error": f"{blade.error(blade.square):.4f}", "along_free": f"{blade.along.mean():.4f}",
        "across_free": f"{blade.across.mean():.4f}", "unsteadiness": f"{blade.unsteadiness:.4f}",
        "wander_deg": f"{np.degrees(blade.wander):.2f}", "updates": int(about["updates"]),
    }  # fmt: skip


def add(name: str, fresh: list[dict]) -> None:
    """Add rows to a table, sorted as it is, each case once."""
    with (FOLDER / name).open(newline="", encoding="utf-8") as stream:
        reader = csv.DictReader(stream)
        held, columns = list(reader), list(reader.fieldnames or [])
    told = [c for c in columns if c in row_names()]
    known = {tuple(row[c] for c in told) for row in held}
    rows = [{c: str(row[c]) for c in columns} for row in fresh]
    rows = held + [row for row in rows if tuple(row[c] for c in told) not in known]
    with (FOLDER / name).open("w", newline="", encoding="utf-8") as stream:
        writer = csv.DictWriter(stream, columns, lineterminator="\n")
        writer.writeheader()
        writer.writerows(sorted(rows, key=lambda row: [row[c] for c in told]))


def row_names() -> tuple[str, ...]:
    """Return the columns that name a case."""
    return (
        "boat", "set", "awa_deg", "cell_m", "turned_deg", "seed", "mirrored", "without", "grown_m", "uniform",
        "average",
    )  # fmt: skip


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("files", nargs="+")
    plain, others = [], []
    for file in parser.parse_args().files:
        with np.load(file, allow_pickle=False) as held:
            for number, key in enumerate(held["keys"]):
                one, about = json.loads(str(key)), json.loads(str(held[f"a{number}"]))
                row = row_of(one, felt_of(held[f"s{number}"], about), about)
                (plain if set(one) <= PLAIN else others).append(row)
    add("cases.csv", plain)
    add("checks.csv", others)


if __name__ == "__main__":
    main()

"""Write what means over one to eight times the usual way show of bare boat and wet watch, at roses' fine angles.

Where the usual way gives no verdict, both are averaged over eight times it, and the table holds what its beginnings
show: a run averaged on is the longer one to the bit. The suite replays on it how long the program averages each.

Run: python -m tests.benchmarks.flow.lengths FOLDER    runs are kept in FOLDER and taken up again
"""

from __future__ import annotations

import argparse
import csv
from dataclasses import replace
from pathlib import Path

import numpy as np

from canvas import verbs
from canvas.verbs.flow import ASKED_WIND
from canvas.wind.blade import Felt, compare
from canvas.wind.flow.lengths import MOST
from canvas.wind.flow.march import AVERAGE, updates
from canvas.wind.flow.run import FINE
from canvas.wind.flow.runner import Conditions, Runner

FOLDER = Path(__file__).parent
EXAMPLES = FOLDER.parents[2] / "examples"
SETS = ("bare", "wet watch")
LONG = 8
LENGTHS = (*range(1, MOST + 1), LONG)  # times the usual way
COLUMNS = ("boat", "awa_deg", "set", "times", "speed_ratio_free", "standard_error", "unsteadiness", "updates")


def beginning(felt: Felt, part: float) -> Felt:
    """Return the first part of a run."""
    rows = round(part * len(felt.time))
    series = {name: getattr(felt, name)[:rows] for name in ("time", "along", "across", "speed", "square")}
    return replace(felt, **series)


def rows_of(runner: Runner, boat: str, awa_deg: float, name: str, felt: Felt, *, times: int) -> list[dict]:
    """Return a row for each length of a run that was averaged over so many times the usual way."""
    layout, found = runner.layout(runner.wind_at(np.radians(awa_deg))[0], FINE), []
    for long in (n for n in LENGTHS if n <= times):
        part = beginning(felt, long / times)
        found.append({
            "boat": boat, "awa_deg": f"{awa_deg:g}", "set": name, "times": long,
            "speed_ratio_free": f"{part.speed.mean():.5f}", "standard_error": f"{part.error(part.speed):.5f}",
            "unsteadiness": f"{part.unsteadiness:.4f}", "updates": f"{updates(layout, average=long * AVERAGE):.4g}",
        })  # fmt: skip
    return found


def runner_of(boat: str, folder: Path | None = None) -> Runner:
    """Return what marches a boat bare and with the wet watch up, as a rose does."""
    rigging = verbs.rigging_of(EXAMPLES / f"{boat}.toml")
    conditions = Conditions(aws=ASKED_WIND, instrument_height=rigging.model.instrument_height)
    return Runner([rigging.rig(name).scene for name in SETS], conditions, folder=folder)


def fine_angles(boat: str) -> list[float]:
    """Return the angles at which the boat's rose was run fine [deg]."""
    with (FOLDER / "roses.csv").open(newline="", encoding="utf-8") as stream:
        rows = [row for row in csv.DictReader(stream) if row["boat"].lower().replace(" ", "-") == boat]
    return sorted({float(row["awa_deg"]) for row in rows if float(row["cell_m"]) == FINE})


def run(boat: str, folder: Path) -> list[dict]:
    """Return the rows of a boat."""
    runner, found = runner_of(boat, folder), []
    for awa_deg in fine_angles(boat):
        awa, times = round(float(np.radians(awa_deg)), 9), 1
        with runner.pausing():
            felt = [runner.felt(scene, awa, FINE) for scene in runner.scenes]
            if not compare(felt[1], felt[0], cell=FINE).known:
                times = LONG
                runner.times = dict.fromkeys(SETS, LONG)
                felt = [runner.felt(scene, awa, FINE) for scene in runner.scenes]
        for name, one in zip(SETS, felt, strict=True):
            found += rows_of(runner, boat, awa_deg, name, one, times=times)
        print(boat, awa_deg, times, flush=True)
    return found


def write(rows: list[dict]) -> None:
    """Write the table."""
    with (FOLDER / "lengths.csv").open("w", newline="", encoding="utf-8") as stream:
        writer = csv.DictWriter(stream, COLUMNS, lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("folder", type=Path)
    folder = parser.parse_args().folder
    write([row for boat in ("marrowgrass", "oddfellow", "lantern-hill") for row in run(boat, folder)])


if __name__ == "__main__":
    main()

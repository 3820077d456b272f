"""Write what whole roses said, as `canvas vane --method flow --json` prints them, to the committed table.

Boats whose files are not given keep their rows.

Run: canvas vane examples/BOAT.toml --set NAME --method flow --json > FILE
     python -m tests.benchmarks.flow.roses FILE ...
"""

from __future__ import annotations

import argparse
import csv
import json
from pathlib import Path

TABLE = Path(__file__).parent / "roses.csv"
COLUMNS = (
    "awa_deg", "cell_m", "speed_ratio", "speed_ratio_low", "speed_ratio_high", "gain", "unsteadiness", "verdict",
)  # fmt: skip


def rows_of(record: dict) -> list[dict]:
    """Return a row for each set and angle of a record."""
    return [
        {"boat": record["design"], "set": one["name"], **{name: angle[name] for name in COLUMNS}}
        for one in record["sets"]
        for angle in sorted(one["angles"], key=lambda angle: angle["awa_deg"])
    ]


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("files", nargs="+", type=Path)
    made = [row for file in parser.parse_args().files for row in rows_of(json.loads(file.read_text(encoding="utf-8")))]
    boats = {row["boat"] for row in made}
    with TABLE.open(newline="", encoding="utf-8") as stream:
        kept = [row for row in csv.DictReader(stream) if row["boat"] not in boats]
    with TABLE.open("w", newline="", encoding="utf-8") as stream:
        writer = csv.DictWriter(stream, ("boat", "set", *COLUMNS), lineterminator="\n")
        writer.writeheader()
        writer.writerows(sorted(made + kept, key=lambda row: row["boat"]))


if __name__ == "__main__":
    main()

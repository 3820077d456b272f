"""Turn the published distance networks into readings, and make invented boats to survey."""

from __future__ import annotations

from dataclasses import dataclass

from canvas.survey.datum import Datum
from canvas.survey.readings import Tape

CASES = {
    "wolf_1979_3d": 3,
    "ghilani_14_5": 2,
    "strang_borre_fixed": 2,
    "strang_borre_free": 2,
    "benning_8_2": 2,
    "hoepke_35_5_free": 2,
    "hoepke_35_5_with_5cm_blunder": 2,
    "ghilani_14_2": 2,
    "norrdine_b_raw": 3,
}


@dataclass(frozen=True)
class Network:
    """One published network as `adjust` takes it."""

    tapes: list[Tape]
    datum: Datum
    dimension: int


def network(case, points, distances):
    """Return the network of `case` from the rows of the two published tables."""
    held, rough = {}, {}
    for row in points:
        if row["case"] == case:
            place = (row["x"], row["y"], row["z"] or 0.0)
            (held if row["role"] == "fixed" else rough)[name(row["point"])] = place
    tapes = [
        Tape(a=name(row["from"]), b=name(row["to"]), length=row["distance"], sigma=row["sigma"])
        for row in distances
        if row["case"] == case
    ]
    return Network(tapes=tapes, datum=Datum(held=held, rough=rough), dimension=CASES[case])


def name(point):
    """Return a point's name; the reader of tables turns those that are numbers into numbers."""
    return f"{point:.0f}" if isinstance(point, float) else point

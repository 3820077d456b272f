"""Write the record of `case`, written or read back.

Computes: nothing; picks from results.
Units: as the keys end.
Source: none.
Limits: what steady flow cannot tell is null: gain, unsteadiness, wander. Keys that begin with own are null where the
    program's own flow was not asked for.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from canvas.air.wind import KNOT
from canvas.brief.records import Record, envelope

if TYPE_CHECKING:
    from canvas.brief.answer import Answer
    from canvas.wind.blade import BladeWind

OWN = (
    "own_speed_ratio", "own_speed_ratio_low", "own_speed_ratio_high", "own_speed_ratio_free", "own_force_ratio",
    "own_turn_deg",
)  # fmt: skip
LABEL = "OpenFOAM, steady k-omega SST: another program's answer, its band not calibrated"


def case_record(answer: Answer) -> Record:
    """Return the record of cases written."""
    names, angles = answer.top
    top = {
        "sentence": f"{len(names) * len(angles)} cases ({', '.join(names)}): run Allrun, then --read.",
        "angles_deg": [float(np.degrees(one)) for one in angles],
        "files": list(answer.files),
    }
    return envelope("case", answer.source, sets={}, top=top, problems=answer.problems)


def read_record(answer: Answer) -> Record:
    """Return the record of cases read back: keys as in `vane`."""
    sets: dict[str, Record] = {
        name: {"sentence": _sentence(rows), "angles": [_angle(row) for row in rows]}
        for name, rows in answer.results.items()
    }
    return envelope(
        "case", answer.source, sets=sets, top={"method": "openfoam", "label": LABEL}, problems=answer.problems
    )


def _sentence(rows: Any) -> str:
    said = [
        f"{row.wind.speed_ratio.value:.2f} at {np.degrees(row.awa):.0f} deg"
        + ("" if row.own is None else f" (own flow: {row.own.speed_ratio.value:.2f})")
        for row in rows
    ]
    return f"Speed at the blade over the bare boat's: {', '.join(said)}."


def _angle(row: Any) -> Record:
    wind, steers = row.wind, row.steering
    lowest = None if steers is None else steers.lowest
    ends = (None, None, None) if lowest is None else (lowest.value, lowest.low, lowest.high)
    return {
        "awa_deg": float(np.degrees(row.awa)),
        "clear_share": row.clear_share,
        "speed_ratio": wind.speed_ratio.value,
        "speed_ratio_low": wind.speed_ratio.low,
        "speed_ratio_high": wind.speed_ratio.high,
        "speed_ratio_free": wind.speed_ratio_free.value,
        "force_ratio": wind.force_ratio.value,
        "turn_deg": float(np.degrees(wind.turn)),
        "gain": None,
        "unsteadiness": None,
        "wander_deg": None,
        "wake_word": row.wake_word,
        "verdict": "unknown" if steers is None else steers.verdict,
        "cell_m": row.cell,
        **{
            key: None if end is None else end / KNOT
            for key, end in zip(("lowest_aws_kn", "lowest_aws_kn_low", "lowest_aws_kn_high"), ends, strict=True)
        },
        **_own(wind, row.own),
    }


def _own(wind: BladeWind, own: BladeWind | None) -> Record:
    """Return what the program's own flow says, and how far the other program is from it."""
    if own is None:
        return dict.fromkeys((*OWN, "speed_ratio_difference", "speed_ratio_free_difference", "turn_difference_deg"))
    said = (
        own.speed_ratio.value, own.speed_ratio.low, own.speed_ratio.high, own.speed_ratio_free.value,
        own.force_ratio.value, float(np.degrees(own.turn)),
    )  # fmt: skip
    return {
        **dict(zip(OWN, said, strict=True)),
        "speed_ratio_difference": wind.speed_ratio.value - own.speed_ratio.value,
        "speed_ratio_free_difference": wind.speed_ratio_free.value - own.speed_ratio_free.value,
        "turn_difference_deg": float(np.degrees(wind.turn - own.turn)),
    }

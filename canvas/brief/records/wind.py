"""Write the record of `vane`.

Computes: nothing; picks from results.
Units: as the keys end.
Source: none.
Limits: keys that a method cannot answer are null, never 0.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from canvas.brief.records import Record, envelope

if TYPE_CHECKING:
    from canvas.brief.answer import Answer
    from canvas.wind.sector import Sector

FEELS = (
    "speed_ratio", "speed_ratio_low", "speed_ratio_high", "speed_ratio_free", "force_ratio", "turn_deg", "gain",
    "unsteadiness", "wander_deg", "wake_word", "lowest_aws_kn", "lowest_aws_kn_low", "lowest_aws_kn_high",
)  # fmt: skip


def vane_record(answer: Answer) -> Record:
    """Return the record of `vane`."""
    sets = {name: _sector(result) for name, result in answer.results.items()}
    top = {"method": answer.top, "label": "line of sight, no verdict"}
    return envelope("vane", answer.source, sets=sets, top=top, problems=answer.problems)


def _sector(result: Sector) -> Record:
    hidden = [float(np.degrees(a)) for a, clear in zip(result.awa, result.clear_share, strict=True) if clear < 0.5]
    said = f"from {_spans(hidden)}" if hidden else "from no wind angle"
    angles = [
        {
            "awa_deg": float(np.degrees(awa)),
            "clear_share": float(clear),
            **dict.fromkeys(FEELS),
            "verdict": "unknown",
        }
        for awa, clear in zip(result.awa, result.clear_share, strict=True)
    ]
    covers = [
        {
            "name": surface,
            "panel": panel,
            "covers_share_most": float(result.covers[k].max()),
            "covers_alone_share_most": float(result.covers_alone[k].max()),
            "at_awa_deg": float(np.degrees(result.awa[int(np.argmax(result.covers[k]))])),
        }
        for k, (surface, panel) in enumerate(zip(result.surfaces, result.panels, strict=True))
    ]
    sentence = f"Line of sight: more than half of the blade is hidden {said}."
    return {"sentence": sentence, "angles": angles, "covers": covers, "courses": []}


def _spans(degrees: list[float]) -> str:
    """Return angles as spans for people, such as ``-20 to 20 deg``."""
    spans: list[list[float]] = []
    for one in sorted(degrees):
        if spans and one - spans[-1][1] <= 5.01:
            spans[-1][1] = one
        else:
            spans.append([one, one])
    return ", ".join(f"{low:.0f} to {high:.0f}" if high > low else f"{low:.0f}" for low, high in spans) + " deg"

"""Check that no roof holds water, level, heeled or trimmed.

Computes: the most water that stands on each roof, where, how flat its cloth is, and the smallest change that drains it.
Units: kilograms.
Source: canvas/strength/ponding.py; common practice, no source, for the limit: a cupful.
Limits: a roof that is dry but soft enough to sink under a puddle, were one to stand where it is flat, is close, not
    pass. Water thrown on it by the sea is not rain.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from canvas.fit.ask import Ask
from canvas.fit.result import CheckResult, Picture, judged, not_applicable
from canvas.strength.ponding import LEAST_SLOPE, RoofWater, roof_water

KIND = "ponding"
CUPFUL = 0.2  # [kg]
SOURCE = "common practice, no source: no water is to stand on a roof"


def examine(ask: Ask) -> list[CheckResult]:
    """Return the water that each roof would hold."""
    found = roof_water(ask.rigging, ask.set_name)
    if not found:
        return [not_applicable("standing water", kind=KIND, unit="kg", why="No roof is up.")]
    return [_one(roof) for roof in found]


def _one(roof: RoofWater) -> CheckResult:
    worst = roof.worst
    spot = roof.flattest if worst.where is None else worst.where
    result = judged(
        f"standing water, {roof.panel}", kind=KIND, value=worst.mass, unit="kg", limit=CUPFUL, sense="at most",
        note=_note(roof), source=SOURCE, picture=Picture(points=spot, surfaces=(roof.panel,)),
    )  # fmt: skip
    return replace(result, verdict="close") if result.verdict == "pass" and roof.stable is not True else result


def _note(roof: RoofWater) -> str:
    worst = roof.worst
    least = np.degrees(LEAST_SLOPE)
    flat = (
        f"{100 * roof.flat_share:.0f} % of it slopes less than the {least:.0f} deg that shed water, least "
        f"{np.degrees(roof.least_slope):.1f} deg at {roof.flattest[0]:.2f} m aft, {roof.flattest[1]:+.2f} m."
    )
    if worst.volume is None:
        return f"The cloth found no rest under water {worst.lying}. {flat}"
    said = "No water stands." if not worst.volume else f"{worst.mass or 0.0:.1f} kg {worst.lying}."
    if worst.where is not None:
        said += f" Deepest at {worst.where[0]:.2f} m aft, {worst.where[1]:+.2f} m."
    if roof.drain is not None:
        said += f" Lowering its {roof.drain.side} side by {1000 * roof.drain.by:.0f} mm drains it at rest."
    if roof.stable is False:
        said += f" Soft: a puddle would sink it were water {roof.factor:.2f} times as heavy as it is; set it up harder."
    return f"{said} {flat}"

"""Write the records of `fit` and `loads`.

Computes: nothing; picks from results.
Units: each check names its own in `unit`.
Source: none.
Limits: what is not known is null with the verdict "unknown", never a pass.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from canvas.air.wind import KNOT
from canvas.brief.records import Record, envelope
from canvas.fit.table import first_to_fail

if TYPE_CHECKING:
    from canvas.brief.answer import Answer
    from canvas.fit.result import CheckResult
    from canvas.strength.loads import SetLoads
    from canvas.strength.parts import PartLoad
    from canvas.strength.ponding import RoofWater

BEYOND = 100 * KNOT  # limits above this are given as null: no such wind is planned for


def fit_record(answer: Answer) -> Record:
    """Return the record of `fit`: checks in the order of the table."""
    sets = {
        name: {"sentence": _sentence(results), "checks": [_check(one) for one in results]}
        for name, results in answer.results.items()
    }
    return envelope("fit", answer.source, sets=sets, problems=answer.problems)


def _check(one: CheckResult) -> Record:
    return {
        "name": one.name,
        "value": one.value,
        "unit": one.unit,
        "limit": one.limit,
        "margin": one.margin,
        "sd": one.sd,
        "verdict": one.verdict,
        "note": one.note,
        "source": one.source,
    }


def _sentence(results: Sequence[CheckResult]) -> str:
    counts = {word: sum(one.verdict == word for one in results) for word in ("pass", "close", "fail", "unknown")}
    worst = first_to_fail(results)
    said = ", ".join(f"{count} {word}" for word, count in counts.items() if count)
    return f"{said}." if worst is None else f"{said}. First to mend: {worst.name}. {worst.note}"


def loads_record(answer: Answer) -> Record:
    """Return the record of `loads`: parts weakest first, when to strike, water on the roofs."""
    sets = {name: _carried(found.loads, found.water, aws=answer.top) for name, found in answer.results.items()}
    return envelope("loads", answer.source, sets=sets, top={"aws_kn": answer.top / KNOT}, problems=answer.problems)


def _carried(found: SetLoads, water: Sequence[RoofWater], *, aws: float) -> Record:
    return {
        "sentence": _strike_sentence(found),
        "strike_at_kn": _knots(found.strike_at),
        "strengths_declared": found.declared,
        "parts": [_part(part, aws=aws) for part in found.parts],
        "zones": [
            {
                "panel": one.panel,
                "kind": one.kind,
                "slope_deg": float(np.degrees(one.slope)),
                "pushed_in_most": float(one.pushed.max()),
                "sucked_out_most": float(one.sucked.min()),
                "height_m": one.height,
            }
            for one in found.coefficients
        ],
        "grabbed": [{"name": name, "share_of_yield": share} for name, share in found.grabbed],
        "unsolved": list(found.unsolved),
        "roofs": [
            {
                "panel": one.panel,
                "ponding_factor": one.factor,
                "litres": None if one.volume is None else one.volume * 1000,
                "water_kg": one.mass,
                "flat_share": one.flat_share,
            }
            for one in water
        ],
    }


def _part(part: PartLoad, *, aws: float) -> Record:
    low, high = part.limit_low, part.limit_high
    verdict = "unknown"
    if low is not None and high is not None:
        verdict = "pass" if low >= aws else "fail" if high < aws else "close"
    return {
        "name": part.name,
        "kind": part.kind,
        "load_n": part.load,
        "each": part.each,
        "case": part.case,
        "strength_n": None if part.strength is None else part.strength.low,
        "strength_high_n": None if part.strength is None else part.strength.high,
        "declared": part.strength is not None and part.strength.declared,
        "limit_aws_kn_low": _knots(low),
        "limit_aws_kn_high": _knots(high),
        "verdict": verdict,
    }


def _knots(speed: float | None) -> float | None:
    """Return a speed in knots; a limit far beyond any wind is given as null."""
    return None if speed is None or speed > BEYOND else speed / KNOT


def _strike_sentence(found: SetLoads) -> str:
    if not found.parts:
        return "No canvas is up: nothing to strike."
    if found.strike_at is None:
        return "When to strike is not known: no part has a known strength."
    first = found.parts[0]
    ground = (
        "declared strengths"
        if found.declared
        else "default strengths, their low end; never advised above 30 kn on these"
    )
    return (
        f"Begin to strike at {found.strike_at / KNOT:.0f} kn mean wind at the instrument, gusts on top. "
        f"First to go: {first.name}. From {ground}."
    )

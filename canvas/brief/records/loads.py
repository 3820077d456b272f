"""Write the record of `loads`.

Computes: nothing; picks from results.
Units: as the keys end.
Source: none.
Limits: what is not known is null with the verdict "unknown", never a pass.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from canvas.air.wind import KNOT
from canvas.brief.records import Record, envelope
from canvas.strength.ponding import wettest
from canvas.strength.pressure import CASES

if TYPE_CHECKING:
    from canvas.brief.answer import Answer
    from canvas.strength.loads import SetLoads
    from canvas.strength.parts import PartLoad
    from canvas.strength.ponding import RoofWater, Standing
    from canvas.strength.pooped import Pooped
    from canvas.strength.pressure import Coefficients
    from canvas.strength.strike import Stronger
    from canvas.strength.weak_link import WeakLink

BEYOND = 100 * KNOT  # limits above this are given as null: no such wind is planned for
LITRES = 1000.0  # in a cubic metre
MOST_NAMED = 2  # in a sentence
UNDER_GRAB = 1.0  # share of yield from which a person's pull bends a hoop


def loads_record(answer: Answer) -> Record:
    """Return the record of `loads`: parts weakest first, when to strike, weak links, water on roofs and within."""
    high = answer.rigging.model.instrument_height
    sets = {name: _carried(found, aws=answer.top, instrument_height=high) for name, found in answer.results.items()}
    return envelope("loads", answer.source, sets=sets, top={"aws_kn": answer.top / KNOT}, problems=answer.problems)


def _carried(carried: Any, *, aws: float, instrument_height: float) -> Record:
    found: SetLoads = carried.loads
    return {
        "sentence": strike_sentence(found),
        "verdict": found.verdict(aws),
        "strike_at_kn": _knots(found.strike.at),
        "strengths_declared": found.strike.declared,
        "governing": list(found.strike.governing),
        "made_stronger": _made_stronger(found.stronger),
        "strength_unknown": list(found.strike.unknown),
        "parts": [_part(part, aws=aws) for part in found.parts],
        "weak_links": [_weak_link(one) for one in found.weak_links],
        "zones": [_zone(one, instrument_height) for one in found.coefficients],
        "grabbed": [{"name": name, "share_of_yield": share} for name, share in found.grabbed],
        "unsolved": list(found.unsolved),
        "roofs": [_roof(one) for one in carried.water],
        "water_sentence": _water_sentence(carried.water),
        "pooped": None if carried.pooped is None else _pooped(carried.pooped),
    }


def _part(part: PartLoad, *, aws: float) -> Record:
    return {
        "name": part.name,
        "kind": part.kind,
        "load_n": part.load,
        "each": part.each,
        "case": part.case,
        "strength_n": None if part.strength is None else part.strength.low,
        "strength_high_n": None if part.strength is None else part.strength.high,
        "declared": part.strength is not None and part.strength.declared,
        "limit_aws_kn_low": _knots(part.limit_low),
        "limit_aws_kn_high": _knots(part.limit_high),
        "verdict": part.verdict(aws),
    }


def _made_stronger(one: Stronger | None) -> Record | None:
    if one is None:
        return None
    return {"carries_n": one.carries, "strike_at_kn": _knots(one.at), "next": one.part.name}


def _weak_link(one: WeakLink) -> Record:
    return {
        "panel": one.panel,
        "part": one.part,
        "breaks_low_n": one.breaks_low,
        "breaks_high_n": one.breaks_high,
        "before": one.hoop,
        "stays_by": one.stays_by,
        "reach_m": one.reach,
        "to_vane_m": one.to_vane,
        "to_water_m": one.to_water,
        "verdict": one.verdict,
        "note": one.why,
    }


def _zone(one: Coefficients, instrument_height: float) -> Record:
    grounds = {case: one.ground(case, instrument_height=instrument_height) for case in CASES}
    return {
        "panel": one.panel,
        "kind": one.kind,
        "slope_deg": float(np.degrees(one.slope)),
        "zones": "".join(sorted(set(one.zone.tolist()))),
        "pushed_in_most": float(one.pushed.max()),
        "sucked_out_most": float(one.sucked.min()),
        "pushed_in_by": grounds["pushed in"],
        "sucked_out_by": grounds["sucked out"],
        "flow_most": None if one.flow is None else one.flow[0],
        "flow_least": None if one.flow is None else one.flow[1],
        "height_m": one.height,
    }


def _roof(one: RoofWater) -> Record:
    rest, worst = one.at_rest, one.worst
    return {
        "panel": one.panel,
        "ponding_factor": one.factor,
        "stable": one.stable,
        "litres": None if rest.volume is None else rest.volume * LITRES,
        "water_kg": rest.mass,
        "flat_share": one.flat_share,
        "least_slope_deg": float(np.degrees(one.least_slope)),
        "flattest_x_m": float(one.flattest[0]),
        "flattest_y_m": float(one.flattest[1]),
        "most_litres": None if worst.volume is None else worst.volume * LITRES,
        "most_when": worst.lying,
        "drains_by": None if one.drain is None else f"its {one.drain.side} side lowered",
        "drains_by_mm": None if one.drain is None else one.drain.by * 1000,
        "standing": [_standing(each) for each in one.standing],
    }


def _standing(one: Standing) -> Record:
    return {
        "lying": one.lying,
        "litres": None if one.volume is None else one.volume * LITRES,
        "water_kg": one.mass,
        "x_m": None if one.where is None else float(one.where[0]),
        "y_m": None if one.where is None else float(one.where[1]),
    }


def _pooped(one: Pooped) -> Record:
    return {
        "shut": [f"{side} by {panel}" for side, panel in one.shut],
        "leaves_by": one.leaves_by,
        "litres": one.volume * LITRES,
        "bare_leaves_by": one.bare_leaves_by,
        "bare_litres": one.bare_volume * LITRES,
    }


def _knots(speed: float | None) -> float | None:
    """Return a speed in knots; a limit far beyond any wind is given as null."""
    return None if speed is None or speed > BEYOND else speed / KNOT


def strike_sentence(found: SetLoads) -> str:
    """Return when to begin to strike, what goes first and on what ground, in words."""
    when = found.strike
    if not found.parts and when.solved:
        return "No canvas is up: nothing to strike."
    if not when.solved:
        return f"When to strike is not known: {'; '.join(found.unsolved)}"
    if when.at is None or when.first is None:
        return "When to strike is not known: no part has a known strength."
    ground = "declared strengths" if when.declared else "default strengths, their low end; never above 30 kn on these"
    said = (
        f"Begin to strike at {when.at / KNOT:.0f} kn mean wind at the instrument, gusts on top. "
        f"First to go: {when.first.name}. From {ground}."
    )
    stronger = found.stronger
    if stronger is not None:
        said += (
            f" Made to carry {np.ceil(stronger.carries):.0f} N {when.first.each}, it is {stronger.at / KNOT:.0f} kn, "
            f"and {stronger.part.name} goes next."
        )
    if when.unknown:
        said += f" Strength not known, and so no pass: {_listed(when.unknown)}."
    bend = [name for name, share in found.grabbed if share > UNDER_GRAB]
    return said + (f" A person falling against it bends: {_listed(bend)}." if bend else "")


def _listed(names: Sequence[str]) -> str:
    more = len(names) - MOST_NAMED
    return ", ".join(names[:MOST_NAMED]) + (f" and {more} more" if more > 0 else "")


def _water_sentence(found: tuple[RoofWater, ...]) -> str:
    if not found:
        return "No roof is up to hold water."
    unknown = [one.panel for one in found if one.worst.volume is None]
    if unknown:
        return f"How much water stands is not known on {', '.join(unknown)}: the cloth found no rest."
    most = wettest(found)
    soft = [one.panel for one in found if one.stable is False]
    said = "No roof holds water, level, heeled or trimmed."
    if most is not None and most.worst.volume:
        said = f"{most.panel} holds {most.worst.volume * LITRES:.0f} litres {most.worst.lying}."
    return said + (f" Soft enough to sink under a puddle where flat: {', '.join(soft)}." if soft else "")

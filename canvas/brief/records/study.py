"""Write the records of `passage`, `compare`, `sweep` and `search`.

Computes: nothing but shares of hours; picks from results.
Units: as the keys end; ``_h`` hours, ``_nm`` nautical miles of 1852 m, ``_sed`` standard erythemal doses.
Source: none.
Limits: where a leg's hours are unknown they are null and only shares are given; see `canvas.brief.records`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from canvas.air.wind import KNOT
from canvas.brief.heads import head_of, says_share
from canvas.brief.records import Record, envelope

if TYPE_CHECKING:
    from collections.abc import Sequence

    from canvas.brief.answer import Answer

MILE = 1852.0
ON_WATCH = "helm, heads"  # where low sun in the eyes matters most
MOST_WORN = 12
STILL = "no number moves any measure, or too few variants can be built to tell"
NOISE = "no number moves any measure by more than the noise of this quick look"


def passage_record(answer: Answer) -> Record:
    """Return the record of `passage`: the plan on top, each set on every leg and on the whole."""
    plan = answer.top
    known = any(one.duration is not None for one in plan.plans)
    top: Record = {
        "legs": [_leg(one) for one in plan.plans],
        "planned": {**_sums(plan.whole, plan.legs, known=known), "places": _places(plan.whole, known=known)},
        "planned_low_sun": [row for one in plan.legs for row in _low_sun(one)],
        "wear": [_worn(one) for one in plan.wear[:MOST_WORN] if one.used],
    }
    sets = {
        name: {
            "sentence": _sentence(found, known=known),
            **_sums(found.whole, found.legs, known=known),
            **_strike(found, known=known),
            "places": _places(found.whole, known=known),
            "shade_hours_by_tenth": _tenths(found.whole, known=known),
            "winds": [row for one in found.legs for row in _winds(one)],
            "legs": [
                {"name": one.plan.name, "places": _places(one.places, known=one.plan.duration is not None)}
                for one in found.legs
            ],
        }
        for name, found in answer.results.items()
    }
    return envelope("passage", answer.source, sets=sets, top=top, problems=answer.problems)


def _leg(plan: Any) -> Record:
    known = plan.duration is not None
    return {
        "name": plan.name,
        "set": plan.set_name,
        "along": plan.along,
        "distance_nm": plan.route.distance / MILE,
        "course_deg": float(np.degrees(plan.route.course[0])),
        "speed_kn": plan.speed / KNOT if known else None,
        "hours_h": plan.duration / 3600.0 if known else None,
        "first_day": plan.days[0].isoformat(),
        "last_day": plan.days[-1].isoformat(),
        "beating_share": float(sum(one.share for one in plan.lyings if one.beating)),
        "wind_source": plan.wind_source,
    }


def _hours(value: float, *, known: bool) -> float | None:
    return value if known else None


def _ratio(part: float, whole: float) -> float | None:
    return part / whole if whole > 0 else None


def _places(places: Any, *, known: bool) -> list[Record]:
    return [
        {
            "name": name,
            "shade_share": _ratio(float(places.shade[p]), places.sun_up),
            "shade_h": _hours(float(places.shade[p]), known=known),
            "mostly_shaded_share": _ratio(float(places.by_tenth[p, 5:].sum()), places.sun_up),
            "low_sun_h": _hours(float(places.low_sun_minutes[p]) / 60.0, known=known),
            "rain_reaches_share": _ratio(float(places.rain_reaches[p]), places.hours),
            "rain_reaches_h": _hours(float(places.rain_reaches[p]), known=known),
            "uv_sed": _hours(float(places.uv[p]), known=known),
            "uv_share": _ratio(float(places.uv[p]), float(places.uv_open[p])),
        }
        for p, name in enumerate(places.names)
    ]


def _sums(places: Any, legs: Sequence[Any], *, known: bool) -> Record:
    vane = [row for one in legs for row in one.vane]
    windy = sum(row.hours for row in vane)
    return {
        "hours_h": _hours(places.hours, known=known),
        "sun_up_h": _hours(places.sun_up, known=known),
        "uv_open_deck_sed": _hours(float(places.uv_open[0]), known=known),
        "vane_sees_h": _hours(float(sum(row.hours for row in vane if row.sees)), known=bool(vane)),
        "vane_sees_share": _ratio(float(sum(row.hours for row in vane if row.sees)), windy),
        "vane_steers_h": _hours(float(sum(row.hours for row in vane if row.steers)), known=bool(vane)),
        "vane_steers_share": _ratio(float(sum(row.hours for row in vane if row.steers)), windy),
        "vane_sees_by": "line of sight to half of the blade",
        "vane_steers_by": "wake sum, rough, cannot show gains",
    }


def _strike(found: Any, *, known: bool) -> Record:
    if found.strike_at is None:
        return {"strike_at_aws_kn": None, "strike_h": None}
    hours = sum(one.strike(found.strike_at) for one in found.legs)
    return {"strike_at_aws_kn": found.strike_at / KNOT, "strike_h": _hours(float(hours), known=known)}


def _tenths(places: Any, *, known: bool) -> list[Record]:
    if not known:
        return []
    return [
        {"name": name, **{f"shade_{10 * k}_to_{10 * k + 10}_h": float(places.by_tenth[p, k]) for k in range(10)}}
        for p, name in enumerate(places.names)
    ]


def _winds(leg: Any) -> list[Record]:
    return [
        {
            "leg": leg.plan.name,
            "tws_kn": row.lying.true_speed / KNOT,
            "twa_deg": float(np.degrees(row.lying.true_angle)),
            "aws_kn": row.lying.aws / KNOT,
            "awa_deg": float(np.degrees(row.lying.awa)),
            "boat_speed_kn": row.lying.boat_speed / KNOT,
            "beating": row.lying.beating,
            "hours_h": row.hours,
            "clear_share": row.clear_share,
            "sees": row.sees,
            "speed_ratio_free": row.left,
            "lowest_aws_kn": None if row.lowest_aws is None else row.lowest_aws / KNOT,
            "steers": row.steers,
        }
        for row in leg.vane
    ]


def _low_sun(leg: Any) -> list[Record]:
    """Return for the person on watch the hours of low sun on a leg and the canvas that would stop most of it."""
    places = leg.places
    p = places.names.index(ON_WATCH)
    full = float(places.low_sun_full[p])
    best = int(np.argmax(places.stops_minutes[:, p])) if places.tried else None
    stops = None if best is None or full <= 0 else float(places.stops_minutes[best, p]) / full
    helps = stops is not None and stops > 0.01
    return [
        {
            "leg": leg.plan.name,
            "place": ON_WATCH,
            "low_sun_h": _hours(float(places.low_sun_minutes[p]) / 60.0, known=leg.plan.duration is not None),
            "stopped_by": places.tried[best] if helps and best is not None else None,
            "stops_share": stops if helps else None,
        }
    ]


def _worn(one: Any) -> Record:
    return {
        "panel": one.part.panel,
        "name": one.part.name,
        "ends": one.part.ends,
        "life_used_share": one.used,
        "life_used_share_low": one.used_low,
        "life_used_share_high": one.used_high,
    }


def _sentence(found: Any, *, known: bool) -> str:
    places = found.whole
    helm = places.names.index("helm")
    shade = 100 * float(places.shade[helm]) / places.sun_up if places.sun_up > 0 else 0.0
    said = f"The helm is {shade:.0f} % in shade while the sun is up"
    rows = [row for one in found.legs for row in one.vane]
    if known and rows:
        sees = 100 * sum(row.hours for row in rows if row.sees) / sum(row.hours for row in rows)
        said += f"; the vane sees the wind {sees:.0f} % of the time (line of sight)"
    return f"{said}."


def compare_record(answer: Answer) -> Record:
    """Return the record of `compare`: what changed on top, one table for each comparison."""
    top: Record = {
        "changes": [{"key": one.key, "first": one.first, "second": one.second} for one in answer.top.changes]
    }
    sets = {}
    for name, found in answer.results.items():
        labels = [one.label for one in found.columns]
        sets[name] = {
            "columns": [{"name": one.label, "set": one.set_name} for one in found.columns],
            "rows": [
                {
                    "measure": row.name,
                    "unit": row.unit,
                    "values": [
                        {"name": label, "said": _said(value, word, row.unit), "value": value, "word": word}
                        for label, value, word in zip(labels, row.values, row.words, strict=True)
                    ],
                }
                for row in found.rows
            ],
            "partial_order": [
                _step(label, place, step, known=answer.top.hours_known)
                for label, order in zip(labels, found.orders, strict=True)
                for place, step in enumerate(order, start=1)
            ],
        }
    return envelope("compare", answer.source, sets=sets, top=top, problems=answer.problems)


def _said(value: float | None, word: str, unit: str) -> str:
    shown = "-" if value is None else f"{100 * value:.0f} %" if says_share(unit) else f"{value:.3g}"
    return f"{shown} {word}" if word in ("better", "worse") else shown


def _step(label: str, place: int, step: Any, *, known: bool) -> Record:
    cost = step.cost
    middle = None if cost.low is None or cost.high is None else (cost.low + cost.high) / 2
    return {
        "of": label,
        "place": place,
        "panel": step.panel,
        "cost_low": cost.low,
        "cost_high": cost.high,
        "currency": cost.currency,
        "work_low_h": cost.work_low,
        "work_high_h": cost.work_high,
        "adds_shade_h": _hours(step.shade, known=known),
        "adds_dry_h": _hours(step.dry, known=known),
        "cost_per_shaded_h": _ratio(middle, step.shade) if known and middle is not None else None,
        "cost_per_dry_h": _ratio(middle, step.dry) if known and middle is not None else None,
        "work_per_shaded_h": _ratio((cost.work_low + cost.work_high) / 2, step.shade) if known else None,
    }


def sweep_record(answer: Answer) -> Record:
    """Return the record of `sweep`: every variant of each set."""
    done = answer.top
    top: Record = {"numbers": _numbers(done.varies), "reran_tasks": done.reran}
    sets = {
        name: {
            "sentence": _matters(found.effects),
            "variants": [_variant(done.varies, one, found.which) for one in found.variants],
            "effects": [_effect(one) for one in found.effects],
        }
        for name, found in answer.results.items()
    }
    return envelope("sweep", answer.source, sets=sets, top=top, problems=answer.problems)


def search_record(answer: Answer) -> Record:
    """Return the record of `search`: the front, and all that was tried."""
    ((name, found),) = answer.results.items()
    files = list(answer.files)
    top: Record = {
        "numbers": _numbers(found.varies),
        "aims": list(found.aims.names),
        "least_speed_ratio": found.aims.least_speed_ratio,
        "least_headroom_m": found.aims.least_headroom,
        "tried": len(found.variants),
        "reran_tasks": found.reran,
    }
    front = [
        {"file": file, **_variant(found.varies, found.variants[k], 0)}
        for file, k in zip(files, found.front, strict=True)
    ]
    keys = {
        "sentence": _front_sentence(found),
        "front": front,
        "effects": [_effect(one) for one in found.effects],
        "flow": [_flown(one, dict(zip(found.front, files, strict=True)), found) for one in answer.top],
        "variants": [
            {**_variant(found.varies, one, 0), "on_front": k in found.front} for k, one in enumerate(found.variants)
        ],
    }
    return envelope("search", answer.source, sets={name: keys}, top=top, problems=answer.problems)


def _flown(one: Any, files: dict[int, str], found: Any) -> Record:
    values = found.variants[one.variant].values
    said = ", ".join(str(vary.written(value)) for vary, value in zip(found.varies, values, strict=True))
    return {
        "variant": one.variant,
        "said": said,
        "file": files.get(one.variant),
        "awa_deg": float(np.degrees(one.awa)),
        "cell_m": one.cell,
        "speed_ratio": one.flow.value,
        "speed_ratio_low": one.flow.low,
        "speed_ratio_high": one.flow.high,
        "speed_ratio_wake": one.wake,
        "verdict": one.verdict,
        "wake_agrees": one.agrees,
    }


def _still(effects: Sequence[Any]) -> str | None:
    """Return that nothing moves, or nothing that can be told from noise; None where something does."""
    if not effects:
        return STILL
    return NOISE if abs(effects[0].change) < effects[0].least else None


def _matters(effects: Sequence[Any]) -> str:
    still = _still(effects)
    if still is not None:
        return f"{still[0].upper()}{still[1:]}."
    first = effects[0]
    head = head_of(first.measure)
    by = (
        f"{100 * first.change:.2g} percentage points" if head.share else f"{first.change:.2g} {head.unit or ''}".strip()
    )
    return f"What matters most: {first.number}, which moves {head.what} by {by} over its range."


def _front_sentence(found: Any) -> str:
    if not found.front:
        return "Nothing that was tried keeps the limits: loosen one, or vary another number."
    said = (
        f"{len(found.front)} of {len(found.variants)} variants are on the front: none is beaten in all that is aimed at"
    )
    still = _still(found.effects)
    if still is not None:
        return f"{said}; {still}."
    strongest = found.effects[0]
    return f"{said}; {strongest.number} moves {head_of(strongest.measure).what} most."


def _numbers(varies: Sequence[Any]) -> list[Record]:
    return [{"name": one.name, "first": one.written(one.first), "last": one.written(one.last)} for one in varies]


def _variant(varies: Sequence[Any], one: Any, which: int) -> Record:
    values = [
        {"name": vary.name, "said": str(vary.written(value)), "value": value}
        for vary, value in zip(varies, one.values, strict=True)
    ]
    if one.problem is not None:
        return {"values": values, "problem": one.problem}
    found = one.measures[which]
    cost = one.costs[which] if one.costs else None
    return {
        "values": values,
        **{name: found.named(name) for name in found.__slots__},
        "cost_low": None if cost is None else cost.low,
        "cost_high": None if cost is None else cost.high,
        "work_low_h": None if cost is None else cost.work_low,
        "work_high_h": None if cost is None else cost.work_high,
        "problem": None,
    }


def _effect(one: Any) -> Record:
    return {"number": one.number, "measure": one.measure, "change": one.change, "spread": one.spread}

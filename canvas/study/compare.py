"""Put sets or designs side by side: one row a measure, the first column the one that the others are held against.

Computes: rows of values with a word for each: better, worse, same.
Units: as each row says.
Source: canvas/study/worth.py, canvas/study/authority.py, canvas/study/measures.py, the fit checks.
Limits: a difference smaller than the row's own noise is "same"; no weighing of one row against another.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from canvas.cloth.rigging import Rigging
from canvas.cutting.result import CutResult
from canvas.fit.result import CheckResult
from canvas.sky.dome import DomeMap, without
from canvas.study.authority import VaneHours, vane_hours
from canvas.study.legs import LegPlan
from canvas.study.measures import COVERED, measure
from canvas.study.worth import Cost, Worth, cost_of, new_panels_up, worth

Word = Literal["", "better", "worse", "same", "unknown"]
SHADE_NOISE = 0.01  # share below which shade and dryness do not differ: the map's own error; tests/benchmarks/sky
VANE_NOISE = 0.02
SMALL = 0.005  # relative, for all else


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Column:
    """One set of one design, measured.

    Attributes
    ----------
    label : str
    rigging : Rigging
    set_name : str
    with_it, existing : Worth
        With the set, and with only what of it exists already.
    vane : tuple of VaneHours
    cost : Cost
        Of its new panels.
    values : mapping of str to float or None
        By row.
    """

    label: str
    rigging: Rigging
    set_name: str
    with_it: Worth
    existing: Worth
    vane: tuple[VaneHours, ...]
    cost: Cost
    values: dict[str, float | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One measure over all columns.

    Attributes
    ----------
    name, unit : str
    values : tuple of float or None
    words : tuple of str
        Against the first column; empty for it.
    """

    name: str
    unit: str
    values: tuple[float | None, ...]
    words: tuple[Word, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Kind:
    name: str
    unit: str
    more: bool
    noise: float | None = None


KINDS: tuple[_Kind, ...] = (
    *(_Kind(name=f"shade, {place}", unit="share", more=True, noise=SHADE_NOISE) for place in COVERED),
    *(_Kind(name=f"dry were it raining, {place}", unit="share", more=True, noise=SHADE_NOISE) for place in COVERED),
    _Kind(name="vane sees the wind, line of sight", unit="share of hours", more=True, noise=VANE_NOISE),
    _Kind(name="vane steers, wake sum, rough", unit="share of hours", more=True, noise=VANE_NOISE),
    _Kind(name="blade in clear sight at the worst course", unit="share", more=True, noise=VANE_NOISE),
    _Kind(name="wind left at the worst course, wake sum, rough", unit="of bare", more=True, noise=VANE_NOISE),
    _Kind(name="checks failed", unit="checks", more=False),
    _Kind(name="checks too close to call", unit="checks", more=False),
    _Kind(name="new cloth", unit="m²", more=False),
    _Kind(name="work, least", unit="h", more=False),
    _Kind(name="work, most", unit="h", more=False),
    _Kind(name="cost, least", unit="money", more=False),
    _Kind(name="cost, most", unit="money", more=False),
    _Kind(name="cost of an hour shaded", unit="money/h", more=False),
    _Kind(name="cost of an hour dry", unit="money/h", more=False),
    _Kind(name="work for an hour shaded", unit="h/h", more=False),
    _Kind(name="work for an hour dry", unit="h/h", more=False),
    _Kind(name="hours shaded for an hour of vane lost", unit="h/h", more=True),
)


def column(
    label: str,
    rigging: Rigging,
    set_name: str,
    *,
    known: DomeMap,
    plans: Sequence[LegPlan],
    cut: CutResult | None,
    checks: Sequence[CheckResult],
    rate: float,
    rain_height: float,
) -> Column:
    """Return one set of one design measured.

    Parameters
    ----------
    label : str
        Of the column.
    rigging : Rigging
    set_name : str
    known : DomeMap
        Of the set.
    plans : sequence of LegPlan
    cut : CutResult or None
        All new panels of the design; None where the set has none.
    checks : sequence of CheckResult
    rate : float
        Rain rate [mm/h].
    rain_height : float
        [m]
    """
    new = new_panels_up(rigging, set_name)
    with_it = worth(rigging, known, plans, rate=rate, rain_height=rain_height)
    existing = worth(rigging, without(known, new), plans, rate=rate, rain_height=rain_height)
    vane = _vane(rigging, set_name, plans)
    before = _vane(rigging, rigging.model.design.vane.steers_from_with, plans)
    cost = cost_of(cut, rigging, new)
    quick = measure(rigging, set_name)
    verdicts = [check.verdict for check in checks]
    values: dict[str, float | None] = {
        **{f"shade, {place}": _share(with_it.shade, with_it, place, with_it.sun_up) for place in COVERED},
        **{f"dry were it raining, {place}": _share(with_it.dry, with_it, place, with_it.hours) for place in COVERED},
        "vane sees the wind, line of sight": _of_hours(vane, "sees"),
        "vane steers, wake sum, rough": _of_hours(vane, "steers"),
        "blade in clear sight at the worst course": quick.clear_share,
        "wind left at the worst course, wake sum, rough": quick.speed_ratio,
        "checks failed": float(verdicts.count("fail")),
        "checks too close to call": float(verdicts.count("close")),
        "new cloth": quick.cloth_m2,
        "work, least": cost.work_low,
        "work, most": cost.work_high,
        "cost, least": cost.low,
        "cost, most": cost.high,
        **_per_hour(plans, with_it, existing, cost),
        "hours shaded for an hour of vane lost": _for_vane(plans, with_it, existing, vane, before),
    }
    return Column(
        label=label, rigging=rigging, set_name=set_name, with_it=with_it, existing=existing, vane=vane, cost=cost,
        values=values,
    )  # fmt: skip


def _vane(rigging: Rigging, set_name: str, plans: Sequence[LegPlan]) -> tuple[VaneHours, ...]:
    windy = [plan for plan in plans if plan.duration is not None]
    return tuple(
        row
        for plan in windy
        for row in vane_hours(rigging, plan.lyings, set_name=set_name, hours=plan.weight * len(plan.sun.up))
    )


def _share(values: np.ndarray, of: Worth, place: str, hours: float) -> float | None:
    value = float(values[of.names.index(place)])
    return None if np.isnan(value) or hours <= 0 else value / hours


def _of_hours(rows: Sequence[VaneHours], key: str) -> float | None:
    total = sum(row.hours for row in rows)
    return sum(row.hours for row in rows if getattr(row, key)) / total if total > 0 else None


def _per_hour(plans: Sequence[LegPlan], with_it: Worth, existing: Worth, cost: Cost) -> dict[str, float | None]:
    """Return money and work for each hour gained over what exists already; None where nothing is gained or known."""
    found: dict[str, float | None] = {}
    known = any(plan.duration is not None for plan in plans)
    money = None if cost.low is None or cost.high is None else (cost.low + cost.high) / 2
    work = (cost.work_low + cost.work_high) / 2
    for word, key in (("shaded", "shade"), ("dry", "dry")):
        gained = with_it.seats(key) - existing.seats(key)
        counts = known and gained > 0.1
        found[f"cost of an hour {word}"] = money / gained if counts and money is not None else None
        found[f"work for an hour {word}"] = work / gained if counts and work > 0 else None
    return found


def _for_vane(
    plans: Sequence[LegPlan], with_it: Worth, existing: Worth, vane: Sequence[VaneHours], before: Sequence[VaneHours]
) -> float | None:
    lost = sum(row.hours for row in before if row.steers) - sum(row.hours for row in vane if row.steers)
    if lost <= 0 or not any(plan.duration is not None for plan in plans):
        return None
    return (with_it.seats("shade") - existing.seats("shade")) / lost


def rows_of(columns: Sequence[Column]) -> tuple[Row, ...]:
    """Return the rows of a comparison, each value marked against the first column."""
    found = [(kind, tuple(one.values[kind.name] for one in columns)) for kind in KINDS]
    return tuple(
        Row(
            name=kind.name,
            unit=kind.unit,
            values=values,
            words=("", *(_word(kind, values[0], value) for value in values[1:])),
        )
        for kind, values in found
        if any(value is not None for value in values)
    )


def _word(kind: _Kind, first: float | None, value: float | None) -> Word:
    if first is None or value is None:
        return "unknown"
    noise = kind.noise if kind.noise is not None else SMALL * max(abs(first), abs(value))
    if abs(value - first) <= noise:
        return "same"
    return "better" if (value > first) == kind.more else "worse"

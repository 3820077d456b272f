"""Say what canvas is worth for its money: hours shaded and dry that it adds, and which piece to make first.

Computes: hours of shade and of dryness by place over a passage; the cost of any choice of panels; the order in which
    panels add most for what they cost.
Units: hours (shares where a passage has none); the design's currency; metres.
Source: the dome map with panels taken down; quantities after canvas/materials.
Limits: dryness is "were it raining". Without prices or a shop's rate the order goes by hours of work. The order takes
    the best next piece each time; a pair that only helps together may come late.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from canvas.cloth.rigging import Rigging
from canvas.cutting.result import CutResult
from canvas.geometry.surface import Floats, locked
from canvas.jobs.failure import CouldNot
from canvas.materials.cost import Bill, bill
from canvas.materials.quantities import take_off
from canvas.sky.dome import DomeMap, place_tables, without
from canvas.sky.shade import shade_hours
from canvas.study.legs import LegPlan, from_bow
from canvas.study.measures import COVERED
from canvas.study.passage import AHEAD, rain_on


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Worth:
    """Hours on each place.

    Attributes
    ----------
    names : tuple of str
    hours, sun_up : float
    shade : (p,) ndarray
        Hours of sun-up, counted by the share in shade.
    dry : (p,) ndarray
        Hours, counted by the share that rain would not reach; nan without wind.
    """

    names: tuple[str, ...]
    hours: float
    sun_up: float
    shade: Floats
    dry: Floats

    def seats(self, key: str) -> float:
        """Return shade or dry hours as the mean of seats and helm."""
        values: Floats = getattr(self, key)
        return float(np.mean([values[self.names.index(name)] for name in COVERED]))


@dataclass(frozen=True, slots=True, kw_only=True)
class Cost:
    """What some new panels cost; None where a price or a rate is unknown."""

    low: float | None
    high: float | None
    materials: float | None
    work_low: float
    work_high: float
    currency: str

    @property
    def weight(self) -> float:
        """What choices are ranked by: money where it is known, else hours of work."""
        if self.low is not None and self.high is not None:
            return (self.low + self.high) / 2
        return (self.work_low + self.work_high) / 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One piece to make next.

    Attributes
    ----------
    panel : str
    cost : Cost
        Beyond the pieces before it.
    shade, dry : float
        Hours it adds, mean of seats and helm; dry is nan without wind.
    """

    panel: str
    cost: Cost
    shade: float
    dry: float


def worth(rigging: Rigging, known: DomeMap, plans: Sequence[LegPlan], *, rate: float, rain_height: float) -> Worth:
    """Return the hours shaded and dry on each place over legs.

    Parameters
    ----------
    rigging : Rigging
    known : DomeMap
        Of the canvas that is up.
    plans : sequence of LegPlan
    rate : float
        Rain rate [mm/h].
    rain_height : float
        [m]
    """
    tables = place_tables(known)
    counted = [one for one in plans if one.duration is not None] or list(plans)
    shade, dry = np.zeros(len(known.places)), np.zeros(len(known.places))
    hours, sun_up = 0.0, 0.0
    for plan in counted:
        up = plan.sun.up
        total = plan.weight * len(up)
        hours, sun_up = hours + total, sun_up + plan.weight * float(up.sum())
        for lying in plan.lyings:
            sun = from_bow(plan.sun, lying.off_course)
            share = shade_hours(tables, sun, headings=AHEAD, heel=lying.heel).share[:, up]
            shade += lying.share * plan.weight * share.sum(axis=1)
            dry += lying.share * total * (1.0 - rain_on(rigging, known, lying, rate, rain_height))
    return Worth(names=tables.names, hours=hours, sun_up=sun_up, shade=locked(shade), dry=locked(dry))


def cost_of(cut: CutResult | None, rigging: Rigging, panels: Sequence[str]) -> Cost:
    """Return what some of the new panels cost, nested without the others.

    Parameters
    ----------
    cut : CutResult or None
        All new panels cut; None where nothing is to be made.
    rigging : Rigging
    panels : sequence of str
    """
    design = rigging.model.design
    bills: list[Bill] = []
    if cut is not None:
        chosen = replace(
            cut,
            parts=tuple(part for part in cut.parts if part.panel in panels),
            seams=tuple(seam for seam in cut.seams if seam.panel_a in panels),
            edges=tuple(edge for edge in cut.edges if edge.panel in panels),
        )
        bills = [bill(take, design) for take in take_off(chosen, design, tubes=rigging.model.tubes)]
    return Cost(
        low=_sum([one.total_low for one in bills]),
        high=_sum([one.total_high for one in bills]),
        materials=_sum([one.materials for one in bills]),
        work_low=sum(one.hours_low for one in bills),
        work_high=sum(one.hours_high for one in bills),
        currency=design.prices.currency,
    )


def _sum(parts: Sequence[float | None]) -> float | None:
    known = [one for one in parts if one is not None]
    return sum(known) if len(known) == len(parts) else None


def new_panels_up(rigging: Rigging, set_name: str) -> tuple[str, ...]:
    """Return the new panels that are up in a set."""
    design = rigging.model.design
    ups = [up.panel for up in design.panels_up(set_name)]
    return tuple(name for name in ups if not design.panel_named(name).existing)


def cheapest_order(
    rigging: Rigging,
    cut: CutResult,
    known: DomeMap,
    plans: Sequence[LegPlan],
    *,
    set_name: str,
    rate: float,
    rain_height: float,
) -> tuple[Step, ...]:
    """Return the new panels of a set, each time the one that adds most shade and dryness for its cost.

    Parameters
    ----------
    rigging : Rigging
    cut : CutResult
    known : DomeMap
        Of the whole set.
    plans : sequence of LegPlan
    set_name : str
    rate, rain_height : float
        As in `worth`.

    Raises
    ------
    CouldNot
        When the set has no new panel.
    """
    left = list(new_panels_up(rigging, set_name))
    if not left:
        raise CouldNot(f'Set "{set_name}" has no new panel.', "Ask for a set with canvas to be made.")

    def at(made: Sequence[str]) -> tuple[Cost, Worth]:
        down = [name for name in new_panels_up(rigging, set_name) if name not in made]
        map_of = without(known, down)
        return cost_of(cut, rigging, made), worth(rigging, map_of, plans, rate=rate, rain_height=rain_height)

    made: list[str] = []
    cost, gain = at(made)
    steps = []
    while left:
        tries = {name: at([*made, name]) for name in left}
        best = max(left, key=lambda name: _per_cost(tries[name], cost, gain))
        more, better = tries[best]
        steps.append(
            Step(
                panel=best,
                cost=_beyond(more, cost),
                shade=better.seats("shade") - gain.seats("shade"),
                dry=better.seats("dry") - gain.seats("dry"),
            )
        )
        made.append(best)
        left.remove(best)
        cost, gain = more, better
    return tuple(steps)


def _per_cost(tried: tuple[Cost, Worth], cost: Cost, gain: Worth) -> float:
    more, better = tried
    hours = better.seats("shade") - gain.seats("shade")
    dry = better.seats("dry") - gain.seats("dry")
    added = hours + (0.0 if np.isnan(dry) else dry)
    return added / max(_beyond(more, cost).weight, 1e-9)


def _beyond(more: Cost, less: Cost) -> Cost:
    def apart(a: float | None, b: float | None) -> float | None:
        return None if a is None or b is None else a - b

    return Cost(
        low=apart(more.low, less.low),
        high=apart(more.high, less.high),
        materials=apart(more.materials, less.materials),
        work_low=more.work_low - less.work_low,
        work_high=more.work_high - less.work_high,
        currency=more.currency,
    )

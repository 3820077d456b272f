"""Answer what a set is worth: a passage added up, sets and designs side by side.

Computes: passages and comparisons.
Units: SI and radians in and out; records carry their units in their keys.
Source: the layers below.
Limits: nothing is printed or drawn here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from canvas.air.wind import KNOT
from canvas.brief.answer import Answer
from canvas.brief.records import study as study_records
from canvas.cloth.rigging import Rigging
from canvas.cutting.ordered import cut_result
from canvas.cutting.result import CutResult
from canvas.design.problems import DesignError, Problem
from canvas.design.schema.design import BARE
from canvas.design.tables import default
from canvas.fit.table import check_set
from canvas.geometry.surface import Surface
from canvas.jobs.progress import SILENT, Progress
from canvas.strength.loads import set_loads
from canvas.study.changes import Change, changed_inputs
from canvas.study.compare import Column, Row, column, rows_of
from canvas.study.legs import LegPlan, plan_legs, plan_of_year
from canvas.study.passage import LegHours, PlaceHours, leg_hours, summed
from canvas.study.wear import Wear, wear
from canvas.study.worth import Step, cheapest_order, new_panels_up
from canvas.verbs.asking import DesignLike, chosen_sets, rigging_of
from canvas.verbs.maps import known_map, take_over
from canvas.verbs.sky import COCKPIT_HEIGHT, all_canvas

MOST_ALIKE = 2  # columns that a comparison needs
LATITUDES_DEG = (0.0, 15.0, 30.0, 45.0)  # where a boat without a passage is compared
LOADED_AT = 25.0 * KNOT  # wind at which the canvas is loaded to find when to strike [m/s]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PassageFound:
    """One set on the whole passage.

    Attributes
    ----------
    legs : tuple of LegHours
    whole : PlaceHours
    strike_at : float or None
        Wind at the instrument at which to begin to strike; None where it is not known [m/s].
    """

    legs: tuple[LegHours, ...]
    whole: PlaceHours
    strike_at: float | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PassagePlanned:
    """The passage as it is planned.

    Attributes
    ----------
    plans : tuple of LegPlan
    legs : tuple of LegHours
        Each with the set that it is sailed with.
    whole : PlaceHours
    wear : tuple of Wear
    """

    plans: tuple[LegPlan, ...]
    legs: tuple[LegHours, ...]
    whole: PlaceHours
    wear: tuple[Wear, ...]


def passage(
    design: DesignLike,
    *,
    sets: Sequence[str] | None = None,
    leave: date | None = None,
    strike: float | None = None,
    rate: float | None = None,
    progress: Progress = SILENT,
) -> Answer:
    """Add up the design's passage: hours of shade, low sun, rain that reaches, the vane's wind, striking, ultraviolet.

    Parameters
    ----------
    design : path, Source or Rigging
    sets : sequence of str, optional
    leave : date, optional
        Day of leaving; the middle of each leg's month where absent.
    strike : float, optional
        Wind at the instrument from which canvas is struck, whatever its strength [m/s]; worked out by loading each set
        where absent.
    rate : float, optional
        Rain rate [mm/h].
    progress : Progress

    Raises
    ------
    DesignError
        When there is no passage, or a leg cannot be sailed as it is written.
    """
    rigging = rigging_of(design)
    names = chosen_sets(rigging, sets)
    plans = plan_legs(rigging.model.source, leave=leave)
    sailed = [plan.set_name or BARE for plan in plans]
    canvas = all_canvas(rigging)
    amount = rate if rate is not None else default("rain_rate")
    wanted = tuple(dict.fromkeys((*names, *sailed)))
    found: dict[str, tuple[LegHours, ...]] = {}
    for number, name in enumerate(wanted):
        progress.step("sailing the passage", number, len(wanted) + 1)
        found[name] = _sailed(rigging, name, plans, rate=amount, canvas=canvas)
    progress.step("loading the canvas", len(wanted), len(wanted) + 1)
    results = {
        name: PassageFound(legs=found[name], whole=summed(found[name]), strike_at=_strike(rigging, name, strike))
        for name in names
    }
    legs = tuple(found[name][k] for k, name in enumerate(sailed))
    planned = PassagePlanned(plans=plans, legs=legs, whole=summed(legs), wear=wear(rigging, plans))
    return Answer(
        verb="passage",
        rigging=rigging,
        results=results,
        top=planned,
        problems=_noted(rigging, plans),
        writer=study_records.passage_record,
    )


def _sailed(
    rigging: Rigging, name: str, plans: Sequence[LegPlan], *, rate: float, canvas: tuple[Surface, ...]
) -> tuple[LegHours, ...]:
    """Return the hours of each leg with one set up; canvas not up is tried where the leg is sailed with that set."""
    return tuple(
        leg_hours(
            rigging,
            plan,
            set_name=name,
            known=known_map(rigging, name),
            rate=rate,
            rain_height=COCKPIT_HEIGHT,
            candidates=canvas if name == (plan.set_name or BARE) else (),
        )
        for plan in plans
    )


def _strike(rigging: Rigging, name: str, strike: float | None) -> float | None:
    """Return the wind at which a set is struck; None where nothing is up or nothing is known."""
    if not rigging.model.design.panels_up(name):
        return None
    return strike if strike is not None else set_loads(rigging, name, aws=LOADED_AT).strike_at


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Compared:
    """Sets side by side.

    Attributes
    ----------
    changes : tuple of Change
        Inputs that differ between two designs; empty for one.
    hours_known : bool
        Whether both designs have a passage with winds.
    """

    changes: tuple[Change, ...]
    hours_known: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SideBySide:
    """One comparison.

    Attributes
    ----------
    columns : tuple of Column
        The first is the one that the others are held against.
    rows : tuple of Row
    orders : tuple of tuple of Step
        By column, in which order to make its new panels; empty where it has none.
    """

    columns: tuple[Column, ...]
    rows: tuple[Row, ...]
    orders: tuple[tuple[Step, ...], ...]


def compare(
    design: DesignLike,
    other: DesignLike | None = None,
    *,
    sets: Sequence[str] | None = None,
    progress: Progress = SILENT,
) -> Answer:
    """Put two designs side by side, set by set, or the sets of one design.

    Parameters
    ----------
    design : path, Source or Rigging
    other : path, Source or Rigging, optional
        Another design or revision; the sets of the first are compared with one another where absent.
    sets : sequence of str, optional
        Of one design, the first is the one that the others are held against.
    progress : Progress

    Raises
    ------
    DesignError
        When there is nothing to compare.
    """
    first = rigging_of(design)
    second = None if other is None else rigging_of(other)
    pairs = _pairs(first, second, sets)
    both = [rigging for rigging in (first, second) if rigging is not None]
    plans = {id(one): _plans(one) for one in both}
    found: dict[str, SideBySide] = {}
    wants = {id(one): one for columns in pairs.values() for _, one, name in columns if new_panels_up(one, name)}
    cuts = {}
    for key, one in wants.items():
        one.take_over(first)
        cuts[key] = cut_result(one)
    total = sum(len(columns) for columns in pairs.values())
    done = 0
    for name, wanted in pairs.items():
        columns, orders = [], []
        for label, rigging, set_name in wanted:
            progress.step("comparing", done, total)
            done += 1
            take_over(rigging, first)
            cut = cuts.get(id(rigging))
            columns.append(_column(label, rigging, set_name, cut, plans[id(rigging)]))
            orders.append(_order(rigging, set_name, cut, plans[id(rigging)]))
        found[name] = SideBySide(columns=tuple(columns), rows=rows_of(columns), orders=tuple(orders))
    return Answer(
        verb="compare",
        rigging=first,
        results=found,
        top=Compared(
            changes=() if second is None else changed_inputs(first.model.source, second.model.source),
            hours_known=all(any(plan.duration is not None for plan in plans[id(one)]) for one in both),
        ),
        writer=study_records.compare_record,
    )


def _pairs(
    first: Rigging, second: Rigging | None, sets: Sequence[str] | None
) -> dict[str, list[tuple[str, Rigging, str]]]:
    """Return what is put side by side: by name, columns of label, boat and set."""
    names = chosen_sets(first, sets, bare=False)
    if second is None:
        if len(names) < MOST_ALIKE:
            raise DesignError([
                Problem(code="nothing-to-compare", key="--set", found="one set of one design",
                        wanted="Name a second design, or --set twice."),
            ])  # fmt: skip
        return {" / ".join(names): [(name, first, name) for name in names]}
    there = second.model.design.set_names()
    both = [name for name in names if name in there]
    if not both:
        raise DesignError([
            Problem(code="nothing-to-compare", key="--set", found="no set of one name in both designs",
                    wanted="Give the sets to be compared one name."),
        ])  # fmt: skip
    labels = [f"{one.model.design.name} {one.model.design.revision}" for one in (first, second)]
    if labels[0] == labels[1]:
        labels = [f"{label} ({word})" for label, word in zip(labels, ("first", "second"), strict=True)]
    return {name: [(label, one, name) for label, one in zip(labels, (first, second), strict=True)] for name in both}


def _plans(rigging: Rigging) -> tuple[LegPlan, ...]:
    """Return the legs of a design's passage; days of the year where it has none."""
    if rigging.model.design.passage is None:
        return (plan_of_year([float(np.radians(one)) for one in LATITUDES_DEG]),)
    return plan_legs(rigging.model.source)


def _column(label: str, rigging: Rigging, set_name: str, cut: CutResult | None, plans: Sequence[LegPlan]) -> Column:
    return column(
        label,
        rigging,
        set_name,
        known=known_map(rigging, set_name),
        plans=plans,
        cut=cut,
        checks=check_set(rigging, set_name),
        rate=default("rain_rate"),
        rain_height=COCKPIT_HEIGHT,
    )


def _order(rigging: Rigging, set_name: str, cut: CutResult | None, plans: Sequence[LegPlan]) -> tuple[Step, ...]:
    if cut is None or not new_panels_up(rigging, set_name):
        return ()
    return cheapest_order(
        rigging,
        cut,
        known_map(rigging, set_name),
        plans,
        set_name=set_name,
        rate=default("rain_rate"),
        rain_height=COCKPIT_HEIGHT,
    )


def _noted(rigging: Rigging, plans: Sequence[LegPlan]) -> tuple[Problem, ...]:
    """Return what a reader of the sums must know about the legs."""
    source = rigging.model.source
    notes = []
    for number, plan in enumerate(plans):
        if plan.windless:
            notes.append(
                source.problem(
                    ("passage", "legs", number), code="no-wind", severity="warning", found="no wind",
                    wanted="Its hours are unknown and it is left out of the sums; write winds with their shares.",
                )
            )  # fmt: skip
        if plan.set_name is None:
            notes.append(
                source.problem(
                    ("passage", "legs", number), code="no-set", severity="note", found="no set to sail it with",
                    wanted='It is planned bare; write set = "...".',
                )
            )  # fmt: skip
    return tuple(notes)

"""Answer which one: a passage added up, sets and designs side by side, many variants, the best of them.

Computes: passages, comparisons, sweeps and searches.
Units: SI and radians in and out; records carry their units in their keys.
Source: the layers below.
Limits: nothing is printed or drawn here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from canvas.air.wind import KNOT
from canvas.brief.answer import Answer
from canvas.brief.records import study as study_records
from canvas.cloth.rigging import Rigging
from canvas.design.problems import Problem
from canvas.design.schema.design import BARE
from canvas.design.tables import default
from canvas.jobs.progress import SILENT, Progress
from canvas.strength.loads import set_loads
from canvas.study.legs import LegPlan, plan_legs
from canvas.study.passage import LegHours, PlaceHours, leg_hours, summed
from canvas.study.wear import Wear, wear
from canvas.verbs.asking import DesignLike, chosen_sets, rigging_of
from canvas.verbs.sky import COCKPIT_HEIGHT, all_canvas, known_map

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
        found[name] = tuple(
            leg_hours(
                rigging,
                plan,
                set_name=name,
                known=known_map(rigging, name),
                rate=amount,
                rain_height=COCKPIT_HEIGHT,
                candidates=canvas if name == set_name else (),
            )
            for plan, set_name in zip(plans, sailed, strict=True)
        )
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


def _strike(rigging: Rigging, name: str, strike: float | None) -> float | None:
    """Return the wind at which a set is struck; None where nothing is up or nothing is known."""
    if not rigging.model.design.panels_up(name):
        return None
    return strike if strike is not None else set_loads(rigging, name, aws=LOADED_AT).strike_at


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

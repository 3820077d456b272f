"""Work out what is to be measured on this boat, and what would help most once some of it is entered.

Computes: the plan of readings, in order; marks that are left out or checked less than asked, and why; further readings.
Units: metres, boat frame.
Source: `canvas.survey.plan`.
Limits: needs places of the marks good to some 0.2 m. Heights are taken in one levelling session of their own.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from canvas.asbuilt.built import hanging_marks
from canvas.cloth.rigging import Rigging
from canvas.design.problems import DesignError, Problem
from canvas.design.schema.design import BARE
from canvas.geometry.sightlines import hidden_pairs
from canvas.survey.datum import Datum
from canvas.survey.from_design import Survey
from canvas.survey.plan import (
    CHECKED,
    PER_MARK,
    Advice,
    Plan,
    Possible,
    asks_for,
    next_readings,
    ordered,
    plan_readings,
    possible_readings,
)
from canvas.survey.readings import Height, Reading, Session, Side, Tape, describe

REACH = 4.0  # [m] from the middle of all marks beyond which one is not taped from the cockpit
LONGEST = 5.0  # [m] of tape that two people hold straight
LEAST = 4  # marks that make a survey
SESSION = "level"


@dataclass(frozen=True, slots=True, kw_only=True)
class Shortfall:
    """A mark that is left out of the plan, or a mark or reading that is checked less than asked.

    Attributes
    ----------
    name : str
        Of the mark or reading.
    why : str
    """

    name: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ToMeasure:
    """What is to be measured.

    Attributes
    ----------
    plan : Plan
        Readings in the order in which they are taken.
    left_out : tuple of Shortfall
        Marks that are not measured.
    short : tuple of Shortfall
        Marks with fewer readings than asked, and readings that others hardly check.
    entered : tuple of (str or None)
        What was typed for each reading of the plan; None where it is still to be taken.
    advice : tuple of Advice
        Further readings that help most; empty before any are entered.
    """

    plan: Plan
    left_out: tuple[Shortfall, ...]
    short: tuple[Shortfall, ...]
    entered: tuple[str | None, ...]
    advice: tuple[Advice, ...]


def to_measure(rigging: Rigging, survey: Survey) -> ToMeasure:
    """Return the readings to take on a boat.

    Parameters
    ----------
    rigging : Rigging
        Marks where they are known, or roughly.
    survey : Survey
        What is entered already, and what it hangs on.

    Raises
    ------
    DesignError
        When there are too few marks to plan a survey of.
    """
    places, left_out = _near(rigging, survey)
    if len(places) < LEAST:
        raise DesignError(
            [
                Problem(
                    code="few-marks",
                    key="marks",
                    found=f"{len(places)} marks to measure",
                    wanted=f"Name {LEAST} or more, with coordinates good to a hand's breadth.",
                )
            ]
        )
    held = {mark: places[mark] for mark in survey.datum.held if mark in places}
    datum = Datum(held=held) if len(held) >= 3 else Datum(rough=places)
    solid = [s for s in rigging.rig(BARE).scene.surfaces if s.kind in ("boat", "solid")]
    hidden = hidden_pairs(solid, places)
    possible = possible_readings(places, held=tuple(held), longest=LONGEST, blocked=hidden, session=SESSION)
    entries = [entry for entry in survey.entries if all(mark in places for mark in entry.marks)]
    in_hand = [entry for entry in entries if not isinstance(entry, Side)]
    possible = (*possible, *_more_of(in_hand, possible, places))
    plan = ordered(
        plan_readings(
            possible, places, datum=datum, sessions=(Session(name=SESSION),), precision=survey.precision,
            in_hand=in_hand,
        )
    )  # fmt: skip
    return ToMeasure(
        plan=plan,
        left_out=left_out,
        short=_short(plan, possible, held=held, hidden=hidden),
        entered=_entered(plan, in_hand),
        advice=_advice(in_hand, possible, places, datum, survey),
    )


def _more_of(
    in_hand: Sequence[Reading], possible: Sequence[Possible], places: Mapping[str, tuple[float, float, float]]
) -> list[Possible]:
    """Return what was taken, or taken again, beside what is possible."""
    known = Counter(asks_for(reading) for reading in possible)
    more: list[Possible] = []
    for entry in in_hand:
        known[asks_for(entry)] -= 1
        if known[asks_for(entry)] >= 0:
            continue
        if isinstance(entry, Tape) and not entry.via and not entry.slack:
            length = float(np.linalg.norm(np.subtract(places[entry.a], places[entry.b])))
            more.append(Tape(a=entry.a, b=entry.b, length=length))
        elif isinstance(entry, Height):
            more.append(Height(mark=entry.mark, height=places[entry.mark][2], session=SESSION))
    return more


def _entered(plan: Plan, in_hand: Sequence[Reading]) -> tuple[str | None, ...]:
    typed: dict[tuple[str, frozenset[str]], list[str]] = {}
    for entry in in_hand:
        typed.setdefault(asks_for(entry), []).append(entry.where.text)
    texts = (typed.get(asks_for(reading)) for reading in plan.readings)
    return tuple(waiting.pop(0) if waiting else None for waiting in texts)


def _near(rigging: Rigging, survey: Survey) -> tuple[dict[str, tuple[float, float, float]], tuple[Shortfall, ...]]:
    """Return the marks that can be measured from the cockpit, and why others cannot."""
    marks = rigging.model.marks
    away = np.linalg.norm(marks.xyz - np.median(marks.xyz, axis=0), axis=1) if len(marks.names) else np.zeros(0)
    hanging = hanging_marks(rigging)
    touched = {mark for entry in survey.entries for mark in entry.marks}
    places, left_out = {}, []
    for name, (x, y, z), far in zip(marks.names, marks.xyz, away, strict=True):
        if name in touched or (far <= REACH and name not in hanging):
            places[name] = (float(x), float(y), float(z))
        elif name in hanging:
            why = f'a corner of "{hanging[name]}", which is not there yet: rig the mock-up, then measure it'
            left_out.append(Shortfall(name=name, why=why))
        else:
            left_out.append(Shortfall(name=name, why="out of a tape's reach from the cockpit"))
    return places, tuple(left_out)


def _short(
    plan: Plan, possible: Sequence[Possible], *, held: Mapping[str, object], hidden: Sequence[tuple[str, str]]
) -> tuple[Shortfall, ...]:
    """Return marks with fewer readings than asked and readings with less redundancy, and why no plan can give more."""
    could = Counter(mark for reading in possible for mark in reading.marks)
    shut = Counter(mark for pair in hidden for mark in pair)
    short = []
    for name, touching in zip(plan.names, plan.touching.tolist(), strict=True):
        if touching < PER_MARK and name not in held:
            why = f"{touching} readings: only {could[name]} can be taken, for {shut[name]} marks are hidden from it"
            short.append(Shortfall(name=name, why=why))
    for reading, redundancy in zip(plan.readings, plan.redundancy.tolist(), strict=True):
        if redundancy < CHECKED - 1e-6:
            why = f"others show only {100 * redundancy:.0f} % of an error in it, whatever is taken: take it twice"
            short.append(Shortfall(name=describe(reading), why=why))
    return tuple(short)


def _advice(
    in_hand: Sequence[Reading],
    possible: Sequence[Possible],
    places: Mapping[str, Sequence[float]],
    datum: Datum,
    survey: Survey,
) -> tuple[Advice, ...]:
    """Return the three further readings that help most; none before any are entered or when none is left."""
    taken = {asks_for(entry) for entry in in_hand}
    left = [reading for reading in possible if asks_for(reading) not in taken]
    if not in_hand or not left:
        return ()
    sessions = (*survey.sessions, Session(name=SESSION))
    return next_readings(in_hand, left, places, datum=datum, sessions=sessions, precision=survey.precision)

"""Choose what to measure: the least effort that pins every mark and leaves no slip of the tape unseen.

Computes: which of the possible readings to take; the further readings that help most once some are entered.
Units: metres; effort in minutes for two people.
Source: redundancy and covariance by the normal equations of the readings, before any is taken, as in Ghilani,
    Adjustment Computations, chapter on network design; effort is common practice, no source.
Limits: needs rough coordinates, good to some 0.2 m; what hides a mark from another is told, not worked out.
Departs: readings are dropped one at a time from all that are possible, then exchanged; judged in the tests against the
    best of all sets on a small case.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import combinations
from typing import TypeAlias

import numpy as np

from canvas.survey.adjust import all_conditions, system_for
from canvas.survey.choosing import Choice, Chooser
from canvas.survey.datum import Datum
from canvas.survey.marks import Bools, Floats, Ints
from canvas.survey.readings import Entry, Height, Offset, Precision, Reading, Session, Side, Tape

Possible: TypeAlias = Tape | Height | Offset

CHECKED = 0.3  # least redundancy of a reading
PER_MARK = 6  # least number of readings that touch a mark
VAGUE = 0.5  # [m] how well a mark is known before anything is measured
FIRM = 1e-5  # [m] how firmly conditions hold
SHORTEST = 0.15  # [m] shorter tape lengths are not asked for


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Plan:
    """Readings to take.

    Attributes
    ----------
    readings : tuple of Tape, Height or Offset
        Their values are what the rough coordinates give.
    effort : float
        [min]
    redundancy : (m,) ndarray
        Of each reading.
    names : tuple of str
    sd : (n,) ndarray
        [m] Largest axis of each mark, expected.
    touching : (n,) ndarray of int
        Readings that touch each mark.
    """

    readings: tuple[Possible, ...]
    effort: float
    redundancy: Floats
    names: tuple[str, ...]
    sd: Floats
    touching: Ints


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """One further reading worth taking.

    Attributes
    ----------
    reading : Reading
        Its value is what is expected.
    worst_before, worst_after : float
        [m] Largest standard deviation of any mark without and with it, those advised before it taken.
    """

    reading: Possible
    worst_before: float
    worst_after: float


def effort_of(reading: Possible) -> float:
    """Return the time two people take for a reading [min]."""
    if isinstance(reading, Tape):
        return 0.7 + 0.15 * reading.length
    return 0.5 if isinstance(reading, Height) else 1.0


def asks_for(reading: Reading) -> tuple[str, frozenset[str]]:
    """Return what a reading asks for: two tapes between the same marks ask for the same."""
    return type(reading).__name__, frozenset(reading.marks)


def possible_readings(
    places: Mapping[str, Sequence[float]],
    *,
    held: Sequence[str] = (),
    longest: float = 5.0,
    blocked: Sequence[tuple[str, str]] = (),
    session: str | None = "level",
) -> tuple[Possible, ...]:
    """Return every tape length and height that could be taken.

    Parameters
    ----------
    places : mapping of str to (3,) sequence
        [m] Rough coordinates.
    held : sequence of str
        Marks whose mutual lengths are known.
    longest : float
        [m] Tape that two people can hold straight.
    blocked : sequence of (str, str)
        Pairs with something in between.
    session : str or None
        Levelling session in which every mark gets a height; None without a level.
    """
    shut = {frozenset(pair) for pair in blocked}
    readings: list[Possible] = []
    for a, b in combinations(places, 2):
        length = float(np.linalg.norm(np.subtract(places[a], places[b])))
        if SHORTEST <= length <= longest and frozenset((a, b)) not in shut and not (a in held and b in held):
            readings.append(Tape(a=a, b=b, length=length))
    if session is not None:
        readings += [Height(mark=name, height=float(place[2]), session=session) for name, place in places.items()]
    return tuple(readings)


class _Network:
    """Weighted slopes of readings about rough coordinates, in a datum."""

    def __init__(
        self,
        readings: Sequence[Reading],
        places: Mapping[str, Sequence[float]],
        *,
        datum: Datum,
        sessions: Sequence[Session],
        precision: Precision,
        dimension: int,
    ) -> None:
        touched = {mark for reading in readings for mark in reading.marks}
        self.names = tuple(name for name in places if name in touched)
        start = np.array([places[name] for name in self.names], dtype=np.float64)
        rough = Datum(
            held=datum.held,
            rough={name: places[name] for name in self.names if name not in datum.held},
            inner=datum.inner,
            conditions=datum.conditions,
        )
        system = system_for(
            self.names, readings, start, rough, sessions=sessions, precision=precision, dimension=dimension
        )
        unknowns = system.equations.complete(start)
        free = system.free
        conditions = all_conditions(system, unknowns, rough).matrix[:, free]
        self._row_reading = system.equations.row_reading
        self.rows = system.equations.slopes(unknowns)[:, free] / system.equations.sigma[:, None]
        self.prior = np.eye(self.rows.shape[1]) / VAGUE**2 + conditions.T @ conditions / FIRM**2
        self.moving = [k for k, name in enumerate(self.names) if name not in datum.held]
        column = np.cumsum(free) - 1
        self.columns = np.array([[column[3 * k + axis] for axis in range(dimension)] for k in self.moving])
        touch = np.zeros((len(readings), len(self.names)), dtype=np.int64)
        for number, reading in enumerate(readings):
            for mark in set(reading.marks):
                touch[number, self.names.index(mark)] = 1
        self.touch = touch

    def entered_rows(self, readings: int) -> Bools:
        """Return which rows belong to the first readings, shape (m,)."""
        rows: Bools = self._row_reading < readings
        return rows

    def covariance(self, chosen: Bools) -> Floats:
        """Return the covariance of the unknowns from the rows chosen."""
        rows = self.rows[chosen]
        inverse: Floats = np.linalg.inv(rows.T @ rows + self.prior)
        return inverse

    def axes(self, covariance: Floats) -> Floats:
        """Return the largest axis of each mark that moves, shape (k,) [m]."""
        blocks = covariance[self.columns[:, :, None], self.columns[:, None, :]]
        return np.sqrt(np.linalg.eigvalsh(blocks)[:, -1])


def plan_readings(
    possible: Sequence[Possible],
    places: Mapping[str, Sequence[float]],
    *,
    datum: Datum,
    sessions: Sequence[Session] = (),
    precision: Precision | None = None,
    dimension: int = 3,
    least_redundancy: float = CHECKED,
    per_mark: int = PER_MARK,
    in_hand: Sequence[Reading] = (),
) -> Plan:
    """Return the readings of least effort that pin and check every mark.

    Parameters
    ----------
    possible : sequence of Tape, Height or Offset
    places : mapping of str to (3,) sequence
        [m] Rough coordinates of all marks.
    datum : Datum
    sessions, precision, dimension
        As in `canvas.survey.adjust.adjust`.
    least_redundancy : float
    per_mark : int
        Marks that cannot have as many get all that are possible. A reading that all others together would not check may
        come twice, to be taken again from scratch.
    in_hand : sequence of Reading
        Taken already: those of them that are possible cost nothing.

    Raises
    ------
    DesignError
        When all possible readings together leave a mark free to move.
    """
    make = partial(
        _Network,
        places=places,
        datum=datum,
        sessions=sessions,
        precision=precision or Precision(),
        dimension=dimension,
    )
    network = make(possible)
    alone = _plan(network, possible, np.ones(len(possible)), np.ones(len(possible), dtype=np.bool_))
    twice = [r for r, redundancy in zip(possible, alone.redundancy, strict=True) if redundancy < least_redundancy]
    possible = [*possible, *twice]
    network = make(possible)
    effort = _effort_left(possible, in_hand)
    chooser = Chooser(
        Choice(network.rows, prior=network.prior, columns=network.columns),
        effort=effort,
        touch=network.touch[:, network.moving],
        least_redundancy=least_redundancy,
        per_mark=per_mark,
    )
    return _plan(network, possible, effort, chooser.best())


def _effort_left(possible: Sequence[Possible], in_hand: Sequence[Reading]) -> Floats:
    """Return the effort of each possible reading, none where it is in hand, (r,)."""
    taken = Counter(asks_for(reading) for reading in in_hand)
    effort = np.zeros(len(possible))
    for k, reading in enumerate(possible):
        taken[asks_for(reading)] -= 1
        effort[k] = effort_of(reading) if taken[asks_for(reading)] < 0 else 0.0
    return effort


def weigh_readings(
    readings: Sequence[Possible],
    places: Mapping[str, Sequence[float]],
    *,
    datum: Datum,
    sessions: Sequence[Session] = (),
    precision: Precision | None = None,
    dimension: int = 3,
) -> Plan:
    """Return what a given set of readings would do, as a plan; parameters as in `plan_readings`.

    Parameters
    ----------
    readings : sequence of Tape, Height or Offset
        Those that would be taken, r of them.
    places : mapping of str to (3,) sequence
        [m] Rough coordinates of all marks.
    datum : Datum
    sessions, precision, dimension
        As in `canvas.survey.adjust.adjust`.
    """
    network = _Network(
        readings, places, datum=datum, sessions=sessions, precision=precision or Precision(), dimension=dimension
    )
    effort = np.array([effort_of(reading) for reading in readings])
    return _plan(network, readings, effort, np.ones(len(readings), dtype=np.bool_))


def _plan(network: _Network, readings: Sequence[Possible], effort: Floats, chosen: Bools) -> Plan:
    covariance = network.covariance(chosen)
    used = network.rows[chosen]
    sd = np.zeros(len(network.names))
    sd[network.moving] = network.axes(covariance)
    numbers = np.flatnonzero(chosen)
    return Plan(
        readings=tuple(readings[k] for k in numbers.tolist()),
        effort=float(effort[numbers].sum()),
        redundancy=1 - np.einsum("ij,jk,ik->i", used, covariance, used),
        names=network.names,
        sd=sd,
        touching=network.touch[numbers].sum(axis=0),
    )


def next_readings(
    taken: Sequence[Entry],
    possible: Sequence[Possible],
    places: Mapping[str, Sequence[float]],
    *,
    datum: Datum,
    sessions: Sequence[Session] = (),
    precision: Precision | None = None,
    dimension: int = 3,
    count: int = 3,
) -> tuple[Advice, ...]:
    """Return the further readings that help the worst mark most, one of them after another and then exchanged.

    Parameters
    ----------
    taken : sequence of Entry
        What is entered already; marks it does not pin yet are taken as known to `VAGUE`.
    possible : sequence of Tape, Height or Offset
        What could still be taken.
    places : mapping of str to (3,) sequence
        [m] Rough or adjusted coordinates of all marks.
    datum, sessions, precision, dimension
        As in `canvas.survey.adjust.adjust`.
    count : int
    """
    readings = [
        entry for entry in taken if not isinstance(entry, Side) and not (isinstance(entry, Tape) and entry.slack)
    ]
    network = _Network(
        [*readings, *possible], places, datum=datum, sessions=sessions, precision=precision or Precision(),
        dimension=dimension,
    )  # fmt: skip
    base = network.entered_rows(len(readings))
    offered = len(network.rows) - len(possible) + np.arange(len(possible))
    chosen: list[int] = []
    for _ in range(min(count, len(possible))):
        chosen.append(_most_helpful(network, base, [int(row) for row in offered if row not in chosen], chosen))
    for _ in range(2 * count):
        before = list(chosen)
        for k in range(len(chosen)):
            others = chosen[:k] + chosen[k + 1 :]
            rest = [int(row) for row in offered if row not in others]
            chosen[k] = _most_helpful(network, base, rest, others)
        if chosen == before:
            break
    advice = []
    for k, row in enumerate(chosen):
        worst = [float(network.axes(network.covariance(base | _these(network, chosen[:j]))).max()) for j in (k, k + 1)]
        advice.append(Advice(reading=possible[int(row - offered[0])], worst_before=worst[0], worst_after=worst[1]))
    return tuple(advice)


def _these(network: _Network, rows: Sequence[int]) -> Bools:
    chosen: Bools = np.zeros(len(network.rows), dtype=np.bool_)
    chosen[list(rows)] = True
    return chosen


def _most_helpful(network: _Network, base: Bools, offered: Sequence[int], others: Sequence[int]) -> int:
    """Return the row of `offered` that, with `others`, leaves the worst mark best; the sum over marks breaks ties."""
    covariance = network.covariance(base | _these(network, others))
    best, least = offered[0], (np.inf, np.inf)
    for row in offered:
        reach = covariance @ network.rows[row]
        after = covariance - np.outer(reach, reach) / (1 + network.rows[row] @ reach)
        axes = network.axes(after)
        size = (round(float(axes.max()), 9), float((axes**2).sum()))
        if size < least:
            best, least = row, size
    return best


def ordered(plan: Plan) -> Plan:
    """Return a plan with its readings in the order in which two people take them; see `in_order`."""
    own = {asks_for(reading): float(value) for reading, value in zip(plan.readings, plan.redundancy, strict=True)}
    readings = in_order(plan.readings)
    return replace(plan, readings=readings, redundancy=np.array([own[asks_for(reading)] for reading in readings]))


def in_order(readings: Sequence[Possible]) -> tuple[Possible, ...]:
    """Return readings in the order in which two people take them: heights together, tapes from one station at a time.

    The next station is the mark with most tapes left; from it the other end goes from near to far.

    Parameters
    ----------
    readings : sequence of Tape, Height or Offset
    """
    ordered: list[Possible] = [reading for reading in readings if not isinstance(reading, Tape)]
    ordered.sort(key=lambda reading: (isinstance(reading, Offset), getattr(reading, "session", ""), reading.marks))
    left = [reading for reading in readings if isinstance(reading, Tape)]
    while left:
        marks = sorted({mark for tape in left for mark in (tape.a, tape.b)})
        station = max(marks, key=lambda mark: sum(mark in (tape.a, tape.b) for tape in left))
        here = sorted(
            (tape for tape in left if station in (tape.a, tape.b)), key=lambda tape: (tape.length, tape.marks)
        )
        ordered += [tape if tape.a == station else _turned(tape) for tape in here]
        left = [tape for tape in left if station not in (tape.a, tape.b)]
    return tuple(ordered)


def _turned(tape: Tape) -> Tape:
    return replace(tape, a=tape.b, b=tape.a, via=tape.via[::-1])

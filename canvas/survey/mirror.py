"""Pick, of the shapes that fit the readings as well, the one that is the boat and not its mirror image.

Computes: the shape of least robust cost among mirror images of the whole and of single marks; ambiguities, named.
Units: metres, boat frame.
Source: lengths are the same in a mirror; a mark with three lengths may stand on either side of its neighbours' plane.
Limits: two or more marks that could flip together over a hinge are not looked for.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from canvas.design.problems import DesignError, Problem
from canvas.jobs.failure import CouldNot
from canvas.survey.datum import ConditionRows, Datum, condition_rows, distinct, laid_by, laid_on
from canvas.survey.equations import Equations
from canvas.survey.marks import Bools, Floats
from canvas.survey.problems import problem_at
from canvas.survey.readings import Offset, Side, Tape, describe
from canvas.survey.solve import robust_cost, settle

NO_SHAPE = 60.0  # mean robust cost of a reading, some eleven standard deviations each, at which no shape is found
AS_GOOD = 12.0  # a shape whose robust cost is larger by less fits as well
APART = 0.05  # [m] shapes that differ by less at every mark are one
AXES = {"aft": (0, 1), "forward": (0, -1), "starboard": (1, 1), "port": (1, -1), "above": (2, 1), "below": (2, -1)}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class System:
    """One survey's equations with what holds it in the boat's axes.

    Attributes
    ----------
    names : tuple of str
    equations : Equations
    free : (u,) ndarray of bool
        Unknowns that may move.
    conditions : ConditionRows
    dimension : {2, 3}
    """

    names: tuple[str, ...]
    equations: Equations
    free: Bools
    conditions: ConditionRows
    dimension: int

    def places(self, unknowns: Floats) -> Floats:
        """Return the coordinates in `unknowns`, shape (n, 3) [m]."""
        return unknowns[: self.equations.coordinates].reshape(-1, 3)

    def settled(self, places: Floats, datum: Datum) -> Floats:
        """Return unknowns (u,) settled from `places` (n, 3) [m], held marks put where they are held."""
        start = places.copy()
        for name, place in datum.held.items():
            if name in self.names:
                start[self.names.index(name)] = place
        return settle(self.equations, self.equations.complete(start), free=self.free, conditions=self.conditions)


def the_one_shape(system: System, shape: Floats, *, datum: Datum, sides: Sequence[Side]) -> Floats:
    """Return the unknowns of the only shape that fits the readings, the datum and the statements.

    Parameters
    ----------
    system : System
    shape : (n, 3) ndarray
        [m] First shape, anywhere.
    datum : Datum
    sides : sequence of Side

    Raises
    ------
    DesignError
        When a mirror image fits as well, when no image agrees with the statements, or when the datum is missing.
    CouldNot
        When no shape comes near the readings.
    """
    said = (*sides, *datum.sides)
    laid = [_righted(system, places, datum, said) for places in _laid(system, shape, datum)]
    laid = [places for places in laid if not _against(system, places, said, margin=APART)]
    if not laid:
        raise DesignError([_contradiction(said)])
    settled = [system.settled(places, datum) for places in laid]
    if min(robust_cost(system.equations, unknowns) for unknowns in settled) > NO_SHAPE * len(system.equations.observed):
        raise CouldNot(
            "The readings do not settle on one shape: wherever the marks are put, most lengths are missed by far.",
            "Give rough coordinates for some marks, take heights, or look for lengths between the wrong marks.",
        )
    unknowns = _least(system, settled, said, mark=None)
    return _unflipped(system, unknowns, datum, said)


def _laid(system: System, shape: Floats, datum: Datum) -> list[Floats]:
    """Return the ways of laying `shape` or its mirror image into the datum."""
    known = {**datum.rough, **datum.held}
    rows = [k for k, name in enumerate(system.names) if name in known]
    target = np.array([known[system.names[k]] for k in rows], dtype=np.float64).reshape(-1, 3)
    spread = np.linalg.svd(target - target.mean(axis=0), compute_uv=False) if len(rows) > 1 else np.zeros(3)
    if np.sum(spread > 0.1) >= system.dimension - 1:
        return laid_on(shape, rows, target, dimension=system.dimension)
    held = condition_rows(datum.conditions, system.names, size=shape.size)
    matrix, values = [*held.matrix], [*held.values]
    for k, place in zip(rows, target, strict=True):
        for axis in range(system.dimension):
            matrix.append(np.eye(shape.size)[3 * k + axis])
            values.append(place[axis])
    for reading in system.equations.readings:
        if isinstance(reading, Offset) and reading.of is None:
            matrix.append(np.eye(shape.size)[3 * system.names.index(reading.mark) + "xyz".index(reading.axis)])
            values.append(reading.offset)
    if len(matrix) < (3 if system.dimension == 2 else 4):
        raise DesignError(
            [
                Problem(
                    code="no-datum",
                    key="survey",
                    found="no marks that tie the survey to the boat's axes",
                    wanted="Give coordinates to three marks that are not in one line; the survey keeps to them.",
                )
            ]
        )
    return laid_by(shape, np.array(matrix), np.array(values), dimension=system.dimension)


def _righted(system: System, places: Floats, datum: Datum, sides: Sequence[Side]) -> Floats:
    """Return places with single marks put beyond their neighbours' plane where a statement says so."""
    for side in sides:
        if not _against(system, places, [side], margin=APART):
            continue
        cost = robust_cost(system.equations, system.equations.complete(places))
        for name in side.marks:
            flipped = _flipped(system, places, name) if name in system.names and name not in datum.held else None
            if flipped is None:
                continue
            trial = places.copy()
            trial[system.names.index(name)] = flipped
            fits = robust_cost(system.equations, system.equations.complete(trial)) < cost + 3 * AS_GOOD
            if fits and not _against(system, trial, [side], margin=0.0):
                places = trial
                break
    return places


def _against(system: System, places: Floats, sides: Sequence[Side], *, margin: float) -> bool:
    """Say whether `places` go against a statement by more than `margin`."""
    index = {name: k for k, name in enumerate(system.names)}
    for side in sides:
        if side.mark in index and side.of in index:
            axis, sign = AXES[side.side]
            if sign * (places[index[side.mark], axis] - places[index[side.of], axis]) < -margin:
                return True
    return False


def _least(system: System, settled: Sequence[Floats], sides: Sequence[Side], *, mark: str | None) -> Floats:
    """Return the cheapest of `settled`; complain when another is as good and elsewhere."""
    costs = [robust_cost(system.equations, unknowns) for unknowns in settled]
    least = min(costs)
    good = [
        unknowns
        for unknowns, cost in sorted(zip(settled, costs, strict=True), key=lambda pair: pair[1])
        if cost < least + AS_GOOD
    ]
    right = [unknowns for unknowns in good if not _against(system, system.places(unknowns), sides, margin=0.0)]
    if not right:
        raise DesignError([_contradiction(sides)])
    kept = distinct([system.places(unknowns) for unknowns in right], apart=APART)
    if len(kept) > 1:
        raise DesignError([_ambiguity(system, kept, mark=mark)])
    return right[0]


def _contradiction(sides: Sequence[Side]) -> Problem:
    if not sides:
        return Problem(
            code="no-datum",
            key="survey",
            found="conditions that no shape with these lengths can meet",
            wanted="Check the coordinates or conditions of the marks that the survey is laid on.",
        )
    said = "; ".join(describe(side) for side in sides)
    return problem_at(
        sides[0].where,
        code="statement-contradicts",
        key=describe(sides[0]),
        found=f"statements: {said}",
        wanted="No shape that fits the readings agrees with all: turn round the one that is wrong.",
    )


def _ambiguity(system: System, shapes: Sequence[Floats], *, mark: str | None) -> Problem:
    """Name the mirror ambiguity between the first two of `shapes`, and the statement that would settle it."""
    apart = shapes[0] - shapes[1]
    worst = system.names.index(mark) if mark else int(np.argmax(np.linalg.norm(apart, axis=1)))
    axis = int(np.argmax(np.abs(apart[worst])))
    others = [k for k in range(len(system.names)) if k != worst and np.abs(apart[k, axis]) < abs(apart[worst, axis])]
    other = min(others, key=lambda k: (float(np.linalg.norm(apart[k])), k)) if others else (worst + 1) % len(shapes[0])
    words = ("aft or forward", "to starboard or to port", "above or below")[axis]
    name, of = system.names[worst], system.names[other]
    first = next(r for r in system.equations.readings if name in r.marks)
    what = "the whole boat in a mirror" if mark is None else "this mark on the other side of its neighbours' plane"
    return problem_at(
        first.where, code="mirror-ambiguity", key=f"marks.{name}",
        found=f"lengths that fit {what} as well, {np.linalg.norm(apart[worst]):.2f} m away",
        wanted=f'Say whether "{name}" lies {words} of "{of}", or measure a height.',
    )  # fmt: skip


def _unflipped(system: System, unknowns: Floats, datum: Datum, sides: Sequence[Side]) -> Floats:
    """Return unknowns after trying every mark on the other side of its neighbours."""
    for name in system.names:
        if name in datum.held:
            continue
        places = system.places(unknowns).copy()
        flipped = _flipped(system, places, name)
        if flipped is None:
            continue
        trial = unknowns.copy()
        row = 3 * system.names.index(name)
        trial[row : row + 3] = flipped
        cost = robust_cost(system.equations, unknowns)
        if robust_cost(system.equations, trial) < cost + 3 * AS_GOOD:
            places[system.names.index(name)] = flipped
            other = system.settled(places, datum)
            moved = np.linalg.norm(system.places(other) - system.places(unknowns), axis=1).max()
            if moved > APART:
                unknowns = _least(system, [unknowns, other], sides, mark=name)
    return unknowns


def _flipped(system: System, places: Floats, name: str) -> Floats | None:
    """Return the place of mark `name` beyond its neighbours' plane that fits its tapes best; None where it has none."""
    tapes = [r for r in system.equations.readings if isinstance(r, Tape) and not (r.via or r.slack) and name in r.marks]
    if len(tapes) < system.dimension:
        return None
    near = np.array([places[system.names.index(r.b if r.a == name else r.a)] for r in tapes])
    lengths = np.array([r.length for r in tapes])
    flat = slice(0, system.dimension)
    middle = near.mean(axis=0)
    normal = np.zeros(3)
    normal[flat] = np.linalg.svd((near - middle)[:, flat])[2][-1]
    here = places[system.names.index(name)]
    place = here - 2 * float((here - middle) @ normal) * normal
    for _ in range(10):
        apart = place - near
        length = np.maximum(np.linalg.norm(apart, axis=1), 1e-9)
        unit = (apart / length[:, None])[:, flat]
        share = np.minimum(1.0, 0.02 / np.maximum(np.abs(length - lengths), 1e-12))
        step = np.linalg.solve(
            (unit * share[:, None]).T @ unit + 1e-9 * np.eye(system.dimension), unit.T @ (share * (length - lengths))
        )
        place[flat] -= step
    return None if np.linalg.norm(place - here) < APART else place

"""Adjust the readings of a survey: marks in the boat's axes, with how well each is known.

Computes: coordinates by weighted least squares from no start values, full covariance, redundancy of every reading.
Units: metres, boat frame (x aft, y starboard, z up).
Source: least-squares adjustment with held marks, conditions or inner constraints, as in Ghilani, Adjustment
    Computations, and Strang and Borre, Linear Algebra, Geodesy, and GPS; first shape by `canvas.survey.start`.
Limits: up to some 500 readings; a blunder is named by `canvas.survey.suspects`, not left out here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from canvas.design.problems import DesignError, Problem
from canvas.survey.datum import ConditionRows, Datum, condition_rows, rigid_motions
from canvas.survey.equations import Equations
from canvas.survey.marks import Bools, Floats, Marks, Tilt
from canvas.survey.mirror import System, the_one_shape
from canvas.survey.problems import check_determined, check_entries
from canvas.survey.readings import (
    Entry,
    Height,
    Offset,
    Plumb,
    Precision,
    Reading,
    Session,
    Side,
    Tape,
    standard_deviation,
)
from canvas.survey.solve import Solution, solve, undetermined
from canvas.survey.start import Levels, Puzzle, first_shape

SEEN = 1e-6  # redundancy below which a reading has no residual of its own
ROBUST_STEPS = 30
RIGID = 1e-5  # share of a direction, beyond moves and turns of the whole, that makes it a loose mark


def adjust(
    entries: Sequence[Entry],
    *,
    datum: Datum,
    sessions: Sequence[Session] = (),
    precision: Precision | None = None,
    dimension: int = 3,
    seed: int = 1,
) -> Marks:
    """Return the marks that fit the readings best.

    Parameters
    ----------
    entries : sequence of Entry
        Readings and statements.
    datum : Datum
        Held marks, conditions or rough coordinates that lay the shape into the boat's axes. Where every mark has held
        or rough coordinates these are the start, and no mirror image is asked about.
    sessions : sequence of Session
        Levelling sessions in which the boat is known to have lain level.
    precision : Precision, optional
        Standard deviations for readings that state none.
    dimension : {2, 3}
        In two dimensions all marks have z = 0 and only tapes and offsets aft and to starboard count.
    seed : int
        For the search of a first shape where the datum gives too few rough coordinates.

    Returns
    -------
    Marks

    Raises
    ------
    DesignError
        With every problem: a reading between a mark and itself, too few readings, marks that do not hang together, a
        length in another unit, an answer that could as well be its mirror image.
    CouldNot
        When the readings do not settle on one shape.
    """
    taken = precision or Precision()
    check_entries(entries, datum=datum, dimension=dimension)
    readings = tuple(entry for entry in entries if not isinstance(entry, Side))
    sides = tuple(entry for entry in entries if isinstance(entry, Side))
    names = tuple(dict.fromkeys(mark for reading in readings for mark in reading.marks))
    given = {**datum.rough, **datum.held}
    known = all(name in given for name in names)
    if known:
        start = np.array([given[name] for name in names], dtype=np.float64)
    else:
        start = _shape(names, readings, datum, precision=taken, dimension=dimension, seed=seed)
    system = system_for(names, readings, start, datum, sessions=sessions, precision=taken, dimension=dimension)
    unknowns = system.settled(start, datum) if known else the_one_shape(system, start, datum=datum, sides=sides)
    return _marks(system, _solved(system, unknowns, datum))


def system_for(
    names: tuple[str, ...],
    readings: Sequence[Reading],
    start: Floats,
    datum: Datum,
    *,
    sessions: Sequence[Session],
    precision: Precision,
    dimension: int,
) -> System:
    """Return the equations of `readings` about `start` with what holds them in the datum.

    Parameters
    ----------
    names : tuple of str
    readings : sequence of Reading
    start : (n, 3) ndarray
        [m]
    datum : Datum
    sessions : sequence of Session
    precision : Precision
    dimension : {2, 3}
    """
    equations = Equations(names, readings, precision=precision, sessions=sessions, xyz=start)
    free: Bools = np.ones(equations.size, dtype=np.bool_)
    free[equations.held_tilts] = False
    for k, name in enumerate(names):
        free[3 * k : 3 * k + 3] = name not in datum.held
        free[3 * k + 2] &= dimension == 3
    return System(
        names=names,
        equations=equations,
        free=free,
        conditions=condition_rows(datum.conditions, names, size=equations.size),
        dimension=dimension,
    )


def _shape(
    names: Sequence[str], readings: Sequence[Reading], datum: Datum, *, precision: Precision, dimension: int, seed: int
) -> Floats:
    """Return a first shape, anywhere; marks that no tape joins to the others start near their partner."""
    index = {name: k for k, name in enumerate(names)}
    tapes = [r for r in readings if isinstance(r, Tape) and not r.via and not r.slack]
    pairs = [(index[r.a], index[r.b]) for r in tapes]
    lengths = [r.length for r in tapes]
    sigma = [standard_deviation(r, precision=precision) for r in tapes]
    held = [name for name in names if name in datum.held]
    for k, one in enumerate(held):
        for other in held[:k]:
            pairs.append((index[one], index[other]))
            lengths.append(float(np.linalg.norm(np.subtract(datum.held[one], datum.held[other]))))
            sigma.append(precision.tape_constant)
    inside = _largest_part(len(names), pairs)
    row = {mark: k for k, mark in enumerate(inside)}
    kept = [k for k, (a, b) in enumerate(pairs) if a in row and b in row]
    puzzle = Puzzle(
        count=len(inside),
        pairs=np.array([(row[pairs[k][0]], row[pairs[k][1]]) for k in kept], dtype=np.int64).reshape(-1, 2),
        lengths=np.array([lengths[k] for k in kept]),
        sigma=np.array([sigma[k] for k in kept]),
        levels=_levels(readings, {names[mark]: k for mark, k in row.items()}),
        dimension=dimension,
    )
    shape = np.zeros((len(names), 3))
    shape[inside] = first_shape(puzzle, seed=seed) if kept else 0.0
    shape[[k for k in range(len(names)) if k not in row]] = shape[inside].mean(axis=0)
    for reading in readings:
        if isinstance(reading, Plumb | Offset) and len(reading.marks) == 2:
            a, b = (index[mark] for mark in reading.marks)
            for lone, partner in ((a, b), (b, a)):
                if lone not in row and partner in row:
                    shape[lone] = shape[partner] + [0.0, 0.0, 0.1]
    return shape


def _largest_part(count: int, pairs: Sequence[tuple[int, int]]) -> list[int]:
    """Return the marks of the largest group that tapes join."""
    part = list(range(count))
    for a, b in pairs:
        old, new = part[b], part[a]
        part = [new if p == old else p for p in part]
    best = max(dict.fromkeys(part), key=part.count)
    return [k for k in range(count) if part[k] == best]


def _levels(readings: Sequence[Reading], row: dict[str, int]) -> Levels | None:
    heights = [r for r in readings if isinstance(r, Height) and r.mark in row]
    sessions = list(dict.fromkeys(r.session for r in heights))
    if not heights:
        return None
    return Levels(
        mark=np.array([row[r.mark] for r in heights]),
        session=np.array([sessions.index(r.session) for r in heights]),
        height=np.array([r.height for r in heights]),
    )


def _solved(system: System, unknowns: Floats, datum: Datum) -> Solution:
    conditions = all_conditions(system, unknowns, datum)
    solution = solve(system.equations, unknowns, free=system.free, conditions=conditions)
    if len(conditions.matrix) > len(
        system.conditions.matrix
    ):  # inner constraints turn with the network: once more there
        conditions = all_conditions(system, solution.unknowns, datum)
        again = solve(system.equations, solution.unknowns, free=system.free, conditions=conditions)
        solution = replace(again, reliability=solution.reliability, first_residual=solution.first_residual)
    return solution


def all_conditions(system: System, unknowns: Floats, datum: Datum) -> ConditionRows:
    """Return the conditions with inner constraints: what they leave free keeps to the rough coordinates.

    Parameters
    ----------
    system : System
    unknowns : (u,) ndarray
    datum : Datum

    Raises
    ------
    DesignError
        When single marks are left free, or the datum is missing.
    """
    directions = undetermined(system.equations, unknowns, free=system.free, conditions=system.conditions)
    conditions = system.conditions
    if directions.shape[1]:
        coordinates = directions[: system.equations.coordinates]
        loose = _against_most(coordinates, rigid_motions(system.places(unknowns), dimension=system.dimension))
        check_determined(
            system.names,
            system.equations.readings,
            loose[:, np.linalg.norm(loose, axis=0) > RIGID * np.linalg.norm(coordinates, axis=0).max()],
            dimension=system.dimension,
        )
        inner = _inner(system, directions, datum)
        conditions = ConditionRows(
            matrix=np.vstack([conditions.matrix, inner.matrix]),
            values=np.concatenate([conditions.values, inner.values]),
        )
    return conditions


def _against_most(moves: Floats, motions: Floats) -> Floats:
    """Return moves of the marks less what moves them all as one body and is free too, shape (3n, d).

    Of the moves as one body that is taken which most marks share.
    """
    whole = np.linalg.qr(motions)[0]
    _, values, turns = np.linalg.svd(moves - whole @ (whole.T @ moves), full_matrices=True)
    size = np.zeros(len(turns))
    size[: len(values)] = values
    rigid = moves @ turns[size <= RIGID * np.linalg.norm(moves)].T
    weight = np.ones(len(moves))
    for _ in range(ROBUST_STEPS):
        fit = np.linalg.lstsq(rigid * weight[:, None], moves * weight[:, None], rcond=None)[0]
        rest: Floats = moves - rigid @ fit
        size = np.linalg.norm(rest.reshape(len(moves) // 3, -1), axis=1)
        weight = np.repeat(1 / np.sqrt(size + RIGID * np.abs(moves).max()), 3)
    return rest


def _inner(system: System, directions: Floats, datum: Datum) -> ConditionRows:
    """Return the conditions that the rough coordinates are met best, along the directions that are free."""
    chosen = datum.inner if datum.inner is not None else tuple(datum.rough)
    chosen = tuple(name for name in chosen if name in system.names and name in datum.rough)
    matrix = np.zeros((directions.shape[1], system.equations.size))
    rough = np.zeros(system.equations.size)
    for name in chosen:
        rows = slice(3 * system.names.index(name), 3 * system.names.index(name) + 3)
        matrix[:, rows] = directions[rows].T
        rough[rows] = datum.rough[name]
    values = np.linalg.svd(matrix, compute_uv=False)
    if not len(values) or values[-1] < RIGID * np.linalg.norm(directions, axis=0).max():
        raise DesignError(
            [
                Problem(
                    code="no-datum",
                    key="survey",
                    found="too few marks that tie the survey to the boat's axes",
                    wanted="Give coordinates to three marks that are not in one line; the survey keeps to them.",
                )
            ]
        )
    return ConditionRows(matrix=matrix, values=matrix @ rough)


def _marks(system: System, solution: Solution) -> Marks:
    equations = system.equations
    count = equations.coordinates
    redundancy = np.clip(solution.redundancy, 0.0, 1.0)
    seen = redundancy > SEEN
    weighted = solution.residual / equations.sigma
    standardised = np.where(seen & solution.active, weighted / np.sqrt(np.where(seen, redundancy, 1.0)), 0.0)
    freedom = solution.degrees_of_freedom
    sigma0 = float(np.sqrt(np.sum(weighted[solution.active] ** 2) / freedom)) if freedom > 0 else None
    deviation = np.sqrt(np.maximum(np.diag(solution.covariance), 0.0))
    tilts = []
    for k, session in enumerate(equations.sessions):
        at = count + 3 * k
        trim, heel = solution.unknowns[at], solution.unknowns[at + 1]
        tilts.append(
            Tilt(
                session=session,
                heel=-float(np.arcsin(heel)),
                trim=-float(np.arcsin(trim)),
                heel_sd=float(deviation[at + 1]),
                trim_sd=float(deviation[at]),
            )
        )
    return Marks(
        names=system.names,
        xyz=solution.unknowns[:count].reshape(-1, 3),
        covariance=solution.covariance[:count, :count],
        readings=equations.readings,
        row_reading=equations.row_reading,
        observed=equations.observed,
        residual=solution.residual,
        sigma=equations.sigma,
        active=solution.active,
        redundancy=redundancy,
        standardised=standardised,
        reliability=solution.reliability,
        first_residual=solution.first_residual,
        sigma0=sigma0,
        degrees_of_freedom=freedom,
        tilts=tuple(tilts),
    )

"""Solve the equations of a survey by weighted least squares, from a start that may be wrong in places.

Computes: unknowns; their covariance; redundancy of every reading; which unknowns nothing determines.
Units: metres, boat frame.
Source: E. M. Mikhail, Observations and Least Squares (normal equations with conditions, redundancy numbers); damping
    after D. Marquardt (1963); robust weights after P. J. Huber (1964).
Limits: dense; good to some 500 readings. A blunder stays in the answer until its reading is corrected or left out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from canvas.jobs.failure import CouldNot
from canvas.survey.datum import ConditionRows
from canvas.survey.equations import Equations
from canvas.survey.marks import Bools, Floats

HUBER = 3.0  # standard deviations beyond which a misfit counts by its size, not its square
GAUGE = 1e-3  # [m] how firmly conditions hold while the robust steps go on
SETTLE_STEPS = 60
CLOSE = 1e-8  # [m] a step below this ends the work
NOTHING = 1e-7  # singular value, of the largest, below which a direction is not determined


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Solution:
    """What the equations and conditions give.

    Attributes
    ----------
    unknowns : (u,) ndarray
    covariance : (u, u) ndarray
        Zero rows for held unknowns.
    residual : (m,) ndarray
        [m] Computed minus observed.
    active : (m,) ndarray of bool
        False for slack rows that say nothing.
    reliability : (m, m) ndarray
    first_residual : (m,) ndarray
        [m] See `canvas.survey.marks.Marks`.
    redundancy : (m,) ndarray
    degrees_of_freedom : int
    """

    unknowns: Floats
    covariance: Floats
    residual: Floats
    active: Bools
    reliability: Floats
    first_residual: Floats
    redundancy: Floats
    degrees_of_freedom: int


def active_rows(equations: Equations, residual: Floats) -> Bools:
    """Return which rows, (m,), count by their `residual`: a slack path only where shorter than the straight line."""
    rows: Bools = ~equations.slack | (residual > 0)
    return rows


def robust_cost(equations: Equations, unknowns: Floats) -> float:
    """Return the Huber cost of the misfits at `unknowns`, in squared standard deviations."""
    residual = equations.computed(unknowns) - equations.observed
    misfit = np.where(active_rows(equations, residual), np.abs(residual) / equations.sigma, 0.0)
    return float(np.where(misfit < HUBER, misfit**2, HUBER * (2 * misfit - HUBER)).sum())


def settle(equations: Equations, unknowns: Floats, *, free: Bools, conditions: ConditionRows) -> Floats:
    """Return unknowns at a low point of the robust cost.

    Parameters
    ----------
    equations : Equations
    unknowns : (u,) ndarray
        Start.
    free : (u,) ndarray of bool
        Unknowns that may move.
    conditions : ConditionRows
        Held to within about `GAUGE`.
    """
    matrix, damping = conditions.matrix[:, free] / GAUGE, 1e-3
    cost = _held_cost(equations, unknowns, conditions)
    for _ in range(SETTLE_STEPS):
        residual = equations.computed(unknowns) - equations.observed
        misfit = np.abs(residual) / equations.sigma
        weight = np.where(active_rows(equations, residual), np.minimum(1.0, HUBER / np.maximum(misfit, 1e-12)), 0.0)
        root = np.sqrt(weight) / equations.sigma
        slopes = equations.slopes(unknowns)[:, free] * root[:, None]
        off = (conditions.matrix @ unknowns - conditions.values) / GAUGE
        normal = slopes.T @ slopes + matrix.T @ matrix
        pull = slopes.T @ (root * residual) + matrix.T @ off
        scale = np.diag(normal) + 1e-3 * np.diag(normal).max()
        before = cost
        for _ in range(12):
            trial = unknowns.copy()
            trial[free] -= np.linalg.solve(normal + damping * np.diag(scale), pull)
            trial_cost = _held_cost(equations, trial, conditions)
            if trial_cost <= cost:
                unknowns, cost, damping = trial, trial_cost, max(damping / 10, 1e-9)
                break
            damping *= 10
        if before - cost <= 1e-8 * (1.0 + cost):
            break
    return unknowns


def _held_cost(equations: Equations, unknowns: Floats, conditions: ConditionRows) -> float:
    off = (conditions.matrix @ unknowns - conditions.values) / GAUGE
    lean = unknowns[equations.coordinates :]
    if np.any(np.abs(lean[equations.tilt_columns]) > 0.6):
        return np.inf
    return robust_cost(equations, unknowns) + float(off @ off)


def undetermined(equations: Equations, unknowns: Floats, *, free: Bools, conditions: ConditionRows) -> Floats:
    """Return the directions in which the unknowns can move without any reading noticing, shape (u, d).

    Orthonormal in scaled unknowns; rows of unknowns that are not free are zero.

    Parameters
    ----------
    equations : Equations
        Of u unknowns.
    unknowns : (u,) ndarray
        Where it is asked.
    free : (u,) ndarray of bool
        Unknowns that may move.
    conditions : ConditionRows
    """
    residual = equations.computed(unknowns) - equations.observed
    rows = active_rows(equations, residual)
    slopes = equations.slopes(unknowns)[np.ix_(rows, free)] / equations.sigma[rows, None]
    stacked = np.vstack([slopes, conditions.matrix[:, free] / equations.sigma.min()])
    scale = np.linalg.norm(stacked, axis=0)
    scale = np.where(scale > 0, scale, 1.0)
    _, values, vectors = np.linalg.svd(stacked / scale, full_matrices=True)
    largest = values[0] if len(values) else 1.0
    rank = int(np.sum(values > NOTHING * largest))
    directions = np.zeros((equations.size, vectors.shape[0] - rank))
    directions[free] = vectors[rank:].T / scale[:, None]
    return directions


def solve(equations: Equations, unknowns: Floats, *, free: Bools, conditions: ConditionRows) -> Solution:
    """Return the least-squares solution near `unknowns`; conditions hold exactly and determine what readings do not.

    `unknowns` are best settled robustly: reliability and first residuals are taken there, where no blunder bends them.

    Parameters
    ----------
    equations : Equations
        Of u unknowns.
    unknowns : (u,) ndarray
        Start.
    free : (u,) ndarray of bool
        Unknowns that may move.
    conditions : ConditionRows

    Raises
    ------
    CouldNot
        When the steps do not become small.
    """
    for turn in range(40):
        residual = equations.computed(unknowns) - equations.observed
        active = active_rows(equations, residual)
        step, inverse, slopes = _step(equations, unknowns, residual, active, free=free, conditions=conditions)
        if turn == 0:
            first = residual + equations.sigma * (slopes @ step)
            reliability = np.diag(active.astype(np.float64)) - slopes @ inverse @ slopes.T
        unknowns = unknowns.copy()
        unknowns[free] += step
        if np.max(np.abs(step), initial=0.0) < CLOSE:
            break
    else:
        raise CouldNot(
            "The readings did not settle on one shape: the adjustment did not converge.",
            "Look for a reading typed in the wrong unit, or give rough coordinates for some marks.",
        )
    residual = equations.computed(unknowns) - equations.observed
    count = int(free.sum())
    covariance = np.zeros((equations.size, equations.size))
    covariance[np.ix_(free, free)] = inverse
    return Solution(
        unknowns=unknowns,
        covariance=covariance,
        residual=residual,
        active=active,
        reliability=0.5 * (reliability + reliability.T),
        first_residual=first,
        redundancy=active - np.einsum("ij,jk,ik->i", slopes, inverse, slopes),
        degrees_of_freedom=int(active.sum()) - count + len(conditions.matrix),
    )


def _step(
    equations: Equations, unknowns: Floats, residual: Floats, active: Bools, *, free: Bools, conditions: ConditionRows
) -> tuple[Floats, Floats, Floats]:
    """Return the Gauss-Newton step of the free unknowns, their covariance, and the weighted slopes."""
    root = np.where(active, 1.0 / equations.sigma, 0.0)
    slopes = equations.slopes(unknowns)[:, free] * root[:, None]
    held = conditions.matrix[:, free]
    count, rows = slopes.shape[1], len(held)
    bordered = np.zeros((count + rows, count + rows))
    bordered[:count, :count] = slopes.T @ slopes
    size = np.sqrt(np.maximum(np.diag(bordered)[:count], 1e-30))
    scale = np.concatenate([1 / size, np.ones(rows)])
    bordered[count:, :count] = held * float(np.median(size)) ** 2
    bordered[:count, count:] = bordered[count:, :count].T
    scale[count:] = 1 / np.maximum(np.linalg.norm(bordered[count:, :count] * scale[:count], axis=1), 1e-30)
    try:
        inverse = scale[:, None] * np.linalg.inv(scale[:, None] * bordered * scale) * scale
    except np.linalg.LinAlgError as error:
        raise CouldNot(
            "The readings did not settle on one shape: they leave some mark free to move.",
            "Take more readings to the marks that have fewest, from marks not in one line or plane with them.",
        ) from error
    off = (conditions.values - conditions.matrix @ unknowns) * float(np.median(size)) ** 2
    right = np.concatenate([-slopes.T @ (root * residual), off])
    return (inverse @ right)[:count], inverse[:count, :count], slopes

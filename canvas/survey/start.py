"""Find a first shape from tape lengths and levelled heights alone: no coordinates, some readings wrong.

Computes: places of the marks, up to a move, a turn and a mirror, near enough for the adjustment to converge.
Units: metres.
Source: classical scaling (W. S. Torgerson, Psychometrika 17, 1952, 401-419) of lengths completed by shortest paths, in
    more dimensions than space has, which are then squeezed out; robust weights after P. J. Huber (1964).
Limits: random networks with six lengths a mark and nothing else fail in about half the cases of 25 marks, with seven
    in none of 40; a mark with three lengths may stand on either side of its neighbours' plane, see `mirror`.
Departs: squeezing out spare dimensions and throwing ill-fitting marks are our own; judged by simulation in the tests.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.linalg import LinAlgError, cho_factor, cho_solve
from scipy.sparse.csgraph import shortest_path

from canvas.survey.marks import Floats, Ints

SPARE = 2  # dimensions beyond those of space
SQUEEZE = (0.0, 0.003, 0.03, 0.3, 3.0)  # weight of a spare coordinate against a length, one stage each
STAGE_STEPS = 6
LAST_STEPS = 20
HOPS = 60
GOOD = 1.0  # a shape is taken when the mean misfit is below this many standard deviations
MOST = 30.0  # no one reading counts for more standard deviations than this
LEAN = 0.1  # [rad] steepest tilt of a levelling session looked for here


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Levels:
    """Heights by level, as numbers.

    Attributes
    ----------
    mark, session : (h,) ndarray of int
    height : (h,) ndarray
        [m]
    """

    mark: Ints
    session: Ints
    height: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Puzzle:
    """What the first shape must fit.

    Attributes
    ----------
    count : int
        Number of marks; all hang together.
    pairs : (k, 2) ndarray of int
        Marks at the ends of each length.
    lengths, sigma : (k,) ndarray
        [m]
    levels : Levels or None
        Used where at least half the marks have one.
    dimension : {2, 3}
    """

    count: int
    pairs: Ints
    lengths: Floats
    sigma: Floats
    levels: Levels | None
    dimension: int

    @property
    def levelled(self) -> bool:
        """Say whether heights are enough to lead the shape."""
        return self.levels is not None and len(np.unique(self.levels.mark)) >= 0.5 * self.count

    @property
    def scale(self) -> float:
        """Return a usual length [m]."""
        return float(np.median(self.lengths))


def first_shape(puzzle: Puzzle, *, seed: int = 1) -> Floats:
    """Return places that fit the lengths and heights, robustly.

    Parameters
    ----------
    puzzle : Puzzle
    seed : int
        Of the throws by which a shape that does not fit is improved.

    Returns
    -------
    (n, 3) ndarray
        [m] Anywhere and turned anyhow; with levels, z is up within their tilt. z = 0 in two dimensions.
    """
    random = np.random.default_rng(seed)
    best = _squeezed(_scaled(puzzle), puzzle)
    misfit = _misfit(best, puzzle)
    for _ in range(HOPS):
        if misfit.mean() < GOOD:
            break
        trial = _squeezed(_thrown(best, misfit, puzzle, random=random), puzzle)
        trial_misfit = _misfit(trial, puzzle)
        if trial_misfit.mean() < misfit.mean():
            best, misfit = trial, trial_misfit
    places = np.zeros((puzzle.count, 3))
    places[:, : puzzle.dimension] = best
    return places


def _apart(places: Floats, pairs: Ints) -> Floats:
    length: Floats = np.linalg.norm(places[pairs[:, 0]] - places[pairs[:, 1]], axis=1)
    return length


def _misfit(places: Floats, puzzle: Puzzle) -> Floats:
    """Return how far each length is missed, in standard deviations, no more than `MOST` each."""
    return np.minimum(np.abs(_apart(places, puzzle.pairs) - puzzle.lengths) / puzzle.sigma, MOST)


def _thrown(places: Floats, misfit: Floats, puzzle: Puzzle, *, random: np.random.Generator) -> Floats:
    """Return places with spare dimensions, some marks thrown about: those whose lengths fit worst, more often."""
    count, size = places.shape
    total, seen = np.zeros(count), np.zeros(count)
    for end in puzzle.pairs.T:
        np.add.at(total, end, misfit)
        np.add.at(seen, end, 1.0)
    share = total / np.maximum(seen, 1.0)
    chosen = random.uniform(size=count) < np.clip(share / share.mean() * random.uniform(0.1, 0.6), 0.0, 0.9)
    thrown = np.zeros((count, size + SPARE))
    thrown[:, :size] = places
    thrown[:, size:] = random.normal(scale=0.02 * puzzle.scale, size=(count, SPARE))
    thrown[chosen] += random.normal(scale=0.5 * puzzle.scale, size=(int(chosen.sum()), size + SPARE))
    return thrown


def _scaled(puzzle: Puzzle) -> Floats:
    """Return the classical scaling of the lengths, those not measured taken along the shortest path."""
    count = puzzle.count
    height = _level_heights(puzzle, np.zeros((count, 3))) if puzzle.levelled else np.full(count, np.nan)
    height = np.where(np.isnan(height), np.nanmean(height) if puzzle.levelled else 0.0, height)
    rise = height[puzzle.pairs[:, 0]] - height[puzzle.pairs[:, 1]]
    level = np.sqrt(np.maximum(puzzle.lengths**2 - rise**2, (0.05 * puzzle.lengths) ** 2))
    graph = np.full((count, count), np.inf)
    for (a, b), length in zip(puzzle.pairs, level, strict=True):
        graph[a, b] = graph[b, a] = min(graph[a, b], length)
    full = shortest_path(np.where(np.isinf(graph), 0.0, graph), directed=False)
    full = np.where(np.isfinite(graph), full, 0.8 * full)
    np.fill_diagonal(full, 0.0)
    centre = np.eye(count) - 1.0 / count
    values, vectors = np.linalg.eigh(-0.5 * centre @ full**2 @ centre)
    size = puzzle.dimension + SPARE
    keep = np.argsort(values)[::-1][:size]
    places: Floats = np.zeros((count, size))
    places[:, : len(keep)] = vectors[:, keep] * np.sqrt(np.maximum(values[keep], 1e-6))
    if puzzle.levelled:
        places = np.column_stack([places[:, :2], height, places[:, 2 : size - 1]])
    return places


def _level_heights(puzzle: Puzzle, places: Floats) -> Floats:
    """Return the height of each mark that the levels give, tilts fitted to `places`; nan where none, shape (n,) [m]."""
    levels = puzzle.levels
    height = np.full(puzzle.count, np.nan)
    if levels is None:
        return height
    known = places[:, 2].copy()
    seen = np.zeros(puzzle.count, dtype=bool)
    total, number = np.zeros(puzzle.count), np.zeros(puzzle.count)
    for session in dict.fromkeys(levels.session.tolist()):
        rows = levels.session == session
        at = levels.mark[rows]
        rest = known[at] - levels.height[rows]
        if np.any(places):
            xy = places[at, :2] - places[at, :2].mean(axis=0)
            matrix = np.column_stack([xy, np.ones(len(at))])
            ridge = np.diag([1e-2, 1e-2, 0.0]) * len(at)
            fit = np.linalg.lstsq(matrix.T @ matrix + ridge, matrix.T @ rest, rcond=None)[0]
            fit[:2] = np.clip(fit[:2], -LEAN, LEAN)
            value = levels.height[rows] + xy @ fit[:2] + np.median(rest - xy @ fit[:2])
        else:
            joint = seen[at]
            value = levels.height[rows] + (np.median(rest[joint]) if joint.any() else 0.0)
            known[at], seen[at] = value, True
        np.add.at(total, at, value)
        np.add.at(number, at, 1.0)
    height[number > 0] = total[number > 0] / number[number > 0]
    return height


def _squeezed(places: Floats, puzzle: Puzzle) -> Floats:
    """Return places in space, from places in more dimensions, while the spare ones are weighed down."""
    turning = [k for k in range(places.shape[1]) if not (puzzle.levelled and k == 2)]
    for stage, weight in enumerate(SQUEEZE):
        places = _fitted(places, puzzle, weight=weight, width=0.1 * puzzle.scale / 3.0**stage)
        if stage == 0:
            centred = places[:, turning] - places[:, turning].mean(axis=0)
            places[:, turning] = centred @ np.linalg.svd(centred, full_matrices=False)[2].T
    return _fitted(places[:, : puzzle.dimension], puzzle, weight=0.0, width=0.003 * puzzle.scale, steps=LAST_STEPS)


def _fitted(places: Floats, puzzle: Puzzle, *, weight: float, width: float, steps: int = STAGE_STEPS) -> Floats:
    """Return places after a few damped Gauss-Newton steps on Huber-weighted misfits."""
    damping = 1e-3
    height = _level_heights(puzzle, places) if puzzle.levelled else np.full(puzzle.count, np.nan)
    cost = _cost(places, height, puzzle, weight=weight, width=width)
    for _ in range(steps):
        normal, slope = _normal(places, height, puzzle, weight=weight, width=width)
        moved = False
        for _ in range(6):
            try:
                step = cho_solve(cho_factor(normal + damping * np.eye(len(normal)), check_finite=False), slope)
            except LinAlgError:
                damping *= 10
                continue
            trial = places - step.reshape(places.shape)
            trial_cost = _cost(trial, height, puzzle, weight=weight, width=width)
            if trial_cost < cost:
                moved = cost - trial_cost > 1e-9 * cost
                places, cost, damping = trial, trial_cost, max(damping / 10, 1e-9)
                break
            damping *= 10
        if not moved:
            break
    return places


def _huber(misfit: Floats, width: float) -> float:
    return float(np.where(misfit < width, 0.5 * misfit**2, width * (misfit - 0.5 * width)).sum())


def _cost(places: Floats, height: Floats, puzzle: Puzzle, *, weight: float, width: float) -> float:
    cost = _huber(np.abs(_apart(places, puzzle.pairs) - puzzle.lengths), width)
    cost += 0.5 * weight * float((places[:, puzzle.dimension :] ** 2).sum())
    known = ~np.isnan(height)
    return cost + (_huber(np.abs(places[known, 2] - height[known]), width) if known.any() else 0.0)


def _normal(places: Floats, height: Floats, puzzle: Puzzle, *, weight: float, width: float) -> tuple[Floats, Floats]:
    """Return the normal matrix and the slope of the cost."""
    count, size = places.shape
    a, b = puzzle.pairs.T
    apart = places[a] - places[b]
    length = np.maximum(np.linalg.norm(apart, axis=1), 1e-9)
    unit = apart / length[:, None]
    misfit = length - puzzle.lengths
    share = np.minimum(1.0, width / np.maximum(np.abs(misfit), 1e-300))
    outer = share[:, None, None] * unit[:, :, None] * unit[:, None, :]
    normal = np.zeros((count, count, size, size))
    np.add.at(normal, (a, a), outer)
    np.add.at(normal, (b, b), outer)
    np.add.at(normal, (a, b), -outer)
    np.add.at(normal, (b, a), -outer)
    slope = np.zeros((count, size))
    np.add.at(slope, a, (share * misfit)[:, None] * unit)
    np.add.at(slope, b, -(share * misfit)[:, None] * unit)
    rows = np.arange(count)
    for k in range(puzzle.dimension, size):
        normal[rows, rows, k, k] += weight
        slope[:, k] += weight * places[:, k]
    known = np.flatnonzero(~np.isnan(height))
    if len(known):
        off = places[known, 2] - height[known]
        share = np.minimum(1.0, width / np.maximum(np.abs(off), 1e-300))
        normal[known, known, 2, 2] += share
        slope[known, 2] += share * off
    return normal.transpose(0, 2, 1, 3).reshape(count * size, count * size), slope.ravel()

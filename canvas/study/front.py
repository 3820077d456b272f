"""Search for the best trade-offs of several aims under limits: a front that nothing found beats in every aim.

Computes: numbers scaled to 0..1, tried in rounds: a space-filling set, then children of the best so far; the front.
Units: aims and limits in units of their own.
Source: Storn and Price, differential evolution, rand/1/bin (1997); constrained domination, non-dominated sorting and
    crowding after Deb et al., NSGA-II (2002); Sobol points by scipy.stats.qmc.
Limits: no promise of the true front; the same seed gives the same points whatever runs them. What cannot be built ranks
    behind all that can.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.stats import qmc

from canvas.geometry.surface import Floats, Ints, locked

STEP, CROSS = 0.7, 0.9  # weight of the difference of two parents, and chance to take a child's number from it
Trial = Callable[[Floats], "Tried"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Tried:
    """What some points gave.

    Attributes
    ----------
    aims : (n, m) ndarray
        To be made small; nan where a point cannot be built.
    excess : (n,) ndarray
        By how much limits are broken in all; 0 where none is.
    """

    aims: Floats
    excess: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Front:
    """All points tried, and which of them stand on the front.

    Attributes
    ----------
    points : (n, d) ndarray
        Scaled to 0..1.
    tried : Tried
    front : (f,) ndarray of int
        Points within limits that no other beats, by the first aim; empty where none is within limits.
    """

    points: Floats
    tried: Tried
    front: Ints


def search_front(
    trial: Trial, *, numbers: int, first: Floats | None = None, start: int = 16, rounds: int = 6, seed: int = 0
) -> Front:
    """Search for the front.

    Parameters
    ----------
    trial : callable
        Takes (n, d) points, gives what they gave.
    numbers : int
        d.
    first : (k, d) ndarray, optional
        Points to try besides the space-filling ones.
    start : int
        Space-filling points, a power of two, and points a round.
    rounds : int
        After the first.
    seed : int
    """
    chance = np.random.default_rng(seed)
    sobol = qmc.Sobol(numbers, scramble=True, rng=np.random.default_rng(seed)).random(start)
    corners = np.zeros((0, numbers)) if first is None else np.clip(first, 0.0, 1.0)
    points: Floats = np.vstack([sobol, corners])
    tried = trial(points)
    best = _best(tried, start)
    for _ in range(rounds):
        children = _children(points[best], chance, start)
        more = trial(children)
        points = np.vstack([points, children])
        tried = Tried(
            aims=np.vstack([tried.aims, more.aims]),
            excess=np.concatenate([tried.excess, more.excess]),
        )
        best = _best(tried, start)
    front = np.flatnonzero((_layers(tried) == 0) & (tried.excess <= 0.0) & np.isfinite(tried.aims).all(axis=1))
    order = np.lexsort(tried.aims[front].T[::-1])
    return Front(points=locked(points), tried=tried, front=np.asarray(locked(front[order], dtype=np.int64)))


def _children(parents: Floats, chance: np.random.Generator, count: int) -> Floats:
    """Return points made of parents: one, moved by the difference of two others, some numbers kept from a fourth."""
    children = []
    for k in range(count):
        a, b, c = (parents[i] for i in chance.choice(len(parents), 3, replace=len(parents) < 3))
        moved = a + STEP * (b - c)
        one = chance.integers(parents.shape[1])
        take = (chance.random(parents.shape[1]) < CROSS) | (np.arange(parents.shape[1]) == one)
        child = np.where(take, moved, parents[k % len(parents)])
        # what left the range is put back at random, so that the ends do not gather points
        child = np.where((child < 0.0) | (child > 1.0), chance.random(len(child)), child)
        children.append(child)
    return np.array(children)


def beats(tried: Tried) -> npt.NDArray[np.bool_]:
    """Return whether point i beats point j, (n, n): within limits first, then no worse in any aim and better in one."""
    aims = np.where(np.isfinite(tried.aims), tried.aims, np.inf)
    broken = np.where(np.isfinite(tried.aims).all(axis=1), tried.excess, np.inf)
    no_worse = (aims[:, None, :] <= aims[None, :, :]).all(axis=2)
    better = (aims[:, None, :] < aims[None, :, :]).any(axis=2)
    both = (broken[:, None] <= 0.0) & (broken[None, :] <= 0.0)
    return np.asarray(np.where(both, no_worse & better, broken[:, None] < broken[None, :]))


def _layers(tried: Tried) -> Ints:
    """Return the layer of each point: 0 where nothing beats it, 1 where only those do, and so on."""
    beaten = beats(tried)
    layer = np.full(len(tried.excess), -1, dtype=np.int64)
    left = np.ones(len(layer), dtype=bool)
    rank = 0
    while left.any():
        now = left & ~(beaten & left[:, None]).any(axis=0)
        layer[now] = rank
        left &= ~now
        rank += 1
    return layer


def _best(tried: Tried, count: int) -> Ints:
    """Return the best points, by layer and then by how lonely they stand in it."""
    layer = _layers(tried)
    lonely = np.zeros(len(layer))
    for rank in np.unique(layer):
        here = np.flatnonzero(layer == rank)
        lonely[here] = _loneliness(tried.aims[here])
    return np.lexsort((-lonely, layer))[:count]


def _loneliness(aims: Floats) -> Floats:
    """Return the crowding distance of each point of a layer; infinite at its ends."""
    known = np.where(np.isfinite(aims), aims, 0.0)
    apart = np.zeros(len(known))
    for column in known.T:
        order = np.argsort(column, kind="stable")
        span = column[order[-1]] - column[order[0]]
        apart[order[[0, -1]]] = np.inf
        if span > 0 and len(order) > 2:
            apart[order[1:-1]] += (column[order[2:]] - column[order[:-2]]) / span
    return apart

"""Put the sample points of places in order, and in groups whose spread tells the sampling error.

Computes: which rows belong to each place; an order in which neighbours follow one another; groups of which each holds
    one of every few neighbours; means over the groups and the standard error of the whole; places with every second
    point.
Units: those of the values.
Source: the standard error of a mean from interleaved groups.
Limits: points that spread evenly err less than the spread of their groups says.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from functools import lru_cache
from itertools import pairwise
from typing import Any

import numpy as np
import numpy.typing as npt

from canvas.geometry.scene import Place
from canvas.geometry.surface import Floats, Ints, locked

GROUPS = 4  # interleaved groups of sample points whose spread tells the sampling error


def slices_of(places: Iterable[Place]) -> tuple[slice, ...]:
    """Return which rows belong to each place when the points of all stand one after another."""
    ends = np.cumsum([0] + [len(place.points) for place in places])
    return tuple(slice(int(a), int(b)) for a, b in pairwise(ends))


def groups_of(places: Iterable[Place]) -> Ints:
    """Return for each point of the places its group, (n,) of 0 to 3, one of every four neighbours in each."""
    return np.asarray(locked(np.concatenate([_groups_in(place) for place in places]), dtype=np.int64))


@lru_cache(maxsize=64)
def _groups_in(place: Place) -> Ints:
    """Return the groups of one place, which is asked about again in each set and each way of lying."""
    group = np.empty(len(place.points), dtype=np.int64)
    group[by_neighbours(place.points)] = np.arange(len(place.points)) % GROUPS
    return group


@lru_cache(maxsize=64)
def thinned(place: Place) -> Place:
    """Return a place with one of every two neighbours among its sample points; the same one each time."""
    rows = rows_kept(place)
    return replace(place, points=place.points[rows], normals=place.normals[rows])


@lru_cache(maxsize=64)  # as with groups: asked about again in each set
def rows_kept(place: Place) -> Ints:
    """Return which of its points a place keeps when it is thinned."""
    return np.asarray(locked(np.sort(by_neighbours(place.points)[::2]), dtype=np.int64))


def by_neighbours(points: Floats) -> Ints:
    """Return an order (n,) of points (n, 3) in which neighbours follow one another: halved across the longest side."""
    if len(points) <= GROUPS:
        return np.arange(len(points))
    side = int(np.argmax(points.max(axis=0) - points.min(axis=0)))
    order = np.argsort(points[:, side], kind="stable")
    halves = order[: len(order) // 2], order[len(order) // 2 :]
    return np.concatenate([half[by_neighbours(points[half])] for half in halves])


def group_means(values: npt.NDArray[Any], group: Ints) -> Floats:
    """Return means of `values` by `group`, (n,), and over all in the last row: (n, ...) gives (groups + 1, ...)."""
    counts = np.bincount(group, minlength=GROUPS)
    sums = [values[group == k].sum(axis=0, dtype=values.dtype).astype(np.float64) for k in range(GROUPS)]
    means = [one / max(int(count), 1) for one, count in zip(sums, counts, strict=True)]
    return np.stack([*means, np.sum(sums, axis=0) / len(group)])


def standard_error(means: Floats) -> Floats:
    """Return the standard error of the mean, (...), from the `means`, (groups + 1, ...), of `group_means`."""
    return np.asarray(means[:GROUPS].std(axis=0, ddof=1) / np.sqrt(GROUPS))

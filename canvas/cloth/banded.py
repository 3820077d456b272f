"""Solve symmetric positive systems of nets: unknowns ordered for a narrow band, then banded Cholesky.

Computes: the order, the assembly of weighted links into band storage, factors and solutions.
Units: as given.
Source: Cuthill E and McKee J, 1969 (scipy); Cholesky's method. Own loops and not LAPACK's pbtrf, whose threads make
    small systems up to a hundred times slower on a busy machine and tie the last digits to the number of cores.
Limits: meshes of panels have narrow bands; a system of another kind may fill the band and be slow. Row j of the storage
    holds column j of the lower half, from the diagonal down.
"""

from __future__ import annotations

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import reverse_cuthill_mckee

from canvas.geometry.surface import Bools, Floats, Ints
from canvas.jobs.compiled import compiled


class NotPositiveError(Exception):
    """Raised when a matrix is not positive definite."""


@compiled
def factorise(band: Floats) -> bool:
    """Replace a band (n, w) by its Cholesky factor; return whether the matrix was positive definite.

    Each column takes what all before it leave, four at a time, so that it is fetched and put back a quarter as often.
    """
    count, width = band.shape
    for j in range(count):
        column = band[j]
        first = max(0, j - width + 1)
        rest = first + (j - first) // 4 * 4
        for m in range(first, rest, 4):
            k = j - m
            _take_four(column, band[m, k:], band[m + 1, k - 1 :], band[m + 2, k - 2 :], band[m + 3, k - 3 :])
        for m in range(rest, j):
            _take(column, band[m, j - m :], band[m, j - m])
        pivot = column[0]
        if not pivot > 0.0:
            return False
        pivot = np.sqrt(pivot)
        column[0] = pivot
        for k in range(1, min(width, count - j)):
            column[k] /= pivot
    return True


@compiled(inline=True)
def _take_four(column: Floats, one: Floats, two: Floats, three: Floats, four: Floats) -> None:
    """Take from a column what four before it leave, one after another; each reaches further by one than the last."""
    a, b, c, d = one[0], two[0], three[0], four[0]
    reach = len(one)
    for i in range(reach):
        column[i] = column[i] - a * one[i] - b * two[i] - c * three[i] - d * four[i]
    column[reach] = column[reach] - b * two[reach] - c * three[reach] - d * four[reach]
    column[reach + 1] = column[reach + 1] - c * three[reach + 1] - d * four[reach + 1]
    column[reach + 2] -= d * four[reach + 2]


@compiled(inline=True)
def _take(column: Floats, other: Floats, share: float) -> None:
    """Take a share of another column from one, as far as the other reaches."""
    for i in range(len(other)):
        column[i] -= share * other[i]


@compiled
def substitute(factor: Floats, right: Floats) -> None:
    """Replace right-hand sides (n, c) by the solutions, given a factor (n, w)."""
    count, width = factor.shape
    for j in range(count):
        for c in range(right.shape[1]):
            right[j, c] /= factor[j, 0]
            for k in range(1, min(width, count - j)):
                right[j + k, c] -= factor[j, k] * right[j, c]
    for j in range(count - 1, -1, -1):
        for c in range(right.shape[1]):
            total = right[j, c]
            for k in range(1, min(width, count - j)):
                total -= factor[j, k] * right[j + k, c]
            right[j, c] = total / factor[j, 0]


def narrow_order(links: Ints, count: int) -> Ints:
    """Return for each of `count` nodes its place in an order that keeps linked ones (`links`, (k, 2)) near."""
    if len(links) == 0:
        return np.arange(count)
    ones = np.ones(len(links))
    graph = coo_array((ones, (links[:, 0], links[:, 1])), shape=(count, count)).tocsr()
    order = reverse_cuthill_mckee((graph + graph.T).tocsr(), symmetric_mode=True)
    place = np.empty(count, dtype=np.int64)
    place[order] = np.arange(count)
    return place


class Links:
    """A net's matrix, K = sum of weights times (e_i - e_j)(e_i - e_j)^T over links, some nodes held.

    Parameters
    ----------
    links : (k, 2) ndarray of int
        Nodes that each weight joins.
    held : (n,) ndarray of bool
        Nodes whose places are given.
    """

    def __init__(self, links: Ints, held: Bools) -> None:
        count = len(held)
        self.held = held
        self.free = np.flatnonzero(~held)
        local = np.full(count, -1, dtype=np.int64)
        inside = ~held[links[:, 0]] & ~held[links[:, 1]]
        local[self.free] = np.arange(len(self.free))
        self.free = self.free[np.argsort(narrow_order(local[links[inside]], len(self.free)), kind="stable")]
        local[self.free] = np.arange(len(self.free))
        self._links = links
        self._inside = np.flatnonzero(inside)
        one, two = local[links[inside, 0]], local[links[inside, 1]]
        low, high = np.minimum(one, two), np.maximum(one, two)
        self.band = int((high - low).max(initial=0))
        self._spot = low * (self.band + 1) + high - low
        self._local = local
        self._factor: Floats = np.zeros((0, 0))

    def solve(self, weights: Floats, places: Floats, *, extra: Floats, load: Floats) -> Floats:
        """Return all nodes' places when held ones are as in `places` (n, d).

        Parameters
        ----------
        weights : (k,) ndarray
            Of each link.
        places : (n, d) ndarray
            Of held nodes.
        extra : (n,) ndarray
            Added to the diagonal.
        load : (n, d) ndarray
            On each node.

        Raises
        ------
        NotPositiveError
            When the matrix is not positive definite.
        """
        count = len(self.held)
        total = extra + np.bincount(self._links.ravel(), weights=np.repeat(weights, 2), minlength=count)
        size = len(self.free)
        flat = np.bincount(self._spot, weights=-weights[self._inside], minlength=(self.band + 1) * size)
        band: Floats = flat.astype(np.float64).reshape(size, self.band + 1)
        band[:, 0] += total[self.free]
        right = load.copy()
        for near, far in ((0, 1), (1, 0)):
            across = self.held[self._links[:, far]] & ~self.held[self._links[:, near]]
            for axis in range(places.shape[1]):
                pull = weights[across] * places[self._links[across, far], axis]
                right[:, axis] += np.bincount(self._links[across, near], weights=pull, minlength=count)
        moved = places.copy()
        if not factorise(band):
            raise NotPositiveError
        solution = np.ascontiguousarray(right[self.free])
        substitute(band, solution)
        moved[self.free] = solution
        self._factor = band
        return moved

    def stiffness_at(self, nodes: Ints) -> Floats:
        """Return how stiff the system solved last is at free nodes (k,), all others free to follow."""
        unit = np.zeros((len(self.free), len(nodes)))
        rows = self._local[nodes]
        unit[rows, np.arange(len(nodes))] = 1.0
        substitute(self._factor, unit)
        return np.asarray(1 / unit[rows, np.arange(len(nodes))])


def pulls(places: Floats, links: Ints, weights: Floats) -> Floats:
    """Return the sum of the links' pulls on each vertex (n, 3) [N].

    Parameters
    ----------
    places : (n, 3) ndarray
        [m]
    links : (k, 2) ndarray of int
        The vertices each link ties.
    weights : (k,) ndarray
        Force densities [N/m].
    """
    pull = weights[:, None] * (places[links[:, 1]] - places[links[:, 0]])
    count = len(places)
    return np.stack(
        [
            np.bincount(links[:, 0], weights=pull[:, axis], minlength=count)
            - np.bincount(links[:, 1], weights=pull[:, axis], minlength=count)
            for axis in range(3)
        ],
        axis=1,
    )

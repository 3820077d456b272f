"""Solve symmetric positive systems of nets: unknowns ordered for a narrow band, then banded Cholesky.

Computes: the order, the assembly of weighted links into band storage, and solutions.
Units: as given.
Source: Cuthill E and McKee J, 1969 (scipy); LAPACK pbtrf (scipy).
Limits: meshes of panels have narrow bands; a system of another kind may fill the band and be slow.
"""

from __future__ import annotations

import numpy as np
from scipy.linalg import LinAlgError, cho_solve_banded, cholesky_banded
from scipy.sparse import coo_array
from scipy.sparse.csgraph import reverse_cuthill_mckee

from canvas.geometry.surface import Bools, Floats, Ints


class NotPositiveError(Exception):
    """Raised when a matrix is not positive definite."""


def narrow_order(links: Ints, count: int) -> Ints:
    """Return for each of `count` nodes its place in an order that keeps linked nodes (k, 2) near each other."""
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
        self._spot = (high - low) * len(self.free) + low
        self._local = local
        self._factor = np.zeros((0, 0))

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
        band = np.bincount(self._spot, weights=-weights[self._inside], minlength=(self.band + 1) * size)
        band = band[: (self.band + 1) * size].reshape(self.band + 1, size)
        band[0] += total[self.free]
        right = load.copy()
        for near, far in ((0, 1), (1, 0)):
            across = self.held[self._links[:, far]] & ~self.held[self._links[:, near]]
            for axis in range(places.shape[1]):
                pull = weights[across] * places[self._links[across, far], axis]
                right[:, axis] += np.bincount(self._links[across, near], weights=pull, minlength=count)
        moved = places.copy()
        try:
            factor = cholesky_banded(band, lower=True, overwrite_ab=True, check_finite=False)
        except LinAlgError as error:
            raise NotPositiveError from error
        moved[self.free] = cho_solve_banded((factor, True), right[self.free], check_finite=False)
        self._factor = factor
        return moved

    def stiffness_at(self, nodes: Ints) -> Floats:
        """Return how stiff the system solved last is at free nodes (k,), all others free to follow."""
        unit = np.zeros((len(self.free), len(nodes)))
        rows = self._local[nodes]
        unit[rows, np.arange(len(nodes))] = 1.0
        moved = cho_solve_banded((self._factor, True), unit, check_finite=False)
        return np.asarray(1 / moved[rows, np.arange(len(nodes))])

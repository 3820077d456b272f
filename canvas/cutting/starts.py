"""Start a flat layout: least-squares conformal, then as rigid as possible.

Computes: flat places of a triangle mesh near enough to those of least strain for a Newton solve to go on from.
Units: metres.
Source: Levy et al., Least squares conformal maps, ACM Trans. Graph. 21, 2002; Liu et al., A local/global approach to
    mesh parameterization, Comput. Graph. Forum 27, 2008.
Limits: see flatten.py.
Departs: both linear systems are written with complex coordinates, which halves them.
"""

from __future__ import annotations

import numpy as np
from scipy.sparse import coo_matrix, csc_matrix, diags
from scipy.sparse.linalg import SuperLU, splu

from canvas.cutting.rest import Complexes, RestShape, doubled_area
from canvas.geometry.surface import Ints


def conformal(rest: RestShape, *, outline: Ints) -> Complexes:
    """Return the least-squares conformal map, two far vertices of the outline held (Levy 2002, eq. 6)."""
    z, faces = rest.corners, rest.faces
    opposite = np.stack([z[:, 2] - z[:, 1], z[:, 0] - z[:, 2], z[:, 1] - z[:, 0]], axis=1)
    doubled = np.abs((np.conj(z[:, 1] - z[:, 0]) * (z[:, 2] - z[:, 0])).imag)
    values = opposite / np.sqrt(doubled)[:, None]
    rows = np.repeat(np.arange(len(faces)), 3)
    matrix = coo_matrix((values.ravel(), (rows, faces.ravel())), shape=(len(faces), rest.count)).tocsc()
    first, last, span = _far_pair(rest, outline)
    free = np.setdiff1d(np.arange(rest.count), [first, last])
    flat = np.zeros(rest.count, dtype=np.complex128)
    flat[last] = span
    part = matrix[:, free]
    normal = (part.conj().T @ part).tocsc()
    flat[free] = factored(normal).solve(np.asarray(-(part.conj().T @ (matrix @ flat))))
    return flat


def _far_pair(rest: RestShape, outline: Ints) -> tuple[int, int, float]:
    """Return two outline vertices half the outline apart, and a length to hold them at."""
    following = {int(i): int(j) for i, j in outline}
    first = int(outline[:, 0].min())
    loop = [first]
    while following[loop[-1]] != first and len(loop) <= len(outline):
        loop.append(following[loop[-1]])
    area = 0.5 * float(np.sum(doubled_area(rest.corners)))
    return first, loop[len(loop) // 2], float(np.sqrt(2 * area))


def factored(matrix: csc_matrix) -> SuperLU:
    """Return the factors of a symmetric positive definite matrix."""
    return splu(matrix, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True})


def as_rigid(rest: RestShape, flat: Complexes, *, rounds: int = 12) -> Complexes:
    """Return `flat` after rounds of best rotation a triangle and one prefactored solve (Liu 2008, eq. 6 and 7)."""
    z, faces, n = rest.corners, rest.faces, rest.count
    nxt = [1, 2, 0]
    side = z[:, nxt] - z  # side k runs from corner k to k + 1
    doubled = np.abs(doubled_area(z))
    cot = np.stack([(np.conj(z[:, nxt[k]] - z[:, k - 1]) * (z[:, k] - z[:, k - 1])).real for k in range(3)], axis=1)
    cot = np.maximum(cot / doubled[:, None], 1e-3)  # obtuse corners held just positive
    i, j = faces.ravel(), faces[:, nxt].ravel()
    w = cot.ravel()
    laplacian = coo_matrix((np.r_[w, w, -w, -w], (np.r_[i, j, i, j], np.r_[i, j, j, i])), shape=(n, n)).tocsc() + diags(
        np.full(n, 1e-12 * w.mean())
    )
    solver = factored(laplacian.tocsc())
    for _ in range(rounds):
        turned = flat[faces[:, nxt]] - flat[faces]
        rotation = np.sum(cot * np.conj(side) * turned, axis=1)
        rotation /= np.abs(rotation)
        pull = (cot * side * rotation[:, None]).ravel()
        right = np.bincount(j, pull.real, n) - np.bincount(i, pull.real, n)
        right = right + 1j * (np.bincount(j, pull.imag, n) - np.bincount(i, pull.imag, n))
        right -= right.mean()
        both = solver.solve(np.stack([right.real, right.imag], axis=1))
        fresh = both[:, 0] + 1j * both[:, 1]
        fresh -= fresh[0] - flat[0]
        moved = float(np.max(np.abs(fresh - flat)))
        flat = fresh
        if moved < 1e-6:
            break
    return flat

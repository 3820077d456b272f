"""Lay a formed piece of cloth flat with the least stretch, its outline first.

Computes: flat coordinates of a triangle mesh: least-squares conformal start, as-rigid-as-possible rounds, then a
    Gauss-Newton solve in which the outline's lengths weigh far more than the inside; strain left in each
    triangle and along each stretch of outline.
Units: metres; strain is length formed over length flat, less one, so a stretch is positive.
Source: starts.py for the start and the rounds.
Limits: one piece, edge-manifold, with an outline; a closed tube is cut along a line first. A piece that folds over
    itself when flat is refused.
Departs: both linear systems are written with complex coordinates, which halves them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.sparse import csc_matrix

from canvas.cutting.rest import Complexes, RestShape, doubled_area, outline_edges, rest_shape
from canvas.cutting.starts import as_rigid, conformal, factored
from canvas.geometry.surface import Floats, Ints, locked
from canvas.jobs.failure import CouldNot

OUTLINE_WEIGHT = 1e4  # an outline edge against an inside edge, by squared strain
CORNERS = 0.02  # share of a piece's area, in its corners, that a strain limit leaves out
APART = 1e-4  # [m] between vertices with a gap between them at the start
CALM = 1e-6  # [m] a step this small ends a solve; the next would be a tenth of it


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Flat:
    """One piece of cloth laid flat.

    Attributes
    ----------
    uv : (n, 2) ndarray
        Flat place of each vertex; the warp runs along +u. [m]
    faces : (m, 3) ndarray of int
        Counter-clockwise when flat, seen from outside.
    strain : (m, 2) ndarray
        Principal strains of each triangle from flat to rest shape, the larger first. [1]
    outline : (k, 2) ndarray of int
        Outline edges, each along the direction of its triangle.
    outline_strain : (k,) ndarray
        Strain along each outline edge. [1]
    strain_edge_max : float
        Largest strain along the outline, either sign. [1]
    strain_inside_max : float
        Largest principal strain of any triangle, either sign. [1]
    strain_inside_most : float
        Strain that all but `CORNERS` of the area stays under: what a limit is held against, since the tips of
        corners are taken up by their hems. [1]
    """

    uv: Floats
    faces: Ints
    strain: Floats
    outline: Ints
    outline_strain: Floats
    strain_edge_max: float
    strain_inside_max: float
    strain_inside_most: float

    def __post_init__(self) -> None:
        for name in ("uv", "strain", "outline_strain"):
            object.__setattr__(self, name, locked(getattr(self, name)))
        for name in ("faces", "outline"):
            object.__setattr__(self, name, locked(getattr(self, name), dtype=np.int64))


def flatten(
    vertices: Floats,
    faces: Ints,
    *,
    warp: Floats,
    shrink_warp: Floats | float = 0.0,
    shrink_weft: Floats | float = 0.0,
    outline_length: dict[tuple[int, int], float] | None = None,
    gaps: Mapping[tuple[int, int], float] | None = None,
    calm: float = CALM,
) -> Flat:
    """Return the piece laid flat, outline lengths kept and the strain left inside.

    Parameters
    ----------
    vertices : (n, 3) ndarray
        Formed cloth. [m]
    faces : (m, 3) ndarray of int
        One connected, consistently wound, edge-manifold piece with an outline.
    warp : (m, 3) ndarray
        Direction of the warp in each triangle.
    shrink_warp, shrink_weft : float or (m,) ndarray
        Compensation: share by which the cloth is cut smaller. [1]
    outline_length : dict of (int, int) to float, optional
        Wanted flat length of outline edges, by their two vertices in ascending order, where it is not the edge's
        own: what makes two sides of a seam equal. [m]
    gaps : mapping of (int, int) to float, optional
        How far apart two vertices of the outline are to lie flat, the second beyond the cut that the outline goes into
        at the first, such as those at the mouth of a dart; as they come where absent. [m]
    calm : float
        Largest move of a vertex at which the solve ends. [m]

    Raises
    ------
    CouldNot
        When the piece has no outline, or folds over itself when flat.
    """
    rest = rest_shape(vertices, faces, warp=warp, shrink_warp=shrink_warp, shrink_weft=shrink_weft)
    outline = outline_edges(rest.faces)
    if len(outline) == 0:
        raise CouldNot("The cloth is closed all round and has no outline.", "Cut it along a seam first.")
    start = conformal(rest, outline=outline)
    rigid = _apart(as_rigid(rest, start), outline, gaps or {})
    exact = outline_first(rest, rigid, outline=outline, outline_length=outline_length, gaps=gaps, calm=calm)
    return measured(rest, exact, outline=outline, outline_length=outline_length)


def _apart(flat: Complexes, outline: Ints, gaps: Mapping[tuple[int, int], float]) -> Complexes:
    """Return a start in which vertices with a gap between them lie a little apart: the solve then knows which way."""
    result = flat.copy()
    after = {int(i): int(j) for i, j in outline}
    before = {int(j): int(i) for i, j in outline}
    for (i, j), width in gaps.items():
        into, back = flat[after[i]] - flat[i], flat[j] - flat[before[j]]
        across = -1j * (into / np.abs(into) - back / np.abs(back))  # outside lies to the right
        across /= np.abs(across)
        lacking = min(width, APART) - float((np.conj(across) * (result[j] - result[i])).real)
        if lacking > 0:
            result[i] -= lacking / 2 * across
            result[j] += lacking / 2 * across
    return result


def outline_first(
    rest: RestShape,
    flat: Complexes,
    *,
    outline: Ints,
    outline_length: dict[tuple[int, int], float] | None = None,
    gaps: Mapping[tuple[int, int], float] | None = None,
    calm: float = CALM,
    rounds: int = 40,
) -> Complexes:
    """Return `flat` moved until strain is least, outline lengths weighing `OUTLINE_WEIGHT` times the whole inside.

    In each triangle flat = a z + b conj(z); the energy 2 (|a| - 1)^2 + 2 |b|^2 times its area is the squared
    distance to the nearest rotation. Gauss-Newton on |a| - 1, b and the strain of each outline edge; a small
    damping also holds the three free motions.

    Parameters
    ----------
    rest : RestShape
    flat : (n,) ndarray of complex
        Start [m].
    outline : (k, 2) ndarray of int
        Outline edges.
    outline_length : dict, optional
        Wanted length of each outline edge, by ascending vertices [m]; its length at rest where absent.
    gaps : mapping, optional
        Wanted distance between pairs of vertices, held as the outline is [m].
    calm : float
        Largest step at which it ends.
    rounds : int
        Most steps.
    """
    energy = _energy(rest, outline, outline_length, gaps or {})
    n = rest.count
    cost = energy.cost(flat)
    for _ in range(rounds):
        matrix, slope = energy.system(flat)
        step = factored(matrix).solve(-slope)
        move = step[:n] + 1j * step[n:]
        share = 1.0
        trial = energy.cost(flat + move)
        while trial > cost and share > 1e-4:
            share /= 2
            trial = energy.cost(flat + share * move)
        if trial > cost:
            return flat
        flat, cost = flat + share * move, trial
        if float(np.max(np.abs(move))) * share < calm:
            break
    return flat


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Energy:
    """The last solve: mean stretch and shear of each triangle, strain of each outline edge, on one sparse pattern."""

    faces: Ints
    stretch: Complexes  # (m, 3): a of each triangle is their sum times its corners' flat places
    shear: Complexes  # (m, 3): b likewise
    area: Floats
    outline: Ints
    length: Floats
    weight: float
    dofs: tuple[Ints, Ints]  # unknowns of each triangle (m, 6), of each outline edge (k, 4)
    where: Ints  # entry of the pattern that each entry of each block adds to
    indices: npt.NDArray[np.int32]
    indptr: npt.NDArray[np.int32]
    diagonal: Ints

    def cost(self, flat: Complexes) -> float:
        corner = flat[self.faces]
        a, b = np.sum(self.stretch * corner, axis=1), np.sum(self.shear * corner, axis=1)
        size = np.abs(flat[self.outline[:, 1]] - flat[self.outline[:, 0]])
        inside = 2 * float(self.area @ ((np.abs(a) - 1) ** 2 + b.real**2 + b.imag**2))
        return inside + self.weight * float(np.sum((size / self.length - 1) ** 2))

    def system(self, flat: Complexes) -> tuple[csc_matrix, Floats]:
        """Return the Gauss-Newton matrix and the gradient, both halved."""
        corner = flat[self.faces]
        a, b = np.sum(self.stretch * corner, axis=1), np.sum(self.shear * corner, axis=1)
        root = np.sqrt(2 * self.area)[:, None]
        turned = np.conj(a / np.abs(a))[:, None] * self.stretch
        rows = np.stack([_row(turned), _row(self.shear), _row(-1j * self.shear)], axis=1) * root[:, :, None]
        residual = np.stack([np.abs(a) - 1, b.real, b.imag], axis=1) * root
        span = flat[self.outline[:, 1]] - flat[self.outline[:, 0]]
        unit = (np.conj(span / np.abs(span)) * np.sqrt(self.weight) / self.length)[:, None]
        edge = _row(np.concatenate([-unit, unit], axis=1))
        off = np.sqrt(self.weight) * (np.abs(span) / self.length - 1)
        blocks = np.concatenate(
            [np.einsum("mri,mrj->mij", rows, rows).ravel(), (edge[:, :, None] * edge[:, None, :]).ravel()]
        )
        n = len(flat)
        data: Floats = np.bincount(self.where, blocks, len(self.indices)).astype(np.float64)
        data[self.diagonal] += np.float64(1e-10) * np.mean(data[self.diagonal])
        slope: Floats = np.zeros(2 * n)
        slope += np.bincount(self.dofs[0].ravel(), np.einsum("mri,mr->mi", rows, residual).ravel(), 2 * n)
        slope += np.bincount(self.dofs[1].ravel(), (edge * off[:, None]).ravel(), 2 * n)
        return csc_matrix((data, self.indices, self.indptr), shape=(2 * n, 2 * n)), slope


def _row(coefficient: Complexes) -> Floats:
    """Return the change of the real part of a complex-linear form with real and imaginary parts of its unknowns."""
    result: Floats = np.concatenate([coefficient.real, -coefficient.imag], axis=1)
    return result


def _energy(
    rest: RestShape,
    outline: Ints,
    outline_length: dict[tuple[int, int], float] | None,
    gaps: Mapping[tuple[int, int], float],
) -> _Energy:
    z, faces, n = rest.corners, rest.faces, rest.count
    length = np.concatenate([_outline_length(rest, outline, outline_length), list(gaps.values())])
    weight = OUTLINE_WEIGHT / len(outline)
    outline = np.concatenate([outline, np.array(list(gaps), dtype=np.int64).reshape(-1, 2)])
    p, q = z[:, 1] - z[:, 0], z[:, 2] - z[:, 0]
    det = p * np.conj(q) - np.conj(p) * q
    one, two = np.conj(q) / det, -np.conj(p) / det  # a = one (f1 - f0) + two (f2 - f0)
    other, another = -q / det, p / det  # b likewise
    area = np.abs(doubled_area(z)) / 2
    dofs = (np.concatenate([faces, faces + n], axis=1), np.concatenate([outline, outline + n], axis=1))
    where, indices, indptr = _pattern([faces, outline], n)
    return _Energy(
        faces=faces,
        stretch=np.stack([-one - two, one, two], axis=1),
        shear=np.stack([-other - another, other, another], axis=1),
        area=area,
        outline=outline,
        length=length,
        weight=weight * float(area.sum()),
        dofs=dofs,
        where=where,
        indices=indices,
        indptr=indptr,
        diagonal=np.flatnonzero(indices == np.repeat(np.arange(2 * n), np.diff(indptr))),
    )


def _pattern(cells: Sequence[Ints], n: int) -> tuple[Ints, npt.NDArray[np.int32], npt.NDArray[np.int32]]:
    """Return the sparse pattern that square blocks add to, by columns, and the entry of it that each of theirs does.

    Vertices that share a cell are joined, and each is two unknowns, i and i + n, so the pattern of vertices alone is
    sorted: a quarter of the entries.
    """
    keys = [(cell[:, :, None] * n + cell[:, None, :]).ravel() for cell in cells]  # column times n plus row
    pairs, place = np.unique(np.concatenate(keys), return_inverse=True)
    column, row = pairs // n, pairs % n
    degree = np.bincount(column, minlength=n)
    rank = np.arange(len(pairs)) - (np.cumsum(degree) - degree)[column]  # of a row among those of its column
    indptr = np.concatenate([[0], np.cumsum(np.tile(2 * degree, 2))])
    entry = np.empty((2, 2, len(pairs)), dtype=np.int64)  # by second or first unknown of column, and of row
    indices = np.empty(4 * len(pairs), dtype=np.int32)
    for right in range(2):
        for down in range(2):
            entry[right, down] = indptr[column + right * n] + down * degree[column] + rank
            indices[entry[right, down]] = row + down * n
    where, done = [], 0
    for cell in cells:
        corners = cell.shape[1]
        mine = place[done : done + len(cell) * corners**2].reshape(len(cell), 1, corners, 1, corners)
        done += len(cell) * corners**2
        sides = np.arange(2)
        where.append(entry[sides[:, None, None, None], sides[None, None, :, None], mine].ravel())
    return np.concatenate(where), indices, indptr.astype(np.int32)


def _outline_length(rest: RestShape, outline: Ints, outline_length: dict[tuple[int, int], float] | None) -> Floats:
    """Return the wanted flat length of each outline edge."""
    z, faces = rest.corners, rest.faces
    start, end = faces.ravel(), faces[:, [1, 2, 0]].ravel()
    size = np.abs(z[:, [1, 2, 0]] - z).ravel()
    key = start * rest.count + end
    order = np.argsort(key)
    at = order[np.searchsorted(key, outline[:, 0] * rest.count + outline[:, 1], sorter=order)]
    length: Floats = size[at]
    if outline_length:
        asked = [outline_length.get((int(min(i, j)), int(max(i, j)))) for i, j in outline]
        length = np.array([own if value is None else value for own, value in zip(length, asked, strict=True)])
    return length


def measured(
    rest: RestShape, flat: Complexes, *, outline: Ints, outline_length: dict[tuple[int, int], float] | None = None
) -> Flat:
    """Return `flat` turned so that the warp runs along +u, with its strains measured.

    `outline` is (k, 2) pairs of vertices; `outline_length` [m] is that of a pair where it is not the rest shape's.

    Raises
    ------
    CouldNot
        When a triangle has turned over: the cloth cannot lie flat in one piece.
    """
    z, faces = rest.corners, rest.faces
    f = flat[faces]
    one, two = f[:, 1] - f[:, 0], f[:, 2] - f[:, 0]
    if np.any((np.conj(one) * two).imag <= 0):
        raise CouldNot(
            "The cloth folds over itself when laid flat.",
            "Add a seam or a dart where it turns most; where edges run to a sharp point, blunt it or give less hollow.",
        )
    p, q = z[:, 1] - z[:, 0], z[:, 2] - z[:, 0]
    # affine map rest = a flat + b conj(flat): principal stretches |a| + |b| and |a| - |b|
    det = one * np.conj(two) - np.conj(one) * two
    a = (p * np.conj(two) - q * np.conj(one)) / det
    b = (one * q - two * p) / det
    strain = np.stack([np.abs(a) + np.abs(b) - 1, np.abs(a) - np.abs(b) - 1], axis=1)
    turn = np.sum(np.abs(doubled_area(z)) * a / np.abs(a))  # mean turn from flat to warp
    flat = flat * turn / np.abs(turn)
    length = _outline_length(rest, outline, outline_length)
    outline_strain = length / np.abs(flat[outline[:, 1]] - flat[outline[:, 0]]) - 1
    return Flat(
        uv=np.stack([flat.real, flat.imag], axis=1),
        faces=faces,
        strain=strain,
        outline=outline,
        outline_strain=outline_strain,
        strain_edge_max=float(np.max(np.abs(outline_strain))),
        strain_inside_max=float(np.max(np.abs(strain))),
        strain_inside_most=all_but(np.max(np.abs(strain), axis=1), np.abs(doubled_area(z))),
    )


def all_but(strain: Floats, area: Floats, *, share: float = CORNERS) -> float:
    """Return the strain that all but a share of the area stays under."""
    order = np.argsort(strain)
    below = np.cumsum(area[order]) / area.sum()
    return float(strain[order][np.searchsorted(below, 1 - share)])

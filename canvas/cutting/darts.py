"""Propose darts where cloth strains more than it may, with the strain each takes away.

Computes: for slits from several places along each edge to the place that strains most, the strain left when the slit
    may open, and how far it opens.
Units: metres; strain without unit.
Source: the slit follows mesh edges, shortest by Dijkstra's algorithm (scipy).
Limits: a proposal: a dart is sewn along its two equal sides; the design decides.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import dijkstra

from canvas.cutting.flatten import Flat, flatten
from canvas.cutting.piece import Piece
from canvas.geometry.surface import Floats, Ints
from canvas.jobs.failure import CouldNot

PLACES = (0.25, 0.5, 0.75)  # shares of each edge from which a dart is tried


@dataclass(frozen=True, slots=True, kw_only=True)
class Dart:
    """One dart that would help.

    Attributes
    ----------
    edge : str
        From which it is cut.
    place : float
        Along that edge from its first corner. [m]
    length : float
        Of its sides. [m]
    opening : float
        At the edge, when flat; negative where the sides overlap, so that cloth is let in. [m]
    strain_before, strain_after : float
        All but the corners. [1]
    """

    edge: str
    place: float
    length: float
    opening: float
    strain_before: float
    strain_after: float


def best_dart(piece: Piece) -> Dart | None:
    """Return the dart that takes most strain away; None where none helps by a tenth.

    Parameters
    ----------
    piece : Piece
    """
    flat = flatten(piece.vertices, piece.faces, warp=piece.warp)
    before = flat.strain_inside_most
    longest = 0.6 * float(np.linalg.norm(np.ptp(flat.uv, axis=0)))
    found: list[Dart] = []
    for tip in _tips(piece, flat):
        distance, back = _paths(piece, tip)
        for edge in piece.edges:
            for share in PLACES:
                at = round(share * (len(edge.vertices) - 1))
                start = int(edge.vertices[at])
                if distance[start] > longest:
                    continue
                path = _path(back, start, tip)
                along = float(abs(edge.arc[at] - edge.arc[0]))
                dart = _tried(piece, path, before=before, edge=edge.name, place=along, length=float(distance[start]))
                found.extend([dart] if dart is not None else [])
    best = min(found, key=lambda dart: dart.strain_after, default=None)
    return best if best is not None and best.strain_after < 0.9 * before - 1e-5 else None


def _tips(piece: Piece, flat: Flat) -> list[int]:
    """Return where a dart may end: the inner vertices nearest the worst triangle and nearest the middle."""
    inner = np.setdiff1d(np.unique(piece.faces), flat.outline[:, 0])
    if len(inner) == 0:
        return []
    worst = int(np.argmax(np.max(np.abs(flat.strain), axis=1)))
    spots = (piece.vertices[piece.faces[worst]].mean(axis=0), piece.vertices.mean(axis=0))
    near = [int(inner[np.argmin(np.sum((piece.vertices[inner] - spot) ** 2, axis=1))]) for spot in spots]
    return list(dict.fromkeys(near))


def _paths(piece: Piece, tip: int) -> tuple[Floats, Ints]:
    ends = np.unique(np.sort(piece.faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2), axis=1), axis=0)
    size = np.linalg.norm(piece.vertices[ends[:, 0]] - piece.vertices[ends[:, 1]], axis=1)
    n = len(piece.vertices)
    graph = coo_matrix((size, (ends[:, 0], ends[:, 1])), shape=(n, n)).tocsr()
    distance, back = dijkstra(graph, directed=False, indices=np.array([tip]), return_predecessors=True)
    return distance[0], back[0].astype(np.int64)


def _path(back: Ints, start: int, tip: int) -> list[int]:
    path = [start]
    while path[-1] != tip:
        path.append(int(back[path[-1]]))
    return path


def _tried(piece: Piece, path: list[int], *, before: float, edge: str, place: float, length: float) -> Dart | None:
    """Return the dart along a path, flattened; None where it cannot be cut or laid flat."""
    slit = slit_mesh(piece.faces, path, count=len(piece.vertices))
    if slit is None:
        return None
    faces, doubles = slit
    vertices = np.vstack([piece.vertices, piece.vertices[doubles]])
    try:
        flat = flatten(vertices, faces, warp=piece.warp, calm=2e-5)
    except CouldNot:
        return None
    one, two = flat.uv[path[0]], flat.uv[len(piece.vertices)]
    along = flat.uv[path[0]] - flat.uv[path[-1]]
    gap = two - one
    opening = float(along[1] * gap[0] - along[0] * gap[1]) / float(np.hypot(*along))
    return Dart(
        edge=edge,
        place=place,
        length=length,
        opening=opening,
        strain_before=before,
        strain_after=flat.strain_inside_most,
    )


def slit_mesh(faces: Ints, path: list[int], *, count: int) -> tuple[Ints, list[int]] | None:
    """Return the faces cut open along a path from the outline to an inner vertex, and the vertices doubled.

    Parameters
    ----------
    faces : (m, 3) ndarray of int
    path : list of int
        Vertices, the first on the outline, the last inside and not doubled.
    count : int
        Number of vertices; doubles are numbered on from there, in path order.
    """
    if len(path) < 2:
        return None
    doubles = path[:-1]
    number = {v: count + k for k, v in enumerate(doubles)}
    left: set[int] = set()
    owner = {(int(f[k]), int(f[(k + 1) % 3])): n for n, f in enumerate(faces) for k in range(3)}
    for i, j in itertools.pairwise(path):
        if (i, j) not in owner or (j, i) not in owner:
            return None  # the path runs along the outline
    for k, v in enumerate(doubles):
        stop = {(v, path[k + 1]), (path[k + 1], v)} | ({(path[k - 1], v), (v, path[k - 1])} if k else set())
        face: int | None = owner[(v, path[k + 1])]  # the face to the left of the path
        while face is not None and face not in left:
            left.add(face)
            corners = [int(c) for c in faces[face]]
            before = corners[corners.index(v) - 1]
            face = None if (before, v) in stop else owner.get((v, before))
    changed = faces.copy()
    for face in sorted(left):
        changed[face] = [number.get(int(c), int(c)) for c in faces[face]]
    return changed, doubles

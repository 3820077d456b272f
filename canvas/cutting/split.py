"""Divide a panel into pieces along seams, each side of a seam with the same vertices.

Computes: the triangles of a piece cut along a line, new vertices where the line crosses; straight lines across the
    flat cloth and geodesics on the formed cloth as seams; the pieces' outlines as edges.
Units: metres.
Source: triangles cut by the zero line of a function linear in each; geodesics by edge flips, Sharp and Crane, You can
    find geodesic paths in triangle meshes by just flipping edges, ACM Trans. Graph. 39, 2020 (potpourri3d).
Limits: a seam runs from outline to outline and meets it twice. Between mesh edges a seam is straight.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
import potpourri3d
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from canvas.arrays import distinct
from canvas.cutting.piece import Piece, PieceEdge, arc_length
from canvas.cutting.rest import outline_edges
from canvas.geometry.surface import Bools, Floats, Ints
from canvas.jobs.failure import CouldNot

SNAP = 0.08  # share of a mesh edge within which a vertex inside moves to the crossing
SNAP_OUTLINE = 0.01  # and within which a crossing goes to a vertex of the outline


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CutMesh:
    """A mesh cut along a line: faces of both sides over one set of vertices, old ones first.

    Attributes
    ----------
    vertices : (n + a, 3) ndarray
        [m]
    faces : (m, 3) ndarray of int
    parent, side : (m,) ndarray of int
        Old face of each face; -1 or +1.
    between : (a, 2) ndarray of int
        Old vertices between which each added one lies.
    on_line : ndarray of int
        Vertices on the line.
    """

    vertices: Floats
    faces: Ints
    parent: Ints
    side: Ints
    between: Ints
    on_line: Ints


def split_piece(piece: Piece, side: Floats, *, seam: str, finish: str = "seam") -> tuple[Piece, ...]:
    """Return the pieces on both sides of a seam, first those where `side` is negative.

    Parameters
    ----------
    piece : Piece
    side : (n,) ndarray
        A function of the vertices whose zero line is the seam, in metres from it near by. [m]
    seam : str
        Name of the seam; both sides carry it.
    finish : str
        Edge finish of both sides.

    Raises
    ------
    CouldNot
        When the line does not divide the piece in two.
    """
    cut = cut_mesh(piece, side)
    if len(cut.on_line) < 2 or not (np.any(cut.side < 0) and np.any(cut.side > 0)):
        raise CouldNot(f'The seam "{seam}" does not cross "{piece.name}".', "Move the seam into the panel.")
    islands = [chosen for sign in (-1, 1) for chosen in _islands(cut.faces, np.flatnonzero(cut.side == sign))]
    outlines = [
        _edges_along(piece, cut, outline_loop(cut.faces[chosen]), seam=seam, finish=finish) for chosen in islands
    ]
    outlines = _counted_alike(cut, outlines, below=[bool(cut.side[chosen[0]] < 0) for chosen in islands])
    return tuple(
        _part_of(piece, cut, chosen, edges=edges, name=f"{piece.name} {chr(ord('a') + k)}")
        for k, (chosen, edges) in enumerate(zip(islands, outlines, strict=True))
    )


def _counted_alike(cut: CutMesh, outlines: list[list[PieceEdge]], *, below: list[bool]) -> list[list[PieceEdge]]:
    """Return the outlines with the new seam's places counted from the same end on both sides."""
    place: dict[int, float] = {}
    start = 0.0
    for edges, first in zip(outlines, below, strict=True):
        for edge in edges if first else ():
            if len(edge.arc) == 0:
                along = arc_length(cut.vertices[edge.vertices]) + start
                place.update(zip(edge.vertices.tolist(), along.tolist(), strict=True))
                start = float(along[-1]) + 1.0
    return [
        [
            edge
            if len(edge.arc)
            else PieceEdge(
                name=edge.name,
                finish=edge.finish,
                vertices=edge.vertices,
                arc=np.array([place[int(v)] for v in edge.vertices]),
                seam=True,
            )
            for edge in edges
        ]
        for edges in outlines
    ]


def cut_mesh(piece: Piece, side: Floats, *, moved: bool = True) -> CutMesh:
    """Return the piece's triangles cut along side = 0; vertices near it are moved onto it along a mesh edge.

    Parameters
    ----------
    piece : Piece
    side : (n,) ndarray
        A function of the vertices, in metres from its zero line near by. [m]
    moved : bool
        False leaves every vertex where it is: the triangles are thinner, the shape is the same.
    """
    faces = piece.faces
    vertices, side = _snapped(piece, np.asarray(side, dtype=np.float64), moved=moved)
    ends = np.sort(faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2), axis=1)
    crossed, _, _ = distinct(ends[side[ends[:, 0]] * side[ends[:, 1]] < 0])
    share = side[crossed[:, 0]] / (side[crossed[:, 0]] - side[crossed[:, 1]])
    added = vertices[crossed[:, 0]] * (1 - share)[:, None] + vertices[crossed[:, 1]] * share[:, None]
    count = len(vertices)
    place = {(int(i), int(j)): count + k for k, (i, j) in enumerate(crossed)}
    new_faces: list[tuple[int, int, int]] = []
    parents: list[int] = []
    sides: list[int] = []
    signs = np.sign(side[faces]).astype(np.int64)
    for index in range(len(faces)):
        for triangle, sign in _divide(faces[index], signs[index], place):
            new_faces.append(triangle)
            parents.append(index)
            sides.append(sign)
    on_line = np.concatenate([np.flatnonzero(side == 0), np.arange(count, count + len(crossed))])
    return CutMesh(
        vertices=np.vstack([vertices, added]),
        faces=np.array(new_faces, dtype=np.int64),
        parent=np.array(parents, dtype=np.int64),
        side=np.array(sides, dtype=np.int64),
        between=crossed,
        on_line=on_line,
    )


def _snapped(piece: Piece, side: Floats, *, moved: bool) -> tuple[Floats, Floats]:
    """Return the vertices with those near the line moved onto it, and `side` with zero there.

    One inside moves along the mesh edge on which the line crosses nearest to it, so that the seam runs straight on; one
    of the outline, or of a window's, stays where it is.
    """
    vertices, faces = piece.vertices, piece.faces
    places, result = vertices.copy(), side.copy()
    ends = faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2)
    ends = np.concatenate([ends, ends[:, ::-1]])
    i, j = ends[side[ends[:, 0]] * side[ends[:, 1]] < 0].T
    share = side[i] / (side[i] - side[j])
    rim = np.isin(np.arange(len(vertices)), outline_edges(faces)) | _between_zones(piece) | (not moved)
    near = share < np.where(rim[i], SNAP_OUTLINE, SNAP)
    i, j, share = i[near], j[near], share[near]
    result[i] = 0.0
    way = share[:, None] * (vertices[j] - vertices[i])
    for k in np.argsort(-np.linalg.norm(way, axis=1), kind="stable"):  # the shortest way is the last to be taken
        if not rim[i[k]]:
            places[i[k]] = vertices[i[k]] + way[k]
    return places, result


def _between_zones(piece: Piece) -> Bools:
    """Return which vertices triangles of more than one zone meet in."""
    low = np.full(len(piece.vertices), np.iinfo(np.int64).max)
    high = np.full(len(piece.vertices), -1)
    np.minimum.at(low, piece.faces.ravel(), np.repeat(piece.zone, 3))
    np.maximum.at(high, piece.faces.ravel(), np.repeat(piece.zone, 3))
    result: Bools = low < high
    return result


def _divide(face: Ints, signs: Ints, place: dict[tuple[int, int], int]) -> list[tuple[tuple[int, int, int], int]]:
    """Return the triangles one triangle becomes, each with its side."""
    corners = [int(c) for c in face]
    if not (np.any(signs < 0) and np.any(signs > 0)):
        total = int(signs.sum())
        return [((corners[0], corners[1], corners[2]), 1 if total > 0 else -1)]
    below: list[int] = []
    above: list[int] = []
    for k in range(3):
        here, there = corners[k], corners[(k + 1) % 3]
        if signs[k] <= 0:
            below.append(here)
        if signs[k] >= 0:
            above.append(here)
        if signs[k] * signs[(k + 1) % 3] < 0:
            middle = place[(min(here, there), max(here, there))]
            below.append(middle)
            above.append(middle)
    result: list[tuple[tuple[int, int, int], int]] = []
    for loop, sign in ((below, -1), (above, 1)):
        result.extend(((loop[0], loop[k], loop[k + 1]), sign) for k in range(1, len(loop) - 1))
    return result


def _islands(faces: Ints, chosen: Ints) -> list[Ints]:
    """Return the connected parts of the chosen faces, in order of their first face."""
    part = faces[chosen]
    size = int(faces.max()) + 1
    ends = np.sort(part[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2), axis=1)
    owner = np.repeat(np.arange(len(part)), 3)
    key = ends[:, 0] * size + ends[:, 1]
    order = np.argsort(key, kind="stable")
    same = key[order][1:] == key[order][:-1]
    a, b = owner[order][:-1][same], owner[order][1:][same]
    graph = coo_matrix((np.ones(len(a)), (a, b)), shape=(len(part), len(part)))
    number, label = connected_components(graph, directed=False)
    return [chosen[label == k] for k in range(number)]


def _part_of(piece: Piece, cut: CutMesh, chosen: Ints, *, edges: list[PieceEdge], name: str) -> Piece:
    """Return the piece made of the chosen faces."""
    faces = cut.faces[chosen]
    used = np.unique(faces)
    number = np.full(len(cut.vertices), -1, dtype=np.int64)
    number[used] = np.arange(len(used))
    return Piece(
        name=name,
        panel=piece.panel,
        vertices=cut.vertices[used],
        faces=number[faces],
        warp=piece.warp[cut.parent[chosen]],
        zone=piece.zone[cut.parent[chosen]],
        edges=tuple(
            PieceEdge(name=e.name, finish=e.finish, vertices=number[e.vertices], arc=e.arc, seam=e.seam) for e in edges
        ),
    )


def outline_loop(faces: Ints) -> Ints:
    """Return the vertices (k,) round the one outline of a mesh, in the sense of its triangles (`faces`, (m, 3)).

    Raises
    ------
    CouldNot
        When the outline is not a single loop.
    """
    directed = faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2)
    size = int(directed.max()) + 1
    alone = directed[~np.isin(directed[:, 0] * size + directed[:, 1], directed[:, 1] * size + directed[:, 0])]
    following = {int(i): int(j) for i, j in alone}
    loop = [int(alone[0, 0])]
    while following[loop[-1]] != loop[0] and len(loop) <= len(alone):
        loop.append(following[loop[-1]])
    if len(loop) != len(alone) or len(following) != len(alone):
        raise CouldNot("A piece of cloth has more than one outline.", "Move the seam off the opening.")
    return np.array(loop, dtype=np.int64)


def _edges_along(piece: Piece, cut: CutMesh, loop: Ints, *, seam: str, finish: str) -> list[PieceEdge]:
    """Return the edges round a new piece: what is left of the old ones, and the seam."""
    where = outline_places(piece, cut)
    on_line = {int(v) for v in cut.on_line}
    count = len(loop)
    tags: list[int] = []  # index of the old edge each outline step lies on, -1 for the seam
    for k in range(count):
        i, j = int(loop[k]), int(loop[(k + 1) % count])
        shared = [e for e in where.get(i, {}) if e in where.get(j, {}) and _steps(where[i][e], where[j][e])]
        if i in on_line and j in on_line and not (shared and _was_outline(piece, i, j)):
            tags.append(-1)
        else:
            tags.append(shared[0])
    starts = [k for k in range(count) if tags[k] != tags[k - 1]]
    if not starts:
        starts = [0]
    first = min(starts)
    starts = sorted(starts, key=lambda k: (k - first) % count)
    edges: list[PieceEdge] = []
    for n, k in enumerate(starts):
        stop = starts[(n + 1) % len(starts)]
        steps = (stop - k) % count or count
        run = np.array([loop[(k + s) % count] for s in range(steps + 1)], dtype=np.int64)
        tag = tags[k]
        if tag < 0:
            edges.append(PieceEdge(name=seam, finish=finish, vertices=run, arc=np.empty(0), seam=True))
        else:
            old = piece.edges[tag]
            arc = np.array([where[int(v)][tag] for v in run])
            edges.append(PieceEdge(name=old.name, finish=old.finish, vertices=run, arc=arc, seam=old.seam))
    return edges


def outline_places(piece: Piece, cut: CutMesh) -> dict[int, dict[int, float]]:
    """Return for each outline vertex, old or added, its place along each old edge it lies on, by the edge's number."""
    where: dict[int, dict[int, float]] = {}
    spans: dict[tuple[int, int], tuple[int, float, float]] = {}
    for e, edge in enumerate(piece.edges):
        for k, v in enumerate(edge.vertices):
            where.setdefault(int(v), {})[e] = float(edge.arc[k])
            if k:
                u = int(edge.vertices[k - 1])
                low, high = (u, int(v)) if u < int(v) else (int(v), u)
                at_low, at_high = (k - 1, k) if low == u else (k, k - 1)
                spans[(low, high)] = (e, float(edge.arc[at_low]), float(edge.arc[at_high]))
    base = len(piece.vertices)
    for k, (i, j) in enumerate(cut.between):
        span = spans.get((int(i), int(j)))
        if span is not None:
            e, start, stop = span
            a, b, p = cut.vertices[i], cut.vertices[j], cut.vertices[base + k]
            share = float(np.linalg.norm(p - a) / np.linalg.norm(b - a))
            where.setdefault(base + k, {})[e] = start + share * (stop - start)
    return where


def _steps(one: float, two: float) -> bool:
    return one != two


def _was_outline(piece: Piece, i: int, j: int) -> bool:
    """Return whether the step i to j, both on the seam line, was part of the old outline."""
    if max(i, j) >= len(piece.vertices):
        return False
    pairs = [np.stack([e.vertices[:-1], e.vertices[1:]], axis=1) for e in piece.edges]
    every = np.concatenate(pairs)
    return bool(np.any((every[:, 0] == i) & (every[:, 1] == j)))


def geodesic(piece: Piece, start: int, end: int) -> Floats:
    """Return the shortest line on the formed cloth between two of its vertices, shape (k, 3). [m]."""
    solver = potpourri3d.EdgeFlipGeodesicSolver(piece.vertices, piece.faces)
    path: Floats = np.asarray(solver.find_geodesic_path(v_start=int(start), v_end=int(end)), dtype=np.float64)
    return path


def side_of_line(uv: Floats, line: Floats) -> Floats:
    """Return the signed distance of flat points from a polyline carried on straight beyond its ends, left positive.

    Parameters
    ----------
    uv : (n, 2) ndarray
        [m]
    line : (k, 2) ndarray
        [m]
    """
    reach = 10.0 * (float(np.ptp(uv, axis=0).max()) + 1.0)
    first, last = line[0] - line[1], line[-1] - line[-2]
    long = np.vstack(
        [line[0] + first / np.linalg.norm(first) * reach, line[1:-1], line[-1] + last / np.linalg.norm(last) * reach]
    )
    best = np.full(len(uv), np.inf)
    signed = np.zeros(len(uv))
    for a, b in itertools.pairwise(long):
        along = b - a
        share = np.clip((uv - a) @ along / (along @ along), 0.0, 1.0)
        off = uv - (a + share[:, None] * along)
        distance = np.hypot(off[:, 0], off[:, 1])
        cross = along[0] * (uv[:, 1] - a[1]) - along[1] * (uv[:, 0] - a[0])
        nearer = distance < best - 1e-12
        signed = np.where(nearer, np.sign(cross) * distance, signed)
        best = np.minimum(best, distance)
    return signed

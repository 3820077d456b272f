"""Cut a dart into a piece of formed cloth: a slit square in from an edge, its two legs part of the outline.

Computes: the line of the dart on the flat cloth, the triangles cut along it, the slit, the outline with both legs; how
    far a dart opens when flat.
Units: metres.
Source: geometry; common practice that a dart runs square to its edge, so that its legs are alike.
Limits: one straight line on the flat cloth, from an edge of the panel to a point inside.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

from canvas.cutting.carried import on_flat
from canvas.cutting.flatten import Flat, flatten
from canvas.cutting.piece import DartToCut, Piece, PieceEdge, arc_length
from canvas.cutting.split import CutMesh, cut_mesh, outline_places, side_of_line
from canvas.geometry.surface import Floats, Ints
from canvas.jobs.failure import CouldNot

DART = "dart"  # the finish of both legs
ROUGH = 2e-5  # [m] how far a trial is solved
NEAR = 0.002  # [m] from its asked depth a vertex of the mesh serves as the point
AHEAD = 0.02  # [m] to both sides over which an edge's direction is taken


@dataclass(frozen=True, slots=True, kw_only=True)
class _Slit:
    """A mesh cut along a dart's line, not yet open; `path` runs from the mouth to the point."""

    vertices: Floats
    faces: Ints
    parent: Ints
    path: list[int]


def dart_line(piece: Piece, uv: Floats, dart: DartToCut) -> Floats:
    """Return the mouth and the point of a dart on the flat cloth, shape (2, 2). [m].

    Parameters
    ----------
    piece : Piece
    uv : (n, 2) ndarray
        Its vertices flat. [m]
    dart : DartToCut
        On an edge of the piece, within its length.
    """
    edge = piece.edges[_edge_at(piece, dart)]
    line, order = uv[edge.vertices], np.argsort(edge.arc)
    spots = np.array([dart.at, dart.at - AHEAD, dart.at + AHEAD])
    mouth, before, after = (
        np.array([np.interp(spot, edge.arc[order], line[order, k]) for k in range(2)]) for spot in spots
    )
    along = (after - before) * (1 if edge.arc[-1] > edge.arc[0] else -1)
    inward = np.array([-along[1], along[0]]) / np.hypot(*along)
    return np.stack([mouth, mouth + dart.depth * inward])


def _edge_at(piece: Piece, dart: DartToCut) -> int:
    """Return the number of the piece's edge that a dart starts from."""
    for k, edge in enumerate(piece.edges):
        if edge.name == dart.edge and not edge.seam and edge.arc.min() <= dart.at <= edge.arc.max():
            return k
    raise CouldNot(f'A dart from "{dart.edge}" does not start on "{piece.name}".', "Place it on the panel's edge.")


def with_dart(piece: Piece, dart: DartToCut, *, name: str, flat: Flat | None = None) -> Piece:
    """Return the piece with a dart: its outline goes in along one leg and out along the other.

    Parameters
    ----------
    piece : Piece
    dart : DartToCut
    name : str
        Of the dart; both legs carry it, counted from the mouth.
    flat : Flat, optional
        The piece laid flat, where that is known.

    Raises
    ------
    CouldNot
        When the line does not run from the edge into the piece.
    """
    laid = flat if flat is not None else flatten(piece.vertices, piece.faces, warp=piece.warp, calm=ROUGH)
    line = dart_line(piece, laid.uv, dart)
    cut = cut_mesh(piece, side_of_line(laid.uv, line), moved=False)
    slit = _to_the_point(cut, _places(piece, laid, cut, line), depth=dart.depth, name=name)
    count = len(slit.vertices)
    opened = slit_mesh(slit.faces, slit.path, count=count)
    if opened is None:
        raise _astray(name)
    faces, doubles = opened
    number = {v: count + k for k, v in enumerate(doubles)}
    edges: list[PieceEdge] = []
    for k, edge in enumerate(_with_added(piece, cut)):
        parted = _parted(edge, slit, number, name=name) if k == _edge_at(piece, dart) else (edge,)
        edges.extend(parted)
    return Piece(
        name=piece.name,
        panel=piece.panel,
        vertices=np.vstack([slit.vertices, slit.vertices[doubles]]),
        faces=faces,
        warp=piece.warp[slit.parent],
        zone=piece.zone[slit.parent],
        edges=tuple(edges),
    )


def _places(piece: Piece, flat: Flat, cut: CutMesh, line: Floats) -> dict[int, float]:
    """Return how far in from the mouth each vertex on the line lies."""
    along = (line[1] - line[0]) / np.hypot(*(line[1] - line[0]))
    spots = on_flat(piece, flat.uv, cut.vertices[cut.on_line])
    place = (spots - line[0]) @ along
    return {int(v): float(p) for v, p in zip(cut.on_line, place, strict=True)}


def _to_the_point(cut: CutMesh, places: dict[int, float], *, depth: float, name: str) -> _Slit:
    """Return the vertices from the mouth to the point, the latter put in where the mesh has none there.

    Depth counts along the formed cloth: so long are the legs.
    """
    mouth = min(places, key=lambda v: abs(places[v]))
    inside = sorted((v for v in places if places[v] > places[mouth]), key=lambda v: places[v])
    line = [mouth, *inside]
    arc = arc_length(cut.vertices[line])
    steps = {(int(f[k]), int(f[k - 1])) for f in cut.faces for k in range(3)}
    last = int(np.searchsorted(arc, depth - NEAR))
    whole = all((i, j) in steps and (j, i) in steps for i, j in itertools.pairwise(line[: last + 1]))
    if last >= len(line) or last == 0 or not whole:
        raise _astray(name)
    if arc[last] <= depth + NEAR:
        return _Slit(vertices=cut.vertices, faces=cut.faces, parent=cut.parent, path=line[: last + 1])
    share = float((depth - arc[last - 1]) / (arc[last] - arc[last - 1]))
    return _point_between(cut, line[:last], line[last], share)


def _astray(name: str) -> CouldNot:
    return CouldNot(f'The line of "{name}" leaves the cloth.', "Place the dart where the panel is whole to its point.")


def _point_between(cut: CutMesh, path: list[int], beyond: int, share: float) -> _Slit:
    """Return the mesh with a vertex on the step from the path's last vertex to the one beyond."""
    last, point = path[-1], len(cut.vertices)
    spot = (1 - share) * cut.vertices[last] + share * cut.vertices[beyond]
    faces: list[list[int]] = []
    parent: list[int] = []
    for face, old in zip(cut.faces.tolist(), cut.parent.tolist(), strict=True):
        both = last in face and beyond in face
        halves = [[point if v == swap else v for v in face] for swap in (last, beyond)] if both else [face]
        faces.extend(halves)
        parent.extend([old] * len(halves))
    return _Slit(
        vertices=np.vstack([cut.vertices, spot]),
        faces=np.array(faces, dtype=np.int64),
        parent=np.array(parent, dtype=np.int64),
        path=[*path, point],
    )


def _with_added(piece: Piece, cut: CutMesh) -> list[PieceEdge]:
    """Return the piece's edges with the vertices that a cut put on them."""
    where = outline_places(piece, cut)
    edges: list[PieceEdge] = []
    for k, edge in enumerate(piece.edges):
        places = {v: spots[k] for v, spots in where.items() if k in spots}
        ordered = sorted(places, key=lambda v: places[v], reverse=bool(edge.arc[0] > edge.arc[-1]))
        arc = np.array([places[v] for v in ordered])
        edges.append(PieceEdge(name=edge.name, finish=edge.finish, vertices=np.array(ordered), arc=arc, seam=edge.seam))
    return edges


def _parted(edge: PieceEdge, slit: _Slit, number: dict[int, int], *, name: str) -> tuple[PieceEdge, ...]:
    """Return an edge up to the mouth, both legs, and the edge beyond.

    What lies before the mouth, to the left of the way in, has the doubled vertices.
    """
    at = edge.vertices.tolist().index(slit.path[0])
    along = arc_length(slit.vertices[slit.path])
    first = np.array([*edge.vertices[:at], number[slit.path[0]]])
    into = np.array([number.get(v, v) for v in slit.path])
    back = np.array(slit.path[::-1])
    return (
        PieceEdge(name=edge.name, finish=edge.finish, vertices=first, arc=edge.arc[: at + 1], seam=edge.seam),
        PieceEdge(name=name, finish=DART, vertices=into, arc=along, seam=True),
        PieceEdge(name=name, finish=DART, vertices=back, arc=along[::-1], seam=True),
        PieceEdge(name=edge.name, finish=edge.finish, vertices=edge.vertices[at:], arc=edge.arc[at:], seam=edge.seam),
    )


def slit_mesh(faces: Ints, path: list[int], *, count: int) -> tuple[Ints, list[int]] | None:
    """Return the faces cut open along a path from the outline to an inner vertex, and the vertices doubled.

    Parameters
    ----------
    faces : (m, 3) ndarray of int
    path : list of int
        Vertices, the first on the outline, the last inside and not doubled.
    count : int
        Number of vertices; doubles are numbered on from there, in path order. Faces to the left of the path get them.
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


def dart_legs(piece: Piece) -> dict[str, tuple[PieceEdge, PieceEdge]]:
    """Return both legs of each dart in a piece by the dart's name, the one from mouth to point first."""
    legs: dict[str, list[PieceEdge]] = {}
    for edge in piece.edges:
        if edge.seam and edge.finish == DART:
            legs.setdefault(edge.name, []).append(edge)
    return {
        name: (both[0], both[1]) if both[0].arc[-1] > both[0].arc[0] else (both[1], both[0])
        for name, both in legs.items()
    }


def leg_pairs(legs: tuple[PieceEdge, PieceEdge]) -> tuple[Ints, Floats]:
    """Return the vertices of both legs that are sewn to each other, (k, 2), and how far along they lie, (k,). [m].

    From the mouth to just before the point.

    Parameters
    ----------
    legs : (PieceEdge, PieceEdge)
        From `dart_legs`.
    """
    into, back = legs
    other = {round(float(arc), 9): int(v) for arc, v in zip(back.arc, back.vertices, strict=True)}
    shared = [(int(v), float(arc)) for v, arc in zip(into.vertices[:-1], into.arc[:-1], strict=True)]
    shared = [(v, arc) for v, arc in shared if round(arc, 9) in other]
    return np.array([(v, other[round(arc, 9)]) for v, arc in shared]), np.array([arc for _, arc in shared])


def leg_gaps(uv: Floats, legs: tuple[PieceEdge, PieceEdge]) -> Floats:
    """Return how far the legs of a dart lie apart when flat, pair by pair; negative where they overlap, (k,). [m].

    Parameters
    ----------
    uv : (n, 2) ndarray
        The piece's vertices flat. [m]
    legs : (PieceEdge, PieceEdge)
        From `dart_legs`.
    """
    pairs, _ = leg_pairs(legs)
    along = uv[pairs[:, 1]] - uv[legs[0].vertices[-1]]
    across = uv[pairs[:, 0]] - uv[pairs[:, 1]]
    gap: Floats = (along[:, 1] * across[:, 0] - along[:, 0] * across[:, 1]) / np.hypot(along[:, 0], along[:, 1])
    return gap

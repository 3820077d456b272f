"""Find where panels share edges, and give every edge of a set its vertices once.

Computes: which edge runs along which, the lines edges start from (hollowed where free), stops, and vertices on edges.
Units: metres.
Source: geometry.
Limits: edges count as one where they agree within 1 mm.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from canvas.cloth.domain import lay_out
from canvas.cloth.faces import faces_along
from canvas.cloth.lines import arc_lengths, locate, points_at, portion, resample
from canvas.geometry.outline import PanelEdge, PanelOutline
from canvas.geometry.surface import Floats
from canvas.geometry.triangles import area_vectors

SAME = 1e-3  # edges nearer than this are one [m]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Start:
    """Where one edge of one panel starts from before forming.

    Attributes
    ----------
    edge : PanelEdge
    line : (k, 3) ndarray
        Its line, hollowed where it is free [m].
    stops : list of float
        Arc lengths on `line` that must be vertices [m].
    """

    edge: PanelEdge
    line: Floats
    stops: list[float] = field(default_factory=list)


def starts(outlines: tuple[PanelOutline, ...]) -> tuple[tuple[Start, ...], ...]:
    """Return the starting line of every edge of every panel; shared edges follow the edge they are shared with."""
    own = [
        [_hollowed(edge, inward) for edge, inward in zip(outline.edges, _inwards(outline), strict=True)]
        for outline in outlines
    ]
    result = []
    for p, outline in enumerate(outlines):
        row = []
        for e, edge in enumerate(outline.edges):
            line = own[p][e]
            if edge.kind == "shared":
                line = _followed(edge, p, outlines, own, line)
            row.append(Start(edge=edge, line=line))
        result.append(_closed_up(row))
    return tuple(result)


def vertices_on(start: Start, *, spacing: float, tolerance: float, known: list[tuple[Floats, Floats]]) -> Floats:
    """Return the vertices of an edge from corner to corner, taking pieces already in `known` where they are the same.

    Parameters
    ----------
    start : Start
    spacing, tolerance : float
        Greatest side and greatest miss of a chord [m].
    known : list of (middle, vertices)
        Pieces of the set so far; new ones are added.

    Returns
    -------
    (n, 3) ndarray
        [m]
    """
    whole = float(arc_lengths(start.line)[-1])
    near = 0.02 * spacing
    stops = [0.0]
    for stop in sorted(start.stops):
        if stops[-1] + near < stop < whole - near:
            stops.append(stop)
    stops.append(whole)
    pieces = [_piece(portion(start.line, a, b), spacing, tolerance, known) for a, b in pairwise(stops)]
    return np.vstack([piece[:-1] for piece in pieces] + [pieces[-1][-1:]])


def _piece(line: Floats, spacing: float, tolerance: float, known: list[tuple[Floats, Floats]]) -> Floats:
    middle = points_at(line, arc_lengths(line)[-1:] / 2)[0]
    for where, vertices in known:
        if np.linalg.norm(where - middle) > SAME:
            continue
        if np.linalg.norm(vertices[0] - line[0]) < SAME and np.linalg.norm(vertices[-1] - line[-1]) < SAME:
            return vertices
        if np.linalg.norm(vertices[-1] - line[0]) < SAME and np.linalg.norm(vertices[0] - line[-1]) < SAME:
            return vertices[::-1]
    vertices = resample(line, spacing=spacing, tolerance=tolerance)
    known.append((middle, vertices))
    return vertices


def _middle(outline: PanelOutline) -> Floats:
    """Return the middle of a panel's outline, each edge weighted by its length."""
    lengths = [float(arc_lengths(edge.line)[-1]) for edge in outline.edges]
    middles = [(edge.line[:-1] + edge.line[1:]).T @ np.diff(arc_lengths(edge.line)) / 2 for edge in outline.edges]
    return np.asarray(np.sum(middles, axis=0) / sum(lengths))


def _inwards(outline: PanelOutline) -> list[Floats]:
    """Return for each edge the direction, square to its chord, in which its hollow starts.

    Towards the panel's middle, whence forming bends it right; flat cloth is not formed, so there in the plane of the
    cloth along the edge.
    """
    towards = [_middle(outline) - (edge.line[0] + edge.line[-1]) / 2 for edge in outline.edges]
    if outline.flat:
        flat = lay_out(tuple(edge.line for edge in outline.edges), ruled=True)
        for k, edge in enumerate(outline.edges):
            ring = np.arange(flat.corners[k], flat.corners[k + 1] + 1) % flat.corners[-1]
            corner = flat.vertices[faces_along(flat.faces, ring)]
            normal = area_vectors(corner).sum(axis=0)
            square = np.cross(normal, edge.line[-1] - edge.line[0])
            towards[k] = square * np.sign(square @ towards[k])
    return towards


def _hollowed(edge: PanelEdge, towards: Floats) -> Floats:
    """Return the edge's line; for a free edge with a hollow, the arc inside its chord."""
    if edge.kind != "free" or not edge.hollow:
        return edge.line
    share = np.linspace(0.0, 1.0, 33)[:, None]
    chord = edge.line[-1] - edge.line[0]
    inward = towards - chord * (towards @ chord) / (chord @ chord)
    inward = inward / max(float(np.linalg.norm(inward)), 1e-12)
    return np.asarray(edge.line[0] + share * chord + 4 * edge.hollow * share * (1 - share) * inward)


def _closed_up(row: list[Start]) -> tuple[Start, ...]:
    """Return starting lines that meet: where one hangs on another panel's edge, its neighbour comes to it.

    A neighbour that is held does not: there the hanging edge comes to the corner.
    """
    lines = [np.array(start.line) for start in row]
    for k, start in enumerate(row):
        before = row[k - 1]
        if np.array_equal(before.line[-1], start.line[0]):
            continue
        if start.edge.kind == "shared" and before.edge.kind != "held":
            lines[k - 1][-1] = start.line[0]
        elif (before.edge.kind == "shared" and start.edge.kind != "held") or start.edge.kind == "shared":
            lines[k][0] = before.line[-1]
        else:
            lines[k - 1][-1] = start.line[0]
    return tuple(Start(edge=start.edge, line=line) for start, line in zip(row, lines, strict=True))


def _followed(
    edge: PanelEdge, panel: int, outlines: tuple[PanelOutline, ...], own: list[list[Floats]], line: Floats
) -> Floats:
    """Return the part of another panel's starting line that a shared edge runs along, or its own line."""
    probe = points_at(edge.line, arc_lengths(edge.line)[-1] * np.array([0.0, 0.5, 1.0]))
    for q, outline in enumerate(outlines):
        for f, other in enumerate(outline.edges):
            if q == panel or (other.kind == "shared" and q > panel):
                continue
            arc, distance = locate(other.line, probe)
            if np.all(distance < SAME) and abs(arc[2] - arc[0]) > SAME:
                stretch = arc_lengths(own[q][f])[-1] / arc_lengths(other.line)[-1]
                return portion(own[q][f], float(arc[0] * stretch), float(arc[2] * stretch))
    return line


def share_stops(rows: Sequence[tuple[Start, ...]]) -> None:
    """Make each edge stop at the corners of other panels that lie on it, and wherever an edge along it stops."""
    points = [start.line[:1] for row in rows for start in row]
    points += [points_at(start.line, np.array(start.stops)) for row in rows for start in row if start.stops]
    spots = np.vstack(points)
    for row in rows:
        for start in row:
            arc, distance = locate(start.line, spots)
            whole = arc_lengths(start.line)[-1]
            on = (distance < SAME) & (arc > SAME) & (arc < whole - SAME)
            start.stops.extend(float(a) for a in arc[on])

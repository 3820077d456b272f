"""Find the edge that a shared edge runs along, and where each of its vertices belongs on it.

Computes: partners among the panels that are up, by outline; places on a partner's formed edge.
Units: metres.
Source: geometry.
Limits: edges count as one where they agree within 1 mm; a shared edge has one partner.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from canvas.cloth.lines import arc_lengths, locate, points_at, portion
from canvas.cloth.shape import PanelShape
from canvas.geometry.outline import PanelEdge, PanelOutline
from canvas.geometry.surface import Floats, Ints

SAME = 1e-3  # edges nearer than this are one [m]


@dataclass(frozen=True, slots=True, kw_only=True)
class Partner:
    """The edge that a shared edge runs along.

    Attributes
    ----------
    panel, edge : int
        Number of the panel among those up, and of its edge.
    first, last : float
        The stretch of it that is shared, as shares of its length, in the shared edge's direction.
    held : bool
        Whether it is held by a tube or as measured.
    """

    panel: int
    edge: int
    first: float
    last: float
    held: bool

    def arc(self, vertices: Floats, places: Floats) -> Floats:
        """Return where (k,) on the partner's edge `vertices` the shared edge's `places` belong, by arc length [m]."""
        along = arc_lengths(places)
        whole = arc_lengths(vertices)[-1]
        return np.asarray(whole * (self.first + (self.last - self.first) * along / along[-1]))

    def stretch(self, vertices: Floats) -> Floats:
        """Return the shared part (k, 3) of the partner's edge `vertices`, in the shared edge's direction [m]."""
        whole = float(arc_lengths(vertices)[-1])
        return portion(vertices, whole * self.first, whole * self.last)


def partner_of(number: int, edge: PanelEdge, outlines: tuple[PanelOutline, ...]) -> Partner | None:
    """Return the partner of a shared edge of panel `number`; None where that panel is not up or the edge not shared.

    Parameters
    ----------
    number : int
        Of the panel among those up.
    edge : PanelEdge
        One of its edges.
    outlines : tuple of PanelOutline
        All panels that are up.
    """
    if edge.kind != "shared":
        return None
    probe = points_at(edge.line, arc_lengths(edge.line)[-1] * np.array([0.0, 0.5, 1.0]))
    for other, outline in enumerate(outlines):
        if other == number:
            continue
        for k, candidate in enumerate(outline.edges):
            if candidate.kind == "shared" and other > number:
                continue
            arc, distance = locate(candidate.line, probe)
            if np.all(distance < SAME) and abs(arc[2] - arc[0]) > SAME:
                whole = float(arc_lengths(candidate.line)[-1])
                return Partner(
                    panel=other,
                    edge=k,
                    first=float(arc[0]) / whole,
                    last=float(arc[2]) / whole,
                    held=candidate.kind == "held" or as_measured(candidate),
                )
    return None


def as_measured(edge: PanelEdge) -> bool:
    """Return whether a free edge has nothing to keep it straight, as an existing panel's may: it keeps its line."""
    return edge.kind == "free" and not edge.hollow and edge.batten is None and edge.wire is None


def loose_groups(outlines: tuple[PanelOutline, ...]) -> list[list[int]]:
    """Return the panels by number, those together that pull on each other across an edge held by nothing else."""
    group = list(range(len(outlines)))
    for number, outline in enumerate(outlines):
        for edge in outline.edges:
            partner = partner_of(number, edge, outlines)
            if partner is not None and not partner.held:
                old, new = group[number], group[partner.panel]
                group = [new if mine == old else mine for mine in group]
    return [[n for n, mine in enumerate(group) if mine == label] for label in dict.fromkeys(group)]


def neighbours(outlines: tuple[PanelOutline, ...], numbers: list[int]) -> tuple[tuple[str, str, str], ...]:
    """Return panel, edge and partner's name of every shared edge of some panels that has its partner up."""
    found = []
    for number in numbers:
        for edge in outlines[number].edges:
            partner = partner_of(number, edge, outlines)
            if partner is not None:
                found.append((outlines[number].name, edge.name, outlines[partner.panel].name))
    return tuple(sorted(found))


def mated(outlines: tuple[PanelOutline, ...], cut: Mapping[str, PanelShape]) -> tuple[PanelOutline, ...]:
    """Return the panels not yet cut, each edge along a cut panel's held on that panel's edge as it was formed."""
    fresh = []
    for number, outline in enumerate(outlines):
        if outline.name in cut:
            continue
        edges = list(outline.edges)
        for k, edge in enumerate(outline.edges):
            partner = partner_of(number, edge, outlines)
            if partner is None or outlines[partner.panel].name not in cut:
                continue
            other = cut[outlines[partner.panel].name]
            line = partner.stretch(edge_places(other, partner.edge))
            edges[k] = replace(edge, line=line, kind="held")
        fresh.append(replace(outline, edges=_closed_up(edges, outline.edges)))
    return tuple(fresh)


def _closed_up(edges: list[PanelEdge], before: tuple[PanelEdge, ...]) -> tuple[PanelEdge, ...]:
    """Return edges with the ends of unchanged ones moved to the ends of their changed neighbours."""
    closed = []
    for k, edge in enumerate(edges):
        line = np.array(edge.line)
        if edge is before[k]:
            line[0] = edges[k - 1].line[-1]
            line[-1] = edges[(k + 1) % len(edges)].line[0]
        elif edges[k - 1] is not before[k - 1]:
            line[0] = edges[k - 1].line[-1]
        closed.append(edge if np.array_equal(line, edge.line) else replace(edge, line=line))
    return tuple(closed)


def supporters(outlines: tuple[PanelOutline, ...], group: list[int]) -> list[int]:
    """Return the panels, by number, along whose held edges those of a group run."""
    found = [partner_of(number, edge, outlines) for number in group for edge in outlines[number].edges]
    return sorted({partner.panel for partner in found if partner is not None} - set(group))


def vertex_cells(vertices: Floats, arc: Floats) -> tuple[Ints, Floats]:
    """Return for each arc length (k,) [m] the side of a polyline (`vertices`) it lies on and how far along it, 0..1."""
    along = arc_lengths(vertices)
    cell = np.clip(np.searchsorted(along, arc, side="right") - 1, 0, len(along) - 2)
    return cell, np.clip((arc - along[cell]) / np.diff(along)[cell], 0.0, 1.0)


def edge_places(shape: PanelShape, edge: int) -> Floats:
    """Return the vertices of an edge of a panel, corner to corner (k, 3) [m]."""
    return shape.vertices[shape.edge_vertices[edge]]

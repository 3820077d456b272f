"""Make elastic cloth of the panels of a set as they were cut, joined and held as the set says.

Computes: one membrane for all panels of a set: rest shapes, webbing, battens, bows, zips between panels.
Units: metres, newtons, newtons a metre.
Source: stiffness from the design's cloth tables; webbing, wire and batten stretch from memory, see the constants.
Limits: windows are as stiff as their panel; a panel at rest has the tension it was formed with, so that the set it was
    cut in comes back as it was formed.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from canvas.cloth.given import Stiffness
from canvas.cloth.lines import arc_lengths, locate, points_at
from canvas.cloth.membrane import ElasticLine, Join, Membrane, Support, rest_shape
from canvas.cloth.partners import SAME, as_measured, edge_places, partner_of, vertex_cells
from canvas.cloth.shape import PanelShape
from canvas.geometry.outline import PanelEdge, PanelOutline
from canvas.geometry.surface import Bools, Floats, Ints

WEBBING = 6e4  # stretch EA of 25 mm polyester webbing, from memory [N]
WIRE = 1e6  # of 4 mm stainless wire, from memory [N]
BATTEN = 3e5  # of a batten: only keeps its length [N]

Opened = Mapping[str, float]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Joined:
    """The panels of a set as one membrane.

    Attributes
    ----------
    membrane : Membrane
    start : (n, 3) ndarray
        Where its vertices start [m].
    shapes : tuple of PanelShape
        As cut.
    outlines : tuple of PanelOutline
    vertices, faces : tuple of slice
        Each panel's vertices and faces in the membrane.
    """

    membrane: Membrane
    start: Floats
    shapes: tuple[PanelShape, ...]
    outlines: tuple[PanelOutline, ...]
    vertices: tuple[slice, ...]
    faces: tuple[slice, ...]


class _Gathering:
    """Panels gathered one by one into one membrane."""

    def __init__(
        self,
        shapes: tuple[PanelShape, ...],
        outlines: tuple[PanelOutline, ...],
        open_zips: Opened,
        still: Collection[str],
    ) -> None:
        self.shapes, self.outlines, self.open_zips, self.still = shapes, outlines, open_zips, still
        self.at = np.cumsum([0, *(len(shape.vertices) for shape in shapes)])
        self.start = np.vstack([shape.vertices for shape in shapes])
        self.held = np.zeros(len(self.start), dtype=bool)
        self.lines: list[ElasticLine] = []
        self.joins: list[Join] = []
        self.supports: list[Support] = []

    def add(self, number: int) -> None:
        """Add a panel: what holds it, what runs along its edges, what it lies on, what it is zipped to."""
        shape, outline, first = self.shapes[number], self.outlines[number], int(self.at[number])
        self.held[first : first + len(shape.vertices)] = shape.name in self.still
        for corners in shape.edge_vertices:
            self.held[first + corners[[0, -1]]] = True
        self.held[first + shape.ties] = True
        for k in range(len(outline.edges)):
            self._edge(number, k)
        for line, chain in zip(outline.over, shape.over, strict=True):
            if len(chain):
                self.supports.append(Support(line=line, vertices=first + chain))

    def _edge(self, number: int, k: int) -> None:
        shape, outline = self.shapes[number], self.outlines[number]
        edge, line = outline.edges[k], shape.edge_vertices[k]
        chain, name = int(self.at[number]) + line, f"{outline.name}: {edge.name}"
        cut = shape.vertices[line]
        closed = _closed(cut, self.open_zips.get(name, 0.0))
        partner = partner_of(number, edge, self.outlines)
        if edge.kind == "held" or as_measured(edge):
            self.held[chain[closed]] = True
            self.start[chain[closed]] = _on_line(edge, cut)[closed]
        elif partner is not None:
            other = self.shapes[partner.panel]
            zipped = edge_places(other, partner.edge)
            arc = partner.arc(zipped, cut)
            if partner.held:
                self.held[chain[closed]] = True
                self.start[chain[closed]] = points_at(zipped, arc)[closed]
            else:
                inner = np.flatnonzero(closed)[1:-1]
                cell, share = vertex_cells(zipped, arc[inner])
                ends = int(self.at[partner.panel]) + other.edge_vertices[partner.edge]
                ends = np.stack([ends[cell], ends[cell + 1]], axis=1)
                self.held[chain[inner]] = False
                self.joins.append(Join(name=name, vertices=chain[inner], ends=ends, share=share))
        if not self.held[chain].all():
            self.lines.append(_tape(name, edge, chain, cut, shape.edges[k].cable_force))


def join_up(
    shapes: tuple[PanelShape, ...],
    outlines: tuple[PanelOutline, ...],
    *,
    cloths: Mapping[str, Stiffness],
    open_zips: Opened | None = None,
    still: Collection[str] = (),
) -> Joined:
    """Return the panels of a set as one membrane.

    Parameters
    ----------
    shapes : tuple of PanelShape
        Each panel as cut, from the set it is cut in.
    outlines : tuple of PanelOutline
        The same panels, in the same order.
    cloths : mapping of str to Stiffness
        By cloth name.
    open_zips : mapping of str to float or None
        Share of an edge's length that is unzipped, from its end, by ``panel: edge``.
    still : collection of str
        Panels that stay where they are but along edges joined to others, by name.
    """
    gathered = _Gathering(shapes, outlines, open_zips or {}, still)
    for number in range(len(shapes)):
        gathered.add(number)
    at, on = gathered.at, np.cumsum([0, *(len(shape.faces) for shape in shapes)])
    membrane = Membrane(
        faces=np.concatenate([first + shape.faces for first, shape in zip(at[:-1], shapes, strict=True)]),
        rest=np.concatenate([rest_shape(shape.vertices, shape.faces, shape.warp) for shape in shapes]),
        stiffness=np.concatenate([_stiffness(shape, cloths) for shape in shapes]),
        held=gathered.held,
        prestress=np.concatenate([np.column_stack([shape.tension, shape.shear]) for shape in shapes]),
        lines=tuple(gathered.lines),
        supports=tuple(gathered.supports),
        joins=tuple(gathered.joins),
    )
    return Joined(
        membrane=membrane,
        start=gathered.start,
        shapes=shapes,
        outlines=outlines,
        vertices=tuple(slice(int(a), int(b)) for a, b in pairwise(at)),
        faces=tuple(slice(int(a), int(b)) for a, b in pairwise(on)),
    )


def _stiffness(shape: PanelShape, cloths: Mapping[str, Stiffness]) -> Floats:
    stuff = cloths[shape.cloth]
    return np.tile([stuff.warp, stuff.weft, stuff.cross, stuff.shear], (len(shape.faces), 1))


def _closed(places: Floats, opened: float) -> Bools:
    """Return which vertices of an edge are zipped when a share of its length, from its end, is open."""
    along = arc_lengths(places)
    return np.asarray(along <= (1 - opened) * along[-1] * (1 + 1e-12))


def _on_line(edge: PanelEdge, places: Floats) -> Floats:
    """Return an edge's vertices on its line: where they are if that is on it, else at the same shares of its length."""
    _, distance = locate(edge.line, places)
    if distance.max() < SAME:
        return places
    along = arc_lengths(places)
    return points_at(edge.line, along / along[-1] * arc_lengths(edge.line)[-1])


def _tape(name: str, edge: PanelEdge, chain: Ints, cut: Floats, force: float | None) -> ElasticLine:
    """Return what runs along an edge: batten, wire, or webbing (a zip's tape on a shared one)."""
    rest = np.linalg.norm(np.diff(cut, axis=0), axis=1)
    if edge.batten is not None:
        return ElasticLine(name=name, vertices=chain, rest=rest, stretching=BATTEN, bending=edge.batten.bending)
    stretching = WIRE if edge.wire is not None else WEBBING
    return ElasticLine(name=name, vertices=chain, rest=rest, stretching=stretching, tension=force or 0.0)

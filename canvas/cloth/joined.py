"""Make elastic cloth of the panels of a set as they were cut, joined and held as the set says.

Computes: one membrane for all panels of a set: rest shapes, webbing, battens, bows, zips between panels.
Units: metres, newtons, newtons a metre.
Source: stiffness from the design's cloth tables; webbing, wire and batten stretch from memory, see the constants.
Limits: windows are as stiff as their panel; a panel at rest has the tension it was formed with, so that the set it was
    cut in comes back as it was formed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from canvas.cloth.lines import arc_lengths, locate, points_at
from canvas.cloth.membrane import ElasticLine, Join, Membrane, Support, rest_shape
from canvas.cloth.shape import PanelShape
from canvas.design.tables import Cloth
from canvas.geometry.outline import PanelEdge, PanelOutline
from canvas.geometry.surface import Bools, Floats, Ints

WEBBING = 6e4  # stretch EA of 25 mm polyester webbing, from memory [N]
WIRE = 1e6  # of 4 mm stainless wire, from memory [N]
BATTEN = 3e5  # of a batten: only keeps its length [N]
CROSS = 0.1  # cross stiffness over weft stiffness; common practice, no source
SAME = 1e-3  # edges nearer than this are one [m]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stiffness:
    """How stiff a sheet is.

    Attributes
    ----------
    warp, weft, cross, shear : float
        [N/m]
    """

    warp: float
    weft: float
    cross: float
    shear: float

    @classmethod
    def of(cls, cloth: Cloth) -> Stiffness:
        """Return the stiffness of a cloth of the tables."""
        return cls(
            warp=cloth.warp_stiffness,
            weft=cloth.weft_stiffness,
            cross=CROSS * cloth.weft_stiffness,
            shear=cloth.shear_stiffness,
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rigged:
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


def rig(
    shapes: tuple[PanelShape, ...],
    outlines: tuple[PanelOutline, ...],
    *,
    cloths: Mapping[str, Stiffness],
) -> Rigged:
    """Return the panels of a set as one membrane.

    Parameters
    ----------
    shapes : tuple of PanelShape
        Each panel as cut, from the set it is cut in.
    outlines : tuple of PanelOutline
        The same panels, in the same order.
    cloths : mapping of str to Stiffness
        By cloth name.
    """
    at = np.cumsum([0, *(len(shape.vertices) for shape in shapes)])
    on = np.cumsum([0, *(len(shape.faces) for shape in shapes)])
    start = np.vstack([shape.vertices for shape in shapes])
    held = np.zeros(len(start), dtype=bool)
    lines: list[ElasticLine] = []
    joins: list[Join] = []
    supports: list[Support] = []
    for number, (shape, outline) in enumerate(zip(shapes, outlines, strict=True)):
        first = int(at[number])
        held[first + np.concatenate([shape.edge_vertices[k][[0, -1]] for k in range(len(outline.edges))])] = True
        held[first + shape.ties] = True
        for edge, line, formed in zip(outline.edges, shape.edge_vertices, shape.edges, strict=True):
            chain = first + line
            partner = _partner(edge, number, shapes=shapes, outlines=outlines, at=at)
            if edge.kind == "held" or _measured(edge):
                held[chain] = True
                start[chain] = _on_line(edge, start[chain])
            elif partner is not None and partner.held:
                held[chain] = True
                start[chain] = partner.places(start[chain])
            elif partner is not None:
                joins.append(partner.join(f"{outline.name}: {edge.name}", chain, start))
            lines += _tape(f"{outline.name}: {edge.name}", edge, chain, start, formed.cable_force)
        for line, chain in zip(outline.over, shape.over, strict=True):
            if len(chain):
                supports.append(Support(line=line, vertices=first + chain))
    faces = np.concatenate([first + shape.faces for first, shape in zip(at, shapes, strict=False)])
    membrane = Membrane(
        faces=faces,
        rest=np.concatenate([rest_shape(shape.vertices, shape.faces, shape.warp) for shape in shapes]),
        stiffness=np.concatenate([_stiffness(shape, cloths) for shape in shapes]),
        held=held,
        prestress=np.concatenate([np.column_stack([shape.tension, shape.shear]) for shape in shapes]),
        lines=tuple(lines),
        supports=tuple(supports),
        joins=tuple(joins),
    )
    return Rigged(
        membrane=membrane,
        start=start,
        shapes=shapes,
        outlines=outlines,
        vertices=tuple(slice(int(a), int(b)) for a, b in zip(at[:-1], at[1:], strict=True)),
        faces=tuple(slice(int(a), int(b)) for a, b in zip(on[:-1], on[1:], strict=True)),
    )


def _stiffness(shape: PanelShape, cloths: Mapping[str, Stiffness]) -> Floats:
    stuff = cloths[shape.cloth]
    return np.tile([stuff.warp, stuff.weft, stuff.cross, stuff.shear], (len(shape.faces), 1))


def _measured(edge: PanelEdge) -> bool:
    return edge.kind == "free" and not edge.hollow and edge.batten is None and edge.wire is None


def _on_line(edge: PanelEdge, places: Floats) -> Floats:
    """Return an edge's vertices on its line: where they are if that is on it, else at the same shares of its length."""
    _, distance = locate(edge.line, places)
    if distance.max() < SAME:
        return places
    along = arc_lengths(places)
    return points_at(edge.line, along / along[-1] * arc_lengths(edge.line)[-1])


def _tape(
    name: str, edge: PanelEdge, chain: Ints, start: Floats, force: float | None
) -> list[ElasticLine]:
    """Return what runs along an edge that is not held: batten, wire, or webbing (a zip's tape on a shared one)."""
    if edge.kind == "held" or _measured(edge):
        return []
    rest = np.linalg.norm(np.diff(start[chain], axis=0), axis=1)
    if edge.batten is not None:
        return [
            ElasticLine(name=name, vertices=chain, rest=rest, stretching=BATTEN, bending=edge.batten.bending)
        ]
    stretching = WIRE if edge.wire is not None else WEBBING
    return [ElasticLine(name=name, vertices=chain, rest=rest, stretching=stretching, tension=force or 0.0)]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Partner:
    """The edge that a shared edge runs along: its vertices in the membrane, and the stretch of it that is shared."""

    chain: Ints
    vertices: Floats
    first: float
    last: float
    held: bool

    def _arc(self, places: Floats) -> Floats:
        along = arc_lengths(places)
        whole = arc_lengths(self.vertices)[-1]
        return np.asarray(whole * (self.first + (self.last - self.first) * along / along[-1]))

    def places(self, places: Floats) -> Floats:
        """Return where vertices of the shared edge belong on this one [m]."""
        return points_at(self.vertices, self._arc(places))

    def join(self, name: str, chain: Ints, start: Floats) -> Join:
        """Return the zip that keeps the inner vertices of the shared edge on this one."""
        arc = self._arc(start[chain])[1:-1]
        along = arc_lengths(self.vertices)
        cell = np.clip(np.searchsorted(along, arc, side="right") - 1, 0, len(along) - 2)
        share = np.clip((arc - along[cell]) / np.diff(along)[cell], 0.0, 1.0)
        ends = np.stack([self.chain[cell], self.chain[cell + 1]], axis=1)
        return Join(name=name, vertices=chain[1:-1], ends=ends, share=share)


def _partner(
    edge: PanelEdge,
    number: int,
    *,
    shapes: tuple[PanelShape, ...],
    outlines: tuple[PanelOutline, ...],
    at: Ints,
) -> _Partner | None:
    """Return the edge of another panel of the set along which a shared edge runs; None where that panel is not up."""
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
                whole = arc_lengths(candidate.line)[-1]
                line = shapes[other].edge_vertices[k]
                held: Bools | bool = candidate.kind == "held" or _measured(candidate)
                return _Partner(
                    chain=int(at[other]) + line,
                    vertices=shapes[other].vertices[line],
                    first=float(arc[0] / whole),
                    last=float(arc[2] / whole),
                    held=bool(held),
                )
    return None

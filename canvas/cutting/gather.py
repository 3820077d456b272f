"""Gather what is to be cut from a rigged boat: new panels in their home sets, and what they are joined to.

Computes: `PanelToCut` of every new panel and of the existing ones it joins; joints with where they lie along each
    other; how well each edge's place is known; chosen seams.
Units: metres, boat frame.
Source: none.
Limits: an edge's length is known as `canvas.cloth.sureness` says, or by the zip aboard that it runs on.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from canvas.cloth.rigging import MEASURED_CLOTH, Rigging
from canvas.cloth.shape import PanelShape
from canvas.cloth.sureness import Sureness
from canvas.cutting.compensate import compensated
from canvas.cutting.piece import ClothToCut, DartToCut, EdgeToCut, Insert, Joint, PanelToCut, Piercing, arc_length
from canvas.design.schema.rig import Edge, Panel, SeamLine, ZipHalf
from canvas.design.tables import Cloth
from canvas.geometry.surface import Floats
from canvas.survey.mating import MEASURED_SD, mate_of

BACK = {"start": "end", "end": "start"}  # outlines run clockwise in the file, the other way when cut


@dataclass(frozen=True, slots=True, kw_only=True)
class _Length:
    """How well an edge's length is known, and what was measured [m]."""

    sd: float | None
    play: float
    measured: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Gathered:
    """All that a design has to cut.

    Attributes
    ----------
    panels : tuple of PanelToCut
        New ones in the order of the file, then existing ones they join.
    joints : tuple of Joint
    seams : mapping of str to tuple of (k, 3) ndarray
        Seams of the panels whose design gives them: one point that a seam with the warp runs through, or its course
        from edge to edge. [m]
    home : mapping of str to str
        Home set of each new panel.
    """

    panels: tuple[PanelToCut, ...]
    joints: tuple[Joint, ...]
    seams: Mapping[str, tuple[Floats, ...]]
    home: Mapping[str, str]


def gather(rigging: Rigging) -> Gathered:
    """Return the panels a design has to cut, formed in their home sets.

    Parameters
    ----------
    rigging : Rigging

    Raises
    ------
    CouldNot
        When a panel has no shape in balance.
    """
    design = rigging.model.design
    home = {p.name: s for p in design.panel if not p.existing and (s := design.home_set(p)) is not None}
    sure = {set_name: Sureness(rigging, rigging.rig(set_name).formed) for set_name in dict.fromkeys(home.values())}
    panels = {
        name: _panel(rigging, design.panel_named(name), set_name, sure=sure[set_name])
        for name, set_name in home.items()
    }
    joints: list[Joint] = []
    for name, set_name in home.items():
        spec = design.panel_named(name)
        for edge, cut in zip(spec.edges, _in_design_order(panels[name], spec), strict=True):
            other = next((p for p in design.panel if p.name == edge.along), None)
            if other is None or edge.edge is None:
                continue
            mate = f"{other.name} in {set_name}" if other.existing else other.name
            if mate not in panels:
                panels[mate] = replace(_panel(rigging, other, set_name, sure=sure[set_name]), name=mate)
            aboard = next((one.zip for one in other.edges if one.name == edge.edge), None)
            half = mate_of(aboard, edge.zip)
            joints.append(_joint(edge, cut.name, a=panels[name], b=panels[mate], half=half))
    for name, set_name in home.items():
        panels[name] = _compensated(rigging, panels[name], set_name, joints)
    at = rigging.model.at
    seams = {
        panel.name: tuple(np.array([at(spot) for spot in _course(seam)]) for seam in panel.seams)
        for panel in design.panel
        if panel.seams != "proposed" and not panel.existing
    }
    return Gathered(panels=tuple(panels.values()), joints=tuple(joints), seams=seams, home=home)


def _course(seam: SeamLine) -> list[tuple[float, float, float] | str]:
    """Return the places a seam runs through: one, or from one end to the other."""
    return [spot for spot in (seam.at, seam.start, *seam.through, seam.to) if spot is not None]


def _in_design_order(panel: PanelToCut, spec: Panel) -> list[EdgeToCut]:
    """Return a panel's edges in the file's order; cutting runs them the other way round."""
    return list(panel.edges)[::-1] if len(spec.edges) == len(panel.edges) else []


def cloth_to_cut(cloth: Cloth) -> ClothToCut:
    """Return what cutting needs of a cloth."""
    return ClothToCut(
        name=cloth.name,
        kind=cloth.kind,
        roll_widths=cloth.roll_widths,
        warp_compensation=cloth.warp_compensation,
        weft_compensation=cloth.weft_compensation,
        strain_limit=cloth.strain_limit,
    )


def _compensated(rigging: Rigging, panel: PanelToCut, set_name: str, joints: list[Joint]) -> PanelToCut:
    """Return the panel with its compensation as far as its edges can hold the cloth taut."""
    shape = rigging.rig(set_name).formed.panel(panel.name)
    held = {edge.name for edge in shape.edges if edge.kind != "free"}
    held |= {joint.edge_a for joint in joints if joint.panel_a == panel.name}
    held |= {joint.edge_b for joint in joints if joint.panel_b == panel.name}
    return compensated(panel, held=held)


def _panel(rigging: Rigging, spec: Panel, set_name: str, *, sure: Sureness) -> PanelToCut:
    model = rigging.model
    shape = rigging.rig(set_name).formed.panel(spec.name)
    known = model.design.cloths()
    lengths = [_known(rigging, sure, spec, place) for place in range(len(spec.edges))]
    edges = tuple(
        EdgeToCut(
            name=formed.name,
            finish=edge.finish or "hem",
            vertices=along[::-1],
            sd=length.sd,
            play=length.play,
            measured=length.measured,
            tube_diameter=model.tubes[edge.along].diameter if edge.along and edge.along in model.tubes else None,
            tolerance=edge.tolerance,
        )
        for edge, formed, along, length in zip(spec.edges, shape.edges, shape.edge_vertices, lengths, strict=True)
    )
    outline = model.outlines[spec.name]
    return PanelToCut(
        name=spec.name,
        set_name=set_name,
        vertices=shape.vertices,
        faces=shape.faces,
        warp=shape.warp,
        zone=shape.zone,
        edges=edges[::-1],  # outlines run clockwise seen from outside, triangles the other way
        cloth=cloth_to_cut(known[spec.cloth or MEASURED_CLOTH]),
        inserts=tuple(
            Insert(name=insert.name, zone=k, cloth=cloth_to_cut(known[insert.cloth]), rolls_up=insert.rolls_up)
            for k, insert in enumerate(spec.inserts, start=1)
        ),
        piercings=tuple(
            Piercing(
                name=wire.name,
                at=wire.at,
                diameter=model.tubes[wire.name].diameter if wire.name in model.tubes else 0.01,
                slit=shape.vertices[shape.slits[k]] if k < len(shape.slits) and len(shape.slits[k]) > 1 else None,
                collar=next((one.collar for one in spec.pierced if one.by == wire.name), None),
            )
            for k, wire in enumerate(outline.pierced)
        ),
        contacts=tuple(shape.vertices[line] for line in shape.over),
        ties=tuple(shape.vertices[k] for k in shape.ties),
        existing=spec.existing,
        darts=_darts(spec, shape),
        seam_kind=spec.seam_kind,
    )


def _darts(spec: Panel, shape: PanelShape) -> tuple[DartToCut, ...] | Literal["proposed"]:
    """Return the darts a panel's design takes; cutting runs its edges the other way round."""
    if spec.darts == "proposed":
        return "proposed"
    along = {
        edge.name: float(arc_length(shape.vertices[line])[-1])
        for edge, line in zip(shape.edges, shape.edge_vertices, strict=True)
    }
    return tuple(
        DartToCut(edge=dart.edge, at=along[dart.edge] - dart.at, depth=dart.depth, width=dart.width)
        for dart in spec.darts
    )


def _known(rigging: Rigging, sure: Sureness, spec: Panel, place: int) -> _Length:
    """Return how well an edge's length is known: by the zip aboard that it runs on, or by marks and tubes."""
    edge = spec.edges[place]
    aboard = _zip_aboard(rigging, spec, edge)
    if aboard is not None:
        return _Length(sd=MEASURED_SD, play=0.0, measured=aboard)
    found = sure.edge_length(spec.name, place)
    return _Length(sd=None, play=0.0) if found is None else _Length(sd=found.sd, play=found.play)


def _zip_aboard(rigging: Rigging, spec: Panel, edge: Edge) -> float | None:
    """Return the measured length of the zip on canvas aboard that an edge is, or runs on from end to end. [m]."""
    if spec.existing:
        return None if edge.zip is None else edge.zip.length
    other = next((p for p in rigging.model.design.panel if p.name == edge.along and p.existing), None)
    if other is None or edge.start is not None or edge.to is not None or not str(edge.finish).startswith("zip"):
        return None
    half = next(one for one in other.edges if one.name == edge.edge).zip
    return None if half is None else half.length


def _joint(edge: Edge, name: str, *, a: PanelToCut, b: PanelToCut, half: ZipHalf) -> Joint:
    """Return the joint of one edge of a with the edge of b it runs along; `half` is the zip half sewn to a."""
    line_a = a.vertices[a.edge(name).vertices]
    line_b = b.vertices[b.edge(str(edge.edge)).vertices]
    first, last = (_share_along(line_b, point) for point in (line_a[0], line_a[-1]))
    zipped = str(edge.finish).startswith("zip")
    return Joint(
        name=f"{a.name} to {b.name}, {name}",
        kind="zip" if zipped else "seam",
        panel_a=a.name,
        edge_a=name,
        panel_b=b.name,
        edge_b=str(edge.edge),
        span_b=(first, last),
        handing=half.half or "",
        slider_end=BACK.get(half.slider_end or "", ""),
        tape=half.length,
        gauge=half.gauge,
        tooth=half.tooth or "",
    )


def _share_along(line: Floats, point: Floats) -> float:
    """Return where along a polyline the spot nearest a point lies, as a share of its length; ends within 2 mm snap."""
    along = arc_length(line)
    steps = np.diff(line, axis=0)
    share = np.clip(np.sum((point - line[:-1]) * steps, axis=1) / np.sum(steps * steps, axis=1), 0, 1)
    off = np.linalg.norm(line[:-1] + share[:, None] * steps - point, axis=1)
    best = int(np.argmin(off))
    place = float(along[best] + share[best] * (along[best + 1] - along[best]))
    if place < 0.002:
        return 0.0
    return 1.0 if along[-1] - place < 0.002 else place / float(along[-1])

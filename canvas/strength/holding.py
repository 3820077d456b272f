"""Say what cloth, edges and ties of a panel carry, and how strong they are.

Computes: cloth stress away from corners, pull of edges on their fastenings, webbing, ties, each with its strength.
Units: newtons; strengths are of one fastening, a length of edge, or a strip 50 mm wide.
Source: strengths of the design where declared, else ranges of canvas/design/tables; the share of new strength that
    aged and sewn cloth keeps is a project rule, no source.
Limits: a panel's corners are left out of its stress: a corner patch is chosen for them. A cloth counts as declared
    where it is the design's own and gives its strength; what ages it is taken off all the same.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from canvas.cloth.rigging import MEASURED_CLOTH
from canvas.cloth.shape import PanelShape
from canvas.design.schema.design import Design
from canvas.design.schema.rig import Panel
from canvas.design.tables import Fastening, fastenings, finishes
from canvas.geometry.surface import Floats, Ints
from canvas.strength.blown import AtWind
from canvas.strength.parts import Kind, Strength

STRIP = 0.05  # width of cloth whose strength tables give [m]
AGED = 0.35  # of new strength, in aged and sewn cloth: the low end taken
SEWN = 0.8  # of new strength, across a new seam: the high end of a pocket; common practice, no source
OFF_CORNERS = 0.15  # [m]
SAME_SPOT, NEAR_MARK = 1e-6, 0.03  # a held vertex at a corner, and a mark at it [m]


@dataclass(frozen=True, slots=True, kw_only=True)
class Holding:
    """One part of a panel at rest in one wind.

    Attributes
    ----------
    name : str
    panel, edge : str or None
        Of the design; the edge of what holds one.
    kind : str
    each : str
        What the load is of.
    strength : Strength or None
    load : float
        [N]
    """

    name: str
    panel: str
    edge: str | None
    kind: Kind
    each: str
    strength: Strength | None
    load: float


def holdings(design: Design, shape: PanelShape) -> Iterator[Holding]:
    """Yield what each part of a panel carries as it hangs.

    Parameters
    ----------
    design : Design
    shape : PanelShape
        In the wind.
    """
    spec = design.panel_named(shape.name)
    yield from _cloth(design, spec, shape)
    yield from _edges(spec, shape)
    yield from _pockets(design, spec, shape)
    for tie, pull in zip(spec.ties, shape.tie_forces, strict=True):
        where = tie.at if isinstance(tie.at, str) else "a point"
        holds = fastening_range(fastenings()[tie.kind]) if tie.strength is None else declared(tie.strength)
        yield Holding(
            name=f"{spec.name}, {tie.kind} at {where}", panel=spec.name, edge=None, kind="tie", each="each",
            strength=holds, load=float(pull),
        )  # fmt: skip


def loose_corners(design: Design, run: AtWind, marks: Mapping[str, Floats]) -> Iterator[Holding]:
    """Yield the corners between two free edges that no tie holds: taken as made fast to their mark, strength unknown.

    Parameters
    ----------
    design : Design
    run : AtWind
    marks : mapping of str to (3,) ndarray
        All marks [m].
    """
    for shape in run.panels:
        spec = design.panel_named(shape.name)
        tied = {int(vertex) for vertex in shape.ties}
        for k, edge in enumerate(shape.edges):
            vertex = int(shape.edge_vertices[k][0])
            if edge.kind != "free" or shape.edges[k - 1].kind != "free" or vertex in tied:
                continue
            at = shape.vertices[vertex]
            here = np.flatnonzero(np.linalg.norm(run.spots - at, axis=1) < SAME_SPOT)
            mark = next((name for name, spot in marks.items() if np.linalg.norm(spot - at) < NEAR_MARK), "a corner")
            if len(here):
                yield Holding(
                    name=f"{spec.name}, {mark}: no tie", panel=spec.name, edge=None, kind="tie", each="each",
                    strength=None, load=float(np.linalg.norm(run.pulls[here[0]])),
                )  # fmt: skip


def _cloth(design: Design, spec: Panel, shape: PanelShape) -> Iterator[Holding]:
    cloth = design.cloths()[spec.cloth or MEASURED_CLOTH]
    own = next((one for one in design.cloth if one.name == cloth.name), None)
    inside = _away_from_corners(shape.vertices, shape.faces, [line[0] for line in shape.edge_vertices])
    said = {"warp": own and own.warp_strength, "weft": own and own.weft_strength}
    for column, (way, new) in enumerate((("warp", cloth.warp_strength), ("weft", cloth.weft_strength))):
        told = said[way] is not None
        most = float(shape.tension[inside, column].max(initial=0.0))
        strength = Strength(
            low=AGED * new * STRIP, high=(AGED if told else 1.0) * new * STRIP, declared=told,
            source="this design, aged and sewn" if told else cloth.source,
        )  # fmt: skip
        yield Holding(
            name=f"{spec.name}, {way}", panel=spec.name, edge=None, kind="cloth", each="a strip 50 mm wide",
            strength=strength, load=most * STRIP,
        )  # fmt: skip


def _edges(spec: Panel, shape: PanelShape) -> Iterator[Holding]:
    for told, edge in zip(spec.edges, shape.edges, strict=True):
        name = f"{spec.name}, {edge.name}"
        if edge.cable_force is not None:
            yield Holding(
                name=f"{name}, webbing", panel=spec.name, edge=edge.name, kind="webbing", each="along the edge",
                strength=fastening_range(fastenings()["webbing 25"]), load=max(edge.cable_force, 0.0),
            )  # fmt: skip
        finish = finishes().get(edge.finish)
        key = None if finish is None or edge.kind == "free" else finish.fastening or finish.tape
        if key is None or key not in fastenings():
            continue
        one = fastenings()[key]
        width = one.per or one.spacing or 1.0
        each = f"each {width * 1000:.0f} mm" if one.each == "m" else f"each {one.name}"
        holds = fastening_range(one) if told.strength is None else declared(told.strength * width)
        yield Holding(
            name=f"{name}, {one.name}", panel=spec.name, edge=edge.name, kind="edge", each=each, strength=holds,
            load=edge.line_tension_most * width,
        )  # fmt: skip


def _pockets(design: Design, spec: Panel, shape: PanelShape) -> Iterator[Holding]:
    """Yield the sewing of pockets that tubes run through: it holds as much as aged and sewn cloth across the edge."""
    cloth = design.cloths()[spec.cloth or MEASURED_CLOTH]
    new = min(cloth.warp_strength, cloth.weft_strength) * STRIP
    for told, edge in zip(spec.edges, shape.edges, strict=True):
        if edge.finish != "tube pocket" or edge.kind == "free":
            continue
        range_ = Strength(low=AGED * new, high=SEWN * new, declared=False, source=f"sewn {cloth.name}: {cloth.source}")
        yield Holding(
            name=f"{spec.name}, {edge.name}, pocket", panel=spec.name, edge=edge.name, kind="edge",
            each="a strip 50 mm wide", load=edge.line_tension_most * STRIP,
            strength=range_ if told.strength is None else declared(told.strength * STRIP),
        )  # fmt: skip


def declared(strength: float) -> Strength:
    """Return a strength that the design declares [N]."""
    return Strength(low=strength, high=strength, declared=True, source="this design")


def fastening_range(one: Fastening) -> Strength | None:
    """Return the range of a fastening's strength; None where it is not known."""
    if one.strength_low is None or one.strength_high is None:
        return None
    return Strength(low=one.strength_low, high=one.strength_high, declared=False, source=one.source)


def _away_from_corners(vertices: Floats, faces: Ints, corners: Sequence[int]) -> Floats:
    middles = vertices[faces].mean(axis=1)
    spots = vertices[np.asarray(corners)]
    return np.asarray(np.linalg.norm(middles[:, None] - spots[None], axis=2).min(axis=1) > OFF_CORNERS)

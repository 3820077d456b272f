"""Push loose bows by hand, and let the canvas on them follow.

Computes: a set's rig with its bows pushed, each forward or aft as far as it goes; how far a zip is pulled from the rest
    of its panel, and the pull on it then.
Units: metres, newtons, newtons a metre, boat frame.
Source: `canvas.cloth.sureness` for how cloth follows bows; a zip's pull by statics: cloth stretches as its stiffness
    has it, and a bow that goes by hand pulls with no more than the hand, whose force is common practice, no source.
Limits: to first order. A bow that comes nearer leaves slack what was not stretched as far as that.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from canvas.cloth.rigging import MEASURED_CLOTH, Rig, Rigging, panel_surfaces
from canvas.cloth.shape import Formed, PanelShape
from canvas.cloth.sureness import Sureness, sway_of
from canvas.geometry.surface import Floats
from canvas.geometry.tubes import tube_surface

HAND = 200.0  # [N] with which someone pushes or leans on a bow


@dataclass(frozen=True, slots=True, kw_only=True)
class ZipPull:
    """The pull on one zip as loose bows move.

    Attributes
    ----------
    panel, edge : str
    set_up : float
        [N/m] Mean, as set up.
    most, least : float
        [N/m] With the bows pushed the worst way; 0 where the zip hangs slack.
    moves : float
        [m] How far the bows move it from, and towards, the rest of its panel.
    """

    panel: str
    edge: str
    set_up: float
    most: float
    least: float
    moves: float


def pushed(rigging: Rigging, rig: Rig, sure: Sureness, ways: Mapping[str, int]) -> Rig:
    """Return a set with its loose bows pushed.

    Parameters
    ----------
    rigging : Rigging
    rig : Rig
        As set up.
    sure : Sureness
        Of that set.
    ways : mapping of str to {-1, 0, 1}
        By bow: along the direction that `Sureness.ways` gives, against it, or not at all.
    """
    model, formed = rigging.model, rig.formed
    signs = np.array([ways.get(name, 0) for name in sure.loose], dtype=np.float64)
    shapes = []
    for shape in formed.panels:
        followers = sure.followers(shape.name)
        shapes.append(replace(shape, vertices=shape.vertices + (followers.plays * signs) @ followers.ways))
    known = model.design.cloths()
    canvas = [
        surface
        for up, shape in zip(model.design.panels_up(rig.set_name), shapes, strict=True)
        for surface in panel_surfaces(shape, model.design.panel_named(up.panel), up, known=known)
    ]
    bows = []
    for name, sign in zip(sure.loose, signs, strict=True):
        line, (way, share) = model.tubes[name].line, sway_of(model.tubes[name].line)
        moved = line + sign * model.tubes[name].play * share[:, None] * way
        bows.append(tube_surface(replace(model.tubes[name], line=moved)))
    stay = [s for s in rig.scene.surfaces if s.kind != "cloth" and s.name not in sure.loose]
    return Rig(
        set_name=rig.set_name,
        formed=Formed(set_name=rig.set_name, panels=tuple(shapes)),
        scene=replace(rig.scene, surfaces=(*stay, *bows, *canvas)),
    )


def zip_pulls(rigging: Rigging, rig: Rig, sure: Sureness) -> tuple[ZipPull, ...]:
    """Return the pull on every zip of a set that loose bows move.

    Parameters
    ----------
    rigging : Rigging
    rig : Rig
        As set up.
    sure : Sureness
        Of that set.
    """
    known = rigging.model.design.cloths()
    pulls = []
    for shape in rig.formed.panels:
        cloth = known[shape.cloth or MEASURED_CLOTH]
        stiffness = min(cloth.warp_stiffness, cloth.weft_stiffness)
        for number, edge in enumerate(shape.edges):
            moves, span = _moved(shape, number, sure)
            if not edge.finish.startswith("zip") or moves < 1e-4:
                continue
            stretch = edge.line_tension * span / stiffness
            more = min(stiffness * moves / span, HAND / edge.length)
            pulls.append(
                ZipPull(
                    panel=shape.name,
                    edge=edge.name,
                    set_up=edge.line_tension,
                    most=edge.line_tension + more,
                    least=0.0 if moves >= stretch else edge.line_tension - stiffness * moves / span,
                    moves=moves,
                )
            )
    return tuple(pulls)


def _moved(shape: PanelShape, number: int, sure: Sureness) -> tuple[float, float]:
    """Return how far loose bows move an edge from what holds the rest of its panel, and how far that is away [m]."""
    followers, line = sure.followers(shape.name), shape.edge_vertices[number]
    others = [one for k, one in enumerate(shape.edge_vertices) if k != number]
    kinds = [edge.kind for k, edge in enumerate(shape.edges) if k != number]
    held = [one for one, kind in zip(others, kinds, strict=True) if kind != "free"]
    rest = np.setdiff1d(np.concatenate(held or [one[[0, -1]] for one in others]), line)
    if not len(rest):
        return 0.0, 1.0
    chord = shape.vertices[line[-1]] - shape.vertices[line[0]]
    chord = chord / np.linalg.norm(chord)
    across: Floats = shape.vertices[rest].mean(axis=0) - shape.vertices[line].mean(axis=0)
    across = across - (across @ chord) * chord
    span = float(np.linalg.norm(across))
    if span < 0.05:
        return 0.0, 1.0
    apart = followers.plays[line].mean(axis=0) - followers.plays[rest].mean(axis=0)
    return float(np.abs(apart * (followers.ways @ (across / span))).sum()), span

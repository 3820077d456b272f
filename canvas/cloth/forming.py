"""Form the panels of a set: the shape each is cut to, or hangs in where it was cut for this set.

Computes: one net for all panels, in balance under the cloth's tension, with hollows, battens, wires and bows.
Units: metres, newtons, newtons a metre.
Source: canvas/cloth/tensioned.py; default tension is common practice, no source: cloth drawn hand tight.
Limits: no weight and no wind; panels of flat cloth are ruled, not formed.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from canvas.cloth.edges import edge_shape
from canvas.cloth.given import Pretension
from canvas.cloth.lines import arc_lengths
from canvas.cloth.mesh import Net, PanelMesh, mesh_set
from canvas.cloth.net import Balanced, Bow, Cable, Rod, Tensioned
from canvas.cloth.partners import as_measured, mated
from canvas.cloth.shape import Formed, PanelShape
from canvas.cloth.tensioned import balance
from canvas.geometry.outline import PanelEdge, PanelOutline
from canvas.geometry.surface import Bools, Floats, Ints
from canvas.geometry.triangles import area_vectors

TOLERANCE = 1e-3  # how far chords of the mesh may miss curves [m]
TIE_PATCH = 0.25  # radius round a tie in which the cloth may be tauter [m]
BOWED = 0.01  # a batten may bow by this share of its length while forming
UNPAIRED = 0.03  # hollow of an edge whose other panel is not up, share of its chord
AFT, STARBOARD = np.array([1.0, 0.0, 0.0]), np.array([0.0, 1.0, 0.0])


def form(
    outlines: tuple[PanelOutline, ...],
    *,
    set_name: str,
    tolerance: float = TOLERANCE,
    tensions: Mapping[str, Pretension] | None = None,
    cut: Mapping[str, PanelShape] | None = None,
) -> Formed:
    """Return the panels of a set as they hang when formed together.

    Parameters
    ----------
    outlines : tuple of PanelOutline
        The panels that are up, in the order of the design.
    set_name : str
        The set.
    tolerance : float
        How far chords of the mesh may miss curves [m].
    tensions : mapping of str to Pretension or None
        By panel name; hand tight, equal both ways, where a panel is not named.
    cut : mapping of str to PanelShape or None
        Panels already cut in another set, by name: they come back as they are, and the others mate to their edges.

    Returns
    -------
    Formed

    Raises
    ------
    NotMeshed
        When lines in a panel cross.
    CouldNot
        When a panel has no shape in balance.
    """
    if not outlines:
        return Formed(set_name=set_name, panels=())
    shapes = {name: shape for name, shape in (cut or {}).items() if any(o.name == name for o in outlines)}
    fresh = mated(outlines, shapes)
    net = mesh_set(fresh, tolerance=tolerance) if fresh else Net(vertices=np.zeros((0, 3)), panels=())
    pulls = tuple((tensions or {}).get(outline.name, Pretension()) for outline in fresh)
    for group in _groups(net):
        found = _form_group(net, group, pulls, set_name)
        shapes.update({shape.name: shape for shape in found})
    return Formed(set_name=set_name, panels=tuple(shapes[outline.name] for outline in outlines))


def _groups(net: Net) -> list[list[int]]:
    """Return the panels by number, those together that share vertices."""
    groups: list[tuple[set[int], list[int]]] = []
    for number, panel in enumerate(net.panels):
        mine = {int(v) for edge, line in zip(panel.outline.edges, panel.edges, strict=True) for v in line[1:-1]}
        joined = [number]
        apart = []
        for vertices, members in groups:
            if vertices & mine:
                mine |= vertices
                joined += members
            else:
                apart.append((vertices, members))
        groups = [*apart, (mine, sorted(joined))]
    return [members for _, members in groups]


def _form_group(net: Net, group: list[int], pulls: tuple[Pretension, ...], set_name: str) -> list[PanelShape]:
    """Form panels that share vertices as one net."""
    panels = [net.panels[k] for k in group]
    kept = np.unique(np.concatenate([panel.vertices for panel in panels]))
    local = np.full(len(net.vertices), -1, dtype=np.int64)
    local[kept] = np.arange(len(kept))
    vertices = net.vertices[kept]
    faces = np.concatenate([local[panel.faces] for panel in panels])
    owner = np.repeat(np.arange(len(panels)), [len(panel.faces) for panel in panels])
    stress = np.array([[pulls[k].warp, pulls[k].weft] for k in group])[owner]
    warp = np.array([_warp(net, net.panels[k], pulls[k]) for k in group])[owner]
    vertices = _ties_in_place(vertices, panels, local)
    tensioned = Tensioned(
        vertices=vertices,
        faces=faces,
        held=_held(panels, local, len(kept)),
        stress=stress,
        warp=warp,
        cables=_cables(panels, local, [pulls[k] for k in group]),
        rods=_rods(panels, local, [pulls[k] for k in group]),
        bows=_bows(panels, local),
        kept=_near_ties(vertices, faces, panels, local),
    )
    names = " and ".join(f'"{panel.outline.name}"' for panel in panels)
    found = balance(tensioned, what=f'Panel {names} in set "{set_name}"')
    shapes = []
    for number, panel in enumerate(panels):
        shapes.append(_shape(panel, local, net=tensioned, found=found, mine=owner == number, set_name=set_name))
    return shapes


def _warp(net: Net, panel: PanelMesh, pull: Pretension) -> Floats:
    """Return the direction that a panel's warp follows."""
    if pull.direction is not None:
        return pull.direction
    corner = net.vertices[panel.faces]
    normal = area_vectors(corner).sum(axis=0)
    return STARBOARD if abs(normal[0]) > 0.85 * np.linalg.norm(normal) else AFT


def _held(panels: list[PanelMesh], local: Ints, count: int) -> Bools:
    """Return which vertices are held: on tubes, at corners, at ties, and all of flat panels."""
    held = np.zeros(count, dtype=bool)
    hung = np.concatenate([line[1:-1] for panel in panels for line in panel.edges])  # corners there hang on that edge
    for panel in panels:
        for edge, line in zip(panel.outline.edges, panel.edges, strict=True):
            held[local[np.setdiff1d(line[[0, -1]], hung)]] = True
            if edge.kind == "held" or as_measured(edge):
                held[local[line]] = True
        held[local[panel.ties]] = True
        if panel.outline.flat:
            held[local[panel.vertices]] = True
    return held


def _ties_in_place(vertices: Floats, panels: list[PanelMesh], local: Ints) -> Floats:
    placed = vertices.copy()
    for panel in panels:
        rim = np.concatenate(panel.edges)
        for tie, vertex in zip(panel.outline.ties, panel.ties, strict=True):
            if vertex not in rim:
                placed[local[vertex]] = tie.at
    return placed


def _near_ties(vertices: Floats, faces: Ints, panels: list[PanelMesh], local: Ints) -> Bools:
    """Return the faces near ties that are not on a panel's outline."""
    centre = vertices[faces].mean(axis=1)
    near = np.zeros(len(faces), dtype=bool)
    for panel in panels:
        for vertex in np.setdiff1d(panel.ties, np.concatenate(panel.edges)):
            near |= np.linalg.norm(centre - vertices[local[vertex]], axis=1) < TIE_PATCH
    return near


def _cables(panels: list[PanelMesh], local: Ints, pulls: list[Pretension]) -> tuple[Cable, ...]:
    """Return the tapes, ropes and wires of free edges, and of shared ones whose other panel is not up."""
    cables = []
    inners = [local[line[1:-1]] for panel in panels for line in panel.edges]
    for panel, pull in zip(panels, pulls, strict=True):
        for edge, line in zip(panel.outline.edges, panel.edges, strict=True):
            name, mine = _key(panel.outline, edge), local[line]
            alone = sum(bool(np.isin(mine[1:-1], inner).any()) for inner in inners) == 1
            chord = float(np.linalg.norm(edge.line[-1] - edge.line[0]))
            hollow = edge.hollow or (UNPAIRED * chord if edge.kind == "shared" and alone else None)
            if edge.wire is not None and edge.kind != "held":
                cables.append(Cable(name=name, vertices=mine, force=edge.wire.force, hollow=edge.hollow))
            elif hollow and edge.kind != "held" and edge.batten is None:
                radius = chord**2 / (8 * hollow) + hollow / 2
                force = (pull.warp + pull.weft) / 2 * radius
                asked = hollow if alone else None  # two cloths on one edge straighten it: no force can hollow it
                cables.append(Cable(name=name, vertices=mine, force=force, hollow=asked))
    return tuple(cables)


def _key(outline: PanelOutline, edge: PanelEdge) -> str:
    return f"{outline.name}: {edge.name}"


def _rods(panels: list[PanelMesh], local: Ints, pulls: list[Pretension]) -> tuple[Rod, ...]:
    """Return the battens, each at least so stiff that the cloth's tension bows it by BOWED of its length."""
    rods = []
    for panel, pull in zip(panels, pulls, strict=True):
        for edge, line in zip(panel.outline.edges, panel.edges, strict=True):
            if edge.batten is None or edge.kind == "held":
                continue
            bending = max(edge.batten.bending, _stiffness_asked(edge.line, pull))
            rods.append(Rod(vertices=local[line], bending=bending))
    return tuple(rods)


def _stiffness_asked(line: Floats, pull: Pretension) -> float:
    """Return the stiffness EI of a pinned beam that even tension bows by BOWED of its length, 5 w L^4 / (384 EI)."""
    return 5 / 384 * (pull.warp + pull.weft) / 2 * float(arc_lengths(line)[-1]) ** 3 / BOWED


def _bows(panels: list[PanelMesh], local: Ints) -> tuple[Bow, ...]:
    return tuple(
        Bow(line=line, vertices=local[over], arc=arc)
        for panel in panels
        for line, over, arc in zip(panel.outline.over, panel.over, panel.bow, strict=True)
        if len(over)
    )


def _shape(panel: PanelMesh, local: Ints, *, net: Tensioned, found: Balanced, mine: Bools, set_name: str) -> PanelShape:
    """Return one panel of a balanced net."""
    outline = panel.outline
    own = np.full(len(local), -1, dtype=np.int64)
    own[panel.vertices] = np.arange(len(panel.vertices))
    vertices = found.vertices[local[panel.vertices]]
    faces = own[panel.faces]
    forces = np.zeros_like(vertices)
    np.add.at(forces, faces, found.corner_forces[mine])
    cable = {c.name: force for c, force in zip(net.cables, found.cable_forces, strict=True)}
    edges = tuple(
        edge_shape(
            edge,
            own[line],
            vertices=vertices,
            faces=faces,
            forces=forces,
            loose=(outline.flat and edge.kind == "free") or not net.held[local[line[1:-1]]].all(),
            cable_force=cable.get(_key(outline, edge)),
        )
        for edge, line in zip(outline.edges, panel.edges, strict=True)
    )
    mine_only = local[panel.vertices]
    touching = iter(
        each for bow, each in zip(net.bows, found.touching, strict=True) if np.isin(bow.vertices, mine_only).all()
    )
    return PanelShape(
        name=outline.name,
        set_name=set_name,
        cloth=outline.cloth,
        vertices=vertices,
        faces=faces,
        zone=panel.zone,
        zone_names=("cloth", *(insert.name for insert in outline.inserts)),
        edge_vertices=tuple(own[line] for line in panel.edges),
        edges=edges,
        over=tuple(own[line] for line in panel.over),
        touching=tuple(next(touching) if len(line) else np.zeros(0, dtype=bool) for line in panel.over),
        slits=tuple(own[line] for line in panel.slits),
        ties=own[panel.ties],
        tie_forces=np.linalg.norm(forces[own[panel.ties]], axis=1),
        warp=found.warp[mine],
        tension=found.stress[mine][:, :2],
        shear=found.stress[mine][:, 2],
    )

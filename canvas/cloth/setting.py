"""Put cut panels up: in another set than the one they are cut in, or under load.

Computes: the shape elastic cloth takes, slack and wrinkled shares, hollows, webbing forces, pulls on zips and tubes.
Units: metres, newtons, newtons a metre.
Source: canvas/cloth/joined.py and canvas/cloth/elastic.py.
Limits: as those two.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from canvas.cloth.edges import edge_shape
from canvas.cloth.elastic import Loaded, settle
from canvas.cloth.elements import cloth_forces
from canvas.cloth.loads import Loads
from canvas.cloth.material import SLACK, WRINKLED
from canvas.cloth.membrane import SOFT, Assembly
from canvas.cloth.joined import Rigged, Stiffness, rig
from canvas.cloth.shape import Formed, PanelShape
from canvas.cloth.tensioned import warp_frames
from canvas.geometry.outline import PanelOutline
from canvas.geometry.surface import Floats, Ints


def put_up(
    shapes: tuple[PanelShape, ...],
    outlines: tuple[PanelOutline, ...],
    *,
    set_name: str,
    cloths: Mapping[str, Stiffness],
    loads: Loads | None = None,
) -> Formed:
    """Return cut panels as they hang in a set.

    Parameters
    ----------
    shapes : tuple of PanelShape
        Each panel as formed in the set it is cut in.
    outlines : tuple of PanelOutline
        The same panels, in the same order.
    set_name : str
        The set they are put up in.
    cloths : mapping of str to Stiffness
        By cloth name.
    loads : Loads or None
        By vertex and face of the panels one after another.

    Raises
    ------
    CouldNot
        When the cloth does not come to rest.
    """
    if not shapes:
        return Formed(set_name=set_name, panels=())
    rigged = rig(shapes, outlines, cloths=cloths)
    loaded = settle(rigged.membrane, rigged.start, loads=loads, what=f'The canvas of set "{set_name}"')
    return hung(rigged, loaded, set_name=set_name)


def hung(rigged: Rigged, loaded: Loaded, *, set_name: str) -> Formed:
    """Return the panels of a membrane that has come to rest.

    Parameters
    ----------
    rigged : Rigged
    loaded : Loaded
    set_name : str
    """
    pulls = _cloth_pulls(rigged, loaded.vertices)
    names = [line.name for line in rigged.membrane.lines]
    webbing = {name: float(t.mean()) for name, t in zip(names, loaded.line_tensions, strict=True)}
    panels = tuple(
        _panel(rigged, number, loaded=loaded, pulls=pulls, webbing=webbing, set_name=set_name)
        for number in range(len(rigged.shapes))
    )
    return Formed(set_name=set_name, panels=panels)


def _cloth_pulls(rigged: Rigged, places: Floats) -> Floats:
    """Return the pull of each face on each of its corners (m, 3, 3) [N]."""
    ready = Assembly(rigged.membrane)
    inner, _, _, _, _ = cloth_forces(
        places, ready.faces, ready.inverse, ready.area, ready.shift, ready.stiff, SOFT, False
    )
    return np.asarray(-inner)


def _panel(
    rigged: Rigged, number: int, *, loaded: Loaded, pulls: Floats, webbing: Mapping[str, float], set_name: str
) -> PanelShape:
    cut, outline = rigged.shapes[number], rigged.outlines[number]
    mine, own = rigged.faces[number], rigged.vertices[number]
    vertices, stress, state = loaded.vertices[own], loaded.stress[mine], loaded.state[mine]
    forces = np.zeros_like(vertices)
    np.add.at(forces, cut.faces, pulls[mine])
    held = rigged.membrane.held[own]
    edges = tuple(
        edge_shape(
            edge,
            line,
            vertices=vertices,
            faces=cut.faces,
            forces=forces,
            loose=not held[line[1:-1]].all(),
            cable_force=webbing.get(f"{outline.name}: {edge.name}"),
        )
        for edge, line in zip(outline.edges, cut.edge_vertices, strict=True)
    )
    ready = rigged.membrane.rest[mine]
    sides = ready[:, 1:] - ready[:, :1]
    area = np.abs(sides[:, 0, 0] * sides[:, 1, 1] - sides[:, 0, 1] * sides[:, 1, 0]) / 2
    return PanelShape(
        name=cut.name,
        set_name=set_name,
        cloth=cut.cloth,
        vertices=vertices,
        faces=cut.faces,
        zone=cut.zone,
        zone_names=cut.zone_names,
        edge_vertices=cut.edge_vertices,
        edges=edges,
        over=cut.over,
        touching=tuple(
            _touching(line, vertices[chain]) for line, chain in zip(outline.over, cut.over, strict=True)
        ),
        slits=cut.slits,
        ties=cut.ties,
        tie_forces=np.linalg.norm(forces[cut.ties], axis=1),
        warp=_carried_warp(cut, vertices),
        tension=stress[:, :2],
        shear=stress[:, 2],
        slack=float(area[state == SLACK].sum() / area.sum()),
        wrinkled=float(area[state == WRINKLED].sum() / area.sum()),
    )


def _touching(line: Floats, places: Floats) -> Ints:
    """Return which places lie on a line, within a millimetre."""
    from canvas.cloth.lines import locate

    if len(places) == 0:
        return np.zeros(0, dtype=bool)
    return locate(line, places)[1] < 1e-3


def _carried_warp(cut: PanelShape, vertices: Floats) -> Floats:
    """Return where the warp of each face, fixed in the cloth, points now (m, 3)."""
    along, _, _ = warp_frames(cut.vertices, cut.faces, cut.warp)
    before = cut.vertices[cut.faces]
    e1, e2 = before[:, 1] - before[:, 0], before[:, 2] - before[:, 0]
    d11, d12, d22 = (np.einsum("ij,ij->i", a, b) for a, b in ((e1, e1), (e1, e2), (e2, e2)))
    p1, p2 = np.einsum("ij,ij->i", along, e1), np.einsum("ij,ij->i", along, e2)
    det = d11 * d22 - d12**2
    one, two = (d22 * p1 - d12 * p2) / det, (d11 * p2 - d12 * p1) / det
    after = vertices[cut.faces]
    moved = one[:, None] * (after[:, 1] - after[:, 0]) + two[:, None] * (after[:, 2] - after[:, 0])
    return np.asarray(moved / np.linalg.norm(moved, axis=1, keepdims=True))

"""Put cut panels up: in another set than the one they are cut in, or under load.

Computes: the shape elastic cloth takes, slack and wrinkled shares, hollows, webbing forces, pulls on zips and tubes.
Units: metres, newtons, newtons a metre.
Source: canvas/cloth/joined.py and canvas/cloth/elastic.py.
Limits: as those two.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping

import numpy as np

from canvas.cloth.edges import edge_shape
from canvas.cloth.elastic import Loaded, settle
from canvas.cloth.elements import cloth_forces
from canvas.cloth.faces import warp_frames
from canvas.cloth.given import Stiffness
from canvas.cloth.joined import Joined, join_up
from canvas.cloth.lines import locate
from canvas.cloth.loads import Loads
from canvas.cloth.material import SLACK, WRINKLED
from canvas.cloth.membrane import SOFT, Assembly
from canvas.cloth.shape import Formed, PanelShape
from canvas.geometry.outline import PanelOutline
from canvas.geometry.surface import Bools, Floats


def put_up(
    shapes: tuple[PanelShape, ...],
    outlines: tuple[PanelOutline, ...],
    *,
    set_name: str,
    cloths: Mapping[str, Stiffness],
    loads: Loads | None = None,
    open_zips: Mapping[str, float] | None = None,
    still: Collection[str] = (),
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
    open_zips : mapping of str to float or None
        Share of an edge's length that is unzipped, from its end, by ``panel: edge``.
    still : collection of str
        Panels that stay where they are but along edges joined to others, by name.

    Raises
    ------
    CouldNot
        When the cloth does not come to rest.
    """
    if not shapes:
        return Formed(set_name=set_name, panels=())
    joined = join_up(shapes, outlines, cloths=cloths, open_zips=open_zips, still=still)
    loaded = settle(joined.membrane, joined.start, loads=loads, what=f'The canvas of set "{set_name}"')
    return hung(joined, loaded, set_name=set_name)


def hung(joined: Joined, loaded: Loaded, *, set_name: str) -> Formed:
    """Return the panels of a membrane that has come to rest.

    Parameters
    ----------
    joined : Joined
    loaded : Loaded
    set_name : str
    """
    pulls = _cloth_pulls(joined, loaded.vertices)
    names = [line.name for line in joined.membrane.lines]
    webbing = {name: float(t.mean()) for name, t in zip(names, loaded.line_tensions, strict=True)}
    panels = tuple(
        _panel(joined, number, loaded=loaded, pulls=pulls, webbing=webbing, set_name=set_name)
        for number in range(len(joined.shapes))
    )
    return Formed(set_name=set_name, panels=panels)


def _cloth_pulls(joined: Joined, places: Floats) -> Floats:
    """Return the pull of each face on each of its corners (m, 3, 3) [N]."""
    sheet = Assembly(joined.membrane).sheet
    return -cloth_forces(places, sheet, soft=SOFT, stiffness=False).forces


def _panel(
    joined: Joined, number: int, *, loaded: Loaded, pulls: Floats, webbing: Mapping[str, float], set_name: str
) -> PanelShape:
    cut, outline = joined.shapes[number], joined.outlines[number]
    mine, own = joined.faces[number], joined.vertices[number]
    vertices, stress, state = loaded.vertices[own], loaded.stress[mine], loaded.state[mine]
    forces = np.zeros_like(vertices)
    np.add.at(forces, cut.faces, pulls[mine])
    held = joined.membrane.held[own]
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
    ready = joined.membrane.rest[mine]
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
        touching=tuple(_touching(line, vertices[chain]) for line, chain in zip(outline.over, cut.over, strict=True)),
        slits=cut.slits,
        ties=cut.ties,
        tie_forces=np.linalg.norm(loaded.reactions[own][cut.ties], axis=1),
        warp=_carried_warp(cut, vertices),
        tension=stress[:, :2],
        shear=stress[:, 2],
        slack=float(area[state == SLACK].sum() / area.sum()),
        wrinkled=float(area[state == WRINKLED].sum() / area.sum()),
    )


def _touching(line: Floats, places: Floats) -> Bools:
    """Return which places lie on a line, within a millimetre."""
    return locate(line, places)[1] < 1e-3 if len(places) else np.zeros(0, dtype=bool)


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

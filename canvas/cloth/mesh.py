"""Mesh the panels of a set: one net, with one set of vertices on every edge that panels share.

Computes: each panel's triangles in its plane layout, lifted to space; vertices on edges, bows, slits, windows, ties.
Units: metres.
Source: canvas/cloth/domain.py and canvas/cloth/triangulate.py.
Limits: sides are sqrt(8 R tolerance) long, with R half the root of the panel's area: a panel that bends more sharply
    than that away from its edges is meshed too coarsely for its tolerance.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely

from canvas.cloth.domain import Domain, lay_out
from canvas.cloth.given import NotMeshed
from canvas.cloth.joints import Start, share_stops, starts, vertices_on
from canvas.cloth.layout import lay_lines
from canvas.cloth.lines import arc_lengths, locate, resample
from canvas.cloth.triangulate import NoMesh, triangulate
from canvas.geometry.outline import PanelOutline
from canvas.geometry.surface import Floats, Ints, locked

MERGE = 1e-6  # shared vertices agree within this [m]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PanelMesh:
    """One panel's triangles within a net.

    Attributes
    ----------
    outline : PanelOutline
    vertices : (n,) ndarray of int
        The net's vertices that are the panel's, the outline's first.
    faces : (m, 3) ndarray of int
        Indices into the net; counter-clockwise seen from outside.
    zone : (m,) ndarray of int
        0 cloth, k for the panel's k-th insert.
    edges : tuple of (k,) ndarray of int
        The net's vertices along each edge, corner to corner, in the outline's order.
    over : tuple of (k,) ndarray of int
        The net's vertices along each line it lies over.
    bow : tuple of (k,) ndarray
        Arc length on that line which belongs to each of those vertices [m].
    slits : tuple of (k,) ndarray of int
        Vertices from where a wire passes to the edge; one vertex where there is no slit.
    ties : (t,) ndarray of int
        The vertex at each tie.
    """

    outline: PanelOutline
    vertices: Ints
    faces: Ints
    zone: Ints
    edges: tuple[Ints, ...]
    over: tuple[Ints, ...]
    bow: tuple[Floats, ...]
    slits: tuple[Ints, ...]
    ties: Ints


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Net:
    """All panels of a set, meshed together.

    Attributes
    ----------
    vertices : (n, 3) ndarray
        Where forming starts [m].
    panels : tuple of PanelMesh
    """

    vertices: Floats
    panels: tuple[PanelMesh, ...]

    def __post_init__(self) -> None:
        object.__setattr__(self, "vertices", locked(self.vertices))


def mesh_set(outlines: tuple[PanelOutline, ...], *, tolerance: float) -> Net:
    """Return the net of all panels of a set.

    Parameters
    ----------
    outlines : tuple of PanelOutline
        In the order of the design.
    tolerance : float
        How far chords of the mesh may miss curves [m].

    Raises
    ------
    NotMeshed
        When lines in a panel cross, or it has no area.
    """
    rows = starts(outlines)
    domains = []
    for outline, row in zip(outlines, rows, strict=True):
        with _naming(outline):
            domains.append(lay_out(tuple(start.line for start in row), ruled=outline.flat))
    for outline, row, domain in zip(outlines, rows, domains, strict=True):
        _stop_at_lines(outline, row, domain)
    share_stops(rows)
    known: list[tuple[Floats, Floats]] = []
    spots: list[Floats] = []
    panels: list[PanelMesh] = []
    shared: list[int] = []
    count = 0
    for outline, row, domain in zip(outlines, rows, domains, strict=True):
        spacing = spacing_of(domain.outline().area, tolerance)
        sides = [vertices_on(start, spacing=spacing, tolerance=tolerance, known=known) for start in row]
        with _naming(outline):
            points, panel = _mesh_panel(outline, domain, sides, spacing, count)
        spots.append(points)
        panels.append(panel)
        for edge, line in zip(outline.edges, panel.edges, strict=True):
            if edge.kind == "shared":
                shared.extend(int(v) for v in line)
        count += len(points)
    return _merged(np.vstack(spots), panels, np.unique(np.array(shared, dtype=np.int64)))


@contextmanager
def _naming(outline: PanelOutline) -> Iterator[None]:
    try:
        yield
    except NoMesh as gap:
        raise NotMeshed(outline.name, gap.found, gap.wanted) from gap


def spacing_of(area: float, tolerance: float) -> float:
    """Return the triangle side that misses a bend of radius sqrt(area) / 2 by `tolerance` [m]."""
    return float(min(np.sqrt(4 * tolerance * np.sqrt(area)), np.sqrt(area) / 5))


def _stop_at_lines(outline: PanelOutline, row: tuple[Start, ...], domain: Domain) -> None:
    """Make vertices where slits end and where bows leave the panel."""
    ends = [pierced.slit[-1] for pierced in outline.pierced if pierced.slit is not None]
    ring = domain.outline().exterior
    step = np.sqrt(domain.outline().area) / 40
    for bow in outline.over:
        line = resample(bow, spacing=step, tolerance=step)
        placed, _ = domain.place(line)
        off = shapely.distance(shapely.points(placed), ring) < 1e-6
        inside = np.flatnonzero(~off)
        if len(inside) == 0:
            continue
        for end in {int(inside[0]) - 1, int(inside[-1]) + 1}:
            if 0 <= end < len(line):
                ends.append(line[end])
    for end in ends:
        found = [(float(d[0]), float(arc[0]), start) for start in row for arc, d in [locate(start.line, end[None])]]
        _, arc, start = min(found, key=lambda item: item[0])
        start.stops.append(arc)


def _mesh_panel(
    outline: PanelOutline, domain: Domain, sides: list[Floats], spacing: float, offset: int
) -> tuple[Floats, PanelMesh]:
    """Return a panel's vertices in space and its mesh, numbered from `offset`."""
    shares = [arc_lengths(side) / arc_lengths(side)[-1] for side in sides]
    ring = np.vstack([domain.edge_flat(e, share)[:-1] for e, share in enumerate(shares)])
    rim = np.vstack([side[:-1] for side in sides])
    chains = lay_lines(outline, domain, ring=ring, rim=rim, spacing=spacing)
    mesh = triangulate(ring, spacing=spacing, lines=chains.sides, inner=chains.inner)
    vertices = domain.lift(mesh.points)
    vertices[: len(rim)] = rim
    corner = np.concatenate([[0], np.cumsum([len(side) - 1 for side in sides])])
    edges = tuple(offset + np.arange(a, b + 1) % len(rim) for a, b in pairwise(corner.tolist()))
    panel = PanelMesh(
        outline=outline,
        vertices=offset + np.arange(len(vertices)),
        faces=offset + mesh.faces[:, ::-1],
        zone=_zones(mesh.points[mesh.faces].mean(axis=1), chains.windows),
        edges=edges,
        over=tuple(offset + chain for chain in chains.over),
        bow=chains.bow,
        slits=tuple(offset + chain for chain in chains.slits),
        ties=offset + chains.ties,
    )
    return vertices, panel


def _zones(centroids: Floats, windows: tuple[shapely.Polygon, ...]) -> Ints:
    zone = np.zeros(len(centroids), dtype=np.int64)
    for number, window in enumerate(windows, start=1):
        zone[shapely.contains_xy(window, centroids[:, 0], centroids[:, 1])] = number
    return zone


def _merged(vertices: Floats, panels: list[PanelMesh], shared: Ints) -> Net:
    """Return the net with the vertices of shared edges merged."""
    rim = np.unique(np.concatenate([line for panel in panels for line in panel.edges]))
    owner = np.arange(len(vertices))
    if len(shared):
        for vertex in shared:
            same = rim[np.linalg.norm(vertices[rim] - vertices[vertex], axis=1) < MERGE]
            owner[same] = owner[same].min()
    kept, number = np.unique(owner, return_inverse=True)
    renamed = tuple(
        PanelMesh(
            outline=panel.outline,
            vertices=locked(number[panel.vertices], dtype=np.int64),
            faces=locked(number[panel.faces], dtype=np.int64),
            zone=locked(panel.zone, dtype=np.int64),
            edges=tuple(locked(number[line], dtype=np.int64) for line in panel.edges),
            over=tuple(locked(number[line], dtype=np.int64) for line in panel.over),
            bow=tuple(locked(arc) for arc in panel.bow),
            slits=tuple(locked(number[line], dtype=np.int64) for line in panel.slits),
            ties=locked(number[panel.ties], dtype=np.int64),
        )
        for panel in panels
    )
    return Net(vertices=vertices[kept], panels=renamed)

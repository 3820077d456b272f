"""Mesh the panels of a set: one net, with one set of vertices on every edge that panels share.

Computes: each panel's triangles in its plane layout, lifted to space; vertices on edges, bows, slits, windows, ties.
Units: metres.
Source: canvas/cloth/domain.py and canvas/cloth/triangulate.py.
Limits: sides are sqrt(8 R tolerance) long, with R half the root of the panel's area: a panel that bends more sharply
    than that away from its edges is meshed too coarsely for its tolerance.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely

from canvas.cloth.domain import Domain, lay_out
from canvas.cloth.joints import Start, share_stops, starts, vertices_on
from canvas.cloth.lines import arc_lengths, locate, resample
from canvas.cloth.triangulate import triangulate
from canvas.geometry.outline import PanelOutline, Pierced
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


class _Layout:
    """Points and lines gathered in a panel's plane before it is triangulated."""

    def __init__(self, domain: Domain, ring: Floats) -> None:
        self.domain = domain
        self.ring = ring
        self.inner: list[Floats] = []
        self.lines: list[Ints] = []
        self.count = len(ring)

    def add(self, points: Floats, *, head: int | None = None, tail: int | None = None, closed: bool = False) -> Ints:
        """Add plane points as a chain of sides, from an outline vertex and to one where given; return its indices."""
        fresh = np.arange(self.count, self.count + len(points))
        self.inner.append(points)
        self.count += len(points)
        chain = [[head] if head is not None else [], fresh.tolist(), [tail] if tail is not None else []]
        line = np.array([index for part in chain for index in part], dtype=np.int64)
        if len(line) > 1:
            self.lines.append(np.append(line, line[0]) if closed else line)
        return line


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
    CouldNot
        When a panel cannot be meshed.
    """
    rows = starts(outlines)
    domains = [
        lay_out(tuple(start.line for start in row), ruled=outline.flat)
        for outline, row in zip(outlines, rows, strict=True)
    ]
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
        points, panel = _mesh_panel(outline, domain, sides, spacing, count)
        spots.append(points)
        panels.append(panel)
        for edge, line in zip(outline.edges, panel.edges, strict=True):
            if edge.kind == "shared":
                shared.extend(int(v) for v in line)
        count += len(points)
    return _merged(np.vstack(spots), panels, np.unique(np.array(shared, dtype=np.int64)))


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
    layout = _Layout(domain, ring)
    clear = 0.4 * spacing
    over = [_over_line(layout, rim, line, spacing, clear) for line in outline.over]
    slits = [_slit(layout, rim, p, spacing=spacing, clear=clear) for p in outline.pierced]
    windows = [_window(layout, insert.outline, spacing, clear) for insert in outline.inserts]
    ties = [_tie(layout, rim, tie.at, clear) for tie in outline.ties]
    inner = np.vstack([np.zeros((0, 2)), *layout.inner])
    mesh = triangulate(ring, spacing=spacing, lines=tuple(layout.lines), inner=inner)
    vertices = domain.lift(mesh.points)
    vertices[: len(rim)] = rim
    corner = np.concatenate([[0], np.cumsum([len(side) - 1 for side in sides])])
    edges = tuple(offset + np.arange(a, b + 1) % len(rim) for a, b in pairwise(corner.tolist()))
    panel = PanelMesh(
        outline=outline,
        vertices=offset + np.arange(len(vertices)),
        faces=offset + mesh.faces[:, ::-1],
        zone=_zones(mesh.points[mesh.faces].mean(axis=1), windows),
        edges=edges,
        over=tuple(offset + chain for chain, _ in over),
        bow=tuple(arc for _, arc in over),
        slits=tuple(offset + chain for chain in slits),
        ties=offset + np.array(ties, dtype=np.int64),
    )
    return vertices, panel


def _inside(layout: _Layout, points: Floats, clear: float) -> shapely.Polygon:
    """Return which plane points lie inside the ring, clear of it by `clear`."""
    polygon = shapely.Polygon(layout.ring)
    spots = shapely.points(points)
    return shapely.contains(polygon, spots) & (shapely.distance(spots, polygon.exterior) > clear)


def _over_line(layout: _Layout, rim: Floats, line: Floats, spacing: float, clear: float) -> tuple[Ints, Floats]:
    """Add the vertices that lie over a bow; return them and the bow's arc length at each."""
    points = resample(line, spacing=spacing, tolerance=spacing / 20)
    placed, _ = layout.domain.place(points)
    keep = np.flatnonzero(_inside(layout, placed, clear))
    if len(keep) == 0:
        return np.zeros(0, dtype=np.int64), np.zeros(0)
    keep = np.arange(keep[0], keep[-1] + 1)
    placed = placed[keep]
    ends: list[int | None] = []
    for index, place in ((keep[0] - 1, placed[0]), (keep[-1] + 1, placed[-1])):
        if 0 <= index < len(points):
            near = int(np.argmin(np.linalg.norm(layout.ring - place, axis=1)))
            ends.append(near if np.linalg.norm(layout.ring[near] - place) < 2.5 * spacing else None)
        else:
            ends.append(None)
    chain = layout.add(placed, head=ends[0], tail=ends[1])
    space = np.vstack([rim[ends[0]][None]] * (ends[0] is not None) + [points[keep]])
    space = np.vstack([space] + [rim[ends[1]][None]] * (ends[1] is not None)) if ends[1] is not None else space
    arc, _ = locate(line, space)
    return chain, arc


def _slit(layout: _Layout, rim: Floats, pierced: Pierced, *, spacing: float, clear: float) -> Ints:
    """Add the vertex where a wire passes and those of its slit."""
    slit = pierced.slit
    if slit is None:
        placed, _ = layout.domain.place(pierced.at[None])
        return layout.add(placed)
    points = resample(slit, spacing=spacing, tolerance=spacing / 20)
    end = int(np.argmin(np.linalg.norm(rim - points[-1], axis=1)))
    placed, _ = layout.domain.place(points[:-1])
    keep = _inside(layout, placed, clear)
    keep[0] = True
    return layout.add(placed[keep], tail=end)


def _window(layout: _Layout, outline: Floats, spacing: float, clear: float) -> shapely.Polygon:
    """Add a window's outline, kept clear of the panel's own; return it in the plane."""
    closed = np.vstack([outline, outline[:1]])
    points = resample(closed, spacing=spacing, tolerance=spacing / 20)[:-1]
    placed, _ = layout.domain.place(points)
    window = shapely.intersection(shapely.Polygon(placed).buffer(0), shapely.Polygon(layout.ring).buffer(-clear))
    if window.is_empty or window.geom_type != "Polygon":
        return shapely.Polygon()
    ring = shapely.get_coordinates(window.exterior)
    ring = resample(ring, spacing=spacing, tolerance=spacing / 20)[:-1]
    layout.add(ring, closed=True)
    return shapely.Polygon(ring)


def _tie(layout: _Layout, rim: Floats, at: Floats, clear: float) -> int:
    """Return the vertex at a tie: one of the outline's where that is near, else a new one."""
    apart = np.linalg.norm(rim - at, axis=1)
    placed, _ = layout.domain.place(at[None])
    if apart.min() < clear or not _inside(layout, placed, clear)[0]:
        return int(np.argmin(apart))
    return int(layout.add(placed)[0])


def _zones(centroids: Floats, windows: list[shapely.Polygon]) -> Ints:
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

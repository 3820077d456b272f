"""Sew parts back together from their DXF and hang them up, starting flat: what the patterns really become."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from scipy.spatial import Delaunay
from shapely.geometry import LineString, Point, Polygon

from canvas.cloth.joined import BATTEN, WEBBING, Stiffness
from canvas.cloth.loads import GRAVITY, Loads
from canvas.cloth.rigging import Rigging
from canvas.cloth.sewing import FlatPart, Hold, Seam, Webbing, sew
from canvas.cutting.choices import CutOptions
from canvas.cutting.cut import cut_panels
from canvas.cutting.dxf import ReadSheet, read_dxf
from canvas.cutting.files import cut_files, file_stem, write_files
from canvas.cutting.finish import read_finishes
from canvas.cutting.gather import Gathered
from canvas.cutting.piece import PanelToCut
from canvas.cutting.result import CutResult

SIZE = 0.06  # [m] of the triangles
SLACK = 2
FALLS = 0.1  # of the cloth's weight: so that slack cloth has one place to lie; the whole would sag an awning 5 mm


@dataclass(frozen=True, kw_only=True)
class ReadPart:
    """A part as read: its finished outline cut into edges at its corner points, its cut-outs, its grain."""

    name: str
    edges: tuple[np.ndarray, ...]
    holes: tuple[np.ndarray, ...] = ()
    warp: np.ndarray = field(default_factory=lambda: np.array([1.0, 0.0]))


@dataclass(frozen=True, kw_only=True)
class Case:
    """One panel cut, and what was read of it."""

    rigging: Rigging
    gathered: Gathered
    panel: PanelToCut
    result: CutResult
    read: tuple[ReadPart, ...]


@dataclass(frozen=True, kw_only=True)
class Verdict:
    """How the sewn panel compares with the design; lengths in metres."""

    rms: float
    worst: float
    hollow_off: float
    strain_off: float
    slack: float
    seams_off: float
    grain_off_deg: float
    places: np.ndarray

    @property
    def passes(self) -> bool:
        return (
            self.rms <= 0.005
            and self.worst <= 0.015
            and self.hollow_off <= 0.10
            and self.strain_off <= 0.002
            and self.slack <= 0.02
            and self.seams_off <= 0.002
            and self.grain_off_deg <= 3.0
        )


def case_of(rigging: Rigging, gathered: Gathered, name: str, folder: Path) -> Case:
    """Cut one panel with what it joins of existing canvas, write its DXF, read it back."""
    panel = next(p for p in gathered.panels if p.name == name)
    existing = [p for p in gathered.panels if p.existing]
    known = {p.name for p in existing}
    joints = [j for j in gathered.joints if j.panel_a == name and j.panel_b in known]
    result = cut_panels([panel, *existing], joints, finishes=read_finishes(), options=CutOptions(seams=gathered.seams))
    write_files(cut_files(result, papers=()), folder)
    sheet = read_dxf(folder / f"{file_stem(panel.cloth.name)}.dxf")
    return Case(
        rigging=rigging,
        gathered=gathered,
        panel=panel,
        result=result,
        read=tuple(read_parts(sheet, [p for p in result.parts if p.edges])),
    )


def read_parts(sheet: ReadSheet, parts) -> list[ReadPart]:
    """Return the finished outlines on a sheet, told apart by the label inside each."""
    rings = [line.points for line in sheet.on("sew lines") if line.closed]
    corners = [at for layer, at in sheet.points if layer == "drill points"]
    grains = [line.points for line in sheet.on("grain") if len(line.points) == 2]
    found = []
    for part in parts:
        labels = [t for t in sheet.texts if t.text == part.name or t.text.startswith(part.name + ";")]
        assert len(labels) == 1, part.name
        ring = next(r for r in rings if Polygon(r).contains(Point(labels[0].at)))
        line = LineString(np.vstack([ring, ring[:1]]))
        on = [line.project(Point(c)) for c in corners if line.distance(Point(c)) < 1e-5]
        places = sorted({round(p, 7) for p in on if p < line.length - 1e-6})
        assert len(places) == len(part.edges), part.name
        shape = Polygon(ring)
        holes = [h.points for h in sheet.on("cut-outs") if h.closed and shape.contains(Point(h.points.mean(axis=0)))]
        grain = next(g for g in grains if shape.contains(Point(g.mean(axis=0))))
        along = (grain[1] - grain[0]) / np.hypot(*(grain[1] - grain[0]))
        edges = tuple(_between(line, a, b) for a, b in zip(places, [*places[1:], line.length], strict=True))
        found.append(ReadPart(name=part.name, edges=edges, holes=tuple(holes), warp=along))
    return found


def _between(line, a, b):
    points = np.asarray(line.coords)
    along = lengths(points)
    inner = points[(along > a + 1e-7) & (along < b - 1e-7)]
    return np.vstack([line.interpolate(a).coords[0], inner, line.interpolate(b).coords[0]])


def lengths(points):
    return np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])


def at_places(points, places):
    along = lengths(points)
    return np.stack([np.interp(places, along, points[:, k]) for k in range(points.shape[1])], axis=1)


def meshed(part: ReadPart, stiffness: np.ndarray, window: np.ndarray):
    """Return a flat part of triangles about `SIZE` long, the vertices along each edge, and which faces are cloth."""
    lines = []
    for edge in part.edges:
        whole = lengths(edge)[-1]
        lines.append(at_places(edge, np.linspace(0, whole, max(2, int(np.ceil(whole / SIZE)) + 1))))
    ring = np.vstack([line[:-1] for line in lines])
    starts = np.cumsum([0, *(len(line) - 1 for line in lines)])
    outline = Polygon(ring)
    low_x, low_y, high_x, high_y = outline.bounds
    rows = np.arange(low_y, high_y, SIZE * np.sqrt(0.75))
    across = np.arange(low_x - SIZE, high_x + SIZE, SIZE)
    grid = np.array([(x + (k % 2) * SIZE / 2, y) for k, y in enumerate(rows) for x in across])
    inner = outline.buffer(-0.45 * SIZE)
    points = np.vstack([ring, grid[[inner.contains(Point(p)) for p in grid]]])
    faces = Delaunay(points).simplices
    faces = faces[[outline.contains(Point(m)) for m in points[faces].mean(axis=1)]]
    doubled = doubled_area(points, faces)
    faces = np.where((doubled > 0)[:, None], faces, faces[:, ::-1])[np.abs(doubled) > 1e-7]
    along = [np.r_[starts[k] : starts[k + 1], starts[k + 1] % len(ring)] for k in range(len(lines))]
    middle = points[faces].mean(axis=1)
    cloth = ~np.array([any(Polygon(h).contains(Point(m)) for h in part.holes) for m in middle], dtype=bool)
    stiff = np.where(cloth[:, None], stiffness, window)
    flat = FlatPart(name=part.name, points=points, faces=faces, warp=part.warp, stiffness=stiff)
    return flat, along, cloth


def doubled_area(points, faces):
    one, two = points[faces[:, 1]] - points[faces[:, 0]], points[faces[:, 2]] - points[faces[:, 0]]
    return one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]


def judged(case: Case, read: tuple[ReadPart, ...], *, astray=None, supports: bool = True) -> Verdict:
    """Sew the parts, hang them on their zips, ties and tubes only, and compare with the design."""
    panel, parts = case.panel, [p for p in case.result.parts if p.edges]
    names = [panel.cloth.name, *(insert.cloth.name for insert in panel.inserts)]
    known = case.rigging.model.design.cloths()
    stiff = [Stiffness.of(known[name]) for name in (names[0], names[-1])]
    rows = [np.array([s.warp, s.weft, s.cross, s.shear]) for s in stiff]
    meshes = [meshed(r, *rows) for r in read]
    seams, holds, webbing = _joined(case, parts, meshes)
    contacts = _contacts(case, parts, meshes) if supports else ()
    sewn = sew(
        tuple(flat for flat, _, _ in meshes), seams=tuple(seams), holds=tuple(holds), webbing=tuple(webbing),
        over=contacts, astray=astray, loads=Loads(dead=_weight(meshes, FALLS * known[panel.cloth.name].mass)),
    )  # fmt: skip
    places = np.vstack(sewn.vertices)
    off = distance_to(places, panel.vertices, panel.faces)
    area = np.concatenate([np.abs(doubled_area(flat.points, flat.faces)) / 2 for flat, _, _ in meshes])
    is_cloth = np.concatenate([c for _, _, c in meshes])
    strain = area @ np.vstack(sewn.strain) / area.sum()
    meant = sum(p.area * np.array(p.stretch) for p in parts) / sum(p.area for p in parts)
    slack = area[(np.concatenate(sewn.state) == SLACK) & is_cloth].sum() / area[is_cloth].sum()
    pairs = [
        abs(lengths(meshes[s.first][0].points[s.chain])[-1] - lengths(meshes[s.second][0].points[s.onto])[-1])
        for s in seams
    ]
    return Verdict(
        rms=float(np.sqrt(np.mean(off**2))), worst=float(off.max()), hollow_off=_hollow_off(case, parts, meshes, sewn),
        strain_off=float(np.abs(strain - meant).max()), slack=float(slack), seams_off=max(pairs, default=0.0),
        grain_off_deg=_grain_off(case, meshes, sewn), places=places,
    )  # fmt: skip


def _weight(meshes, mass):
    """Return the weight of cloth of `mass` [kg/m2] at the vertices of all parts, (n, 3)."""
    found = []
    for flat, _, _ in meshes:
        third = np.abs(doubled_area(flat.points, flat.faces)) / 6
        share = np.bincount(flat.faces.ravel(), weights=np.repeat(third, 3), minlength=len(flat.points))
        found.append(np.outer(share, [0.0, 0.0, -mass * GRAVITY]))
    return np.vstack(found)


def _contacts(case, parts, meshes):
    """Return the vertices of the parts that may lie on each line the panel lies over: those near its chafe patch."""
    patches = {part.name: part.finished for part in case.result.parts}
    found = []
    for part, (k, (flat, _, _)) in zip(parts, enumerate(meshes), strict=True):
        shift = flat.points.min(axis=0) - part.finished.min(axis=0)
        for number, line in enumerate(case.panel.contacts, start=1):
            patch = patches.get(f"{part.name}: chafe patch {number}")
            if patch is not None:
                region = Polygon(patch + shift).buffer(0.02)
                found.append((k, np.flatnonzero([region.contains(Point(p)) for p in flat.points]), line))
    return tuple(found)


def _joined(case, parts, meshes):
    """Return seams between pieces, what is held where, and what runs along free edges."""
    panel = case.panel
    shape = case.rigging.rig(panel.set_name).formed.panel(panel.name)
    outline = case.rigging.model.outlines[panel.name]
    joined = {(j.panel_b, j.edge_b) for j in case.gathered.joints}
    sides, holds, webbing = {}, [], []
    for k, (part, (flat, along, _)) in enumerate(zip(parts, meshes, strict=True)):
        for edge, chain in zip(part.edges, along, strict=True):
            if edge.seam:
                sides.setdefault(edge.name, []).append((k, chain))
                continue
            formed = next(e for e in shape.edges if e.name == edge.name)
            spec = next(e for e in outline.edges if e.name == edge.name)
            line = panel.vertices[panel.edge(edge.name).vertices]
            whole = next(e.length for e in case.result.edges if e.name == edge.name)
            here = lengths(flat.points[chain])
            share = (edge.span[0] + here / here[-1] * (edge.span[1] - edge.span[0])) / whole
            goal = at_places(line, share * lengths(line)[-1])
            if formed.kind != "free" or (panel.name, edge.name) in joined:
                holds.append(Hold(part=k, vertices=chain, places=goal))
                continue
            for end in (0, -1):
                if any(np.linalg.norm(goal[end] - tie) < 0.02 for tie in panel.ties):
                    holds.append(Hold(part=k, vertices=chain[[end]], places=goal[[end]]))
            if spec.batten is not None:
                webbing.append(Webbing(part=k, vertices=chain, stretching=BATTEN, bending=spec.batten.bending))
            else:
                webbing.append(Webbing(part=k, vertices=chain, stretching=WEBBING))
    return [_seam(*both) for both in sides.values()], holds, webbing


def _seam(one, two):
    """Return a seam between two sides; a dart's point is the end of both legs, and is not sewn to itself."""
    (first, chain), (second, onto) = one, two
    if first == second and chain[-1] == onto[0]:
        return Seam(first=first, second=second, chain=chain[:-1], onto=onto[:0:-1])
    return Seam(first=first, second=second, chain=chain, onto=onto[::-1])


def _hollow_off(case, parts, meshes, sewn):
    """Return how far free edges are from their hollows, as a share of the hollow, leaving 3 mm."""
    panel = case.panel
    shape = case.rigging.rig(panel.set_name).formed.panel(panel.name)
    joined = {(j.panel_b, j.edge_b) for j in case.gathered.joints}
    most = 0.0
    for formed in shape.edges:
        if formed.kind != "free" or (panel.name, formed.name) in joined or not formed.hollow:
            continue
        pieces = sorted(
            (edge.span, sewn.vertices[k][chain])
            for k, (part, (_, along, _)) in enumerate(zip(parts, meshes, strict=True))
            for edge, chain in zip(part.edges, along, strict=True)
            if edge.name == formed.name and not edge.seam
        )
        asked = from_chord(panel.vertices[panel.edge(formed.name).vertices])
        most = max(most, max(0.0, abs(from_chord(np.vstack([line for _, line in pieces])) - asked) - 0.003) / asked)
    return most


def from_chord(line):
    chord = (line[-1] - line[0]) / np.linalg.norm(line[-1] - line[0])
    off = line - line[0]
    return float(np.linalg.norm(off - np.outer(off @ chord, chord), axis=1).max())


def _grain_off(case, meshes, sewn):
    """Return by how much the warp, sewn and hung, lies off the design's, in the mean. [deg]"""
    panel = case.panel
    middle = panel.vertices[panel.faces].mean(axis=1)
    angles = []
    for (flat, _, _), places in zip(meshes, sewn.vertices, strict=True):
        sides = np.stack([flat.points[flat.faces[:, k]] - flat.points[flat.faces[:, 0]] for k in (1, 2)], axis=2)
        formed = np.stack([places[flat.faces[:, k]] - places[flat.faces[:, 0]] for k in (1, 2)], axis=2)
        warp = (formed @ np.linalg.inv(sides)) @ flat.warp
        warp /= np.linalg.norm(warp, axis=1, keepdims=True)
        for point, along in zip(places[flat.faces].mean(axis=1), warp, strict=True):
            meant = panel.warp[int(np.argmin(np.sum((middle - point) ** 2, axis=1)))]
            angles.append(np.degrees(np.arccos(min(1.0, abs(float(along @ meant))))))
    return float(np.mean(angles))


def distance_to(points, vertices, faces):
    """Return how far points lie from a triangle mesh, (k,)."""
    a, b, c = (vertices[faces[:, k]] for k in range(3))
    u, v = b - a, c - a
    uu, uv, vv = (np.sum(x * y, axis=1) for x, y in ((u, u), (u, v), (v, v)))
    det = uu * vv - uv * uv
    found = np.empty(len(points))
    for k, point in enumerate(points):
        w = point - a
        wu, wv = np.sum(w * u, axis=1), np.sum(w * v, axis=1)
        share = np.stack([(vv * wu - uv * wv) / det, (uu * wv - uv * wu) / det], axis=1)
        share = np.clip(np.concatenate([1 - share.sum(axis=1, keepdims=True), share], axis=1), 0, None)
        share /= share.sum(axis=1, keepdims=True)
        foot = share[:, :1] * a + share[:, 1:2] * b + share[:, 2:] * c
        found[k] = np.sqrt(np.min(np.sum((foot - point) ** 2, axis=1)))
    return found


def scaled(read, factor):
    return tuple(
        dataclasses.replace(p, edges=tuple(e * factor for e in p.edges), holes=tuple(h * factor for h in p.holes))
        for p in read
    )


def grain_turned(read):
    return tuple(dataclasses.replace(p, warp=np.array([-p.warp[1], p.warp[0]])) for p in read)


def crossed(one, many):
    return one[0] * many[:, 1] - one[1] * many[:, 0]


def one_side_longer(case, read, extra):
    """Return the parts with one side of the first seam longer, the rest of its part stretched along with it."""
    parts = [p for p in case.result.parts if p.edges]
    k, e = next((k, e) for k, p in enumerate(parts) for e, edge in enumerate(p.edges) if edge.seam)
    seam = read[k].edges[e]
    chord = seam[-1] - seam[0]
    size = np.hypot(*chord)
    chord = chord / size
    every = np.vstack(read[k].edges)
    depth = np.abs(crossed(chord, every - seam[0])).max()

    def moved(points):
        along = (points - seam[0]) @ chord / size
        near = np.clip(1 - np.abs(crossed(chord, points - seam[0])) / depth, 0, 1)
        return points + (extra * along * near)[:, None] * chord

    changed = dataclasses.replace(read[k], edges=tuple(moved(edge) for edge in read[k].edges))
    return (*read[:k], changed, *read[k + 1 :])

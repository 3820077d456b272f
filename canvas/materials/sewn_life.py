"""Say how much ultraviolet each edge, seam and window gets over a year, and how long its sewing lasts.

Computes: sunburning dose on the outer face of each new panel's edges, seams and windows over a year at one latitude,
    relative to open deck; from it the life of thread, tape and sheet as a range; what is worth covering.
Units: shares of open deck; years; radians.
Source: dose as in canvas/sky/dose.py. Lives are common practice, no source: polyester thread two years (1.5 to 3) of
    tropical sun, hook and loop tape 18 months (1 to 2 years), clear sheet four years (2 to 6), all in open sun.
Limits: the sewing lies on the outer face, under whatever is above it; always up; clear weather all year, on every
    heading alike; chafe, salt and flogging left out, which often end it sooner; an edge
    that lies against a solid counts as dark. The dose that ends a life is taken as
    the same everywhere, that of a year at 15 degrees of latitude for each year named.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Literal

import numpy as np
from scipy.spatial import cKDTree

from canvas.cloth.lines import arc_lengths, points_at
from canvas.cloth.rigging import Rigging
from canvas.cloth.shape import PanelShape
from canvas.cutting.choices import CutOptions
from canvas.cutting.finish import for_tube, read_finishes
from canvas.cutting.gather import gather
from canvas.cutting.piece import PanelToCut
from canvas.cutting.plan import plan_pieces
from canvas.cutting.seamkinds import KINDS
from canvas.geometry.scene import Place, Scene
from canvas.geometry.surface import Floats
from canvas.geometry.triangles import area_vectors
from canvas.jobs.failure import CouldNot
from canvas.sky.directions import direction_grid
from canvas.sky.dome import dome_map
from canvas.sky.dose import doses
from canvas.sky.heading import all_round
from canvas.sky.instants import mean_solar_times
from canvas.sky.sun import Sun, sun_positions
from canvas.sky.ultraviolet import DOSE_J_M2, ERYTHEMAL_W_M2, uv_index

What = Literal["edge", "seam", "window"]
POINTS = 16  # a line or window
OFF = 0.004  # over the outer face [m]
INSIDE = 0.015  # stitching runs this far inside an edge, and a tube's girth farther on a pocket [m]
YEAR = 2026
TROPICS = np.radians(15.0)
COVER = 0.5  # of open deck's dose; what gets more, and is not an edge that must work, is worth a cover: project rule
LIVES = {"thread": (1.5, 2.0, 3.0), "hook and loop": (1.0, 1.5, 2.0), "window": (2.0, 4.0, 6.0)}
FINENESS = 0.6  # of the grid of directions
DARK = 0.02  # less than this of open deck ends nothing [share]
HOUR = 3600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SewnPart:
    """One edge, seam or window.

    Attributes
    ----------
    panel, name : str
    what : str
        ``edge``, ``seam`` or ``window``.
    relative, relative_low, relative_high : float
        Yearly ultraviolet over that on a level open deck at the same latitude.
    life, life_low, life_high : float
        Until it is to be sewn again or replaced; None where no ultraviolet reaches it [years].
    ends : str
        What fails first: ``thread``, ``hook and loop`` or ``window``.
    cover : bool
        Whether a cover strip is worth its sewing.
    """

    panel: str
    name: str
    what: What
    relative: float
    relative_low: float
    relative_high: float
    life: float | None
    life_low: float | None
    life_high: float | None
    ends: str
    cover: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Part:
    """One edge, seam or window before its dose is known."""

    panel: str
    name: str
    what: What
    ends: str
    place: Place


def sewn_life(
    rigging: Rigging, *, latitude: float, seams: Mapping[str, Sequence[Floats]] | None = None
) -> tuple[SewnPart, ...]:
    """Return the life of every edge, seam and window of the new panels, each in its home set.

    Parameters
    ----------
    rigging : Rigging
    latitude : float
        North positive [rad].
    seams : mapping of str to sequence of (k, 3) ndarray, optional
        Lines of the seams by panel; those that cutting would make where absent, see `seam_lines` [m].

    Raises
    ------
    CouldNot
        When a panel has no shape in balance.
    """
    design = rigging.model.design
    lines = seam_lines(rigging) if seams is None else seams
    sun, tropics = _year(latitude), _year(TROPICS)
    share = _open_year(tropics) / _open_year(sun)
    found = []
    for set_name in design.set_names():
        names = [p.name for p in design.panel if not p.existing and design.home_set(p) == set_name]
        if not names:
            continue
        rig = rigging.rig(set_name)
        parts = [part for name in names for part in _parts(rigging, rig.formed.panel(name), lines.get(name, ()))]
        found += [
            _judged(part, middle, low, high, years=share)
            for part, middle, low, high in zip(parts, *relative_dose(rig.scene, [p.place for p in parts], sun),
                                               strict=True)
        ]  # fmt: skip
    return tuple(found)


def seam_lines(rigging: Rigging) -> dict[str, tuple[Floats, ...]]:
    """Return by new panel the lines, (k, 3) each, in which cutting joins it, on the widest roll of its cloth [m]."""
    gathered = gather(rigging)
    finishes, options = read_finishes(), CutOptions()
    lines: dict[str, tuple[Floats, ...]] = {}
    for panel in gathered.panels:
        if panel.existing:
            continue
        widest = max(for_tube(finishes[edge.finish], edge.tube_diameter).allowance for edge in panel.edges)
        usable = max(panel.cloth.roll_widths) - 2 * options.selvedge
        chosen = gathered.seams.get(panel.name)
        seam = max(finishes[side].allowance for side in KINDS[panel.seam_kind])
        lines[panel.name] = _seams(panel, (usable, widest, seam), chosen)
    return lines


def _seams(
    panel: PanelToCut, widths: tuple[float, float, float], chosen: Sequence[Floats] | None
) -> tuple[Floats, ...]:
    """Return the seams of a panel; none where its windows leave no room for one and the grain is turned instead.

    `widths` are those of the roll, of the widest allowance and of a seam's.
    """
    usable, allowance, seam = widths
    try:
        return plan_pieces(panel, usable=usable, allowance=allowance, seam=seam, lines=chosen).seams
    except CouldNot:
        return ()


def relative_dose(scene: Scene, places: Sequence[Place], sun: Sun) -> tuple[Floats, Floats, Floats]:
    """Return the yearly ultraviolet on each place over that on a level open deck, with its band.

    Parameters
    ----------
    scene : Scene
        All that can stand in the way.
    places : sequence of Place
    sun : Sun
        Whole days, spread over a year.

    Returns
    -------
    middle, low, high : (p,) ndarray
        The band is the map's own and that of how much comes straight from the sun.
    """
    if not places:
        return np.zeros(0), np.zeros(0), np.zeros(0)
    known = dome_map(replace(scene, places=tuple(places)), grid=direction_grid(FINENESS))
    sums = doses(known, sun, headings=all_round())
    deck = _open_year(sun)
    total = sums.uv_open.sum(axis=0)
    middle = sums.uv.sum(axis=0) / deck
    less, more = (
        (total - (one * sums.uv_open).sum(axis=0)) / deck for one in (sums.uv_kept_off_high, sums.uv_kept_off_low)
    )
    return middle, np.minimum(less, middle), np.maximum(more, middle)


def _year(latitude: float) -> Sun:
    """Return the sun through the fifteenth of each month."""
    times = np.concatenate([mean_solar_times(date(YEAR, month, 15), date(YEAR, month, 15)) for month in range(1, 13)])
    return sun_positions(times, latitude=latitude, longitude=0.0)


def _open_year(sun: Sun) -> float:
    """Return the dose of those days on a level open deck, the formula added up by the hour [SED]."""
    index = np.where(sun.up, uv_index(sun).value, 0.0)
    return float(index.sum()) * ERYTHEMAL_W_M2 * HOUR / DOSE_J_M2


def _parts(rigging: Rigging, shape: PanelShape, seams: Sequence[Floats]) -> list[_Part]:
    """Return the edges, seams and windows of one hanging panel."""
    panel = rigging.model.design.panel_named(shape.name)
    tubes = rigging.model.tubes
    tree, normals = cKDTree(shape.vertices), vertex_normals(shape)
    parts = []
    for spec, formed, line in zip(panel.edges, shape.edges, shape.edge_vertices, strict=True):
        inside = INSIDE + (tubes[spec.along].diameter if spec.along is not None and spec.along in tubes else 0.0)
        ends = "hook and loop" if (spec.finish or "hem") == "hook and loop" else "thread"
        place = _along(formed.name, shape.vertices[line], tree, normals, inside=inside)
        parts.append(_Part(panel=shape.name, name=formed.name, what="edge", ends=ends, place=place))
    for number, line_ in enumerate(seams, start=1):
        name = f"seam {number}"
        if len(line_) > 1:
            place = _along(name, line_, tree, normals, inside=0.0)
            parts.append(_Part(panel=shape.name, name=name, what="seam", ends="thread", place=place))
    for zone, insert in enumerate(panel.inserts, start=1):
        faces = np.flatnonzero(shape.zone == zone)
        chosen = faces[np.linspace(0, len(faces) - 1, min(2 * POINTS, len(faces))).astype(int)]
        corners = shape.vertices[shape.faces[chosen]]
        normal = area_vectors(corners)
        normal /= np.linalg.norm(normal, axis=1, keepdims=True)
        place = Place(name=insert.name, points=corners.mean(axis=1) + OFF * normal, normals=normal, area=1.0)
        parts.append(_Part(panel=shape.name, name=insert.name, what="window", ends="window", place=place))
    return parts


def vertex_normals(shape: PanelShape) -> Floats:
    """Return the outward unit normal at each vertex of a panel, (n, 3)."""
    corners = shape.vertices[shape.faces]
    face = area_vectors(corners)
    normals = np.zeros_like(shape.vertices)
    for corner in range(3):
        np.add.at(normals, shape.faces[:, corner], face)
    unit: Floats = normals / np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-12)
    return unit


def _along(name: str, line: Floats, tree: cKDTree, normals: Floats, *, inside: float) -> Place:
    """Return points along a line on a panel's outer face, moved inside where the line is an edge."""
    along = arc_lengths(line)
    share = (np.arange(POINTS) + 0.5) / POINTS
    points = points_at(line, along[-1] * share)
    tangent = np.gradient(points, axis=0)
    normal = normals[tree.query(points)[1]]
    inward = np.cross(tangent, normal)  # edges run clockwise seen from outside
    inward /= np.maximum(np.linalg.norm(inward, axis=1, keepdims=True), 1e-12)
    moved = points + inside * inward + OFF * normal
    return Place(name=name, points=moved, normals=normal, area=1.0)


def _judged(part: _Part, middle: float, low: float, high: float, *, years: float) -> SewnPart:
    short, usual, long = (one * years for one in LIVES[part.ends])
    dark = middle < DARK
    return SewnPart(
        panel=part.panel,
        name=part.name,
        what=part.what,
        relative=float(middle),
        relative_low=float(low),
        relative_high=float(high),
        life=None if dark else usual / float(middle),
        life_low=None if dark else short / float(high),
        life_high=None if dark or low < DARK else long / float(low),
        ends=part.ends,
        cover=bool(middle > COVER and part.what != "window"),
    )

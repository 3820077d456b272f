"""Look at a scene from one side: outlines, feature lines, and which parts of them are seen.

Computes: parallel projections of surfaces; lines split where they pass behind something. Terms: a *feature line* is a
    sheet's free edge, a solid's sharp edge, or where a rounded face turns out of sight; *seen* lines have nothing
    before them, *veiled* ones only canvas, *hidden* ones something solid.
Units: metres, boat frame in; metres right and up in the view out.
Source: any-hit rays towards the eye (canvas/geometry/rays.py), halved in until within `EXACT`.
Limits: a line is tested every `STEP`, so what covers less than that of it may be missed; where two surfaces pass
    through one another no line is drawn.
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely

from canvas.arrays import distinct
from canvas.geometry.rays import Tracer, tracer_of
from canvas.geometry.surface import Bools, Floats, Ints, Surface, locked
from canvas.geometry.triangles import area_vectors

ViewName = Literal["plan", "profile", "aft"]

STEP = 0.02  # between the places at which a line is tested [m]
EXACT = 0.001  # where a line comes out of sight is found to within this [m]
LIFT = 0.003  # a line is tested this far before itself, towards the eye [m]
SHARP = np.cos(np.radians(47.0))  # faces that meet at more than this angle make an edge; a bar of eight sides has none
THIN = 1e-6  # twice the area of a triangle seen edge on [m2]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Look:
    """From where one looks: what lies to the right, what up, and where the eye is, unit vectors (3,)."""

    name: ViewName
    right: Floats
    up: Floats
    eye: Floats

    def flat(self, points: Floats) -> Floats:
        """Return points as seen, (n, 2) [m]."""
        seen: Floats = np.asarray(points) @ np.stack([self.right, self.up], axis=1)
        return seen


LOOKS: dict[ViewName, Look] = {
    "plan": Look(name="plan", right=locked([-1, 0, 0]), up=locked([0, -1, 0]), eye=locked([0, 0, 1])),
    "profile": Look(name="profile", right=locked([-1, 0, 0]), up=locked([0, 0, 1]), eye=locked([0, 1, 0])),
    "aft": Look(name="aft", right=locked([0, 1, 0]), up=locked([0, 0, 1]), eye=locked([1, 0, 0])),
}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Seen:
    """Lines as seen, each (2, 2) stretches gathered as (n, 2, 2) [m]."""

    seen: Floats
    veiled: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lines:
    """Stretches in space and where they are tested: ends (n, 2, 3), and the outward lift of each (n, 3) [m]."""

    ends: Floats
    lift: Floats


def outline(surface: Surface, look: Look) -> shapely.Geometry:
    """Return the area a surface covers in a view, as a shapely geometry [m]."""
    spots = look.flat(surface.vertices)
    corners = spots[surface.faces]
    one, two = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    turn = one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]
    sides = [turn > THIN] if surface.closed else [turn > THIN, turn < -THIN]  # what faces the eye covers all of a solid
    parts = [_covered(spots, surface.faces[side], np.abs(turn[side])) for side in sides if side.any()]
    return _union(parts) if parts else shapely.Polygon()


def _covered(spots: Floats, faces: Ints, twice: Floats) -> shapely.Geometry:
    """Return the area that faces turned one way cover.

    It is the inside of their common rim, or, where they lie over one another and the rim says nothing or crosses
    itself, their union.
    """
    edges, _, second = _edges(faces)
    try:
        rim = shapely.build_area(shapely.multilinestrings(spots[edges[second < 0]]))
    except shapely.errors.GEOSException:  # a rim that crosses or touches itself encloses nothing definite
        rim = shapely.Polygon()
    if rim.is_valid and abs(rim.area - twice.sum() / 2) < 1e-4 * rim.area:
        return rim
    return _union(list(shapely.polygons(spots[faces])))


def _union(parts: Sequence[shapely.Geometry]) -> shapely.Geometry:
    with suppress(shapely.errors.GEOSException):
        whole = shapely.union_all(parts)
        if whole.is_valid:
            return whole
    return shapely.union_all(parts, grid_size=1e-4)  # near-touching corners: 0.1 mm settles them, four times slower


def feature_lines(surface: Surface, look: Look) -> Lines:
    """Return the feature lines of a surface in a view."""
    corner = surface.vertices[surface.faces]
    normal = area_vectors(corner)
    size = np.linalg.norm(normal, axis=1, keepdims=True)
    normal = normal / np.where(size > 0, size, 1.0)
    edges, first, second = _edges(surface.faces)
    alone = second < 0
    other = np.where(alone, first, second)
    bend = np.einsum("ij,ij->i", normal[first], normal[other])
    towards = normal @ look.eye
    turned = (towards[first] > 0.02) != (towards[other] > 0.02)
    chosen = alone | (bend < SHARP) | (turned & (bend < 0.9999) & ~alone)
    lift = normal[first] + normal[other]
    lift = lift / np.maximum(np.linalg.norm(lift, axis=1, keepdims=True), 1e-9)
    if not surface.closed:
        lift = np.zeros_like(lift)
    return Lines(ends=surface.vertices[edges[chosen]], lift=LIFT * lift[chosen])


def polyline(points: Floats) -> Lines:
    """Return the stretches between the `points` of one polyline, (k, 3) [m]."""
    ends = np.stack([points[:-1], points[1:]], axis=1)
    return Lines(ends=ends, lift=np.zeros((len(ends), 3)))


def _edges(faces: Ints) -> tuple[Ints, Ints, Ints]:
    """Return the edges of faces, (e, 2), and the faces on both sides of each, -1 for none."""
    sides = np.sort(np.vstack([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]), axis=1)
    owner = np.tile(np.arange(len(faces)), 3)
    edges, where, count = distinct(sides)
    order = np.argsort(where, kind="stable")
    start = np.concatenate([[0], np.cumsum(count)[:-1]])
    first = owner[order[start]]
    second = np.where(count > 1, owner[order[np.minimum(start + 1, len(order) - 1)]], -1)
    return edges, first, second


class Sight:
    """What is seen of lines in one view of a scene.

    Parameters
    ----------
    look : Look
    solid : sequence of Surface
        Hide what is behind them.
    canvas : sequence of Surface
        Veil it.
    """

    def __init__(self, look: Look, *, solid: Sequence[Surface], canvas: Sequence[Surface]) -> None:
        self.look = look
        self._solid = tracer_of(*solid)
        self._canvas = tracer_of(*canvas)

    def split(self, lines: Lines) -> Seen:
        """Return what is seen of lines and what only shimmers through canvas."""
        flat = self.look.flat(lines.ends.reshape(-1, 3)).reshape(-1, 2, 2)
        lengths = np.linalg.norm(flat[:, 1] - flat[:, 0], axis=1)
        keep = np.flatnonzero(lengths > 1e-4)
        if not len(keep):
            return Seen(seen=np.zeros((0, 2, 2)), veiled=np.zeros((0, 2, 2)))
        counts = np.maximum(1, np.ceil(lengths[keep] / STEP)).astype(np.int64)
        row = np.repeat(keep, counts)
        start = (np.arange(counts.sum()) - np.repeat(np.cumsum(counts) - counts, counts)) / np.repeat(counts, counts)
        stop = start + 1 / np.repeat(counts, counts)
        state = self._state(lines, row, (start + stop) / 2)
        join = np.flatnonzero((row[1:] == row[:-1]) & (state[1:] != state[:-1]))
        middle = (start + stop) / 2
        cut = self._found(lines, row[join], middle[join], middle[join + 1], state=state[join])
        stop[join], start[join + 1] = cut, cut
        pieces = flat[row][:, :1] + np.stack([start, stop], axis=1)[:, :, None] * (flat[row][:, 1:] - flat[row][:, :1])
        return Seen(seen=pieces[state == 0], veiled=pieces[state == 1])

    def _state(self, lines: Lines, row: Ints, share: Floats) -> Ints:
        """Return 0 where seen, 1 where veiled, 2 where hidden."""
        at = lines.ends[row, 0] + share[:, None] * (lines.ends[row, 1] - lines.ends[row, 0])
        at = at + lines.lift[row] + LIFT * self.look.eye
        towards = np.broadcast_to(self.look.eye, at.shape)
        solid = _blocked(self._solid, at, towards)
        veil = _blocked(self._canvas, at, towards)
        return np.where(solid, 2, np.where(veil, 1, 0))

    def _found(self, lines: Lines, row: Ints, low: Floats, high: Floats, *, state: Ints) -> Floats:
        """Return where between two places with different states the first state ends."""
        low, high = low.copy(), high.copy()
        for _ in range(int(np.ceil(np.log2(STEP / EXACT)))):
            middle = (low + high) / 2
            same = self._state(lines, row, middle) == state
            low, high = np.where(same, middle, low), np.where(same, high, middle)
        return (low + high) / 2


def _blocked(tracer: Tracer, at: Floats, towards: Floats) -> Bools:
    return tracer.occluded(at, towards) if len(at) else np.zeros(0, dtype=bool)


def joined(pieces: Floats, *, simpler: float = 0.0005) -> tuple[Floats, ...]:
    """Return stretches (`pieces`, (n, 2, 2)) as few long polylines (k, 2), bends below `simpler` left out [m]."""
    if not len(pieces):
        return ()
    exact = np.round(pieces, 4)
    exact = exact[np.any(exact[:, 0] != exact[:, 1], axis=1)]
    turned = np.where((exact[:, 0, 0] > exact[:, 1, 0])[:, None, None], exact[:, ::-1], exact)
    once = np.unique(turned.reshape(-1, 4), axis=0).reshape(-1, 2, 2)
    if not len(once):
        return ()
    merged = shapely.line_merge(shapely.multilinestrings(shapely.linestrings(once)))
    parts = shapely.get_parts(shapely.simplify(merged, simpler))
    return tuple(np.asarray(part.coords) for part in parts)


def clipped(lines: Sequence[Floats], window: tuple[float, float, float, float]) -> tuple[Floats, ...]:
    """Return the parts of `lines`, (k, 2) each, inside a window of least and greatest right and up [m]."""
    if not lines:
        return ()
    cut = shapely.clip_by_rect(shapely.multilinestrings([shapely.linestrings(line) for line in lines]), *window)
    return tuple(np.asarray(part.coords) for part in shapely.get_parts(cut) if part.geom_type == "LineString")


def loops(area: shapely.Geometry) -> tuple[Floats, ...]:
    """Return the rings of an area, outer and inner, (k, 2) each, first points not repeated [m]."""
    rings: list[Floats] = []
    for part in shapely.get_parts(area):
        if part.geom_type == "Polygon" and not part.is_empty:
            rings += [np.asarray(ring.coords)[:-1] for ring in (part.exterior, *part.interiors)]
    return tuple(rings)

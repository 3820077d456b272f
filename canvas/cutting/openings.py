"""Cut what lets through or is let in: windows, mesh inserts, holes and slits for wires, patches.

Computes: the outline of each insert flat, its corners rounded; the sheet's own part with its overlap; the line along
    which the cloth behind is cut away; holes, collars and slits; outlines of chafe and corner patches.
Units: metres.
Source: overlaps, radii and patch sizes are common practice, no source.
Limits: an insert lies wholly inside one piece. The load at a corner is taken to run towards its patch's middle; chafe
    patches follow the part's grain.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
import shapely.affinity
from shapely.geometry import LineString, Point, Polygon

from canvas.cutting.carried import on_flat
from canvas.cutting.flatten import Flat, all_but
from canvas.cutting.piece import Insert, Piece
from canvas.cutting.rest import doubled_area
from canvas.cutting.sheet import Item, Layer, Line, Text, text_box
from canvas.cutting.sheet import Point as DrawnPoint
from canvas.cutting.slit import dart_legs
from canvas.cutting.split import outline_loop
from canvas.design.problems import Problem
from canvas.geometry.surface import Bools, Floats

OVERLAP = 0.025  # [m] sheet beyond the visible edge
BACK_TURN = 0.013  # [m] cloth behind the sheet, turned in
WINDOW_RADIUS = 0.04  # [m] least corner radius
EDGE_CLEAR = 0.05  # [m] between a window and the nearest finished edge
ROLL_CLEAR = 0.09  # [m] room for a rolled window above its opening
STRAP_SPACE = 0.35  # [m] between roll straps
NAMED = 0.005  # [m] letters in which a patch's name stands in its mark
TURNS = tuple(math.radians(k) for k in (0, 90, 45, -45, 20, -20, 70, -70))  # tried for them
LEVEL = 0.1  # rise over run below which a window has no top
COLLAR = 0.06  # [m] from a hole to its collar's edge
HOLE_CLEAR = 0.006  # [m] added to what passes through
CHAFE_HALF = 0.05  # [m] half width of a chafe patch
LEAST_PATCH = 0.006  # [m2] smaller ones are left out
CORNER_PATCH = 0.15  # [m] radius of a corner patch


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Opening:
    """One insert, hole or patch on a flat part.

    Attributes
    ----------
    name : str
    region : Polygon
        What it takes of the part; labels keep off it.
    items : tuple
        Drawn on the part.
    hole : (k, 2) ndarray or None
        What is cut out of the part. [m]
    own : (k, 2) ndarray or None
        Finished outline of a part of its own. [m]
    own_allowance : float
        Outside that. [m]
    cloth : str
        Of its own part.
    one_way : bool
        Its own part goes in one way only, as drawn on the part: its label says which side is out and where forward is.
    """

    name: str
    region: Polygon
    items: tuple[Item, ...]
    hole: Floats | None = None
    own: Floats | None = None
    own_allowance: float = 0.0
    cloth: str = ""
    one_way: bool = False


def insert_opening(piece: Piece, flat: Flat, insert: Insert) -> tuple[Opening | None, list[Problem]]:
    """Return a window or mesh insert on a flat piece, and what is wrong with it.

    Parameters
    ----------
    piece : Piece
    flat : Flat
        The piece laid flat.
    insert : Insert
        None is returned where the piece holds none of it.
    """
    inside = piece.faces[piece.zone == insert.zone]
    if len(inside) == 0:
        return None, []
    outline = Polygon(flat.uv[outline_loop(inside)])
    rounded = outline.buffer(-WINDOW_RADIUS).buffer(WINDOW_RADIUS, quad_segs=24)
    if rounded.is_empty or rounded.geom_type != "Polygon":
        return None, [_too_small(piece, insert)]
    finished = Polygon(flat.uv[outline_loop(piece.faces)])
    problems = _window_problems(piece, flat, insert, rounded=rounded, finished=finished)
    hole = rounded.buffer(-BACK_TURN)
    items: list[Item] = [
        Line(layer=Layer.SEW, points=_ring(rounded), closed=True),
        Line(layer=Layer.SEW, points=_ring(rounded.buffer(OVERLAP - 0.006, quad_segs=24)), closed=True, dashed=True),
        Line(layer=Layer.CUT_OUT, points=_ring(hole), closed=True),
    ]
    if insert.rolls_up:
        items.extend(_straps(rounded, up=_up(piece, flat, here=piece.zone == insert.zone)))
    return Opening(
        name=insert.name,
        region=rounded.buffer(OVERLAP),
        items=tuple(items),
        hole=_ring(hole),
        own=_ring(rounded),
        own_allowance=OVERLAP,
        cloth=insert.cloth.name,
        one_way=True,
    ), problems


def _ring(polygon: Polygon) -> Floats:
    result: Floats = np.asarray(shapely.orient_polygons(polygon).exterior.coords)[:-1]
    return result


def _too_small(piece: Piece, insert: Insert) -> Problem:
    return Problem(
        code="window-too-small",
        key=f'part "{piece.name}", insert "{insert.name}"',
        found=f"an opening narrower than twice the corner radius of {WINDOW_RADIUS * 1000:.0f} mm",
        wanted="Make the window larger, or leave it out.",
    )


def _window_problems(piece: Piece, flat: Flat, insert: Insert, *, rounded: Polygon, finished: Polygon) -> list[Problem]:
    key = f'part "{piece.name}", insert "{insert.name}"'
    problems: list[Problem] = []
    here = piece.zone == insert.zone
    corners = flat.uv[flat.faces[here]] @ np.array([1.0, 1.0j])
    strain = all_but(np.max(np.abs(flat.strain[here]), axis=1), doubled_area(corners))
    if strain > insert.cloth.strain_limit:
        problems.append(
            Problem(
                code="strain-over-limit",
                key=key,
                found=f"{strain * 100:.2f} % strain in {insert.cloth.name}, "
                f"which takes {insert.cloth.strain_limit * 100:.2f} %",
                wanted="Make the window smaller or flatter, or divide it in two.",
            )
        )
    room = rounded.exterior.distance(finished.exterior)
    wanted = ROLL_CLEAR if insert.rolls_up else EDGE_CLEAR
    if room < wanted - 1e-6:
        problems.append(
            Problem(
                code="window-near-edge",
                severity="warning",
                key=key,
                found=f"{room * 1000:.0f} mm between its opening and the finished edge",
                wanted=f"Leave {wanted * 1000:.0f} mm{', so that the rolled window clears it' * insert.rolls_up}.",
            )
        )
    return problems


def _up(piece: Piece, flat: Flat, *, here: Bools) -> Floats:
    """Return which way on the flat part is up on the boat, a unit vector; +v where the cloth lies level."""
    faces = piece.faces[here]
    p, q = (flat.uv[faces[:, k]] - flat.uv[faces[:, 0]] for k in (1, 2))
    rise = piece.vertices[faces, 2]
    dp, dq = rise[:, 1] - rise[:, 0], rise[:, 2] - rise[:, 0]
    doubled = float(np.sum(p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]))
    slope = np.array([np.sum(dp * q[:, 1] - dq * p[:, 1]), np.sum(dq * p[:, 0] - dp * q[:, 0])]) / doubled
    steep = float(np.hypot(*slope))
    return slope / steep if steep > LEVEL else np.array([0.0, 1.0])


def _straps(opening: Polygon, *, up: Floats) -> list[Item]:
    """Return the places of roll straps above an opening, one at most every `STRAP_SPACE`."""
    right = np.array([up[1], -up[0]])
    across, height = _ring(opening) @ right, _ring(opening) @ up
    count = max(2, int(np.ceil(np.ptp(across) / STRAP_SPACE)))
    places = across.min() + np.ptp(across) * (np.arange(count) + 0.5) / count
    top = height.max() + OVERLAP + 0.02
    return [DrawnPoint(layer=Layer.DRILL, at=place * right + top * up) for place in places]


def pierced_opening(
    piece: Piece,
    flat: Flat,
    *,
    name: str,
    at: Floats,
    diameter: float,
    slit: Floats | None,
    collar: float | None = None,
) -> Opening:
    """Return the hole, collar and slit where a wire passes.

    Parameters
    ----------
    piece : Piece
    flat : Flat
    name : str
    at : (3,) ndarray
        Where it passes the formed cloth. [m]
    diameter : float
        Of what passes. [m]
    slit : (k, 3) ndarray or None
        Line on the formed cloth from the hole to an edge. [m]
    collar : float, optional
        From the hole to the collar's edge; `COLLAR` where absent. [m]
    """
    centre = on_flat(piece, flat.uv, np.asarray(at)[None, :])[0]
    radius = diameter / 2 + HOLE_CLEAR
    hole = Point(centre).buffer(radius, quad_segs=24)
    ring = Point(centre).buffer(radius + (COLLAR if collar is None else collar), quad_segs=24)
    items: list[Item] = [
        Line(layer=Layer.CUT_OUT, points=_ring(hole), closed=True),
        Line(layer=Layer.FOLD, points=_ring(ring), closed=True, dashed=True),
        DrawnPoint(layer=Layer.DRILL, at=centre),
    ]
    region = ring
    if slit is not None:
        line = LineString(on_flat(piece, flat.uv, np.asarray(slit))).difference(hole)
        longest = max(getattr(line, "geoms", [line]), key=lambda g: g.length)
        if longest.length > 0:
            items.append(Line(layer=Layer.CUT_OUT, points=np.asarray(longest.coords)))
            region = region.union(longest.buffer(0.03))
    return Opening(
        name=name,
        region=region,
        items=tuple(items),
        hole=_ring(hole),
        own=_ring(ring),
        own_allowance=0.0,
    )


def chafe_patches(piece: Piece, flat: Flat, contacts: Sequence[Floats]) -> list[Opening]:
    """Return a chafe patch along each line (`contacts`, (k, 3) [m]) on which the piece lies over a tube, darts shut."""
    legs = dart_legs(piece).values()
    shut = [Polygon(flat.uv[np.concatenate([into.vertices, back.vertices[1:]])]) for into, back in legs]
    finished = shapely.union_all([Polygon(flat.uv[outline_loop(piece.faces)]), *(one.buffer(1e-6) for one in shut)])
    result: list[Opening] = []
    for number, contact in enumerate(contacts, start=1):
        if len(contact) < 2:
            continue
        line = LineString(on_flat(piece, flat.uv, np.asarray(contact)))
        patch = line.buffer(CHAFE_HALF, cap_style="square").intersection(finished.buffer(-0.02))
        if patch.is_empty or patch.area < LEAST_PATCH:
            continue
        patch = max(getattr(patch, "geoms", [patch]), key=lambda g: g.area)
        result.append(_patch(f"chafe patch {number}", patch))
    return result


def corner_patches(piece: Piece, flat: Flat, corners: Sequence[int]) -> list[Opening]:
    """Return a round patch on each corner that takes load, cut with its warp along the load: from the corner inward.

    Parameters
    ----------
    piece : Piece
    flat : Flat
    corners : sequence of int
        Piece vertices at the corners.
    """
    finished = Polygon(flat.uv[outline_loop(piece.faces)])
    result: list[Opening] = []
    for number, corner in enumerate(corners, start=1):
        patch = Point(flat.uv[corner]).buffer(CORNER_PATCH, quad_segs=24).intersection(finished)
        patch = max(getattr(patch, "geoms", [patch]), key=lambda g: g.area)
        if patch.area > LEAST_PATCH:
            inward = np.asarray(patch.centroid.coords[0]) - flat.uv[corner]
            along = shapely.affinity.rotate(patch, -math.atan2(inward[1], inward[0]), origin=(0, 0), use_radians=True)
            result.append(replace(_patch(f"corner patch {number}", patch), own=_ring(along)))
    return result


def _patch(name: str, patch: Polygon) -> Opening:
    """Return a patch with its outline dashed on the part, named where there is room for its name."""
    mark = Line(layer=Layer.FOLD, points=_ring(patch), closed=True, dashed=True)
    middle = np.asarray(shapely.maximum_inscribed_circle(patch, tolerance=0.002).coords[0])
    ways = [Text(at=middle, text=name, height=NAMED, angle=turn) for turn in TURNS]
    said = [way for way in ways if patch.contains(Polygon(text_box(way)))][:1]
    return Opening(name=name, region=Polygon(), items=(mark, *said), own=_ring(patch), own_allowance=0.012)

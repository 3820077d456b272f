"""Spread sample points over the places where people sit, stand and look from.

Computes: equal-area sample points of the seats, the helm and the sole, at their own height and at the height of heads.
Units: metres, boat frame.
Source: in a rectangle the rank-1 lattice whose points lie furthest apart (Sloan and Joe 1994): no straight cut along a
    side miscounts its share by more than half a point; in other shapes the additive recurrence R2 (M. Roberts, 2018,
    from memory). Both even and unrandom.
Limits: level areas, but for a sole that falls aft; every point of a place stands for the same area.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from math import gcd

import numpy as np
from scipy.spatial.transform import Rotation
from shapely import Polygon, contains_xy
from shapely.geometry.polygon import orient

from canvas.design.schema.boat import Side
from canvas.design.schema.design import Design
from canvas.geometry.marks import Locate
from canvas.geometry.rays import tracer_of
from canvas.geometry.scene import Place
from canvas.geometry.surface import Floats, Surface

POINTS = 560  # a place; a mean error below 0.5 % of the shade share against 20,000 on the three examples
STANDING_HELM = 0.60  # depth and width of the sole that one person at a wheel stands on [m]; common practice, no source
TILLER_HELM = 0.55  # length of seat that the person at a tiller takes [m]; common practice, no source
SETTLE = 0.06  # how far a scanned seat may lie from where the design has it and carry its points [m]
ON_TOP = 0.0005  # how far over a scanned seat its points then lie [m]
_R2 = np.array([0.7548776662466927, 0.5698402909980532])  # 1/g and 1/g^2 of the plastic number g


def places_of(design: Design, *, heads: float, at: Locate) -> tuple[Place, ...]:
    """Return the places of a design: seats, helm and sole, with the heads over seats and helm, then its own.

    Parameters
    ----------
    design : Design
    heads : float
        Height of the middle of a sitting head above the seat [m].
    at : callable
        From spot to point.
    """
    cockpit = design.cockpit
    port, starboard = _seat(cockpit.port, sign=-1), _seat(cockpit.starboard, sign=1)
    helm, heights, on_sole = _helm(design, port=port, starboard=starboard)
    slope = design.cockpit.sole_slope
    outlines: list[tuple[str, list[Floats], list[float], float]] = [
        ("port seat", [port], [cockpit.port.seat_height], 0.0),
        ("starboard seat", [starboard], [cockpit.starboard.seat_height], 0.0),
        ("helm", helm, heights, slope if on_sole else 0.0),
    ]
    places = [_on_slope(place_over(name, corners, z=z), slope=falls) for name, corners, z, falls in outlines]
    places += [
        _on_slope(place_over(f"{name}, heads", corners, z=[one + heads for one in z]), slope=falls)
        for name, corners, z, falls in outlines
    ]
    places.append(_on_slope(place_over("sole", [_sole(design)], z=[0.0]), slope=slope))
    for spec in design.place:
        corners = np.array([at(spot) for spot in spec.corners])
        places.append(place_over(spec.name, [corners[:, :2]], z=[float(corners[:, 2].mean()) + spec.raised]))
    return tuple(places)


def _on_slope(place: Place, *, slope: float) -> Place:
    """Return a level place laid on a plane through the axes' origin that falls aft by `slope` [rad]."""
    if slope == 0.0:
        return place
    points = place.points.copy()
    points[:, 2] -= points[:, 0] * np.tan(slope)
    return replace(place, points=points, normals=place.normals @ Rotation.from_rotvec([0.0, slope, 0.0]).as_matrix().T)


def settled_on(places: tuple[Place, ...], hull: Surface) -> tuple[Place, ...]:
    """Return places whose points lie on a scanned hull, where it stands up to `SETTLE` above or below them.

    Parameters
    ----------
    places : tuple of Place
    hull : Surface
    """
    tracer = tracer_of(hull)
    found = []
    for place in places:
        above = place.points + np.array([0.0, 0.0, SETTLE])
        _, drop = tracer.first_hit(above, np.tile([0.0, 0.0, -1.0], (len(above), 1)))
        points = place.points.copy()
        near = drop < 2 * SETTLE
        points[near, 2] = above[near, 2] - drop[near] + ON_TOP
        found.append(replace(place, points=points))
    return tuple(found)


def place_over(name: str, outlines: list[Floats], *, z: list[float], points: int = POINTS) -> Place:
    """Return a place over one or more plan outlines, each level.

    Parameters
    ----------
    name : str
    outlines : list of (k, 2) ndarray
        Corners in plan, aft and to starboard [m].
    z : list of float
        Height of each [m].
    points : int
        How many sample points.
    """
    shapes = [orient(Polygon(outline)) for outline in outlines]
    areas = np.array([shape.area for shape in shapes])
    counts = np.maximum(1, np.round(points * areas / areas.sum())).astype(int)
    counts[0] += points - counts.sum()
    spots = np.vstack([_spread(shape, int(count)) for shape, count in zip(shapes, counts, strict=True)])
    return Place(
        name=name,
        points=np.c_[spots, np.repeat(z, counts)],
        normals=np.tile([0.0, 0.0, 1.0], (points, 1)),
        area=float(areas.sum()),
    )


def _spread(shape: Polygon, count: int) -> Floats:
    """Return `count` points spread evenly over a plan shape."""
    x0, y0, x1, y1 = shape.bounds
    fill = shape.area / ((x1 - x0) * (y1 - y0))
    if fill > 1.0 - 1e-9:
        unit = _lattice(count, aspect=round((x1 - x0) / (y1 - y0), 3))
        return np.asarray(np.array([x0, y0]) + unit * np.array([x1 - x0, y1 - y0]))
    tried = int(count / fill * 1.5) + 32
    while True:
        unit = (0.5 + np.arange(1, tried + 1)[:, None] * _R2) % 1.0
        spots = np.array([x0, y0]) + unit * np.array([x1 - x0, y1 - y0])
        inside = spots[contains_xy(shape, spots[:, 0], spots[:, 1])]
        if len(inside) >= count:
            first: Floats = inside[:count]
            return first
        tried *= 2


@lru_cache(maxsize=64)
def _lattice(count: int, *, aspect: float) -> Floats:
    """Return the rank-1 lattice of the unit square whose nearest points lie furthest apart at that aspect."""
    place = np.arange(1, count)
    across = np.minimum(place, count - place) / count * aspect
    best, nearest = 1, 0.0
    for step in (one for one in range(1, count) if gcd(one, count) == 1):
        along = place * step % count
        apart = float((across**2 + (np.minimum(along, count - along) / count) ** 2).min()) if count > 1 else 1.0
        if apart > nearest * (1.0 + 1e-12):
            best, nearest = step, apart
    first = np.arange(count)
    return np.stack([(first + 0.5) / count, (first * best / count + 0.5) % 1.0], axis=1)


def _seat(side: Side, *, sign: int) -> Floats:
    inner, outer = sorted((sign * side.seat_inner, sign * side.seat_outer))
    return _rectangle(side.seat_from, side.seat_to, inner, outer)


def _helm(design: Design, *, port: Floats, starboard: Floats) -> tuple[list[Floats], list[float], bool]:
    """Return the plan of the place the helm is taken from, the height of each part, and whether it is on the sole."""
    cockpit = design.cockpit
    if cockpit.helm_seat is not None:
        aft, sides = cockpit.length, (-cockpit.port.seat_outer, cockpit.starboard.seat_outer)
        height = cockpit.helm_seat_height or cockpit.starboard.seat_height
        return [_rectangle(aft - cockpit.helm_seat, aft, *sides)], [height], False
    if design.steering.wheels:
        plans = []
        for wheel in design.steering.wheels:
            half = min(STANDING_HELM, cockpit.sole_width) / 2
            plans.append(
                _rectangle(wheel.at[0] + 0.1, wheel.at[0] + 0.1 + STANDING_HELM, wheel.at[1] - half, wheel.at[1] + half)
            )
        return plans, [0.0] * len(plans), True
    ends = [
        _rectangle(seat[:, 0].max() - TILLER_HELM, seat[:, 0].max(), *np.sort(seat[:2, 1]))
        for seat in (port, starboard)
    ]
    return ends, [cockpit.port.seat_height, cockpit.starboard.seat_height], False


def _sole(design: Design) -> Floats:
    start = design.cabin.bridge_deck.length if design.cabin.bridge_deck else 0.0
    half = design.cockpit.sole_width / 2
    end = design.cockpit.length - (design.cockpit.helm_seat or 0.0)
    return _rectangle(start, end, -half, half)


def _rectangle(x0: float, x1: float, y0: float, y1: float) -> Floats:
    return np.array([[x0, y0], [x0, y1], [x1, y1], [x1, y0]])

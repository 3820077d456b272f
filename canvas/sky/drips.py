"""Follow rain over the cloth: what each panel catches, where it runs off, and what it then drips on.

Computes: water caught by each vertex of each canvas surface; its path down the mesh from vertex to vertex; the spots on
    free edges where it leaves, with litres an hour; pools where it does not; which place lies below a drip.
Units: metres, boat frame; litres an hour; radians.
Source: steepest descent along the edges of the mesh, the vertical being the true one.
Limits: where two edges meet within 30 mm water runs on from one to the other, and where it stays at such a joint it is
    named as a pool though it may come through. Water that reaches a free edge runs along the hem to its lowest spot and
    leaves there. Nothing soaks through. How much a pool holds is canvas/cloth/pool.py.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.spatial import cKDTree

from canvas.air.attitude import to_boat, up_in_boat
from canvas.air.wind import wind_from
from canvas.cloth.faces import rim_of
from canvas.geometry.rays import Tracer, tracer_of
from canvas.geometry.scene import Scene
from canvas.geometry.surface import Bools, Floats, Ints, Surface, locked
from canvas.geometry.triangles import area_vectors
from canvas.sky.drops import drops

REACH = 0.15  # width about a drip within which a place below it is dripped on [m]; common practice, no source
LEAST = 0.01  # share of all the water below which a spot is not named
MEET = 0.03  # length within which two edges count as joined [m]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Drips:
    """Where water leaves the canvas.

    Attributes
    ----------
    surfaces : tuple of str
        The canvas, in the scene's order.
    caught : (s,) ndarray
        Water that each catches [l/h].
    spot : (k, 3) ndarray
        Where water leaves or stays [m].
    spot_surface : tuple of str
        The surface of each spot.
    litres : (k,) ndarray
        [l/h], most first.
    pools : (k,) ndarray of bool
        True where it stays in a hollow of the cloth or at a joint; False where it drips from a free edge.
    onto : tuple of str or None
        The place below each drip; None where it falls on nothing that is asked about.
    """

    surfaces: tuple[str, ...]
    caught: Floats
    spot: Floats
    spot_surface: tuple[str, ...]
    litres: Floats
    pools: Bools
    onto: tuple[str | None, ...]


def drips(
    scene: Scene, *, rate: float, aws: float = 0.0, awa: float = 0.0, heel: float = 0.0, trim: float = 0.0
) -> Drips:
    """Follow the rain that falls on a scene's canvas.

    Parameters
    ----------
    scene : Scene
    rate : float
        Rain rate [mm/h].
    aws, awa : float
        Apparent wind at the cockpit [m/s], [rad].
    heel, trim : float
        Positive starboard side down, positive stern down [rad].
    """
    up = up_in_boat(heel=heel, trim=trim)
    canvas = [one for one in scene.of_kind("cloth") if one.rain_through < 1.0]
    rain = drops(rate)
    fall = float(np.sum(rain.share) / np.sum(rain.share / rain.speed))
    towards = to_boat(aws * wind_from(awa) + np.array([0.0, 0.0, fall]), heel=heel, trim=trim)
    stream = rate * float(np.linalg.norm(towards)) / fall
    water = [
        _caught(scene, one, towards / np.linalg.norm(towards)) * stream * (1.0 - one.rain_through) for one in canvas
    ]
    sheet = _joined(canvas)
    lowest = _lowest(sheet, up)
    gathered = np.bincount(lowest, np.concatenate([*water, np.zeros(0)]), minlength=len(sheet.vertices))
    spots = np.flatnonzero(gathered > max(LEAST * float(gathered.sum()), 1e-9))
    spots = spots[np.argsort(-gathered[spots], kind="stable")]
    where = sheet.vertices[spots]
    pools = ~sheet.free[spots]
    return Drips(
        surfaces=tuple(one.name for one in canvas),
        caught=locked([one.sum() for one in water]),
        spot=locked(where),
        spot_surface=tuple(canvas[sheet.surface[k]].name for k in spots),
        litres=locked(gathered[spots]),
        pools=locked(pools, dtype=bool),
        onto=tuple(None if pool else _place_below(scene, at, up) for pool, at in zip(pools, where, strict=True)),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Sheet:
    """All canvas as one: vertices, the surface of each, whether on a free edge, and neighbours (e, 2) both ways."""

    vertices: Floats
    surface: Ints
    free: Bools
    sides: Ints


def _joined(canvas: list[Surface]) -> _Sheet:
    """Return the surfaces joined where their edges meet, as water runs on from one to the next."""
    counts = [len(one.vertices) for one in canvas]
    offsets = np.cumsum([0, *counts])
    vertices = np.vstack([np.zeros((0, 3)), *(one.vertices for one in canvas)])
    edge = np.zeros(len(vertices), dtype=bool)
    pairs = [np.zeros((0, 2), dtype=np.int64)]
    for one, offset in zip(canvas, offsets[:-1], strict=True):
        edge[offset + rim_of(one.faces)] = True
        pairs.append(one.faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2) + offset)
    surface = np.repeat(np.arange(len(canvas)), counts)
    on_edge = np.flatnonzero(edge)
    near = on_edge[cKDTree(vertices[on_edge]).query_pairs(MEET, output_type="ndarray")].reshape(-1, 2)
    near = near[surface[near[:, 0]] != surface[near[:, 1]]]
    edge[near.ravel()] = False
    sides = np.vstack([*pairs, near])
    return _Sheet(vertices=vertices, surface=surface, free=edge, sides=np.vstack([sides, sides[:, ::-1]]))


def _caught(scene: Scene, surface: Surface, towards: Floats) -> Floats:
    """Return for each vertex its share of the surface's area square to the rain that nothing shelters [m2]."""
    corners = surface.vertices[surface.faces]
    across = area_vectors(corners)
    facing = np.abs(across @ towards)
    bodies, cloths = _tracers(scene)
    middle = corners.mean(axis=1)
    way = np.broadcast_to(towards, middle.shape)
    open_to_it = ~bodies.occluded(middle, way)
    for other, tracer in cloths:
        if other is not surface:
            open_to_it &= ~tracer.occluded(middle, way)
    each = np.repeat(facing * open_to_it / 3.0, 3)
    return np.asarray(np.bincount(surface.faces.ravel(), each, minlength=len(surface.vertices)))


@lru_cache(maxsize=2)
def _tracers(scene: Scene) -> tuple[Tracer, tuple[tuple[Surface, Tracer], ...]]:
    """Return what keeps rain off canvas: all bodies as one, and each piece of canvas."""
    bodies = [one for one in scene.surfaces if one.kind not in ("vane", "crew", "cloth")]
    return tracer_of(*bodies), tuple((one, tracer_of(one)) for one in scene.of_kind("cloth"))


@lru_cache(maxsize=2)
def _below(scene: Scene) -> Tracer:
    """Return what a drip may land on."""
    return tracer_of(*scene.of_kind("boat", "solid", "tube", "cloth"))


def _lowest(sheet: _Sheet, up: Floats) -> Ints:
    """Return for each vertex the one its water ends at: down the steepest edge until no neighbour is lower."""
    height, sides = sheet.vertices @ up, sheet.sides
    run = np.linalg.norm(sheet.vertices[sides[:, 0]] - sheet.vertices[sides[:, 1]], axis=1)
    slope = (height[sides[:, 0]] - height[sides[:, 1]]) / np.maximum(run, 1e-3)
    order = np.lexsort((sides[:, 1], -slope, sides[:, 0]))
    start, first = np.unique(sides[order, 0], return_index=True)
    below = np.arange(len(height))
    steepest = order[first]
    falls = slope[steepest] > 1e-9
    below[start[falls]] = sides[steepest, 1][falls]
    while True:
        further = below[below]
        if np.array_equal(further, below):
            return below
        below = further


def _place_below(scene: Scene, spot: Floats, up: Floats) -> str | None:
    """Return the highest place on which a drip from a spot lands, unless something is in the way."""
    best: tuple[float, str] | None = None
    for place in scene.places:
        offset = spot - place.points
        drop = offset @ up
        aside = np.linalg.norm(offset - drop[:, None] * up, axis=1)
        under = (aside < REACH) & (drop > 0.0)
        if under.any() and (best is None or drop[under].min() < best[0]):
            best = (float(drop[under].min()), place.name)
    if best is None:
        return None
    stands = _below(scene)
    start = spot - 0.02 * up
    _, length = stands.first_hit(start[None], -up[None])
    return best[1] if length[0] > best[0] - 0.05 else None

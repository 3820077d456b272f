"""Find the minutes in which low sun reaches each place, where it comes in, and what would stop it.

Computes: by day, latitude and place, the minutes in which a sun below some altitude lights more than a tenth of the
    place, and those minutes weighted by the share lit; by which openings it comes; how much of it each panel that is
    not up, or a piece across one opening, would stop.
Units: minutes; radians; shares 0..1; metres, boat frame.
Source: the dome map; the sun after canvas/sky/sun.py.
Limits: clear weather. A panel of another set is tried in the shape it has there.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from canvas.geometry.panorama import GRAZING
from canvas.geometry.scene import Scene
from canvas.geometry.surface import Bools, Floats, Ints, Surface, locked
from canvas.sky.casters import caster_of
from canvas.sky.directions import stencil
from canvas.sky.dome import DomeMap, passing, place_tables, with_casters
from canvas.sky.dose import days_of
from canvas.sky.heading import Headings
from canvas.sky.openings import Openings, openings
from canvas.sky.sun import Sun, sun_directions

LOW = np.radians(30.0)  # altitude below which the sun comes in under a roof; common practice, no source
FOLLOWED = 140  # sample points of a place whose low sun is followed to what would stop it
REACHED = 0.10  # share of a place lit from which the sun counts as reaching it; project rule, no source


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LowSun:
    """Low sun on each place, and what would stop it.

    Attributes
    ----------
    names : tuple of str
        The places.
    day : (k,) ndarray of int
        Days of local mean solar time since 1970-01-01.
    latitude : (k,) ndarray
        [rad]
    minutes : (k, p) ndarray
        In which the low sun lights more than a tenth of the place.
    full_minutes : (k, p) ndarray
        Minutes weighted by the share lit.
    openings : Openings
        Where it comes in, all days together.
    tried : tuple of str
        Surfaces that are not up and were tried.
    stops : (t, p) ndarray
        Share of the full minutes that each of them would stop; nan where no low sun reaches the place.
    """

    names: tuple[str, ...]
    day: Ints
    latitude: Floats
    minutes: Floats
    full_minutes: Floats
    openings: Openings
    tried: tuple[str, ...]
    stops: Floats


def low_sun(
    scene: Scene,
    known: DomeMap,
    sun: Sun,
    *,
    headings: Headings,
    step_minutes: float = 10.0,
    heel: float = 0.0,
    trim: float = 0.0,
    below: float = LOW,
    candidates: Sequence[Surface] = (),
    stock: DomeMap | None = None,
) -> LowSun:
    """Return the minutes of low sun on each place.

    Parameters
    ----------
    scene : Scene
        The scene that the map is of.
    known : DomeMap
    sun : Sun
        Evenly stepped through whole days, see `mean_solar_times`.
    headings : Headings
    step_minutes : float
        The step between instants.
    heel, trim : float
        Positive starboard side down, positive stern down [rad].
    below : float
        Altitude of the sun below which it is low [rad].
    candidates : sequence of Surface
        Canvas that is not up and might stop it.
    stock : DomeMap or None
        A map on the same directions that may hold them traced already.
    """
    low = sun.up & (sun.apparent_altitude < below)
    day, latitude, gather = days_of(sun)
    ways = [sun_directions(sun, heading=angle, heel=heel, trim=trim) for angle in headings.angles]
    tables = place_tables(known)
    minutes, full = np.zeros((2, len(tables.names), len(low)))
    for weight, way in zip(headings.weights, ways, strict=True):
        lit = stencil(known.grid, way).of(tables.lit) * low
        minutes += weight * (lit > REACHED) * step_minutes
        full += weight * lit * step_minutes
    weights = _node_weights(known, ways, headings, low)
    names = {one.name for one in candidates} - {one.name for one in scene.surfaces}
    tried = [one for one in candidates if one.name in names]
    return LowSun(
        names=tables.names,
        day=locked(day, dtype=np.int64),
        latitude=locked(latitude),
        minutes=locked(gather @ minutes.T),
        full_minutes=locked(gather @ full.T),
        openings=openings(scene, known, weights=weights),
        tried=tuple(one.name for one in tried),
        stops=locked(_stopped(known, weights, tried, stock=stock)),
    )


def _node_weights(known: DomeMap, ways: Sequence[Floats], headings: Headings, low: Bools) -> Floats:
    """Return how much of the low sun's time belongs to each node."""
    weights = np.zeros(len(known.grid.directions))
    for weight, way in zip(headings.weights, ways, strict=True):
        here = stencil(known.grid, way[low])
        weights += weight * np.bincount(here.nodes.ravel(), here.weights.ravel(), minlength=len(weights))
    return weights


def _stopped(known: DomeMap, weights: Floats, tried: Sequence[Surface], *, stock: DomeMap | None) -> Floats:
    """Return the share of the low sun that each surface would stop of what reaches each place, (t, p)."""
    nodes = np.flatnonzero(weights)
    casters = [caster_of(one) for one in tried]
    held = with_casters(known if stock is None else stock, casters)
    number = [held.number_of(one) for one in casters]
    stops = np.zeros((len(tried), len(known.places)))
    with np.errstate(invalid="ignore"):  # 0/0 where no low sun comes
        for p, (place, rows) in enumerate(zip(known.places, known.slices(), strict=True)):
            some = slice(rows.start, rows.stop, max(1, len(place.points) // FOLLOWED))
            faced = place.normals[:: some.step] @ known.grid.directions[nodes].T > GRAZING
            reaching = passing(known, some)[:, nodes] * faced * weights[nodes]
            for k, one in enumerate(number):
                share = 1.0 - held.casters[one].passes("light")
                stops[k, p] = share * reaching[held.met(one, some)[:, nodes]].sum() / reaching.sum()
    return stops

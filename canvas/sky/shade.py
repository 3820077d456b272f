"""Say how much of each place is out of direct sun: at one time, and over many.

Computes: the shade share of each place (share of its area out of direct sun) with its limits, at one time by direct
    rays and over many by the map; what each panel does at one time.
Units: radians; shares 0..1.
Source: any-hit rays; canvas/sky/dome.py for the map and its error.
Limits: what windows and mesh let through counts as sunlit by its share; a point sun.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from canvas.geometry.scene import Scene
from canvas.geometry.surface import Floats, locked
from canvas.sky.direct import traced_panels
from canvas.sky.dome import PlaceTables, light_from
from canvas.sky.heading import Headings
from canvas.sky.sun import Sun, directions


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ShadeAt:
    """Shade at one time.

    Attributes
    ----------
    names : tuple of str
        The places.
    share, low, high : (p,) ndarray
        Share of each place's area out of direct sun; 1 with the sun down.
    panels : tuple of str
    keeps_off, only_it : (k, p) ndarray
        Share of the place shaded by each panel were it up by itself; share that turns sunlit if it alone is struck.
    """

    names: tuple[str, ...]
    share: Floats
    low: Floats
    high: Floats
    panels: tuple[str, ...]
    keeps_off: Floats
    only_it: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ShadeHours:
    """Shade at many times.

    Attributes
    ----------
    names : tuple of str
        The places.
    share, low, high : (p, m) ndarray
        Share of each place's area out of direct sun; nan with the sun down.
    """

    names: tuple[str, ...]
    share: Floats
    low: Floats
    high: Floats


def shade_at(
    scene: Scene, *, azimuth: float, altitude: float, headings: Headings, heel: float = 0.0, trim: float = 0.0
) -> ShadeAt:
    """Trace the shade with the sun in one place.

    Parameters
    ----------
    scene : Scene
    azimuth, altitude : float
        Of the sun as it is seen, clockwise from true north and above the sea's horizon [rad].
    headings : Headings
    heel, trim : float
        Positive starboard side down, positive stern down [rad].
    """
    towards = directions(azimuth, altitude, heading=headings.angles, heel=heel, trim=trim)
    traced = traced_panels(scene, towards)
    night = altitude <= 0.0
    w = np.zeros_like(headings.weights) if night else headings.weights
    low, high = 1.0 - traced.light.high @ w, 1.0 - traced.light.low @ w
    return ShadeAt(
        names=traced.light.names,
        share=locked(1.0 - traced.light.lit @ w),
        low=locked(low),
        high=locked(high),
        panels=traced.panels,
        keeps_off=locked(traced.keeps_off @ w),
        only_it=locked(traced.only_it @ w),
    )


def shade_hours(
    tables: PlaceTables, sun: Sun, *, headings: Headings, heel: float = 0.0, trim: float = 0.0
) -> ShadeHours:
    """Look up the shade at many times.

    Parameters
    ----------
    tables : PlaceTables
        Of the map, for ``light``.
    sun : Sun
    headings : Headings
    heel, trim : float
        [rad]
    """
    up = sun.up
    out = np.full((3, len(tables.names), len(up)), np.nan)
    total = np.zeros((3, len(tables.names), int(up.sum())))
    for angle, weight in zip(headings.angles, headings.weights, strict=True):
        towards = directions(sun.azimuth[up], sun.apparent_altitude[up], heading=angle, heel=heel, trim=trim)
        light = light_from(tables, towards)
        total += weight * (1.0 - np.stack([light.lit, light.high, light.low]))
    out[:, :, up] = total
    share, low, high = (locked(one) for one in out)
    return ShadeHours(names=tables.names, share=share, low=low, high=high)

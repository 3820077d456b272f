"""Trace rain on a few places directly, such as the person on watch.

Computes: for each place the share of its area wetted with limits, and litres an hour, by apparent wind.
Units: radians; metres a second; rain rate in mm/h; litres an hour; shares 0..1.
Source: as canvas/sky/rain.py, each direction traced instead of looked up.
Limits: as canvas/sky/rain.py, with fewer classes of drops and moments of a roll; bodies are bare, and one limb does not
    shelter another.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from canvas.geometry.scene import Place, Scene
from canvas.sky.direct import traced_light
from canvas.sky.drops import drops
from canvas.sky.rain import RainRose, drop_velocity, rose_of

CLASSES, MOMENTS = 4, 2  # classes of drops, moments of a roll


def rain_on(
    scene: Scene,
    places: Sequence[Place],
    *,
    aws: npt.ArrayLike,
    awa: npt.ArrayLike,
    rate: float,
    heel: float = 0.0,
    roll: float = 0.0,
) -> RainRose:
    """Return what rain wets on some places.

    Parameters
    ----------
    scene : Scene
    places : sequence of Place
    aws, awa : array_like
        Apparent winds at the height of the cockpit [m/s], and their angles [rad].
    rate : float
        Rain rate [mm/h].
    heel, roll : float
        Positive starboard side down; how far she rolls to either side of it [rad].
    """
    speeds, angles = (np.atleast_1d(np.asarray(a, dtype=float)) for a in (aws, awa))
    rain = drops(rate, classes=CLASSES)
    moments = 1 if roll == 0.0 else MOMENTS
    velocity = drop_velocity(rain, speeds, angles, heel=heel, trim=0.0, roll=roll, phases=moments)
    pace = np.linalg.norm(velocity, axis=-1)
    light = traced_light(replace(scene, places=tuple(places)), -velocity.reshape(-1, 3), through="rain")
    open_flux = np.stack([
        np.maximum(-(place.normals @ (velocity / pace[..., None]).reshape(-1, 3).T), 0.0).mean(axis=0)
        for place in places
    ])  # fmt: skip
    areas = np.array([place.area for place in places])
    return rose_of(light, open_flux, areas=areas, rain=rain, pace=pace, aws=speeds, awa=angles)

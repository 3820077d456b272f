"""Say what rain wets: by wind angle and speed, heel and roll, as a rose.

Computes: for each place, the share of its area wetted with limits, litres an hour on it, and a verdict; where the water
    comes in.
Units: radians; metres a second; rain rate in mm/h; litres an hour; shares 0..1.
Source: drop sizes and speeds after canvas/sky/drops.py; a drop moves with the apparent wind and falls at its terminal
    speed; the dome map says what it meets.
Limits: straight paths in an even wind, no spray, no splash, no flow round the cloth and no gust: real rain is thrown in
    further at an edge by some tens of centimetres. The wind is that at the height of the cockpit. Rolling is a sine.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from canvas.air.attitude import to_boat
from canvas.air.wind import wind_from
from canvas.geometry.scene import Scene
from canvas.geometry.surface import Floats, locked
from canvas.sky.directions import stencil
from canvas.sky.dome import DomeMap, PlaceLight, light_from, place_tables, undivided
from canvas.sky.drops import Drops, drops
from canvas.sky.openings import Openings, openings

PHASES = 6  # moments of a roll, evenly through its time
DRY = 0.10  # share of a place up to which it counts as dry; project rule, no source

Verdict = Literal["pass", "fail", "close"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RainRose:
    """What rain wets, by apparent wind.

    Attributes
    ----------
    names : tuple of str
        The places.
    awa : (m,) ndarray
        Apparent wind angles [rad].
    aws : (s,) ndarray
        Apparent wind speeds at the cockpit [m/s].
    rate : float
        Rain rate [mm/h].
    wetted_share, low, high : (s, m, p) ndarray
        Share of each place's area that the rain reaches, each class of drops counted by the water it brings.
    litres : (s, m, p) ndarray
        Water on the place [l/h].
    litres_open : (s, m, p) ndarray
        The same with nothing in the way [l/h].
    """

    names: tuple[str, ...]
    awa: Floats
    aws: Floats
    rate: float
    wetted_share: Floats
    low: Floats
    high: Floats
    litres: Floats
    litres_open: Floats

    def verdicts(self) -> npt.NDArray[np.str_]:
        """Return by speed, angle and place, (s, m, p): ``pass`` where it stays dry, ``fail`` if not, or ``close``."""
        return np.where(self.high <= DRY, "pass", np.where(self.low > DRY, "fail", "close"))


def rain_rose(
    known: DomeMap,
    *,
    aws: npt.ArrayLike,
    awa: npt.ArrayLike,
    rate: float,
    heel: float = 0.0,
    trim: float = 0.0,
    roll: float = 0.0,
) -> RainRose:
    """Return what rain wets at some apparent winds.

    Parameters
    ----------
    known : DomeMap
        Read on its undivided grid: drops come from many ways, the sun from one.
    aws : array_like, shape (s,)
        Apparent wind speeds at the height of the cockpit [m/s].
    awa : array_like, shape (m,)
        Apparent wind angles, from the bow, positive to starboard [rad].
    rate : float
        Rain rate [mm/h].
    heel, trim : float
        Positive starboard side down, positive stern down [rad].
    roll : float
        How far she rolls to either side of the heel [rad].
    """
    speeds, angles = (np.atleast_1d(np.asarray(a, dtype=float)) for a in (aws, awa))
    rain, known = drops(rate), undivided(known)
    tables = place_tables(known, through="rain")
    velocity = drop_velocity(rain, speeds, angles, heel=heel, trim=trim, roll=roll)
    pace = np.linalg.norm(velocity, axis=-1)
    light = light_from(tables, -velocity.reshape(-1, 3))
    open_flux = stencil(known.grid, -velocity.reshape(-1, 3)).of(tables.flux_open)
    areas = np.array([place.area for place in known.places])
    return rose_of(light, open_flux, areas=areas, rain=rain, pace=pace, aws=speeds, awa=angles)


def rose_of(
    light: PlaceLight,
    open_flux: Floats,
    *,
    areas: Floats,
    rain: Drops,
    pace: Floats,
    aws: Floats,
    awa: Floats,
) -> RainRose:
    """Return the rose from what reaches each place along the way of every drop.

    Parameters
    ----------
    light : PlaceLight
        Of the ways of the drops, speeds, angles, classes and moments one after another.
    open_flux : (p, s m k j) ndarray
        What its flux would be with nothing in the way.
    areas : (p,) ndarray
        [m2]
    rain : Drops
    pace : (s, m, k, j) ndarray
        Of the drops past the boat, by speed, angle, class and moment of the roll [m/s].
    aws, awa : (s,), (m,) ndarray
        [m/s], [rad]
    """
    moments = pace.shape[-1]
    # water in the air of each class is rate x share / fall speed; it meets an area square to it at the drop's own pace
    stream = rain.rate * (rain.share / rain.speed)[:, None] * pace / moments
    even = np.broadcast_to(rain.share[:, None] / moments, pace.shape)

    def summed(values: Floats, weights: Floats) -> Floats:
        return np.asarray(np.einsum("psmkj,smkj->smp", values.reshape(-1, *pace.shape), weights))

    return RainRose(
        names=light.names,
        awa=locked(awa),
        aws=locked(aws),
        rate=rain.rate,
        wetted_share=locked(summed(light.lit, even)),
        low=locked(summed(light.low, even)),
        high=locked(summed(light.high, even)),
        litres=locked(summed(light.flux, stream) * areas),
        litres_open=locked(summed(open_flux, stream) * areas),
    )


def rain_openings(
    scene: Scene,
    known: DomeMap,
    *,
    aws: float,
    awa: float,
    rate: float,
    heel: float = 0.0,
    trim: float = 0.0,
    roll: float = 0.0,
) -> Openings:
    """Find where the rain of one apparent wind comes in; arguments as in `rain_rose`.

    Parameters
    ----------
    scene : Scene
    known : DomeMap
        Of that scene.
    aws : float
        Apparent wind speed at the height of the cockpit [m/s].
    awa : float
        Apparent wind angle, from the bow, positive to starboard [rad].
    rate : float
        Rain rate [mm/h].
    heel, trim : float
        Positive starboard side down, positive stern down [rad].
    roll : float
        How far she rolls to either side of the heel [rad].
    """
    rain, known = drops(rate), undivided(known)
    velocity = drop_velocity(rain, np.array([aws]), np.array([awa]), heel=heel, trim=trim, roll=roll)[0, 0]
    stream = (rain.share / rain.speed)[:, None] * np.linalg.norm(velocity, axis=-1)
    here = stencil(known.grid, -velocity.reshape(-1, 3))
    weights = np.bincount(
        here.nodes.ravel(),
        (here.weights * stream.reshape(-1, 1)).ravel(),
        minlength=len(known.grid.directions),
    )
    return openings(scene, known, weights=weights, through="rain")


def drop_velocity(
    rain: Drops, aws: Floats, awa: Floats, *, heel: float, trim: float, roll: float, phases: int = PHASES
) -> Floats:
    """Return the drops' velocity against the boat, in the boat frame, (s, m, k, phases, 3) [m/s].

    Parameters
    ----------
    rain : Drops
    aws, awa : (s,), (m,) ndarray
        [m/s], [rad]
    heel, trim, roll : float
        [rad]
    phases : int
        Moments of a roll.
    """
    carried = -aws[:, None, None] * wind_from(awa)
    falling = np.stack([np.zeros_like(rain.speed), np.zeros_like(rain.speed), -rain.speed], axis=-1)
    level = carried[:, :, None, None, :] + falling[:, None, :]
    heels = heel + roll * np.sin(2.0 * np.pi * (np.arange(phases) + 0.5) / phases)
    return to_boat(level, heel=heels, trim=trim)

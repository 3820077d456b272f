"""Say how large rain drops are at a rain rate, and how fast they fall.

Computes: classes of drop size with the share of the water each brings down; terminal speeds; how steeply drops fall in
    wind and what reaches an upright wall.
Units: metres, metres a second; rain rate in mm/h (litres an hour on a square metre).
Source: sizes from Best, The size distribution of raindrops, QJRMS 76 (1950); speeds measured by Gunn and
    Kinzer, J. Meteorology 6 (1949), at 20 C and 101.3 kPa, interpolated in logarithms.
Limits: drops at their terminal speed, carried along with a level, even wind; no gusts and no flow round the boat. A
    real shower may hold half as much water again in any class. Best's classes give the rain rate back within 10 % from
    0.5 to 100 mm/h; the water is scaled to the rate asked for.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.interpolate import PchipInterpolator

from canvas.geometry.surface import Floats, locked

CLASSES = 12
# fmt: off
MEASURED_MM = (  # diameters of the measured drops [mm]
    0.078, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1, 1.2, 1.4, 1.6, 1.8, 2, 2.2, 2.4, 2.6, 2.8, 3, 3.2,
    3.4, 3.6, 3.8, 4, 4.2, 4.4, 4.6, 4.8, 5, 5.2, 5.4, 5.6, 5.8,
)
MEASURED_SPEED = (  # their speeds [m/s]
    0.18, 0.27, 0.72, 1.17, 1.62, 2.06, 2.47, 2.87, 3.27, 3.67, 4.03, 4.64, 5.17, 5.65, 6.09, 6.49, 6.9,
    7.27, 7.57, 7.82, 8.06, 8.26, 8.44, 8.6, 8.72, 8.83, 8.92, 8.98, 9.03, 9.07, 9.09, 9.12, 9.14, 9.16,
    9.17,
)
# fmt: on


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Drops:
    """Rain as classes of drops.

    Attributes
    ----------
    rate : float
        Rain rate [mm/h].
    diameter, speed : (k,) ndarray
        Of each class [m], and its fall [m/s].
    share : (k,) ndarray
        Share of the rain rate that each class brings down.
    """

    rate: float
    diameter: Floats
    speed: Floats
    share: Floats


def terminal_speed(diameter: npt.ArrayLike) -> Floats:
    """Return the speed at which drops fall in still air.

    Parameters
    ----------
    diameter : array_like
        Of a ball of the same volume; above 5.8 mm taken as 5.8 mm, near which drops break [m].

    Returns
    -------
    ndarray
        [m/s]
    """
    known, speed = np.log(np.array(MEASURED_MM) / 1000.0), np.log(np.array(MEASURED_SPEED))
    d = np.log(np.minimum(np.asarray(diameter, dtype=float), MEASURED_MM[-1] / 1000.0))
    steepness = (speed[1] - speed[0]) / (known[1] - known[0])
    below = speed[0] + steepness * (d - known[0])
    return np.asarray(np.exp(np.where(d < known[0], below, PchipInterpolator(known, speed)(np.maximum(d, known[0])))))


def scale_diameter(rate: float) -> float:
    """Return Best's scale a = 1.30 R^0.232 of the drop sizes [m], `rate` in [mm/h]; half the water is below 0.85 a."""
    return 1.30e-3 * float(np.power(rate, 0.232))


def water_in_air(rate: float) -> float:
    """Return the share of water in air by Best, 67 R^0.846 mm3 a cubic metre [m3/m3], `rate` in [mm/h]."""
    return 67.0e-9 * float(np.power(rate, 0.846))


def size_below(share: npt.ArrayLike, *, rate: float) -> Floats:
    """Return the diameter below which a share of the water in the air lies: 1 - F = exp(-(d/a)^2.25) [m].

    Parameters
    ----------
    share : array_like
        0..1; the result is shaped as it.
    rate : float
        Rain rate [mm/h].
    """
    f = np.asarray(share, dtype=float)
    return np.asarray(scale_diameter(rate) * (-np.log1p(-f)) ** (1.0 / 2.25))


def drops(rate: float, *, classes: int = CLASSES) -> Drops:
    """Return the drops of a rain rate, in classes that hold the same water in the air.

    Parameters
    ----------
    rate : float
        Rain rate [mm/h]; 2 light, 10 moderate, 50 a tropical squall.
    classes : int
        How many.

    Raises
    ------
    ValueError
        When the rate is not above 0.
    """
    if not rate > 0.0:
        raise ValueError(f"a rain rate is above 0 mm/h; found {rate:g}")
    diameter = size_below((np.arange(classes) + 0.5) / classes, rate=rate)
    speed = terminal_speed(diameter)
    return Drops(rate=rate, diameter=locked(diameter), speed=locked(speed), share=locked(speed / speed.sum()))


def driving_rain(rate: float, *, wind: npt.ArrayLike) -> Floats:
    """Return what falls on an open upright wall that faces the wind.

    Parameters
    ----------
    rate : float
        On the level [mm/h].
    wind : array_like
        [m/s]

    Returns
    -------
    ndarray
        [litres an hour on a square metre]
    """
    rain = drops(rate)
    # each class has the water rate share / speed in the air, and is carried on at the speed of the wind
    return np.asarray(rain.rate * float(np.sum(rain.share / rain.speed)) * np.asarray(wind, dtype=float))

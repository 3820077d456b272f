"""Compute apparent wind from true wind and boat speed, and back.

Computes: apparent wind speed and angle; the sea state that rain, flow and loads share; dynamic pressure.
Units: metres a second, radians; angles from the bow, positive to starboard, in (-pi, pi].
Source: vector sum; dynamic pressure q = rho V^2 / 2 with the ISO 2533 standard atmosphere at sea level.
Limits: no leeway, heel or current; heel and trim turn the boat under an unchanged level wind.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

KNOT = 1852.0 / 3600.0  # [m/s], exact: international nautical mile an hour
AIR_DENSITY = 1.225  # [kg/m3], ISO 2533 at sea level, 15 C; warm moist air is about 5 % less

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class SeaState:
    """Wind at the instrument and how the boat lies in it.

    Attributes
    ----------
    aws : float
        Apparent wind speed at the instrument's height [m/s].
    awa : float
        Apparent wind angle from the bow, positive to starboard [rad].
    heel : float
        Positive starboard side down [rad].
    trim : float
        Positive stern down [rad].
    """

    aws: float
    awa: float
    heel: float = 0.0
    trim: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Wind:
    """Wind as speed and the angle it comes from.

    Attributes
    ----------
    speed : ndarray
        [m/s]
    angle : ndarray
        From the bow, positive to starboard [rad].
    """

    speed: Floats
    angle: Floats


def apparent(true_speed: npt.ArrayLike, true_angle: npt.ArrayLike, boat_speed: npt.ArrayLike) -> Wind:
    """Return the apparent wind of a boat moving ahead through a true wind.

    Parameters
    ----------
    true_speed, boat_speed : array_like
        [m/s]
    true_angle : array_like
        From the bow, positive to starboard [rad].
    """
    tws, twa, bs = np.broadcast_arrays(*(np.asarray(a, dtype=float) for a in (true_speed, true_angle, boat_speed)))
    ahead = tws * np.cos(twa) + bs
    abeam = tws * np.sin(twa)
    return Wind(speed=np.hypot(ahead, abeam), angle=np.arctan2(abeam, ahead))


def true_wind(apparent_speed: npt.ArrayLike, apparent_angle: npt.ArrayLike, boat_speed: npt.ArrayLike) -> Wind:
    """Return the true wind that gives an apparent wind to a boat moving ahead; the inverse of `apparent`.

    Parameters
    ----------
    apparent_speed, boat_speed : array_like
        Broadcast against each other and the angle [m/s].
    apparent_angle : array_like
        From the bow, positive to starboard [rad].
    """
    return apparent(apparent_speed, apparent_angle, -np.asarray(boat_speed, dtype=float))


def wind_from(angle: npt.ArrayLike) -> Floats:
    """Return the unit vector, in the boat frame, that points to where the wind comes from.

    Parameters
    ----------
    angle : array_like, shape (...)
        From the bow, positive to starboard [rad].

    Returns
    -------
    (..., 3) ndarray
        x aft, y starboard, z up; boat upright.
    """
    awa = np.asarray(angle, dtype=float)
    return np.stack([-np.cos(awa), np.sin(awa), np.zeros_like(awa)], axis=-1)


def dynamic_pressure(speed: npt.ArrayLike, *, density: float = AIR_DENSITY) -> Floats:
    """Return q = rho V^2 / 2.

    Parameters
    ----------
    speed : array_like
        [m/s]
    density : float
        [kg/m3]

    Returns
    -------
    ndarray
        [Pa]
    """
    return 0.5 * density * np.asarray(speed, dtype=float) ** 2

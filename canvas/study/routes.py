"""Lay rhumb lines and great circles between two places.

Computes: distance, course and points along the way.
Units: metres; radians, north and east positive; courses clockwise from true north.
Source: spherical trigonometry and the Mercator projection, as in E. Williams, Aviation Formulary, V1.47.
Limits: a sphere of the earth's mean radius, within 0.6 % of distances on the spheroid; no land, no current. A great
    circle between opposite points of the earth has no one course and is refused, as is a rhumb line from or to a pole.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from canvas.geometry.surface import Floats, locked

EARTH_RADIUS = 6_371_008.8  # mean radius (2a + b) / 3 of the spheroid GRS80 [m], IUGG
AT_POLE = np.radians(0.01)  # nearer to a pole than this, a rhumb line winds without end
LEVEL = 1e-9  # difference of latitude under which a rhumb line runs along its parallel [rad]

Along = Literal["rhumb line", "great circle"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Route:
    """A way from one place to another, with points evenly along it.

    Attributes
    ----------
    distance : float
        [m]
    share : (k,) ndarray
        Of the distance, 0 at the start.
    latitude, longitude : (k,) ndarray
        [rad]
    course : (k,) ndarray
        Clockwise from true north [rad].
    """

    distance: float
    share: Floats
    latitude: Floats
    longitude: Floats
    course: Floats


def turned(angle: npt.ArrayLike) -> Floats:
    """Return an angle [rad], shaped as it came, brought to (-pi, pi]: the short way round, across the date line too."""
    return np.asarray(np.pi - (np.pi - np.asarray(angle, dtype=float)) % (2.0 * np.pi))


def route(
    start: tuple[float, float],
    end: tuple[float, float],
    *,
    along: Along = "rhumb line",
    share: npt.ArrayLike = (0.0, 1.0),
) -> Route:
    """Return the way between two places.

    Parameters
    ----------
    start, end : tuple of float
        Latitude and longitude [rad].
    along : str
    share : array_like, shape (k,)
        Where points are wanted, as shares of the distance.

    Raises
    ------
    ValueError
        Where the two places do not fix one way; the message says what would.
    """
    where = np.atleast_1d(np.asarray(share, dtype=float))
    return _rhumb_line(start, end, where) if along == "rhumb line" else _great_circle(start, end, where)


def _stretched(latitude: npt.ArrayLike) -> Floats:
    """Return the Mercator latitude, asinh(tan(lat))."""
    return np.asarray(np.arcsinh(np.tan(np.asarray(latitude, dtype=float))))


def _rhumb_line(start: tuple[float, float], end: tuple[float, float], share: Floats) -> Route:
    (lat1, lon1), (lat2, lon2) = start, end
    if max(abs(lat1), abs(lat2)) > np.pi / 2 - AT_POLE:
        raise ValueError("A rhumb line never reaches a pole: sail a great circle there, or start a little off it.")
    east, north = float(turned(lon2 - lon1)), lat2 - lat1
    up = float(_stretched(lat2) - _stretched(lat1))
    course = float(np.arctan2(east, up)) % (2.0 * np.pi)
    narrowing = north / up if abs(north) > LEVEL else float(np.cos(lat1))
    latitude = lat1 + share * north
    gone = (_stretched(latitude) - _stretched(lat1)) / up if abs(north) > LEVEL else share
    return Route(
        distance=EARTH_RADIUS * float(np.hypot(north, narrowing * east)),
        share=locked(share),
        latitude=locked(latitude),
        longitude=locked(turned(lon1 + east * gone)),
        course=locked(np.full(len(share), course)),
    )


def _unit(latitude: float, longitude: float) -> Floats:
    return np.array([np.cos(latitude) * np.cos(longitude), np.cos(latitude) * np.sin(longitude), np.sin(latitude)])


def _great_circle(start: tuple[float, float], end: tuple[float, float], share: Floats) -> Route:
    a, b = _unit(*start), _unit(*end)
    across = np.cross(a, b)
    size = float(np.linalg.norm(across))
    angle = float(np.arctan2(size, a @ b))
    if size < 1e-12:
        if a @ b < 0:
            raise ValueError("The two places lie opposite on the earth: name one between them.")
        return Route(
            distance=0.0,
            share=locked(share),
            latitude=locked(np.full(len(share), start[0])),
            longitude=locked(np.full(len(share), start[1])),
            course=locked(np.zeros(len(share))),
        )
    ahead = np.cross(across / size, a)
    points = np.cos(angle * share)[:, None] * a + np.sin(angle * share)[:, None] * ahead
    towards = -np.sin(angle * share)[:, None] * a + np.cos(angle * share)[:, None] * ahead
    longitude = np.arctan2(points[:, 1], points[:, 0])
    level = np.hypot(points[:, 0], points[:, 1])
    east = np.stack([-np.sin(longitude), np.cos(longitude), np.zeros_like(longitude)], axis=1)
    north = np.cross(points, east)
    course = np.arctan2((towards * east).sum(axis=1), (towards * north).sum(axis=1)) % (2.0 * np.pi)
    return Route(
        distance=EARTH_RADIUS * angle,
        share=locked(share),
        latitude=locked(np.arctan2(points[:, 2], level)),
        longitude=locked(longitude),
        course=locked(course),
    )

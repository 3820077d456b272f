"""Say at which apparent wind angle each course is sailed, and which true wind gives an apparent wind on it.

Computes: courses by name with their apparent wind angle; the true wind for a lowest steering wind.
Units: metres a second; radians, from the bow, positive to starboard.
Source: vector triangle with the boat speeds of the design.
Limits: one true wind stands for the angle of each course (12 kn, common practice, no source); the wind is taken on the
    starboard side; at anchor the boat lies still, head to wind.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq

from canvas.air.wind import KNOT, apparent
from canvas.design.schema.boat import BoatSpeed, Sailing
from canvas.design.schema.design import AT_ANCHOR
from canvas.design.tables import default
from canvas.study.sailing import boat_speed, lowest_angle

TYPICAL = 12.0 * KNOT  # true wind that stands for a course's angle [m/s]
STEP = np.radians(5.0)  # angles of the flow's rose are rounded to this
STRONGEST = 60.0 * KNOT  # no true wind above this is looked for [m/s]


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """A course.

    Attributes
    ----------
    name : str
    true_angle : float or None
        [rad]; None at anchor.
    awa : float
        Apparent wind angle at a typical wind, to the nearest step of the rose [rad].
    """

    name: str
    true_angle: float | None
    awa: float


def speeds_of(sailing: Sailing) -> Sequence[BoatSpeed]:
    """Return the declared boat speeds, or a share of the true wind up to a most where none are declared."""
    if sailing.boat_speed:
        return sailing.boat_speed
    share, most = default("boat_speed_share"), default("boat_speed_most")
    return [
        BoatSpeed.model_construct(true_wind=wind, close_hauled=pace, reach=pace, run=pace)
        for wind in (4 * KNOT, 8 * KNOT, most / share, 40 * KNOT)
        for pace in (min(share * wind, most),)
    ]


def courses(sailing: Sailing) -> tuple[Course, ...]:
    """Return the courses asked about: close-hauled, reach, three runs, and, apart, at anchor."""
    speeds = speeds_of(sailing)
    close = sailing.close_hauled_awa
    named = {
        "close-hauled": lowest_angle(speeds, TYPICAL, awa=close),
        "reach": np.pi / 2,
        "run 120": np.radians(120.0),
        "run 150": np.radians(150.0),
        "run 180": np.pi,
    }
    found = []
    for name, angle in named.items():
        pace = boat_speed(speeds, TYPICAL, float(angle), awa=close)
        awa = float(apparent(TYPICAL, angle, pace).angle)
        found.append(Course(name=name, true_angle=float(angle), awa=float(np.round(awa / STEP) * STEP)))
    return (*found, Course(name=AT_ANCHOR, true_angle=None, awa=0.0))


def true_wind_for(course: Course, apparent_speed: float, *, sailing: Sailing) -> float | None:
    """Return the true wind that gives an apparent wind on a course; None where no wind up to 60 kn does.

    Parameters
    ----------
    course : Course
    apparent_speed : float
        At the instrument [m/s].
    sailing : Sailing
    """
    if course.true_angle is None:
        return apparent_speed
    speeds, angle = speeds_of(sailing), course.true_angle

    def short(true_speed: float) -> float:
        pace = boat_speed(speeds, true_speed, angle, awa=sailing.close_hauled_awa)
        return float(apparent(true_speed, angle, pace).speed) - apparent_speed

    if short(STRONGEST) < 0:
        return None
    return float(brentq(short, 1e-3, STRONGEST))

"""Say how fast the boat sails in a true wind, and how she beats where it lies too near her course.

Computes: boat speed by true wind speed and angle; the lowest angle she can lie; the ways of lying in which a wind of a
    passage is sailed, with the apparent wind, the heel and the share of the time that each takes.
Units: metres a second; radians, angles from the bow, positive to starboard.
Source: vector triangle; boat speeds as typed in, straight lines between them.
Limits: three angles a wind; above the strongest wind typed in the boat goes no faster, below the weakest her speed
    falls in a straight line to none in a calm; no current, no leeway. Beating takes the two tacks that make the course
    good.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from canvas.air.wind import Wind, apparent
from canvas.design.schema.boat import BoatSpeed, Sailing
from canvas.design.schema.voyage import WindCell
from canvas.geometry.surface import Floats

HEELS_TO = np.pi / 2  # apparent wind angle up to which she heels; abaft it she rolls


@dataclass(frozen=True, slots=True, kw_only=True)
class Lying:
    """One way of lying in one wind.

    Attributes
    ----------
    true_speed, true_angle : float
        The wind: speed, and angle off the bow as she lies [m/s, rad].
    off_course : float
        Heading less the leg's course [rad].
    boat_speed, made_good : float
        Through the water, and along the course [m/s].
    aws, awa : float
        Apparent wind at the instrument [m/s, rad].
    heel : float
        Positive starboard side down [rad].
    share : float
        Of the leg's time.
    beating : bool
    """

    true_speed: float
    true_angle: float
    off_course: float
    boat_speed: float
    made_good: float
    aws: float
    awa: float
    heel: float
    share: float
    beating: bool

    @property
    def felt(self) -> Wind:
        """The apparent wind at the instrument."""
        return Wind(speed=np.asarray(self.aws), angle=np.asarray(self.awa))


def lowest_angle(speeds: Sequence[BoatSpeed], true_speed: float, *, awa: float) -> float:
    """Return the true wind angle at which the boat lies close-hauled [rad].

    Parameters
    ----------
    speeds : sequence of BoatSpeed
    true_speed : float
        [m/s]
    awa : float
        Apparent wind angle close-hauled [rad].

    Notes
    -----
    By the law of sines in the wind triangle: TWA = AWA + asin(v sin(AWA) / TWS).
    """
    boat = at_wind(speeds, true_speed)[0]
    return float(awa + np.arcsin(min(boat * np.sin(awa) / true_speed, 1.0)))


def at_wind(speeds: Sequence[BoatSpeed], true_speed: float) -> Floats:
    """Return boat speed close-hauled, reaching and running, (3,), in a true wind of `true_speed` [m/s]."""
    known = sorted(speeds, key=lambda one: one.true_wind)
    winds = [0.0, *(one.true_wind for one in known)]
    columns = [[0.0, *(getattr(one, key) for one in known)] for key in ("close_hauled", "reach", "run")]
    return np.array([np.interp(true_speed, winds, column) for column in columns])


def boat_speed(speeds: Sequence[BoatSpeed], true_speed: float, true_angle: float, *, awa: float) -> float:
    """Return boat speed in a true wind; close-hauled where the wind lies nearer than she can point [m/s].

    Parameters
    ----------
    speeds : sequence of BoatSpeed
    true_speed, true_angle : float
        [m/s, rad]
    awa : float
        Apparent wind angle close-hauled [rad].
    """
    angles = [min(lowest_angle(speeds, true_speed, awa=awa), np.pi / 2 - 1e-6), np.pi / 2, np.pi]
    return float(np.interp(abs(true_angle), angles, at_wind(speeds, true_speed)))


def ways_of_lying(wind: Sequence[WindCell], sailing: Sailing) -> tuple[Lying, ...]:
    """Return how the boat lies through the winds of a leg; the shares of the time add up to those of the winds.

    Parameters
    ----------
    wind : sequence of WindCell
        True wind off the course.
    sailing : Sailing
    """
    return tuple(lying for cell in wind for lying in _in(cell, sailing))


def _in(cell: WindCell, sailing: Sailing) -> list[Lying]:
    speeds, awa = sailing.boat_speed, sailing.close_hauled_awa
    angle = float(np.pi - (np.pi - cell.angle) % (2.0 * np.pi))
    lowest = lowest_angle(speeds, cell.speed, awa=awa)
    pace = boat_speed(speeds, cell.speed, angle, awa=awa)
    if abs(angle) >= lowest:
        return [_lying(cell, sailing, angle=angle, off=0.0, pace=pace, made_good=pace, share=cell.share)]
    # Two tacks at +-lowest whose sum lies along the course: made good v cos(lowest) / cos(angle); the time on the tack
    # nearer the course is (1 + tan(angle) / tan(lowest)) / 2.
    made_good = pace * np.cos(lowest) / np.cos(angle)
    near = 0.5 * (1.0 + np.tan(abs(angle)) / np.tan(lowest))
    side = 1.0 if angle >= 0 else -1.0
    return [
        _lying(
            cell, sailing, angle=way * lowest, off=angle - way * lowest, pace=pace, made_good=float(made_good),
            share=cell.share * part,
        )
        for way, part in ((side, float(near)), (-side, float(1.0 - near)))
    ]  # fmt: skip


def _lying(
    cell: WindCell, sailing: Sailing, *, angle: float, off: float, pace: float, made_good: float, share: float
) -> Lying:
    felt = apparent(cell.speed, angle, pace)
    awa = float(felt.angle)
    heel = -np.sign(awa) * sailing.heel_close_hauled if abs(awa) <= HEELS_TO else 0.0
    return Lying(
        true_speed=cell.speed,
        true_angle=angle,
        off_course=off,
        boat_speed=pace,
        made_good=made_good,
        aws=float(felt.speed),
        awa=awa,
        heel=float(heel),
        share=share,
        beating=off != 0.0,
    )

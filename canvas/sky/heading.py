"""Say which way the boat lies: on one heading, or swinging to the wind at anchor.

Computes: headings and how much of the time each holds.
Units: radians, clockwise from true north.
Source: common practice, no source: a yacht at anchor sheers some 30 deg either side of the wind.
Limits: the wind's own daily turn is the caller's; sheering is taken as even between its ends.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from canvas.geometry.surface import Floats, locked

SHEER = np.radians(30.0)
SHEER_STEPS = 9


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Headings:
    """Headings and the share of the time that each holds.

    Attributes
    ----------
    angles, weights : (k,) ndarray
        Clockwise from true north [rad]; weights add up to 1.
    words : str
        For people: ``on 045``.
    """

    angles: Floats
    weights: Floats
    words: str


def on_heading(heading: float) -> Headings:
    """Return one heading, held: a course under way, or a berth.

    Parameters
    ----------
    heading : float
        Clockwise from true north [rad].
    """
    angle = heading % (2.0 * np.pi)
    return Headings(angles=locked([angle]), weights=locked([1.0]), words=f"on {np.degrees(angle) % 360:03.0f}")


def swinging(wind_from: float, *, sheer: float = SHEER) -> Headings:
    """Return the headings of a boat at anchor that sheers about the wind.

    Parameters
    ----------
    wind_from : float
        Where the wind comes from, clockwise from true north [rad].
    sheer : float
        How far she swings to either side [rad].
    """
    steps = (np.arange(SHEER_STEPS) + 0.5) / SHEER_STEPS * 2.0 - 1.0
    angles = (wind_from + sheer * steps) % (2.0 * np.pi)
    words = f"swinging {np.degrees(sheer):.0f} deg either side of {np.degrees(wind_from) % 360:03.0f}"
    return Headings(angles=locked(angles), weights=locked(np.full(SHEER_STEPS, 1.0 / SHEER_STEPS)), words=words)


def all_round(steps: int = 24) -> Headings:
    """Return every heading alike, for a boat whose heading is not known.

    Parameters
    ----------
    steps : int
        How many headings.
    """
    angles = 2.0 * np.pi * np.arange(steps) / steps
    return Headings(angles=locked(angles), weights=locked(np.full(steps, 1.0 / steps)), words="on every heading alike")

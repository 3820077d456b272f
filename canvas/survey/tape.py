"""Say how far a tape itself may be off, and correct for sag, warmth and a crooked pull.

Computes: largest permitted error by class; corrections to add to a reading; the proportional part of a tape's error.
Units: metres, newtons, kelvin.
Source: Directive 2014/32/EU, annex on material measures of length (from memory); corrections as in Ghilani and Wolf,
    Elementary Surveying.
Limits: tape supported at its ends; shallow sag. The end hook's play is not in the class.
"""

from __future__ import annotations

from math import ceil, sqrt
from typing import Literal

STEEL_EXPANSION = 11.6e-6  # [1/K]
CLASSES = {"I": (0.1e-3, 0.1e-3), "II": (0.3e-3, 0.2e-3), "III": (0.6e-3, 0.4e-3)}


def permitted_error(length: float, *, tape_class: Literal["I", "II", "III"]) -> float:
    """Return the largest error that a tape of its class may have over `length` [m].

    Parameters
    ----------
    length : float
        [m] Rounded up to whole metres, as the directive says.
    tape_class : {"I", "II", "III"}
    """
    constant, share = CLASSES[tape_class]
    return constant + share * ceil(length)


def sag_correction(length: float, *, pull: float, weight: float) -> float:
    """Return the correction for sag, negative: the chord is shorter than the tape [m].

    Parameters
    ----------
    length : float
        [m]
    pull : float
        [N]
    weight : float
        [N/m]
    """
    return -((weight * length) ** 2) * length / (24 * pull**2)


def warmth_correction(length: float, *, warmer: float) -> float:
    """Return the correction of a `length` by steel tape that is `warmer` [K] than when it was marked, positive [m]."""
    return STEEL_EXPANSION * length * warmer


def crooked_correction(length: float, *, aside: float) -> float:
    """Return the correction of a `length` for an end held `aside` [m] of the straight line, negative [m]."""
    return -(length - sqrt(length**2 - aside**2))


def proportional_sd(*, tape_class: Literal["I", "II", "III"], sag: float = 0.0) -> float:
    """Return the proportional part of a tape's standard deviation [m/m].

    Parameters
    ----------
    tape_class : {"I", "II", "III"}
        Its permitted error is taken as the half width of an even spread, so that the deviation is that over sqrt(3).
    sag : float
        [m/m] Usual sag and misalignment, added as squares.
    """
    return sqrt((CLASSES[tape_class][1] / sqrt(3)) ** 2 + sag**2)

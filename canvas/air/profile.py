"""Carry wind from one height over the open sea to another.

Computes: true wind speed by height, and the apparent wind at a height from that at the instrument.
Units: metres, metres a second, radians.
Source: neutral logarithmic law over open sea, roughness 0.0002 m (European Wind Atlas, class 0).
Limits: neutral air, long fetch, above about 1 m over a sea without great waves; laws differ by some 5 %.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from canvas.air.wind import Floats, Wind, apparent, true_wind

SEA_ROUGHNESS = 0.0002  # [m], European Wind Atlas class 0
LOWEST = 0.5  # the law is not used below this height [m]; waves rule there


def profile_ratio(height: npt.ArrayLike, *, reference: float) -> Floats:
    """Return the true wind at `height` over that at the `reference` height, shaped as `height`.

    Parameters
    ----------
    height : array_like
        Above the water [m]; lower than 0.5 m counts as 0.5 m.
    reference : float
        Height of the wind that is known [m].
    """
    z = np.maximum(np.asarray(height, dtype=float), LOWEST)
    return np.asarray(np.log(z / SEA_ROUGHNESS) / np.log(max(reference, LOWEST) / SEA_ROUGHNESS))


def apparent_at(wind: Wind, *, height: npt.ArrayLike, instrument_height: float, boat_speed: npt.ArrayLike) -> Wind:
    """Return the apparent wind at another height; only the true wind changes with height, not the boat's own.

    Parameters
    ----------
    wind : Wind
        Apparent wind at the instrument.
    height : array_like
        Above the water [m].
    instrument_height : float
        Above the water [m].
    boat_speed : array_like
        [m/s]; 0 at anchor.
    """
    over_ground = true_wind(wind.speed, wind.angle, boat_speed)
    ratio = profile_ratio(height, reference=instrument_height)
    return apparent(over_ground.speed * ratio, over_ground.angle, boat_speed)

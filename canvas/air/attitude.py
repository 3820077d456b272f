"""Turn vectors between the level boat and the boat as she heels and trims.

Computes: unit vectors in axes that stay level and turn with the heading only; their rotation to the boat frame.
Units: radians; vectors in any unit. Level axes and boat frame alike: x aft, y starboard, z up.
Source: trim about the athwartships axis first, heel about the trimmed fore-and-aft axis second, as ship motions are
    usually given (yaw, pitch, roll).
Limits: heel positive starboard side down, trim positive stern down; no leeway.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from canvas.air.wind import Floats


def attitude(*, heel: npt.ArrayLike = 0.0, trim: npt.ArrayLike = 0.0) -> Floats:
    """Return the rotation that takes level axes to the boat frame.

    Parameters
    ----------
    heel, trim : array_like, shape (...)
        Positive starboard side down, positive stern down [rad].

    Returns
    -------
    (..., 3, 3) ndarray
        Rows are the boat's own axes in level axes.
    """
    roll, pitch = np.broadcast_arrays(np.asarray(heel, dtype=float), np.asarray(trim, dtype=float))
    cr, sr, cp, sp = np.cos(roll), np.sin(roll), np.cos(pitch), np.sin(pitch)
    aft = np.stack([cp, np.zeros_like(cp), -sp], axis=-1)
    starboard = np.stack([-sr * sp, cr, -sr * cp], axis=-1)
    up = np.stack([cr * sp, sr, cr * cp], axis=-1)
    return np.stack([aft, starboard, up], axis=-2)


def way_to(bearing: npt.ArrayLike, altitude: npt.ArrayLike) -> Floats:
    """Return unit vectors in level axes to what is seen at bearings and altitudes.

    Parameters
    ----------
    bearing : array_like, shape (...)
        From the bow, positive to starboard [rad].
    altitude : array_like, shape (...)
        Over the horizon [rad].

    Returns
    -------
    (..., 3) ndarray
    """
    around, high = np.broadcast_arrays(np.asarray(bearing, dtype=float), np.asarray(altitude, dtype=float))
    return np.stack([-np.cos(high) * np.cos(around), np.cos(high) * np.sin(around), np.sin(high)], axis=-1)


def to_boat(vectors: npt.ArrayLike, *, heel: npt.ArrayLike = 0.0, trim: npt.ArrayLike = 0.0) -> Floats:
    """Return level vectors in the frame of the heeled and trimmed boat.

    Parameters
    ----------
    vectors : array_like, shape (..., 3)
        In level axes.
    heel, trim : array_like
        Broadcast against the vectors' leading axes [rad].

    Returns
    -------
    (..., 3) ndarray
    """
    turned: Floats = np.einsum("...ij,...j->...i", attitude(heel=heel, trim=trim), np.asarray(vectors, dtype=float))
    return turned


def up_in_boat(*, heel: npt.ArrayLike = 0.0, trim: npt.ArrayLike = 0.0) -> Floats:
    """Return the true vertical, up, in the frame of the heeled and trimmed boat.

    Parameters
    ----------
    heel, trim : array_like, shape (...)
        [rad]

    Returns
    -------
    (..., 3) ndarray
    """
    return np.ascontiguousarray(attitude(heel=heel, trim=trim)[..., :, 2])

"""Find where triangles come nearest to points.

Computes: shares of a triangle's corners at its point nearest to a point, and how far off that is.
Units: metres.
Source: the foot on the plane of the triangle where it lies inside, else the nearest of the feet on its three sides.
Limits: none; a triangle may be a line or a point.
"""

from __future__ import annotations

import numpy as np

from canvas.geometry.surface import Floats

SMALL = 1e-300  # keeps a side without length from being divided by


def nearest_shares(offset: Floats, one: Floats, two: Floats) -> tuple[Floats, Floats]:
    """Return shares of the corners (..., 3) at the point of each triangle nearest to a point, and the distance (...).

    Parameters
    ----------
    offset : (..., d) ndarray
        From the triangle's first corner to the point [m].
    one, two : (..., d) ndarray
        Its sides from there to the second and the third corner; the leading axes of all three are broadcast [m].
    """
    d11, d12, d22 = (np.einsum("...j,...j->...", u, v) for u, v in ((one, one), (one, two), (two, two)))
    p1, p2 = (np.einsum("...j,...j->...", offset, side) for side in (one, two))
    det = np.maximum(d11 * d22 - d12**2, SMALL)
    v, w = (d22 * p1 - d12 * p2) / det, (d11 * p2 - d12 * p1) / det
    inside = (v >= 0) & (w >= 0) & (v + w <= 1)
    v, w = np.where(inside, v, 0.0), np.where(inside, w, 0.0)  # of a triangle that is a line they may be past counting
    on1, on2 = np.clip(p1 / np.maximum(d11, SMALL), 0, 1), np.clip(p2 / np.maximum(d22, SMALL), 0, 1)
    on3 = np.clip((p2 - p1 + d11 - d12) / np.maximum(d11 - 2 * d12 + d22, SMALL), 0, 1)
    zero = np.zeros_like(on1)
    second, third = np.stack([v, on1, zero, 1 - on3]), np.stack([w, zero, on2, on3])
    reach = np.stack([
        np.linalg.norm(offset - s[..., None] * one - t[..., None] * two, axis=-1)
        for s, t in zip(second, third, strict=True)
    ])  # fmt: skip
    reach[0] = np.where(inside, reach[0], np.inf)
    best = np.argmin(reach, axis=0)[None]
    s, t, distance = (np.take_along_axis(each, best, axis=0)[0] for each in (second, third, reach))
    return np.stack([1 - s - t, s, t], axis=-1), distance

"""Lay out windows and mesh inserts inside a panel, at their insets from its edges.

Computes: the outline of an insert, near the cloth, with rounded corners.
Units: metres.
Source: geometry; plane offsets by shapely; height off the plane by linear radial functions from the edges (scipy).
Limits: insets are measured in the panel's mean plane, so on a strongly curved panel they are chords, not girths.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.interpolate import RBFInterpolator
from shapely import LineString, Polygon

from canvas.geometry.surface import Floats

SPACING = 0.04  # between points of an outline [m]


def insert_outline(
    lines: Sequence[Floats], *, insets: Sequence[float], radius: float, over: Sequence[Floats] = ()
) -> Floats:
    """Return the closed outline of an insert.

    Parameters
    ----------
    lines : sequence of (k, 3) ndarray
        Edges of the panel in order, each from corner to corner [m].
    insets : sequence of float
        Distance from each edge [m].
    radius : float
        Of its corners [m].
    over : sequence of (k, 3) ndarray
        Lines the cloth lies over, which lift the outline too [m].

    Returns
    -------
    (m, 3) ndarray
        Near the cloth, first point not repeated [m].

    Raises
    ------
    ValueError
        When nothing, or less than its corners need, is left inside the insets.
    """
    boundary = np.vstack([line[:-1] for line in lines])
    centre = boundary.mean(axis=0)
    _, _, axes = np.linalg.svd(boundary - centre, full_matrices=False)
    flat = Polygon((boundary - centre) @ axes[:2].T)
    for line, inset in zip(lines, insets, strict=True):
        flat = flat.difference(LineString((line - centre) @ axes[:2].T).buffer(inset, quad_segs=16))
    if not isinstance(flat, Polygon):
        flat = max(flat.geoms, key=lambda piece: piece.area)
    rounded = flat.buffer(-radius, quad_segs=16).buffer(radius, quad_segs=16)
    if not isinstance(rounded, Polygon) or rounded.is_empty or rounded.area < 4 * radius**2:
        raise ValueError("Make the insets or the corner radius smaller.")
    ring = rounded.exterior
    count = max(12, int(np.ceil(ring.length / SPACING)))
    plan = np.array([ring.interpolate(share, normalized=True).coords[0] for share in np.arange(count) / count])
    known = np.vstack([boundary, *over]) if len(over) else boundary
    known = known[:: max(1, len(known) // 300)]
    spots = (known - centre) @ axes.T
    _, first = np.unique(spots[:, :2].round(6), axis=0, return_index=True)
    lift = RBFInterpolator(spots[first, :2], spots[first, 2], kernel="linear", smoothing=1e-4)(plan)
    outline: Floats = centre + plan @ axes[:2] + lift[:, None] * axes[2]
    return outline


def overlap(one: Floats, other: Floats) -> bool:
    """Return whether two outlines near one plane lie over each other there.

    Parameters
    ----------
    one, other : (k, 3) ndarray
        First points not repeated [m].
    """
    both = np.vstack([one, other])
    centre = both.mean(axis=0)
    _, _, axes = np.linalg.svd(both - centre, full_matrices=False)
    return bool(Polygon((one - centre) @ axes[:2].T).intersects(Polygon((other - centre) @ axes[:2].T)))

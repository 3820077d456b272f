"""Measure triangles in space.

Computes: the area vector of each triangle.
Units: metres.
Source: half the cross product of two sides.
Limits: none; a triangle may be a line or a point.
"""

from __future__ import annotations

import numpy as np

from canvas.arrays import Floats


def area_vectors(corners: Floats) -> Floats:
    """Return the area vector of each triangle (m, 3, 3), shape (m, 3) [m2].

    As long as the triangle's area, square to it, towards whoever sees its corners run counter-clockwise.
    """
    return np.asarray(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]) / 2)

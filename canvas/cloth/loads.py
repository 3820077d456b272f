"""Hold what loads a membrane.

Computes: nothing but the weight of cloth at its vertices.
Units: pascals, newtons, metres.
Source: g = 9.80665 m/s2 (standard gravity); sea water is not meant: rain has 1000 kg/m3.
Limits: loads act on one membrane; wind pressures are found elsewhere.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from canvas.geometry.surface import Floats, Ints
from canvas.geometry.triangles import area_vectors

GRAVITY = 9.80665  # [m/s2]
WATER = 1000.0 * GRAVITY  # unit weight of rain water [N/m3]
DRY = -1e9  # a water level below everything [m]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Loads:
    """Loads on a membrane.

    Attributes
    ----------
    pressure : (m,) ndarray or None
        On each face along its outward normal (up for a roof), following it [Pa].
    dead : (n, 3) ndarray or None
        On each vertex [N].
    water_level : (n,) ndarray or None
        Height to which water stands over each vertex of faces that look up; DRY where it cannot stand [m].
    water_weight : float
        Unit weight of the water [N/m3].
    """

    pressure: Floats | None = None
    dead: Floats | None = None
    water_level: Floats | None = None
    water_weight: float = WATER


def cloth_weight(vertices: Floats, faces: Ints, *, mass: float, down: Floats | None = None) -> Floats:
    """Return the weight of cloth of `mass` [kg/m2] at its vertices (n, 3) [N], along `down` (default -z).

    Parameters
    ----------
    vertices : (n, 3) ndarray
        [m]
    faces : (m, 3) ndarray of int
    mass : float
        [kg/m2]
    down : (3,) ndarray or None
        Way of gravity, of any length; None: -z.
    """
    corner = vertices[faces]
    area = np.linalg.norm(area_vectors(corner), axis=1)
    share = np.bincount(faces.ravel(), weights=np.repeat(area / 3, 3), minlength=len(vertices))
    way = np.array([0.0, 0.0, -1.0]) if down is None else down / np.linalg.norm(down)
    return np.asarray(mass * GRAVITY * share[:, None] * way)

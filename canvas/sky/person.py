"""Take a person's body as a place, so that sun and rain on the one on watch are asked like those on a seat.

Computes: sample points spread evenly over the skin of a crew member, with the normals there.
Units: metres, boat frame.
Source: area-weighted sampling with the additive recurrence R2 (M. Roberts, 2018, from memory), even and unrandom.
Limits: crew throw no shade in the map, so one limb does not shelter another; clothes and hat are not there.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from canvas.geometry.scene import Place
from canvas.geometry.surface import Surface
from canvas.geometry.triangles import area_vectors

POINTS = 500
_R2 = np.array([0.7548776662466927, 0.5698402909980532])  # 1/g and 1/g^2 of the plastic number g


@lru_cache(maxsize=16)  # the same bodies are asked about in set after set
def person_place(crew: Surface, *, points: int = POINTS) -> Place:
    """Return the skin of a crew member as a place.

    Parameters
    ----------
    crew : Surface
        Closed, faces outward.
    points : int
        How many sample points.
    """
    corners = crew.vertices[crew.faces]
    across = area_vectors(corners)
    area = np.linalg.norm(across, axis=1)
    reached = np.cumsum(area)
    face = np.searchsorted(reached, (np.arange(points) + 0.5) / points * reached[-1])
    s, t = ((0.5 + np.outer(np.arange(1, points + 1), _R2)) % 1.0).T
    s, t = np.where(s + t > 1.0, 1.0 - s, s), np.where(s + t > 1.0, 1.0 - t, t)
    one = corners[face]
    spots = one[:, 0] + s[:, None] * (one[:, 1] - one[:, 0]) + t[:, None] * (one[:, 2] - one[:, 0])
    return Place(
        name=crew.name,
        points=spots,
        normals=across[face] / area[face][:, None],
        area=float(reached[-1]),
    )

"""Hold one surface of the scene: its triangles, what it is, and what it lets through.

Computes: nothing; the record that rays, rain, wind and drawings share.
Units: metres, boat frame (x aft, y starboard, z up); shares 0..1; loss coefficient without unit.
Source: loss coefficient K on the speed through the cloth, dp = K rho U^2 / 2.
Limits: vertex order is part of the contract; faces of closed surfaces look outward.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from canvas.arrays import Bools, Floats, Ints, locked

__all__ = ["Bools", "Floats", "Ints", "Kind", "Surface", "locked"]

Kind = Literal["boat", "solid", "tube", "sail", "cloth", "crew", "vane"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Surface:
    """One named surface: a closed solid or an open sheet of cloth, window, mesh or sail.

    Attributes
    ----------
    name : str
        Unique in its scene, such as ``hull`` or ``side curtain port: window``.
    kind : str
        What it is: ``boat`` (hull, cabin, cockpit as one closed solid), ``solid``, ``tube``, ``sail``, ``cloth``,
        ``crew`` or ``vane``.
    vertices : (n, 3) ndarray
        [m]
    faces : (m, 3) ndarray of int
        Vertex indices; counter-clockwise seen from outside for closed surfaces.
    closed : bool
        True for an edge-manifold solid.
    panel : str or None
        The panel it belongs to; None for what is not canvas.
    light_through, uv_through, rain_through, sight_through : float
        Share of direct sun, ultraviolet, falling drops and (by dry day) sight that passes. 0 stops all.
    wind_loss : float
        Pressure loss coefficient K of the sheet; infinity for what no air passes.
    """

    name: str
    kind: Kind
    vertices: Floats
    faces: Ints
    closed: bool
    panel: str | None = None
    light_through: float = 0.0
    uv_through: float = 0.0
    rain_through: float = 0.0
    sight_through: float = 0.0
    wind_loss: float = float("inf")

    def __post_init__(self) -> None:
        object.__setattr__(self, "vertices", locked(self.vertices))
        object.__setattr__(self, "faces", locked(self.faces, dtype=np.int64))

"""Hold formed panels: what every other part of the program reads of cloth.

Computes: nothing; frozen results.
Units: metres, newtons, newtons a metre.
Source: none.
Limits: vertex order is part of the contract: the outline's vertices first, corner to corner in the outline's order.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from canvas.geometry.surface import Bools, Floats, Ints, locked
from canvas.geometry.triangles import area_vectors


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class EdgeShape:
    """One edge of a formed panel.

    Attributes
    ----------
    name, kind, finish : str
        As in the outline.
    length : float
        Along the edge [m].
    chord : float
        Corner to corner [m].
    hollow : float or None
        Greatest distance inside the chord in the cloth's tangent plane; None where something else holds it [m].
    cable_force : float or None
        Force in the edge's webbing, rope or wire; None where it has none [N].
    line_tension : float
        Mean pull of the cloth square to the edge, what a zip, track or pocket there carries [N/m].
    line_tension_most : float
        Greatest of it [N/m].
    """

    name: str
    kind: str
    finish: str
    length: float
    chord: float
    hollow: float | None
    cable_force: float | None
    line_tension: float
    line_tension_most: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PanelShape:
    """One panel as it hangs in one set.

    Attributes
    ----------
    name, set_name, cloth : str
    vertices : (n, 3) ndarray
        The outline's first, from the first corner on [m].
    faces : (m, 3) ndarray of int
        Counter-clockwise seen from outside (above).
    zone : (m,) ndarray of int
        0 cloth, k for the k-th insert (window or mesh).
    zone_names : tuple of str
        ``cloth``, then the inserts' names.
    edge_vertices : tuple of (k,) ndarray of int
        Vertices along each edge, corner to corner, in the outline's order.
    edges : tuple of EdgeShape
    over : tuple of (k,) ndarray of int
        Vertices over each line that the outline says it lies over.
    touching : tuple of (k,) ndarray of bool
        Which of those lie on it.
    slits : tuple of (k,) ndarray of int
        From where a wire passes to the edge.
    ties : (t,) ndarray of int
        The vertex at each tie.
    tie_forces : (t,) ndarray
        Pull on each tie [N].
    warp : (m, 3) ndarray
        Unit direction of the warp in each face.
    tension : (m, 2) ndarray
        Along warp and weft [N/m].
    shear : (m,) ndarray
        Between warp and weft [N/m].
    slack : float
        Share of the area in which cloth is slack both ways, 0..1.
    wrinkled : float
        Share of the area that is slack one way, 0..1.
    """

    name: str
    set_name: str
    cloth: str
    vertices: Floats
    faces: Ints
    zone: Ints
    zone_names: tuple[str, ...]
    edge_vertices: tuple[Ints, ...]
    edges: tuple[EdgeShape, ...]
    over: tuple[Ints, ...]
    touching: tuple[Bools, ...]
    slits: tuple[Ints, ...]
    ties: Ints
    tie_forces: Floats
    warp: Floats
    tension: Floats
    shear: Floats
    slack: float = 0.0
    wrinkled: float = 0.0

    def __post_init__(self) -> None:
        for key in ("vertices", "tie_forces", "warp", "tension", "shear"):
            object.__setattr__(self, key, locked(getattr(self, key)))
        for key in ("faces", "zone", "ties"):
            object.__setattr__(self, key, locked(getattr(self, key), dtype=np.int64))
        for key in ("edge_vertices", "over", "slits"):
            object.__setattr__(self, key, tuple(locked(line, dtype=np.int64) for line in getattr(self, key)))
        object.__setattr__(self, "touching", tuple(locked(each, dtype=np.bool_) for each in self.touching))

    def area(self) -> float:
        """Return the panel's area [m2]."""
        corner = self.vertices[self.faces]
        return float(np.linalg.norm(area_vectors(corner), axis=1).sum())


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Formed:
    """All panels of a set as they hang.

    Attributes
    ----------
    set_name : str
    panels : tuple of PanelShape
        In the order of the outlines.
    """

    set_name: str
    panels: tuple[PanelShape, ...]

    def panel(self, name: str) -> PanelShape:
        """Return the panel of that name."""
        return next(panel for panel in self.panels if panel.name == name)

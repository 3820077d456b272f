"""Gather all that rays, rain and wind meet: the boat, what stands on it, canvas, and places.

Computes: nothing; `Scene` is what every check takes, and no check reads the design file for geometry.
Units: metres, boat frame (x aft, y starboard, z up from the sole at the companionway bulkhead, normal to the water).
Source: none.
Limits: the water is the plane z = water_z at rest; heel and trim turn the boat, not the scene.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from canvas.geometry.surface import Bools, Floats, Kind, Surface, locked


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Place:
    """Where people sit, stand or look from: sample points that stand for equal shares of its area.

    Attributes
    ----------
    name : str
        Such as ``port seat`` or ``helm, heads``.
    points : (n, 3) ndarray
        Sample points [m], n >= 250, each standing for the same area.
    normals : (n, 3) ndarray
        Unit normal of the area each point stands for.
    area : float
        Whole area [m2].
    """

    name: str
    points: Floats
    normals: Floats
    area: float

    def __post_init__(self) -> None:
        object.__setattr__(self, "points", locked(self.points))
        object.__setattr__(self, "normals", locked(self.normals))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Blade:
    """The wind vane's air blade, upright and in line with the boat.

    Attributes
    ----------
    points : (n, 3) ndarray
        Points spread over its swept area, each standing for the same area [m].
    foot : (3,) ndarray
        Middle of its lower edge [m].
    height, width : float
        [m]
    """

    points: Floats
    foot: Floats
    height: float
    width: float

    def __post_init__(self) -> None:
        object.__setattr__(self, "points", locked(self.points))
        object.__setattr__(self, "foot", locked(self.foot))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scene:
    """The boat with one set of canvas up.

    Attributes
    ----------
    set_name : str
        The set; ``bare`` for none.
    surfaces : tuple of Surface
        In a fixed order: boat, solids, tubes, sails, crew, vane, then canvas in the order of the design.
    places : tuple of Place
        What is asked about.
    blade : Blade
        Where the wind is asked for.
    water_z : float
        Height of the water at rest [m].
    """

    set_name: str
    surfaces: tuple[Surface, ...]
    places: tuple[Place, ...]
    blade: Blade
    water_z: float

    def of_kind(self, *kinds: Kind) -> tuple[Surface, ...]:
        """Return the surfaces of the kinds named, in order."""
        return tuple(surface for surface in self.surfaces if surface.kind in kinds)

    def without(self, panels: Iterable[str]) -> Scene:
        """Return the scene with the named panels taken down."""
        down = set(panels)
        return Scene(
            set_name=self.set_name,
            surfaces=tuple(surface for surface in self.surfaces if surface.panel not in down),
            places=self.places,
            blade=self.blade,
            water_z=self.water_z,
        )


__all__ = ["Blade", "Bools", "Place", "Scene"]

"""Sort a scene's surfaces into what throws shade or stops drops.

Computes: one opaque body of all that is not canvas and lets nothing through, then each other surface by itself; sample
    points lifted off what they lie on; what passes when several stand in the way.
Units: metres, boat frame; shares 0..1.
Source: shares of several sheets multiply (no light is thrown back and forth between them).
Limits: crew and vane throw no shade; a ray that meets one sheet twice is weakened once.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

import numpy as np

from canvas.geometry.rays import Tracer, tracer_of
from canvas.geometry.scene import Place, Scene
from canvas.geometry.surface import Bools, Floats, Surface

Through = Literal["light", "uv", "rain", "sight"]

SOLIDS = "boat, solids, tubes and sails"
LIFT = 2e-4  # length by which sample points are lifted along their normals [m]; Embree works in single precision


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Caster:
    """Something that stands in the way: the solid boat, or one surface that is canvas or lets something through.

    Attributes
    ----------
    name : str
    panel : str or None
        The panel it belongs to; None for what is not canvas.
    surfaces : tuple of Surface
    light, uv, rain, sight : float
        Share that passes.
    """

    name: str
    panel: str | None
    surfaces: tuple[Surface, ...]
    light: float = 0.0
    uv: float = 0.0
    rain: float = 0.0
    sight: float = 0.0

    def passes(self, through: Through) -> float:
        """Return the share of `through` that passes."""
        return {"light": self.light, "uv": self.uv, "rain": self.rain, "sight": self.sight}[through]

    def tracer(self) -> Tracer:
        """Return a tracer of its surfaces."""
        return tracer_of(*self.surfaces)

    def same_shape(self, other: Caster) -> bool:
        """Return whether rays meet both alike."""
        return len(self.surfaces) == len(other.surfaces) and all(
            a is b or (np.array_equal(a.vertices, b.vertices) and np.array_equal(a.faces, b.faces))
            for a, b in zip(self.surfaces, other.surfaces, strict=True)
        )


def casters_of(scene: Scene) -> tuple[Caster, ...]:
    """Return the scene's casters: the solid boat first, then the rest in the scene's order."""
    bodies = scene.of_kind("boat", "solid", "tube", "sail")
    opaque = tuple(surface for surface in bodies if _lets_nothing_through(surface))
    single = [surface for surface in bodies if not _lets_nothing_through(surface)]
    single += scene.of_kind("cloth")
    solid = Caster(name=SOLIDS, panel=None, surfaces=opaque)
    return (solid, *(caster_of(surface) for surface in single))


def caster_of(surface: Surface) -> Caster:
    """Return one surface as a caster by itself."""
    return Caster(
        name=surface.name,
        panel=surface.panel,
        surfaces=(surface,),
        light=surface.light_through,
        uv=surface.uv_through,
        rain=surface.rain_through,
        sight=surface.sight_through,
    )


def lifted(places: Iterable[Place]) -> Floats:
    """Return the sample points of the places one after another, lifted off what they lie on."""
    return np.vstack([place.points + LIFT * place.normals for place in places])


def what_passes(met: Bools, shares: Floats) -> Floats:
    """Return the share that passes all casters.

    Parameters
    ----------
    met : (s, ...) ndarray of bool
        Whether each caster stands in the way.
    shares : (s,) ndarray
        What each lets through.

    Returns
    -------
    (...) ndarray
    """
    passing = np.ones(met.shape[1:])
    for one, share in zip(met, shares, strict=True):
        passing *= np.where(one, share, 1.0)
    return passing


def _lets_nothing_through(surface: Surface) -> bool:
    return max(surface.light_through, surface.uv_through, surface.rain_through, surface.sight_through) == 0.0

"""Sort a scene's surfaces into what throws shade or stops drops.

Computes: opaque bodies of all that is not canvas and lets nothing through: boat and tubes, which stay, then solids,
    then sails, which come and go with the set; then each other surface by itself; sample points lifted off what they
    lie on; what passes when several stand in the way.
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

BODIES = (("boat and tubes", ("boat", "tube")), ("solids", ("solid",)), ("sails", ("sail",)))  # by kind of surface
LIFT = 2e-4  # length by which sample points are lifted along their normals [m]; Embree works in single precision


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Caster:
    """Something that stands in the way: a body, or one surface that is canvas or lets something through.

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
    """Return the scene's casters: boat and tubes, solids, sails, then the rest in the scene's order."""
    bodies, single = [], []
    for name, kinds in BODIES:
        surfaces = scene.of_kind(*kinds)
        bodies.append(Caster(name=name, panel=None, surfaces=tuple(filter(_lets_nothing_through, surfaces))))
        single += [surface for surface in surfaces if not _lets_nothing_through(surface)]
    return (*bodies, *(caster_of(surface) for surface in (*single, *scene.of_kind("cloth"))))


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
    """Return the sample points of the places one after another, (n, 3), lifted off what they lie on [m]."""
    return np.vstack([place.points + LIFT * place.normals for place in places])


def normals_of(places: Iterable[Place]) -> Floats:
    """Return the normals at the sample points of the places one after another, (n, 3)."""
    return np.vstack([place.normals for place in places])


def level_normals(places: Iterable[Place]) -> Floats:
    """Return the normals at the sample points of level places, zeros at those of others, one after another, (n, 3).

    The horizon is a row of every grid of directions, so that nothing below it counts on a level place, while what is
    seen from a tilted one is interpolated across its plane.
    """
    normals = normals_of(places)
    return np.where(normals[:, 2:] == 1.0, normals, 0.0)


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

"""Gather what every check asks of one set: scene, people, what is near, what is in sight.

Computes: the groups of surfaces that checks look at, made ready once a set.
Units: metres, boat frame.
Source: none.
Limits: nobody's body is in anybody's way.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from canvas.cloth.rigging import Rig, Rigging
from canvas.cloth.sureness import Sureness
from canvas.design.schema.design import Design
from canvas.fit.near import Closest
from canvas.fit.people import Person, person_of
from canvas.fit.result import joint_sd
from canvas.geometry.rays import Tracer, tracer_of
from canvas.geometry.scene import Scene
from canvas.geometry.steering import steering_surfaces
from canvas.geometry.surface import Surface


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sight:
    """What stands in the way of sight.

    Attributes
    ----------
    boat, cloth : Tracer
        Boat, solids and tubes; canvas. Sails, crew and vane are left out: they move.
    """

    boat: Tracer
    cloth: Tracer


class Ask:
    """One set of one boat, asked about.

    Parameters
    ----------
    rigging : Rigging
    set_name : str
    rig : Rig, optional
        The set put up otherwise than `rigging` has it.
    """

    def __init__(self, rigging: Rigging, set_name: str, *, rig: Rig | None = None) -> None:
        self.rigging = rigging
        self.set_name = set_name
        self.rig: Rig = rig or rigging.rig(set_name)
        self.scene: Scene = self.rig.scene
        self.design: Design = rigging.model.design
        self.people: tuple[Person, ...] = tuple(person_of(crew) for crew in self.design.crew)

    def with_rig(self, rig: Rig) -> Ask:
        """Return the same questions about the set put up otherwise."""
        return Ask(self.rigging, self.set_name, rig=rig)

    @property
    def under_way(self) -> bool:
        """Whether the set is used under way."""
        return "under way" in self.design.set_named(self.set_name).used

    @cached_property
    def sureness(self) -> Sureness:
        """How well the places of canvas and tubes are known."""
        return Sureness(self.rigging, self.rig.formed)

    @cached_property
    def cloth(self) -> tuple[Surface, ...]:
        """Canvas with its windows."""
        return self.scene.of_kind("cloth")

    @cached_property
    def tubes(self) -> tuple[Surface, ...]:
        """Bent and straight tubes without the wires."""
        lines = self.rigging.model.tubes
        return tuple(surface for surface in self.scene.of_kind("tube") if lines[surface.name].kind != "wire")

    @cached_property
    def canvas(self) -> tuple[Tracer, tuple[Surface, ...]]:
        """Canvas and the tubes it may hang on, as one tracer, and its surfaces in order; wires are rigging."""
        surfaces = (*self.cloth, *self.tubes)
        return tracer_of(*surfaces), surfaces

    @cached_property
    def by_day(self) -> Sight:
        """Sight by dry day: windows and windscreens are clear."""
        hulls, opaque = self._hulls(), [s for s in self._hulls() if s.sight_through == 0.0]
        boat = self.by_night.boat if len(opaque) == len(hulls) else tracer_of(*opaque)
        return Sight(boat=boat, cloth=tracer_of(*(s for s in self.cloth if s.sight_through == 0.0)))

    @cached_property
    def by_night(self) -> Sight:
        """Sight by wet night: every window is blind."""
        return Sight(boat=tracer_of(*self._hulls()), cloth=tracer_of(*self.cloth))

    @cached_property
    def overhead(self) -> tuple[Tracer, tuple[Surface, ...]]:
        """All that a head may meet, as one tracer, and its surfaces in order; wheel and tiller are held, not met."""
        held = {surface.name for surface in steering_surfaces(self.design)}
        surfaces = tuple(s for s in (*self._hulls(), *self.cloth) if s.name not in held)
        return tracer_of(*surfaces), surfaces

    def sd_of(self, found: Closest) -> float | None:
        """Return the standard deviation of a distance found: of the spot, towards the point [m]."""
        if found.surface is None:
            return None
        way = found.point - found.spot
        return self.sureness.sd(found.surface, found.spot, way if np.linalg.norm(way) > 1e-9 else np.array([0, 0, 1.0]))

    @cached_property
    def worst_sd(self) -> float | None:
        """Return the greatest vertical standard deviation of the set's canvas [m]."""
        return joint_sd([self.sureness.worst(tuple(panel.name for panel in self.rig.formed.panels))])

    def _hulls(self) -> list[Surface]:
        return list(self.scene.of_kind("boat", "solid", "tube"))

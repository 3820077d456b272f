"""Keep what is not canvas from one state of a design to the next, where nothing differs that it is made from.

Computes: the boat, solids, tubes, sails, crew and vane of a set, and whether those of an earlier state still hold.
Units: metres, boat frame.
Source: none.
Limits: solids from files are made anew each time, since a file may have changed.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from canvas.design.schema.base import Vector
from canvas.design.schema.design import Design
from canvas.geometry.boat import Standing, boat_surfaces, standing
from canvas.geometry.crew import crew_surfaces
from canvas.geometry.model import Model
from canvas.geometry.sails import sail_surfaces
from canvas.geometry.surface import Floats, Surface
from canvas.geometry.vane import vane_surface

ELSEWHERE = {"panel", "marks", "tube", "reading", "survey", "cloth", "prices", "shop", "decision", "assumed"}
MADE_FROM = tuple(name for name in Design.model_fields if name not in ELSEWHERE)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fixed:
    """All that is not canvas in a set.

    Attributes
    ----------
    model : Model
        What it was made from.
    marks : frozenset of str
        Marks on which some of it stands.
    standing : Standing
        Hull, spars and steering, the same in every set.
    crew : tuple of Surface
        The same in every set too.
    first : tuple of Surface
        Boat and solids.
    last : tuple of Surface
        Sails, crew and vane.
    """

    model: Model
    marks: frozenset[str]
    standing: Standing
    crew: tuple[Surface, ...]
    first: tuple[Surface, ...]
    last: tuple[Surface, ...]

    def surfaces(self, model: Model) -> tuple[Surface, ...]:
        """Return all of it with the tubes of a model: boat, solids, tubes, sails, crew, vane, in this order."""
        return (*self.first, *model.tube_meshes, *self.last)

    def holds_for(self, model: Model) -> bool:
        """Return whether it would come out the same for another model."""
        old, new = self.model, model
        return (
            old.source.folder == new.source.folder
            and all(getattr(old.design, name) == getattr(new.design, name) for name in MADE_FROM)
            and not any(solid.file for solid in new.design.solid)
            and self.marks <= set(new.marks.names)
            and all(np.array_equal(old.marks.at(name), new.marks.at(name)) for name in self.marks)
            and len(old.places) == len(new.places)
            and all(np.array_equal(a.points, b.points) for a, b in zip(old.places, new.places, strict=True))
        )


def fixed_of(model: Model, set_name: str, *, other: Fixed | None = None) -> Fixed:
    """Return all that is not canvas in a set.

    Parameters
    ----------
    model : Model
    set_name : str
    other : Fixed, optional
        That of another set, from which is taken what is the same in every set.
    """
    asked: set[str] = set() if other is None else set(other.marks)

    def at(spot: Vector | str) -> Floats:
        if isinstance(spot, str):
            asked.add(spot)
        return model.at(spot)

    design, folder = model.design, model.source.folder
    same = standing(design, at=at, folder=folder) if other is None else other.standing
    first = boat_surfaces(design, set_name=set_name, at=at, folder=folder, known=same)
    sails = sail_surfaces(design, set_name=set_name, at=at)
    crew = crew_surfaces(design, at=at, places=model.places) if other is None else other.crew
    last = (*sails, *crew, vane_surface(design))
    return Fixed(model=model, marks=frozenset(asked), standing=same, crew=crew, first=first, last=last)

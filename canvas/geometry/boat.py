"""Put the boat together: one closed hull with cabin and cockpit, and the solids on it.

Computes: the union of hull, aft deck, house and coamings, less well and companionway, with bridge deck and seats;
    then solids, spars and steering, each by itself.
Units: metres, boat frame.
Source: booleans by manifold3d.
Limits: solids, spars and steering may stand into the hull and one another; each is closed by itself.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np
from manifold3d import Manifold

from canvas.design.names import NameProblem
from canvas.design.schema.design import BARE, Design
from canvas.geometry.cabin import bridge_deck, cabin_problems, companionway, house
from canvas.geometry.closed import box, surface_of
from canvas.geometry.cockpit import UNDER_SOLE, coaming, cockpit_problems, helm_seat, lowest_sole, seat, sides, well
from canvas.geometry.crew import crew_problems
from canvas.geometry.hull import aft_deck, deck_edges, hull_block, hull_problems
from canvas.geometry.marks import Locate
from canvas.geometry.sails import sail_problems
from canvas.geometry.solids import body_problems, solid_surfaces, standing_for_boat
from canvas.geometry.spars import spar_problems, spar_surfaces
from canvas.geometry.steering import steering_problems, steering_surfaces
from canvas.geometry.surface import Surface


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Part:
    """One solid that the hull is made with.

    Attributes
    ----------
    name : str
    does : str
        ``adds`` to what came before it, or ``cuts`` from it.
    solid : Manifold
    """

    name: str
    does: Literal["adds", "cuts"]
    solid: Manifold


def hull_parts(design: Design) -> tuple[Part, ...]:
    """Return the parts of the hull in the order in which they are added and cut."""
    foot = lowest_sole(design) - UNDER_SOLE
    taken, added = aft_deck(design)
    cabin, cockpit = design.cabin, design.cockpit
    highest = max(
        cabin.front_height + cabin.camber, cabin.aft_height + cabin.camber, cockpit.aft_deck,
        *(side.coaming_top for side, _, _ in sides(design)), *(float(edge.z.max()) for edge in deck_edges(design.hull)),
    )  # fmt: skip
    listed: list[tuple[str, Literal["adds", "cuts"], Manifold | None]] = [
        ("hull", "adds", hull_block(design.hull, lowest=foot - UNDER_SOLE)),
        ("aft deck recess", "cuts", taken),
        ("aft deck", "adds", added),
        ("house", "adds", house(design)),
        *((f"coaming {key}", "adds", coaming(design, side, sign=sign)) for side, sign, key in sides(design)),
        ("well", "cuts", well(design, top=highest + 1.0)),
        ("companionway", "cuts", companionway(cabin)),
        ("bridge deck", "adds", bridge_deck(design, foot=foot)),
        *((f"seat {key}", "adds", seat(design, side, sign=sign)) for side, sign, key in sides(design)),
        ("helm seat", "adds", helm_seat(design)),
    ]
    return tuple(Part(name=name, does=does, solid=solid) for name, does, solid in listed if solid is not None)


def hull_solid(design: Design) -> Manifold:
    """Return hull, deck, house and cockpit as one solid."""
    whole = Manifold()
    for part in hull_parts(design):
        whole = whole + part.solid if part.does == "adds" else whole - part.solid
    return whole


def whole_hull(design: Design, *, at: Locate, folder: Path) -> Manifold:
    """Return the hull with each mesh that stands in place of the boat put in, its own box taken out first.

    Parameters
    ----------
    design : Design
    at : callable
        From spot to point.
    folder : Path
        The design's, where mesh files lie.
    """
    whole = hull_solid(design)
    for scanned in standing_for_boat(design, at=at, folder=folder):
        low, high = np.reshape(scanned.bounding_box(), (2, 3))
        whole = whole - box(tuple(high - low), middle=(low + high) / 2) + scanned
    return whole


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Standing:
    """What stands in every set alike.

    Attributes
    ----------
    hull : Surface
    fittings : tuple of Surface
        Spars and steering.
    """

    hull: Surface
    fittings: tuple[Surface, ...]


def standing(design: Design, *, at: Locate, folder: Path = Path()) -> Standing:
    """Return what stands in every set alike; arguments as in `boat_surfaces`."""
    return Standing(
        hull=surface_of(whole_hull(design, at=at, folder=folder), name="hull", kind="boat"),
        fittings=(*spar_surfaces(design), *steering_surfaces(design)),
    )


def boat_surfaces(
    design: Design, *, at: Locate, folder: Path = Path(), set_name: str = BARE, known: Standing | None = None
) -> tuple[Surface, ...]:
    """Return the boat and what is fixed on her: hull, solids, spars, steering, in this order.

    Parameters
    ----------
    design : Design
        One in which `solid_problems` finds nothing.
    at : callable
        From spot to point.
    folder : Path
        The design's, where mesh files lie.
    set_name : str
        Solids may be there in some sets only.
    known : Standing, optional
        What stands in every set, where it is made already.
    """
    same = known or standing(design, at=at, folder=folder)
    return (same.hull, *solid_surfaces(design, set_name=set_name, at=at, folder=folder), *same.fittings)


def solid_problems(design: Design, *, folder: Path = Path()) -> list[NameProblem]:
    """Return every impossible shape of a design, in the order of the file's parts.

    Where the hull is impossible, what stands on it is not looked at.
    """
    on_hull = list(hull_problems(design.hull))
    if not on_hull:
        on_hull = [*cabin_problems(design), *cockpit_problems(design), *spar_problems(design)]
    return [
        *on_hull,
        *steering_problems(design),
        *crew_problems(design),
        *body_problems(design, folder=folder),
        *sail_problems(design),
    ]

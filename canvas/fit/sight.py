"""Look out from eyes: which directions are hidden, by the boat and by canvas, with the head moved a little.

Computes: for eyes and directions, whether boat or cloth stands in the way from every position of the head.
Units: metres, boat frame; radians.
Source: geometry; common practice, no source, for the head's movement.
Limits: upright boat; sails, crew and vane are left out: they move. Something narrower than the head's movement hides
    nothing for long.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from canvas.fit.ask import Ask, Sight
from canvas.geometry.surface import Bools, Floats

HEAD_MOVES = 0.15  # either way [m]
HORIZON_STEP = np.radians(2.0)
AHEAD = np.radians(22.5)  # two points of the compass either bow
NEAREST_WATER = 4.0  # boat lengths; ISO 11591, from memory


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Seen:
    """What hides each direction from eyes.

    Attributes
    ----------
    directions : (d, 3) ndarray
    by_boat, by_cloth : (d,) ndarray of bool
        Hidden by boat, solids or tubes; hidden by canvas, from every position of the head.
    hidden : (d,) ndarray of bool
        By the two together.
    """

    directions: Floats
    by_boat: Bools
    by_cloth: Bools
    hidden: Bools


def look(sight: Sight, eyes: Floats, directions: Floats) -> Seen:
    """Return what is hidden from one pair of eyes.

    Parameters
    ----------
    sight : Sight
    eyes : (3,) ndarray
        [m]
    directions : (d, 3) ndarray
        Unit vectors.
    """
    plan = np.array([[0.0, 0.0], [HEAD_MOVES, 0.0], [-HEAD_MOVES, 0.0], [0.0, HEAD_MOVES], [0.0, -HEAD_MOVES]])
    heads = eyes + np.c_[plan, np.zeros(len(plan))]
    origins = np.repeat(heads, len(directions), axis=0)
    rays = np.tile(directions, (len(heads), 1))
    shape = (len(heads), len(directions))
    boat = sight.boat.occluded(origins, rays).reshape(shape)
    cloth = sight.cloth.occluded(origins, rays).reshape(shape)
    return Seen(
        directions=directions,
        by_boat=np.all(boat, axis=0),
        by_cloth=np.all(cloth, axis=0),
        hidden=np.all(boat | cloth, axis=0),
    )


def horizon() -> Floats:
    """Return level directions (180, 3) all round, every two degrees, from ahead to starboard."""
    angle = np.arange(0.0, 2 * np.pi - 1e-9, HORIZON_STEP)
    ways: Floats = np.c_[-np.cos(angle), np.sin(angle), np.zeros(len(angle))]
    return ways


def water_ahead(ask: Ask, eyes: Floats) -> Floats:
    """Return directions from eyes to the water ahead, from four boat lengths out to the horizon.

    Parameters
    ----------
    ask : Ask
    eyes : (3,) ndarray
        [m]
    """
    edge = ask.design.hull.deck_edge
    length = max(point[0] for point in edge) - min(point[0] for point in edge)
    above = max(eyes[2] - ask.scene.water_z, 0.1)
    nearest = np.arctan2(above, NEAREST_WATER * length)
    down, aside = np.meshgrid(np.linspace(0.0, nearest, 4), np.linspace(-AHEAD, AHEAD, 23), indexing="ij")
    level = np.cos(down)
    ways: Floats = np.c_[(-level * np.cos(aside)).ravel(), (level * np.sin(aside)).ravel(), -np.sin(down).ravel()]
    return ways

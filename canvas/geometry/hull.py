"""Build the hull as a closed block from the deck edge down to below the water, and the deck behind the well.

Computes: a smooth deck edge through the measured stations, topsides with flare, a raked transom, the aft deck.
Units: metres, radians, boat frame (x aft, y starboard, z up).
Source: deck edge by monotone cubic interpolation (F. N. Fritsch and R. E. Carlson, SIAM J. Numer. Anal. 17 (1980)
    238; scipy's PCHIP).
Limits: straight topsides; a plumb stem; the bottom is cut off flat below the water, deep enough to stay under it when
    heeled; a deck flat across the boat. Not a hull form.

Definitions
-----------
aft deck : behind the well; at its own height over the middle of the boat and falling straight to the deck edge.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from manifold3d import Manifold
from scipy.interpolate import PchipInterpolator

from canvas.design.names import NameProblem
from canvas.design.schema.base import Vector
from canvas.design.schema.boat import Hull
from canvas.design.schema.design import Design
from canvas.geometry.closed import loft
from canvas.geometry.surface import Floats, locked

UNDER_WATER = 0.60  # the block goes on below the water [m]: 1.8 m of half beam at 18 degrees of heel stays under
STEM_HALF = 0.01  # half width of the stem, and of a pointed stern [m]
NARROWEST = 0.25  # of the deck's half-breadth: as far in as the flare may bring the block's bottom
PARTS = 3  # of each interval between stations
PLATEAU = 0.70  # of the half-breadth: where the aft deck begins to fall to the deck edge
BULWARK = 0.05  # left standing where the aft deck is lower than the deck edge [m]
OPEN_STERN = 0.02  # a well that ends this near the transom has none behind it [m]
STEEPEST = np.radians(60)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DeckEdge:
    """One side's deck edge.

    Attributes
    ----------
    x, y, z : (k,) ndarray
        Stations from the stem aft; `y` from the centreline, never negative [m].
    curve : PchipInterpolator
        From x to y and z.
    """

    x: Floats
    y: Floats
    z: Floats
    curve: PchipInterpolator

    def __post_init__(self) -> None:
        for name in ("x", "y", "z"):
            object.__setattr__(self, name, locked(getattr(self, name)))

    def half_breadth(self, x: Floats) -> Floats:
        """Return how far the deck edge is from the centreline at each `x`, shaped as it [m]; held beyond the ends."""
        wide: Floats = np.maximum(self.curve(np.clip(x, self.x[0], self.x[-1]))[..., 0], STEM_HALF)
        return wide

    def height(self, x: Floats) -> Floats:
        """Return z of the deck edge at each `x`, shaped as it [m]; held beyond the ends."""
        smooth: Floats = self.curve(np.clip(x, self.x[0], self.x[-1]))[..., 1]
        return smooth


def deck_edges(hull: Hull) -> tuple[DeckEdge, DeckEdge]:
    """Return the deck edge to port and to starboard."""
    starboard = _edge(tuple(hull.deck_edge))
    return starboard if hull.deck_edge_port is None else _edge(tuple(hull.deck_edge_port)), starboard


@lru_cache(maxsize=64)
def _edge(stations: tuple[Vector, ...]) -> DeckEdge:
    x, y, z = np.array(stations).T
    return DeckEdge(x=x, y=np.abs(y), z=z, curve=PchipInterpolator(x, np.stack([np.abs(y), z], axis=1)))


def room_inside(hull: Hull, *, x: Floats, z: float) -> tuple[Floats, Floats]:
    """Return how far the hull reaches to port and to starboard at a height not above the deck edge.

    Parameters
    ----------
    hull : Hull
    x : (n,) ndarray
        [m]
    z : float
        [m]; above the deck edge, the deck edge counts.

    Returns
    -------
    port, starboard : (n,) ndarray
        Distance from the centreline [m].
    """
    port, starboard = (
        np.maximum(
            edge.half_breadth(x) - np.maximum(edge.height(x) - z, 0.0) * np.tan(hull.flare),
            NARROWEST * edge.half_breadth(x),
        )
        for edge in deck_edges(hull)
    )
    return port, starboard


def hull_block(hull: Hull, *, lowest: float) -> Manifold:
    """Return the hull without cabin or cockpit.

    Parameters
    ----------
    hull : Hull
    lowest : float
        The block reaches at least this low: below the sole [m].
    """
    port, starboard = deck_edges(hull)
    share = np.unique(np.concatenate([_shares(port), _shares(starboard)]))
    bottom = min(hull.waterline - UNDER_WATER, lowest)
    rings = []
    for edge, sign in ((starboard, 1.0), (port, -1.0)):
        x = edge.x[0] + share * (edge.x[-1] - edge.x[0])
        y, z = edge.half_breadth(x), edge.height(x)
        foot_y = np.maximum(y - (z - bottom) * np.tan(hull.flare), NARROWEST * y)
        swept = np.clip(2 * share - 1, 0, 1) * (z - bottom) * np.tan(hull.transom_rake)  # all of it at the transom
        rings += [np.c_[x, sign * y, z], np.c_[x + swept, sign * foot_y, np.full_like(x, bottom)]]
    deck_stb, foot_stb, deck_port, foot_port = rings
    return loft(np.stack([deck_port, deck_stb, foot_stb, foot_port], axis=1))


def aft_deck(design: Design) -> tuple[Manifold | None, Manifold | None]:
    """Return what the aft deck takes away from the hull and what it adds, each None where nothing.

    Where it is higher than the deck edge, a deck rises from the deck edge to it; where it is lower, it is let in
    between bulwarks.
    """
    port, starboard = deck_edges(design.hull)
    start, end = design.cockpit.length, transom_x(design.hull)
    if end - start <= OPEN_STERN:
        return None, None
    height = design.cockpit.aft_deck
    x = np.linspace(start, end, 9)
    sides = [(edge.half_breadth(x), edge.height(x), sign) for edge, sign in ((starboard, 1.0), (port, -1.0))]
    lowest = min(float(z.min()) for _, z, _ in sides)
    highest = max(float(z.max()) for _, z, _ in sides)
    taken = added = None
    if highest > height:
        x[-1] += 1.0  # through the transom
        rail_stb, rail_port = (sign * (y - np.minimum(BULWARK, 0.1 * y)) for y, _, sign in sides)
        taken = _across(x, [(rail_stb, height), (rail_stb, highest + 1), (rail_port, highest + 1), (rail_port, height)])
        x[-1] -= 1.0
    if lowest < height:
        (y_stb, z_stb, _), (y_port, z_port, _) = sides
        added = _across(
            x,
            [
                (0.98 * y_stb, np.minimum(z_stb, height) - 0.02),
                (PLATEAU * y_stb, height),
                (-PLATEAU * y_port, height),
                (-0.98 * y_port, np.minimum(z_port, height) - 0.02),
            ],
        )
    return taken, added


def transom_x(hull: Hull) -> float:
    """Return x of the deck's aft end [m]."""
    return float(min(edge.x[-1] for edge in deck_edges(hull)))


def transom_face(hull: Hull, *, z: float) -> float:
    """Return x of the transom at a height `z` not above the deck [m]."""
    return float(min(edge.x[-1] + max(edge.z[-1] - z, 0.0) * np.tan(hull.transom_rake) for edge in deck_edges(hull)))


def _shares(edge: DeckEdge) -> Floats:
    parts = np.concatenate(
        [np.linspace(a, b, PARTS, endpoint=False) for a, b in zip(edge.x[:-1], edge.x[1:], strict=True)] + [edge.x[-1:]]
    )
    shares: Floats = np.round((parts - edge.x[0]) / (edge.x[-1] - edge.x[0]), 9)
    return shares


def _across(x: Floats, points: list[tuple[Floats, Floats | float]]) -> Manifold:
    rings = np.stack([np.c_[x, y, np.broadcast_to(z, x.shape)] for y, z in points], axis=1)
    return loft(rings)


def hull_problems(hull: Hull) -> Iterator[NameProblem]:
    """Yield what makes a hull impossible; nothing else of the boat is looked at where there is something."""
    sides: list[tuple[str, list[Vector], float]] = [("deck_edge", hull.deck_edge, 1.0)]
    if hull.deck_edge_port is not None:
        sides.append(("deck_edge_port", hull.deck_edge_port, -1.0))
    for key, points, sign in sides:
        for place, point in enumerate(points):
            if sign * point[1] < 0:
                side = "starboard" if sign > 0 else "port"
                yield NameProblem(
                    path=("hull", key, place), code="wrong-side", found=f"y = {point[1]:.3f} m",
                    wanted=f"This is the {side} deck edge: y is {'0 or above' if sign > 0 else '0 or below'}.",
                )  # fmt: skip
            if place and point[0] <= points[place - 1][0] + 0.001:
                yield NameProblem(
                    path=("hull", key, place), code="wrong-order",
                    found=f"x = {point[0]:.3f} m after {points[place - 1][0]:.3f} m",
                    wanted="Write the deck edge from the stem to the transom: x grows from point to point.",
                )  # fmt: skip
            if point[2] <= hull.waterline + 0.05:
                yield NameProblem(
                    path=("hull", key, place), code="deck-under-water",
                    found=f"z = {point[2]:.3f} m with the water at {hull.waterline:.3f} m",
                    wanted="The deck edge lies above the water at rest.",
                )  # fmt: skip
        if max(abs(point[1]) for point in points) < 0.3:
            yield NameProblem(
                path=("hull", key), code="no-width", found="no point 0.3 m off the centreline",
                wanted="Write y of each point as its distance from the centreline.",
            )  # fmt: skip
    ends = [(points[0][0], points[-1][0]) for _, points, _ in sides]
    if max(abs(ends[0][k] - ends[-1][k]) for k in (0, 1)) > 0.10:
        yield NameProblem(
            path=("hull", "deck_edge_port"), code="hull-not-closed", found="ends that do not meet those to starboard",
            wanted="Begin at the same stem and end at the same transom, within 0.1 m.",
        )  # fmt: skip
    yield from _angle_problems(hull)


def _angle_problems(hull: Hull) -> Iterator[NameProblem]:
    for key, angle in (("flare", hull.flare), ("transom_rake", hull.transom_rake)):
        if abs(angle) > STEEPEST:
            yield NameProblem(
                path=("hull", key), code="too-steep", found=f"{np.degrees(angle):.0f} degrees",
                wanted="Write an angle from the vertical of at most 60 degrees.",
            )  # fmt: skip

"""Build the deckhouse, its companionway and the bridge deck.

Computes: the house as a solid with a cambered roof; the opening to cut in its aft face; the bridge deck.
Units: metres, boat frame.
Source: geometry; roof heights are at its sides, and the camber rises above them as a parabola.
Limits: upright sides and front; the cabin inside is not modelled: the companionway is a recess.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from manifold3d import Manifold

from canvas.design.names import NameProblem
from canvas.design.schema.boat import Cabin
from canvas.design.schema.design import Design
from canvas.geometry.closed import box, loft
from canvas.geometry.hull import deck_edges

STATIONS = 9
ARC = 9  # points across the roof
SUNK = 0.05  # the house stands this far into the deck [m]
RECESS = 0.45  # depth of the companionway, at most [m]
CLEAR_OF_EDGE = 0.02  # between house and deck edge [m]


def roof_height(cabin: Cabin, *, x: float, y: float = 0.0) -> float:
    """Return z of the roof at a spot of the house's plan [m].

    Parameters
    ----------
    cabin : Cabin
    x : float
        Aft of the bulkhead, so negative over the house [m].
    y : float
        To starboard [m].
    """
    share = (x - cabin.front) / -cabin.front
    half = half_width(cabin, x=x)
    side = cabin.front_height + share * (cabin.aft_height - cabin.front_height)
    return side + cabin.camber * (1 - (y / half) ** 2)


def half_width(cabin: Cabin, *, x: float) -> float:
    """Return half the width of the house at `x` [m]."""
    share = (x - cabin.front) / -cabin.front
    return (cabin.front_width + share * (cabin.aft_width - cabin.front_width)) / 2


def well_start(cabin: Cabin) -> float:
    """Return x where the well begins: the bridge deck's aft end, or the bulkhead [m]."""
    return cabin.bridge_deck.length if cabin.bridge_deck else 0.0


def house(design: Design) -> Manifold:
    """Return the deckhouse, from a little below the deck to its roof."""
    cabin = design.cabin
    x = np.linspace(cabin.front, 0.0, STATIONS)
    foot = np.minimum(*(edge.height(x) for edge in deck_edges(design.hull))) - SUNK
    across = np.linspace(1.0, -1.0, ARC)
    rings = []
    for station, low in zip(x, foot, strict=True):
        half = half_width(cabin, x=float(station))
        side = roof_height(cabin, x=float(station), y=half)
        roof = np.c_[half * across, side + cabin.camber * (1 - across**2)]
        ring = np.vstack([[[half, low]], roof, [[-half, low]]])
        rings.append(np.c_[np.full(len(ring), station), ring])
    return loft(np.array(rings))


def companionway(cabin: Cabin) -> Manifold:
    """Return the space to cut out of the house's aft face."""
    way = cabin.companionway
    depth, past = _recess(cabin), 0.01
    return box(
        (depth + past, way.width, way.top - way.sill),
        middle=np.array([(past - depth) / 2, way.offset, (way.top + way.sill) / 2]),
    )


def bridge_deck(design: Design, *, foot: float) -> Manifold | None:
    """Return the bridge deck, from below the sole to its height; None where there is none.

    Parameters
    ----------
    design : Design
    foot : float
        z of its underside, below the sole [m].
    """
    bridge = design.cabin.bridge_deck
    if bridge is None:
        return None
    port, starboard = design.cockpit.port.seat_outer, design.cockpit.starboard.seat_outer
    return box(
        (bridge.length, port + starboard, bridge.height - foot),
        middle=np.array([bridge.length / 2, (starboard - port) / 2, (bridge.height + foot) / 2]),
    )


def _recess(cabin: Cabin) -> float:
    return min(RECESS, 0.6 * -cabin.front)


def cabin_problems(design: Design) -> Iterator[NameProblem]:
    """Yield what makes a cabin impossible on a hull that is possible."""
    cabin, edges = design.cabin, deck_edges(design.hull)
    stem = max(edge.x[0] for edge in edges)
    if cabin.front >= -0.2:
        yield NameProblem(
            path=("cabin", "front"), code="cabin-front-behind-bulkhead", found=f"x = {cabin.front:.3f} m",
            wanted="The front lies at least 0.2 m before the bulkhead: write a negative length.",
        )  # fmt: skip
        return
    if cabin.front <= stem:
        yield NameProblem(
            path=("cabin", "front"), code="cabin-before-stem", found=f"x = {cabin.front:.3f} m",
            wanted=f"The stem is at {stem:.3f} m; the cabin's front lies behind it.",
        )  # fmt: skip
        return
    for key, x in (("front_width", cabin.front), ("aft_width", 0.0)):
        room = min(float(edge.half_breadth(np.array([x]))[0]) for edge in edges) - CLEAR_OF_EDGE
        if half_width(cabin, x=x) > room:
            yield NameProblem(
                path=("cabin", key), code="cabin-wider-than-hull", found=f"{2 * half_width(cabin, x=x):.3f} m",
                wanted=f"The deck there has room for {2 * room:.3f} m.",
            )  # fmt: skip
    for key, x in (("front_height", cabin.front), ("aft_height", 0.0)):
        deck = max(float(edge.height(np.array([x]))[0]) for edge in edges)
        if getattr(cabin, key) <= deck:
            yield NameProblem(
                path=("cabin", key), code="roof-under-deck", found=f"z = {getattr(cabin, key):.3f} m",
                wanted=f"The roof's side lies above the deck edge, which is at {deck:.3f} m there.",
            )  # fmt: skip
    yield from _way_problems(cabin)


def _way_problems(cabin: Cabin) -> Iterator[NameProblem]:
    way, bridge = cabin.companionway, cabin.bridge_deck
    path = ("cabin", "companionway")
    if way.sill >= way.top:
        yield NameProblem(
            path=(*path, "sill"), code="no-opening", found=f"a sill at {way.sill:.3f} m, a top at {way.top:.3f} m",
            wanted="The sill lies below the top.",
        )  # fmt: skip
    half = min(half_width(cabin, x=0.0), half_width(cabin, x=-_recess(cabin)))
    if abs(way.offset) + way.width / 2 >= half:
        yield NameProblem(
            path=(*path, "width"), code="opening-outside-cabin",
            found=f"an opening that reaches {abs(way.offset) + way.width / 2:.3f} m from the centreline",
            wanted=f"The cabin reaches {half:.3f} m there.",
        )  # fmt: skip
    elif way.top > roof_height(cabin, x=0.0, y=way.offset) + 0.15:
        yield NameProblem(
            path=(*path, "top"), code="opening-outside-cabin", found=f"z = {way.top:.3f} m",
            wanted=f"The roof is at {roof_height(cabin, x=0.0, y=way.offset):.3f} m there.",
        )  # fmt: skip
    floor = bridge.height if bridge else 0.0
    if way.sill < floor - 0.001:
        what = "the bridge deck" if bridge else "the sole"
        yield NameProblem(
            path=(*path, "sill"), code="sill-too-low", found=f"z = {way.sill:.3f} m",
            wanted=f"The sill is not below {what}, which is at {floor:.3f} m.",
        )  # fmt: skip

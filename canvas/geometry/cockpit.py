"""Build the cockpit: the well to cut out of the hull, and seats, helm seat and coamings to add.

Computes: closed solids for each; port and starboard by their own measures.
Units: metres, radians, boat frame.
Source: geometry.
Limits: the well is as wide as the seats' outer edges from end to end, so the sole widens before and behind the seats;
    seat fronts slope from the seat's inner edge to the sole's edge; coamings are upright boxes outside the seats. A
    centre cockpit is one with a long aft deck; an aft cabin that rises above that deck is a box among the solids.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from manifold3d import Manifold

from canvas.design.names import NameProblem
from canvas.design.schema.boat import Side
from canvas.design.schema.design import Design
from canvas.geometry.cabin import well_start
from canvas.geometry.closed import box, loft, prism
from canvas.geometry.hull import OPEN_STERN, deck_edges, room_inside, transom_face, transom_x
from canvas.geometry.surface import Floats

UNDER_SOLE = 0.10  # thickness of the hull left under the sole, and of seats and bridge deck set into it [m]
SUNK = 0.05  # coamings stand this far into the deck [m]
CLEAR_OF_EDGE = 0.01  # between coaming and deck edge [m]
STEEPEST_SOLE = np.radians(12)


def sole_height(design: Design, *, x: float) -> float:
    """Return z of the sole at `x`, which falls aft by its slope [m]."""
    return float(-x * np.tan(design.cockpit.sole_slope))


def lowest_sole(design: Design) -> float:
    """Return z of the sole's lowest end [m]."""
    return min(0.0, sole_height(design, x=design.cockpit.length))


def sides(design: Design) -> tuple[tuple[Side, float, str], ...]:
    """Return the two sides with the sign of their y and their key."""
    return (design.cockpit.port, -1.0, "port"), (design.cockpit.starboard, 1.0, "starboard")


def well(design: Design, *, top: float) -> Manifold:
    """Return the space of the cockpit, from the sole up.

    Parameters
    ----------
    design : Design
    top : float
        z above all that stands over the well [m].
    """
    cockpit = design.cockpit
    end = cockpit.length
    if abs(transom_x(design.hull) - end) <= OPEN_STERN:
        end += 2.0  # out through the transom
    port, starboard = -cockpit.port.seat_outer, cockpit.starboard.seat_outer
    rings = [
        [(x, port, sole), (x, starboard, sole), (x, starboard, top), (x, port, top)]
        for x, sole in ((0.0, 0.0), (end, sole_height(design, x=end)))
    ]
    return loft(np.array(rings))


def seat(design: Design, side: Side, *, sign: float) -> Manifold:
    """Return one side's seat with its front, down to below the sole.

    Parameters
    ----------
    design : Design
    side : Side
    sign : float
        1 to starboard, -1 to port.
    """
    foot = lowest_sole(design) - UNDER_SOLE
    half = design.cockpit.sole_width / 2
    outline = np.array(
        [
            (side.seat_outer, side.seat_height),
            (side.seat_inner, side.seat_height),
            (half, 0.0),
            (half, foot),
            (side.seat_outer, foot),
        ]
    )
    return prism(outline * [sign, 1.0], start=side.seat_from, end=side.seat_to)


def helm_seat(design: Design) -> Manifold | None:
    """Return the seat across the well's aft end, None where there is none."""
    cockpit = design.cockpit
    if cockpit.helm_seat is None:
        return None
    foot, top = lowest_sole(design) - UNDER_SOLE, helm_seat_height(design)
    port, starboard = -cockpit.port.seat_outer, cockpit.starboard.seat_outer
    return box(
        (cockpit.helm_seat, starboard - port, top - foot),
        middle=np.array([cockpit.length - cockpit.helm_seat / 2, (port + starboard) / 2, (top + foot) / 2]),
    )


def helm_seat_height(design: Design) -> float:
    """Return the helm seat's own height, or that of the starboard seat [m]."""
    return design.cockpit.helm_seat_height or design.cockpit.starboard.seat_height


def coaming(design: Design, side: Side, *, sign: float) -> Manifold:
    """Return one side's coaming, from a little below the deck to its top.

    Parameters
    ----------
    design : Design
    side : Side
    sign : float
        1 to starboard, -1 to port.
    """
    x = np.linspace(side.coaming_from, side.coaming_to, 9)
    foot = min(float(edge.height(x).min()) for edge in deck_edges(design.hull)) - SUNK
    foot = min(foot, side.coaming_top - SUNK)
    inner, outer = sign * side.seat_outer, sign * (side.seat_outer + side.coaming_width)
    return box(
        (side.coaming_to - side.coaming_from, side.coaming_width, side.coaming_top - foot),
        middle=np.array([(x[0] + x[-1]) / 2, (inner + outer) / 2, (side.coaming_top + foot) / 2]),
    )


def cockpit_problems(design: Design) -> Iterator[NameProblem]:
    """Yield what makes a cockpit impossible on a hull that is possible."""
    cockpit, start, end = design.cockpit, well_start(design.cabin), transom_x(design.hull)
    if cockpit.length <= start + 0.2:
        yield NameProblem(
            path=("cockpit", "length"), code="no-well", found=f"a well that ends at x = {cockpit.length:.3f} m",
            wanted=f"It begins at {start:.3f} m and is at least 0.2 m long.",
        )  # fmt: skip
    open_stern = abs(end - cockpit.length) <= OPEN_STERN
    end = min(end, transom_face(design.hull, z=sole_height(design, x=cockpit.length)))
    if cockpit.length > end and not open_stern:
        yield NameProblem(
            path=("cockpit", "length"), code="well-behind-transom", found=f"x = {cockpit.length:.3f} m",
            wanted=f"The transom is at {end:.3f} m at the sole; the well ends before it, or at the deck's end if open.",
        )  # fmt: skip
    if abs(cockpit.sole_slope) > STEEPEST_SOLE:
        yield NameProblem(
            path=("cockpit", "sole_slope"), code="too-steep", found=f"{np.degrees(cockpit.sole_slope):.1f} degrees",
            wanted="Write a slope of at most 12 degrees.",
        )  # fmt: skip
    bridge = design.cabin.bridge_deck
    if bridge is not None and bridge.height <= sole_height(design, x=bridge.length):
        yield NameProblem(
            path=("cabin", "bridge_deck", "height"), code="bridge-deck-under-sole", found=f"z = {bridge.height:.3f} m",
            wanted="The bridge deck lies above the sole.",
        )  # fmt: skip
    yield from _helm_problems(design)
    for side, _, key in sides(design):
        yield from _side_problems(design, side, key=key)


def _helm_problems(design: Design) -> Iterator[NameProblem]:
    cockpit = design.cockpit
    end = cockpit.length
    if cockpit.helm_seat is None and cockpit.helm_seat_height is not None:
        yield NameProblem(
            path=("cockpit", "helm_seat_height"), code="no-helm-seat", found="a height without a helm seat",
            wanted="Give the seat's depth in `helm_seat`, or take the height out.",
        )  # fmt: skip
    if cockpit.helm_seat is not None and cockpit.helm_seat >= end - well_start(design.cabin):
        yield NameProblem(
            path=("cockpit", "helm_seat"), code="seat-outside-well", found=f"a depth of {cockpit.helm_seat:.3f} m",
            wanted=f"The well is {end - well_start(design.cabin):.3f} m long.",
        )  # fmt: skip
    sole = sole_height(design, x=end)
    if cockpit.aft_deck < sole or cockpit.aft_deck <= design.hull.waterline:
        yield NameProblem(
            path=("cockpit", "aft_deck"), code="aft-deck-too-low", found=f"z = {cockpit.aft_deck:.3f} m",
            wanted=f"It lies above the water and not below the sole, which is at {sole:.3f} m there.",
        )  # fmt: skip


def _side_problems(design: Design, side: Side, *, key: str) -> Iterator[NameProblem]:
    cockpit = design.cockpit

    def problem(name: str, code: str, found: str, wanted: str) -> NameProblem:
        return NameProblem(path=("cockpit", key, name), code=code, found=found, wanted=wanted)

    if side.seat_to <= side.seat_from:
        yield problem("seat_to", "no-seat", f"a seat from {side.seat_from:.3f} to {side.seat_to:.3f} m",
                      "The seat ends behind where it begins.")  # fmt: skip
    if side.seat_to > cockpit.length:
        yield problem("seat_to", "seat-outside-well", f"x = {side.seat_to:.3f} m",
                      f"The well ends at {cockpit.length:.3f} m.")  # fmt: skip
    if side.seat_outer <= max(side.seat_inner, cockpit.sole_width / 2) + 0.01:
        yield problem("seat_outer", "seat-outside-coaming", f"{side.seat_outer:.3f} m",
                      f"The seat's outer edge is the coaming's inner face: farther out than the seat's inner edge, "
                      f"{side.seat_inner:.3f} m, and the sole's edge, {cockpit.sole_width / 2:.3f} m.")  # fmt: skip
    if side.seat_height <= sole_height(design, x=side.seat_from):
        yield problem("seat_height", "seat-under-sole", f"{side.seat_height:.3f} m", "The seat lies above the sole.")
    if side.coaming_to <= side.coaming_from:
        yield problem("coaming_to", "no-coaming", f"a coaming from {side.coaming_from:.3f} to {side.coaming_to:.3f} m",
                      "The coaming ends behind where it begins.")  # fmt: skip
    elif side.coaming_to > transom_x(design.hull):
        yield problem("coaming_to", "coaming-behind-transom", f"x = {side.coaming_to:.3f} m",
                      f"The transom is at {transom_x(design.hull):.3f} m.")  # fmt: skip
    if side.coaming_top < side.seat_height:
        yield problem("coaming_top", "seat-above-coaming",
                      f"a coaming at {side.coaming_top:.3f} m, a seat at {side.seat_height:.3f} m",
                      "The coaming is not lower than its seat.")  # fmt: skip
    yield from _width_problems(design, side, key=key)


def _width_problems(design: Design, side: Side, *, key: str) -> Iterator[NameProblem]:
    """Yield where a side of the cockpit does not fit inside the hull."""
    hull, which = design.hull, 0 if key == "port" else 1
    along = np.linspace(0.0, min(design.cockpit.length, transom_x(hull)), 25)
    room = float(room_inside(hull, x=along, z=lowest_sole(design))[which].min()) - CLEAR_OF_EDGE
    if side.seat_outer > room:
        yield NameProblem(
            path=("cockpit", key, "seat_outer"), code="cockpit-wider-than-hull", found=f"{side.seat_outer:.3f} m",
            wanted=f"The hull has room for {room:.3f} m from the centreline at the sole.",
        )  # fmt: skip
        return
    beside = np.linspace(side.coaming_from, side.coaming_to, 25)
    room = _deck_room(design, beside, which=which)
    outer = side.seat_outer + side.coaming_width
    if outer > room:
        yield NameProblem(
            path=("cockpit", key, "coaming_width"), code="coaming-outside-hull",
            found=f"a coaming that reaches {outer:.3f} m from the centreline",
            wanted=f"The deck has room for {room:.3f} m beside it.",
        )  # fmt: skip


def _deck_room(design: Design, x: Floats, *, which: int) -> float:
    foot = min(float(edge.height(x).min()) for edge in deck_edges(design.hull)) - SUNK
    return float(room_inside(design.hull, x=x, z=foot)[which].min()) - CLEAR_OF_EDGE

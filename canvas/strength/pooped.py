"""Say which canvas would hold a sea in the cockpit, and how much stands there before it runs out.

Computes: the sides of the cockpit that upright cloth with a fastened foot shuts; the water inside up to the lowest
    side left open.
Units: cubic metres, metres.
Source: geometry; that a fastened foot holds water in is common practice, no source.
Limits: an estimate by boxes, the boat at rest; people, wheel and lockers displace nothing, and drains take minutes.
    Where every side is shut the water stands higher than said, until cloth gives way. The sea itself is not modelled.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from canvas.cloth.rigging import Rigging
from canvas.cloth.shape import PanelShape
from canvas.design.schema.boat import Cockpit
from canvas.geometry.triangles import area_vectors

NEAR = 0.30  # a foot this near a rim, level or up, stands on it [m]
SPANS = 0.6  # share of a side that cloth has to shut
UPRIGHT = 0.5  # a panel that faces up less than this stands


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pooped:
    """A sea in the cockpit.

    Attributes
    ----------
    shut : tuple of (str, str)
        Side of the cockpit (``port``, ``starboard``, ``aft``) and the panel that shuts it.
    leaves_by : str or None
        The lowest side left open; None where cloth shuts all.
    bare_leaves_by : str
        The lowest side without canvas.
    volume, bare_volume : float
        Inside before it runs out, with the canvas and without [m3].
    """

    shut: tuple[tuple[str, str], ...]
    leaves_by: str | None
    bare_leaves_by: str
    volume: float
    bare_volume: float


def pooped(rigging: Rigging, set_name: str) -> Pooped:
    """Return what a sea in the cockpit meets.

    Parameters
    ----------
    rigging : Rigging
    set_name : str
    """
    cockpit = rigging.model.design.cockpit
    rims = {
        "port": cockpit.port.coaming_top,
        "starboard": cockpit.starboard.coaming_top,
        "aft": max(cockpit.aft_deck, cockpit.helm_seat_height or cockpit.aft_deck),
    }
    shut = tuple(
        (side, shape.name)
        for side in rims
        for shape in rigging.rig(set_name).formed.panels
        if _shuts(shape, cockpit, side, rims[side])
    )
    closed = {side for side, _ in shut}
    open_ = {side: top for side, top in rims.items() if side not in closed}
    bare = min(rims, key=lambda side: rims[side])
    leaves = min(open_, key=lambda side: open_[side], default=None)
    level = max(rims.values()) if leaves is None else open_[leaves]
    return Pooped(
        shut=shut, leaves_by=leaves, bare_leaves_by=bare, volume=_inside(cockpit, level),
        bare_volume=_inside(cockpit, rims[bare]),
    )  # fmt: skip


def _shuts(shape: PanelShape, cockpit: Cockpit, side: str, rim: float) -> bool:
    """Return whether a standing panel has a fastened edge along a side's rim."""
    corners = shape.vertices[shape.faces]
    areas = area_vectors(corners)
    if abs(float(areas[:, 2].sum())) > UPRIGHT * float(np.linalg.norm(areas.sum(axis=0))):
        return False
    for edge, line in zip(shape.edges, shape.edge_vertices, strict=True):
        points = shape.vertices[line]
        if edge.kind == "free" or abs(float(points[:, 2].mean()) - rim) > NEAR:
            continue
        if side == "aft":
            beside = abs(float(points[:, 0].mean()) - cockpit.length) < 2 * NEAR
            covered, needed = float(np.ptp(points[:, 1])), cockpit.sole_width
        else:
            one, sign = (cockpit.port, -1.0) if side == "port" else (cockpit.starboard, 1.0)
            beside = abs(sign * float(points[:, 1].mean()) - one.seat_outer) < NEAR + one.coaming_width
            covered, needed = float(np.ptp(points[:, 0])), cockpit.length
        if beside and covered > SPANS * needed:
            return True
    return False


def _inside(cockpit: Cockpit, level: float) -> float:
    """Return the water in the cockpit up to a level: over the sole, over each seat and the helm seat [m3]."""
    volume = cockpit.sole_width * cockpit.length * max(level, 0.0)
    for side in (cockpit.port, cockpit.starboard):
        wide, long = side.seat_outer - side.seat_inner, side.seat_to - side.seat_from
        volume += wide * long * max(level - side.seat_height, 0.0)
    if cockpit.helm_seat is not None and cockpit.helm_seat_height is not None:
        volume -= cockpit.sole_width * cockpit.helm_seat * min(cockpit.helm_seat_height, max(level, 0.0))
    return float(volume)

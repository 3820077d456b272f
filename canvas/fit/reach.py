"""Say what one person reaches from inside the cockpit: standing on the sole, kneeling or sitting on seats, bent over.

Computes: the shortest way from a shoulder to each point, over all stances and angles of the trunk, less the reach.
Units: metres, radians, boat frame.
Source: body measures of canvas/fit/people.py; the trunk bends 60 deg at the hips, common practice, no source.
Limits: feet and knees stay inside the coamings; nothing in the cockpit or overhead is in the body's way; one arm, bare
    hand to grip.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from canvas.design.schema.design import Design
from canvas.design.tables import default
from canvas.fit.people import Person
from canvas.geometry.cockpit import helm_seat_height, sole_height
from canvas.geometry.surface import Floats, locked

STEP = 0.20  # between places to stand [m]
SITS = 0.05  # hips over the seat [m]
BENDS = np.radians([0.0, 20.0, 40.0, 60.0])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Reached:
    """How far points are from a person's grip.

    Attributes
    ----------
    beyond : (n,) ndarray
        Farther than the reach by this; negative within it [m].
    stance : (n,) ndarray of int
        From which hip.
    """

    beyond: Floats
    stance: Floats

    def __post_init__(self) -> None:
        object.__setattr__(self, "beyond", locked(self.beyond))
        object.__setattr__(self, "stance", locked(self.stance, dtype=np.int64))


class Stances:
    """Where a person's hips may be in the cockpit.

    Parameters
    ----------
    design : Design
    person : Person
    """

    def __init__(self, design: Design, person: Person) -> None:
        self._person = person
        self._trunk = person.shoulder_standing - person.hip_standing
        feet = _sole(design)
        up = np.array([0.0, 0.0, 1.0])
        standing = feet + (person.hip_standing + default("shoes")) * up
        seats = _seats(design)
        kneeling = seats + (person.hip_standing - person.knee) * up
        self.hips: Floats = np.vstack([standing, kneeling, seats + SITS * up])

    def shoulders(self) -> Floats:
        """Return upright shoulders, (k, 3) [m]."""
        shoulders: Floats = self.hips + np.array([0.0, 0.0, self._trunk])
        return shoulders

    def reach(self, points: Floats) -> Reached:
        """Return how far beyond the reach each point is, from the best stance.

        Parameters
        ----------
        points : (n, 3) ndarray
            [m]
        """
        away = points[:, None] - self.hips
        level = np.hypot(away[..., 0], away[..., 1])[..., None]
        out = level - self._trunk * np.sin(BENDS)
        up = away[..., 2, None] - self._trunk * np.cos(BENDS)
        distance = np.sqrt(np.where(level > self._trunk * np.sin(BENDS), out, 0.0) ** 2 + up**2).min(axis=2)
        best = np.argmin(distance, axis=1)
        beyond = distance[np.arange(len(points)), best] - self._person.reach
        return Reached(beyond=beyond, stance=best)


def _sole(design: Design) -> Floats:
    bridge = design.cabin.bridge_deck
    start = (bridge.length if bridge is not None else 0.0) + 0.1
    end = design.cockpit.length - (design.cockpit.helm_seat or 0.0) - 0.1
    x, y = _grid(start, end, -design.cockpit.sole_width / 2 + 0.1, design.cockpit.sole_width / 2 - 0.1)
    spots: Floats = np.c_[x, y, [sole_height(design, x=float(one)) for one in x]]
    return spots


def _seats(design: Design) -> Floats:
    cockpit = design.cockpit
    plans = [
        (side.seat_from, side.seat_to, *sorted((sign * side.seat_inner, sign * side.seat_outer)), side.seat_height)
        for side, sign in ((cockpit.port, -1.0), (cockpit.starboard, 1.0))
    ]
    port, starboard = -cockpit.port.seat_outer, cockpit.starboard.seat_outer
    if cockpit.helm_seat is not None:
        plans.append((cockpit.length - cockpit.helm_seat, cockpit.length, port, starboard, helm_seat_height(design)))
    bridge = design.cabin.bridge_deck
    if bridge is not None:
        plans.append((0.0, bridge.length, port, starboard, bridge.height))
    spots = []
    for x0, x1, y0, y1, z in plans:
        x, y = _grid(x0 + 0.1, x1 - 0.1, y0 + 0.1, y1 - 0.1)
        spots.append(np.c_[x, y, np.full(len(x), z)])
    return np.vstack(spots)


def _grid(x0: float, x1: float, y0: float, y1: float) -> tuple[Floats, Floats]:
    """Return points over a rectangle, its middle where it is too small for more."""
    axes = [
        np.linspace(low, high, int((high - low) / STEP) + 2) if high > low else np.array([(low + high) / 2])
        for low, high in ((x0, x1), (y0, y1))
    ]
    x, y = np.meshgrid(*axes)
    return x.ravel(), y.ravel()

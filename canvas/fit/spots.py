"""Say where people sit and stand in the cockpit, and where their heads and eyes then are.

Computes: spots on seats, helm seat and sole, and eyes above them.
Units: metres, boat frame.
Source: default cushion and shoes (canvas/design/tables/defaults.toml).
Limits: on a seat people sit over its middle line; at a wheel they stand on the sole between it and the helm seat, at a
    tiller beside its free end, on the side of the longer seat.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from canvas.design.schema.design import Design
from canvas.design.tables import default
from canvas.fit.people import Person
from canvas.geometry.cockpit import helm_seat_height, sole_height
from canvas.geometry.steering import tiller_axis
from canvas.geometry.surface import Floats, locked

ROOM = 0.30  # depth of sole that a standing person takes [m]; common practice, no source
BESIDE = 0.15  # off the centreline, beside a tiller [m]; common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Spot:
    """Somewhere people sit or stand.

    Attributes
    ----------
    name : str
        As in ``on the port seat`` or ``standing at the helm``.
    line : (k, 3) ndarray
        Where the body's middle may be: over the seat's middle line, or between the feet [m].
    stands : bool
    """

    name: str
    line: Floats
    stands: bool

    def __post_init__(self) -> None:
        object.__setattr__(self, "line", locked(self.line))

    @property
    def middle(self) -> Floats:
        """The middle of the line, (3,) [m]."""
        middle: Floats = self.line[len(self.line) // 2]
        return middle

    def foot(self) -> float:
        """Return what lies between the seat or sole and the bare body: pressed cushion or shoes [m]."""
        return default("shoes" if self.stands else "cushion_pressed")

    def eyes(self, person: Person) -> Floats:
        """Return the person's eyes, over the middle of the spot (3,) [m]."""
        height = person.eye_standing if self.stands else person.eye_sitting
        eyes: Floats = self.middle + np.array([0.0, 0.0, self.foot() + height])
        return eyes


def spots_of(design: Design) -> tuple[Spot, ...]:
    """Return the seats, the seat at the helm, and where one stands at the helm, in this order."""
    cockpit = design.cockpit
    seats = [
        _along(f"on the {key} seat", side.seat_from, side.seat_to, sign * (side.seat_inner + side.seat_outer) / 2,
               side.seat_height)
        for side, sign, key in ((cockpit.port, -1.0, "port"), (cockpit.starboard, 1.0, "starboard"))
    ]  # fmt: skip
    return (*seats, *_helm_seat(design), *(_standing(design),))


def helm_spots(design: Design) -> tuple[Spot, ...]:
    """Return where the helm sits, as far as there is a seat, and where it stands."""
    return tuple(spot for spot in spots_of(design) if spot.name.endswith("the helm"))


def _along(name: str, start: float, end: float, y: float, z: float) -> Spot:
    inset = min(0.20, (end - start) / 2)
    x = np.linspace(start + inset, end - inset, max(3, int((end - start - 2 * inset) / 0.05) | 1))
    return Spot(name=name, line=np.c_[x, np.full(len(x), y), np.full(len(x), z)], stands=False)


def _helm_seat(design: Design) -> tuple[Spot, ...]:
    cockpit = design.cockpit
    if cockpit.helm_seat is not None:
        x, z = cockpit.length - cockpit.helm_seat / 2, helm_seat_height(design)
        y = np.linspace(-0.15, 0.15, 7)
        return (Spot(name="sitting at the helm", line=np.c_[np.full(7, x), y, np.full(7, z)], stands=False),)
    if design.steering.tiller is None:
        return ()
    side, sign = (cockpit.port, -1.0) if _port_is_longer(design) else (cockpit.starboard, 1.0)
    middle = sign * (side.seat_inner + side.seat_outer) / 2
    along = np.linspace(side.seat_to - 0.45, side.seat_to - 0.20, 5)
    line = np.c_[along, np.full(5, middle), np.full(5, side.seat_height)]
    return (Spot(name="sitting at the helm", line=line, stands=False),)


def _standing(design: Design) -> Spot:
    cockpit, steering = design.cockpit, design.steering
    end = cockpit.length - (cockpit.helm_seat or 0.0)
    x: float = end - ROOM / 2
    y: float = 0.0
    if steering.wheels:
        wheel = steering.wheels[0]
        start, y = wheel.at[0] + wheel.rim / 2, wheel.at[1]
        x = min(start + ROOM / 2, (start + end) / 2) if end > start else start + ROOM / 2
    elif steering.tiller is not None:
        free = tiller_axis(steering.tiller)[1]
        x = float(min(free[0] + ROOM / 2, end - ROOM / 2))
        y = BESIDE * (-1.0 if _port_is_longer(design) else 1.0)
    return Spot(name="standing at the helm", line=np.array([[x, y, sole_height(design, x=x)]]), stands=True)


def _port_is_longer(design: Design) -> bool:
    return design.cockpit.port.seat_to >= design.cockpit.starboard.seat_to

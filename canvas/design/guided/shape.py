"""Work out a boat's proportions from the answers of the guided start.

Computes: where deck, cabin, seats, bows, marks, spars and vane lie, in metres.
Units: metres, radians, boat frame (x aft, y starboard, z up).
Source: proportions are common practice, no source, judged on drawings.
Limits: port mirrors starboard; the crew puts in what differs.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from canvas.design.guided.questions import COAMING, Answers, complete, number, transom

Vector = tuple[float, float, float]

# Deck edge: share of the length from the stem, share of the half beam, share of the bow's extra height.
DECK = (
    (0.00, 0.00, 1.00), (0.12, 0.42, 0.76), (0.30, 0.82, 0.42), (0.50, 1.00, 0.14), (0.70, 0.98, 0.02),
    (0.86, 0.88, 0.00), (1.00, 0.72, 0.02),
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Bow:
    """A bent hoop: half the distance of its feet, where they stand, and its shape."""

    x: float
    half: float
    foot_z: float
    rake: float
    crown: float
    top_width: float
    camber: float
    radius: float

    def shoulder(self, side: int) -> Vector:
        """Return the point where the roof's side meets the bow: where its bend begins, port (-1) or starboard (+1)."""
        across = self.top_width / 2 - 1.05 * self.radius
        up = self.crown - self.camber + self.camber * (1 - (2 * across / self.top_width) ** 2)
        return (self.x + up * math.sin(self.rake), side * across, self.foot_z + up * math.cos(self.rake))


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """The boat's proportions; lengths [m], as the design file takes them."""

    deck_edge: tuple[Vector, ...]
    waterline: float
    deck: float
    transom: float
    cabin_front: float
    cabin_height: float
    cabin_aft_width: float
    half_cockpit: float
    half_sole: float
    bridge: float
    seat_to: float
    helm_seat: float | None
    wheel: Vector | None
    mast: float
    masthead: float
    boom_length: float
    hood: Bow
    hood_front: tuple[Vector, ...]
    bimini: tuple[Bow, Bow] | None
    winch: float
    leech: Vector


def shape_of(answers: Answers) -> Shape:
    """Return the proportions of a boat.

    Parameters
    ----------
    answers : mapping
        SI; what is missing takes its usual value.
    """
    said = complete(answers)
    length, beam, cockpit = (number(said, key) for key in ("length", "beam", "cockpit_length"))
    coaming, seat = number(said, "coaming_height"), number(said, "seat_height")
    end = transom(said)
    deck = max(coaming - 0.25, 0.12 - number(said, "sole_above_water"))
    half = number(said, "cockpit_width") / 2
    cabin = max(coaming + 0.26, deck + 0.40)
    wheeled = said["steered_by"] == "wheel"
    mast = end - 0.60 * length
    hood = _hood(said, half=half)
    bimini = _bimini(said, half=half) if said["bimini"] == "yes" else None
    return Shape(
        deck_edge=tuple(
            (end - length * (1 - along), wide * beam / 2, deck + 0.045 * length * high) for along, wide, high in DECK
        ),
        waterline=-number(said, "sole_above_water"),
        deck=deck,
        transom=end,
        cabin_front=max(end - 0.74 * length, -0.36 * length),
        cabin_height=cabin,
        cabin_aft_width=2 * half + 0.10,
        half_cockpit=half,
        half_sole=max(0.22, 0.40 * half),
        bridge=0.30,
        seat_to=cockpit - (0.62 if wheeled else 0.05),
        helm_seat=0.34 if wheeled else None,
        wheel=(cockpit - 0.54, 0.0, seat + 0.44) if wheeled else None,
        mast=mast,
        masthead=1.30 * length + deck - 0.3,
        boom_length=0.45 * cockpit - mast,
        hood=hood,
        hood_front=_hood_front(half=half, coaming=coaming, roof=cabin),
        bimini=bimini,
        winch=(hood.x + bimini[0].x) / 2 if bimini else 0.62 * cockpit,  # between the bows, for the handle's sake
        leech=_leech(said, half=half),
    )


def _hood(said: Answers, *, half: float) -> Bow:
    coaming = number(said, "coaming_height")
    reach = half + COAMING / 2
    rake = math.radians(4)
    return Bow(
        x=0.42, half=reach, foot_z=coaming + 0.02, rake=rake,
        crown=(number(said, "hood_height") - coaming - 0.02) / math.cos(rake), top_width=1.55 * reach,
        camber=0.08, radius=0.16,
    )  # fmt: skip


def _hood_front(*, half: float, coaming: float, roof: float) -> tuple[Vector, ...]:
    reach = half + COAMING / 2 + 0.02
    side = ((-0.10, reach, coaming + 0.02), (-0.48, 0.80 * half, roof + 0.04), (-0.70, 0.42 * half, roof + 0.07))
    middle: Vector = (-0.76, 0.0, roof + 0.09)
    return (*((x, -y, z) for x, y, z in side), middle, *reversed(side))


def _bimini(said: Answers, *, half: float) -> tuple[Bow, Bow]:
    """Return the forward and the aft bow: hinged together beside the cockpit, apart at the top."""
    cockpit, foot = number(said, "cockpit_length"), number(said, "coaming_height") + 0.02
    hinge = 0.66 * cockpit
    height = number(said, "hood_height") + 0.18 - foot
    forward = max(0.55 * cockpit, 0.62)
    aft = max(hinge + 0.35, min(cockpit + 0.20, number(said, "blade_aft") - 0.40))
    reach = half + COAMING / 2

    def bow(x: float, top: float, tall: float) -> Bow:
        return Bow(
            x=x, half=reach, foot_z=foot, rake=math.atan2(top - x, tall), crown=math.hypot(top - x, tall),
            top_width=1.60 * reach, camber=0.09, radius=0.15,
        )  # fmt: skip

    return bow(hinge, forward, height), bow(hinge + 0.06, aft, height - 0.03)


def _leech(said: Answers, *, half: float) -> Vector:
    """Return the watch tent's aft corner to starboard: ahead of wheel or tiller, a hand's breadth over the coaming."""
    cockpit = number(said, "cockpit_length")
    rise = 0.25 * (number(said, "hood_height") - number(said, "coaming_height"))
    return (max(0.80, cockpit - 0.78), 0.86 * half, number(said, "coaming_height") + rise)

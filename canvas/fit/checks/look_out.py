"""Check the look-out from seats and helm: share of the horizon and of the water ahead that is hidden.

Computes: share of level directions hidden, and of directions to the water within two points of the bow from four boat
    lengths out, by dry day and by wet night with every window blind; for whoever of the crew sees least.
Units: shares 0..1.
Source: project rules for the limits (canvas/design/tables/defaults.toml).
Limits: upright boat, sails left out; the head moves 150 mm either way. The spread is what the share changes when the
    eyes are moved up and down by the canvas's own.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from canvas.design.tables import default, default_entry
from canvas.fit.ask import Ask
from canvas.fit.people import Person
from canvas.fit.result import CheckResult, Picture, joint_sd, judged, not_applicable
from canvas.fit.sight import Seen, horizon, look, water_ahead
from canvas.fit.spots import Spot, spots_of
from canvas.geometry.surface import Floats

KIND = "look-out"
DRAWN = 5.0  # how far a hidden direction is drawn [m]
When = Literal["dry day", "wet night"]
WHEN: tuple[When, ...] = ("dry day", "wet night")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Look:
    """What one of the crew sees from a spot."""

    eyes: Floats
    seen: Seen
    share: float
    sd: float


def examine(ask: Ask) -> list[CheckResult]:
    """Return hidden shares from each spot, by day and by night."""
    return [_one(ask, spot, what, when) for spot in spots_of(ask.design)
            for what in ("horizon", "water ahead") for when in WHEN]  # fmt: skip


def _one(ask: Ask, spot: Spot, what: str, when: When) -> CheckResult:
    name = f"{what} hidden, {spot.name}, {when}"
    if not ask.under_way:
        return not_applicable(name, kind=KIND, unit="share", why="At anchor nobody keeps a look-out under way.")
    looks = [_look(ask, spot, person, what, when) for person in ask.people]
    least = max(looks, key=lambda one: one.share)
    boat, cloth = float(least.seen.by_boat.mean()), float((least.seen.hidden & ~least.seen.by_boat).mean())
    rule = "horizon_hidden_by_day" if when == "dry day" else "horizon_hidden_by_night"
    hidden = least.seen.directions[least.seen.hidden]
    return judged(
        name, kind=KIND, value=least.share, unit="share", limit=default(rule), sense="at most", sd=least.sd,
        note=f"Boat and tubes hide {100 * boat:.0f} %, canvas {100 * cloth:.0f} % more.",
        source=default_entry(rule).source,
        picture=Picture(
            points=least.eyes, lines=tuple(np.array([least.eyes, least.eyes + DRAWN * way]) for way in hidden)
        ),
    )  # fmt: skip


def _look(ask: Ask, spot: Spot, person: Person, what: str, when: When) -> _Look:
    eyes = spot.eyes(person)
    sight = ask.by_day if when == "dry day" else ask.by_night
    directions = horizon() if what == "horizon" else water_ahead(ask, eyes)
    spread = joint_sd([ask.worst_sd, person.eye_standing_sd if spot.stands else person.eye_sitting_sd]) or 0.0
    seen = look(sight, eyes, directions)
    share = float(seen.hidden.mean())
    if spread == 0.0:
        return _Look(eyes=eyes, seen=seen, share=share, sd=0.0)
    up = np.array([0.0, 0.0, spread])
    moved = [float(look(sight, eyes + way * up, directions).hidden.mean()) for way in (-1.0, 1.0)]
    return _Look(eyes=eyes, seen=seen, share=share, sd=max(abs(one - share) for one in moved))

"""Check that wheel or tiller turns clear of canvas and tubes, hands included.

Computes: the least distance from a wheel's rim, and from a tiller's free half swept from side to side, to canvas and
    tubes.
Units: metres, radians.
Source: common practice for the fist (`winch_knuckles` in canvas/design/tables/defaults.toml).
Limits: seats, binnacle and the boat herself are not looked at: canvas does not change them.
"""

from __future__ import annotations

import numpy as np

from canvas.design.tables import default_entry
from canvas.fit.ask import Ask
from canvas.fit.near import Near
from canvas.fit.result import CheckResult, Picture, judged, not_applicable
from canvas.geometry.steering import tiller_axis
from canvas.geometry.surface import Floats

KIND = "steering"
AROUND = 72
NEARBY = 0.5  # farther things do not matter [m]


def examine(ask: Ask) -> list[CheckResult]:
    """Return the room round wheels or tiller."""
    swept = _swept(ask)
    if not ask.under_way:
        return [not_applicable(name, kind=KIND, unit="m", why="At anchor nobody steers.") for name, _ in swept]
    return [_one(ask, name, points) for name, points in swept]


def _swept(ask: Ask) -> list[tuple[str, Floats]]:
    steering = ask.design.steering
    swept = []
    turn = 2 * np.pi * np.arange(AROUND) / AROUND
    for number, wheel in enumerate(steering.wheels, start=1):
        radius = (wheel.diameter - wheel.rim) / 2
        rim = np.array(wheel.at) + radius * np.c_[np.zeros(AROUND), np.cos(turn), np.sin(turn)]
        swept.append((f"hands on the wheel{f' {number}' if len(steering.wheels) > 1 else ''}", rim))
    if steering.tiller is not None:
        share = np.linspace(0.5, 1.0, 9)[:, None]
        axes = [tiller_axis(steering.tiller, angle=float(angle))
                for angle in np.linspace(-steering.tiller.sweep, steering.tiller.sweep, 17)]  # fmt: skip
        swept.append(("hands on the tiller", np.vstack([axis[0] + share * (axis[1] - axis[0]) for axis in axes])))
    return swept


def _one(ask: Ask, name: str, points: Floats) -> CheckResult:
    found = Near([*ask.cloth, *ask.tubes], around=points, reach=NEARBY).closest(points)
    rule = default_entry("winch_knuckles")
    if found.surface is None or found.distance >= NEARBY:
        return judged(name, kind=KIND, value=NEARBY, unit="m", limit=rule.value, note="Nothing within half a metre.",
                      source=rule.source, picture=Picture(points=points))  # fmt: skip
    return judged(
        name, kind=KIND, value=found.distance, unit="m", limit=rule.value, sd=ask.sd_of(found),
        note=f"Nearest is {found.surface.name}.", source=rule.source,
        picture=Picture(points=np.array([found.point, found.spot]), lines=(points,), surfaces=(found.surface.name,)),
    )  # fmt: skip

"""Check that every winch handle turns clear of canvas and tubes, knuckles included.

Computes: for each winch, the distance from its axle to the nearest canvas or tube in the band of heights that handle
    and fist sweep; how much of the circle is free.
Units: metres.
Source: common practice for handle and knuckles (canvas/design/tables/defaults.toml).
Limits: the handle turns level; the body behind it needs room too, which is not looked at here.
"""

from __future__ import annotations

import numpy as np

from canvas.design.schema.boat import Winch
from canvas.design.tables import default, default_entry
from canvas.fit.ask import Ask
from canvas.fit.result import CheckResult, Picture, joint_sd, judged, not_applicable
from canvas.geometry.surface import Floats

KIND = "winches"
BAND = np.linspace(0.0, 0.15, 6)  # over the drum's top, that a fist on the grip sweeps [m]
STEP = np.radians(2.0)
FAR = 1.0  # farther things do not matter [m]


def examine(ask: Ask) -> list[CheckResult]:
    """Return the room round each winch."""
    if not ask.under_way:
        why = "At anchor no sheet is hauled."
        return [not_applicable(f"winch handle, {winch.name}", kind=KIND, unit="m", why=why)
                for winch in ask.design.winch]  # fmt: skip
    return [_one(ask, winch) for winch in ask.design.winch]


def _one(ask: Ask, winch: Winch) -> CheckResult:
    at = ask.rigging.model.at(winch.at)
    limit = winch.handle + default("winch_knuckles")
    angle = np.arange(0.0, 2 * np.pi - 1e-9, STEP)
    ways = np.c_[np.cos(angle), np.sin(angle), np.zeros(len(angle))]
    origins = np.repeat(at + np.c_[np.zeros((len(BAND), 2)), BAND], len(angle), axis=0)
    tracer, surfaces = ask.canvas
    face, distance = tracer.first_hit(origins, np.tile(ways, (len(BAND), 1)))
    nearest = int(np.argmin(distance))
    free = distance.reshape(len(BAND), -1).min(axis=0) >= limit
    reach = float(min(distance[nearest], FAR))
    circle = at + limit * ways + [0.0, 0.0, BAND[-1] / 2]
    met: tuple[str, ...] = ()
    sd, spot = None, at
    if np.isfinite(distance[nearest]):
        owner = np.repeat(np.arange(len(surfaces)), [len(one.faces) for one in surfaces])
        surface = surfaces[int(owner[face[nearest]])]
        way = ways[nearest % len(angle)]
        spot = origins[nearest] + distance[nearest] * way
        sd, met = joint_sd([ask.sureness.sd(surface, spot, way)]), (surface.name,)
    return judged(
        f"winch handle, {winch.name}", kind=KIND, value=reach, unit="m", limit=limit, sd=sd,
        note=_note(free, met, reach), source=default_entry("winch_knuckles").source,
        picture=Picture(points=np.array([at, spot]), regions=(circle,), surfaces=met),
    )  # fmt: skip


def _note(free: Floats, met: tuple[str, ...], reach: float) -> str:
    if reach >= FAR or not met:
        return "Nothing within a metre."
    return f"Nearest is {met[0]}; the handle turns freely through {360 * free.mean():.0f} deg."

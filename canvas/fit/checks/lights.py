"""Check that canvas does not hide a navigation light from those outside.

Computes: share of the sector in which a light must be seen that canvas hides.
Units: shares 0..1.
Source: sectors after the collision regulations, rule 21 (from memory): sidelights 112.5 deg each, sternlight 135 deg.
Limits: looked at level and five degrees up and down. Where none is declared, a bow light and a sternlight are taken to
    stand half a metre over stem and transom, and the note says so. What the boat herself hides is not canvas's fault.
"""

from __future__ import annotations

import numpy as np

from canvas.design.tables import default, default_entry
from canvas.fit.ask import Ask
from canvas.fit.result import CheckResult, Picture, judged, not_applicable
from canvas.geometry.surface import Floats

KIND = "navigation lights"
STERN, BOW = np.radians(67.5), np.radians(112.5)  # half sectors
STEP = np.radians(2.5)
RISES = np.radians([-5.0, 0.0, 5.0])
ASSUMED = 0.5  # over the deck edge [m]


def examine(ask: Ask) -> list[CheckResult]:
    """Return what canvas hides of each light."""
    lights = _lights(ask)
    if not ask.under_way:
        why = "At anchor these lights are out."
        return [not_applicable(name, kind=KIND, unit="share", why=why) for name, _, _ in lights]
    return [_one(ask, name, at, assumed=assumed) for name, at, assumed in lights]


def _lights(ask: Ask) -> list[tuple[str, Floats, bool]]:
    at = ask.rigging.model.at
    declared = [fitting for fitting in ask.design.fitting if fitting.kind == "navigation light"]
    lights = [(f"light hidden, {fitting.name}", at(fitting.at), False) for fitting in declared]
    stem, transom = ask.design.hull.deck_edge[0], ask.design.hull.deck_edge[-1]
    if not any(place[0] < 0 for _, place, _ in lights):
        lights.append(("light hidden, bow light", np.array([stem[0], 0.0, stem[2] + ASSUMED]), True))
    if not any(place[0] > 0 for _, place, _ in lights):
        lights.append(("light hidden, sternlight", np.array([transom[0], 0.0, transom[2] + ASSUMED]), True))
    return lights


def _one(ask: Ask, name: str, at: Floats, *, assumed: bool) -> CheckResult:
    aft = at[0] > 0
    half = STERN if aft else BOW
    angle = np.arange(-half, half + STEP / 2, STEP)
    rise, side = (one.ravel() for one in np.meshgrid(RISES, angle, indexing="ij"))
    forward = 1.0 if aft else -1.0
    ways = np.c_[forward * np.cos(rise) * np.cos(side), np.cos(rise) * np.sin(side), np.sin(rise)]
    origins = np.tile(at, (len(ways), 1))
    cloth = ask.by_night.cloth.occluded(origins, ways)
    boat = ask.by_night.boat.occluded(origins + 0.15 * ways, ways)
    rule = "light_hidden"
    note = f"The boat and what stands on her hide {100 * boat.mean():.0f} % besides."
    return judged(
        name, kind=KIND, value=float(cloth.mean()), unit="share", limit=default(rule), sense="at most",
        note=("Its place is assumed. " if assumed else "") + note, source=default_entry(rule).source,
        picture=Picture(points=at, lines=tuple(np.array([at, at + 3.0 * way]) for way in ways[cloth])),
    )  # fmt: skip

"""Check that each boom passes over canvas and its tubes: at its lowest as sheeted, and gybing.

Computes: the least height between a boom's underside and what canvas and tubes lie under it, as it hangs and swept
    from side to side about its mast.
Units: metres, radians.
Source: common practice for the room (canvas/design/tables/defaults.toml).
Limits: the boom keeps the height of its ends as it swings; canvas that is spread over a boom lies on it by design, and
    that boom stays where it is.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from canvas.design.schema.boat import Boom, Mast
from canvas.design.tables import default, default_entry
from canvas.fit.ask import Ask
from canvas.fit.near import spread
from canvas.fit.result import CheckResult, Picture, judged, not_applicable
from canvas.geometry.spars import boom_axis
from canvas.geometry.surface import Floats, Ints, Surface

KIND = "booms"
SWEEP = np.radians(85.0)  # either side, when gybing
FAR = 1.5  # higher room does not matter [m]


def examine(ask: Ask) -> list[CheckResult]:
    """Return the room under each boom, at rest and gybing."""
    return [result for name, mast, boom in booms(ask) for result in _both(ask, name, mast, boom)]


def booms(ask: Ask) -> Iterator[tuple[str, Mast, Boom]]:
    """Yield each boom with its name and mast."""
    spars = ask.design.spars
    if spars.mast.boom is not None:
        yield "boom", spars.mast, spars.mast.boom
    if spars.mizzen is not None and spars.mizzen.boom is not None:
        yield "mizzen boom", spars.mizzen, spars.mizzen.boom


def lies_on(ask: Ask, boom_name: str) -> bool:
    """Return whether canvas of the set is spread over a boom."""
    up = {panel.name for panel in ask.rig.formed.panels}
    return any(boom_name in panel.over for panel in ask.design.panel if panel.name in up)


def _both(ask: Ask, name: str, mast: Mast, boom: Boom) -> list[CheckResult]:
    rest, gybe = f"boom as it hangs, {name}", f"boom gybing, {name}"
    if lies_on(ask, name):
        why = "The canvas is spread over it: made fast, it stays where it is."
        return [not_applicable(one, kind=KIND, unit="m", why=why) for one in (rest, gybe)]
    results = [_one(ask, rest, mast, boom, sweep=None)]
    if ask.under_way:
        results.append(_one(ask, gybe, mast, boom, sweep=SWEEP))
    else:
        results.append(not_applicable(gybe, kind=KIND, unit="m", why="At anchor the boom is made fast."))
    return results


def _under(surfaces: tuple[Surface, ...]) -> tuple[Floats, Ints]:
    """Return points spread over canvas and tubes, and whose they are."""
    corners = [surface.vertices[surface.faces] for surface in surfaces]
    if not corners:
        return np.zeros((0, 3)), np.zeros(0, dtype=np.int64)
    owner = np.repeat(np.arange(len(corners)), [len(one) for one in corners])
    points, face = spread(np.vstack(corners))
    return points, owner[face]


def _one(ask: Ask, name: str, mast: Mast, boom: Boom, *, sweep: float | None) -> CheckResult:
    surfaces = (*ask.cloth, *ask.tubes)
    points, owner = _under(surfaces)
    foot, end = boom_axis(mast, boom)
    away = points[:, :2] - [mast.x, 0.0]
    radius, angle = np.hypot(*away.T), np.arctan2(away[:, 1], away[:, 0])
    beside = radius * np.sin(np.abs(angle - boom.angle))
    within = np.abs(angle) <= sweep if sweep is not None else (beside < boom.diameter / 2) & (np.cos(angle) > 0)
    below = within & (radius >= mast.radius) & (radius <= mast.radius + boom.length)
    rule = default_entry("boom_clear")
    if not below.any():
        return judged(name, kind=KIND, value=FAR, unit="m", limit=rule.value, note="No canvas in its way.",
                      source=rule.source, picture=Picture(points=end))  # fmt: skip
    along = (radius - mast.radius) / boom.length
    room = np.where(below, boom.height + along * (boom.end_height - boom.height) - points[:, 2], np.inf)
    least = int(np.argmin(room))
    surface = surfaces[int(owner[least])]
    value = float(min(room[least], FAR))
    swept = angle[least] if sweep is not None else boom.angle
    tip = boom.length * np.array([np.cos(swept), np.sin(swept), 0.0]) + [0.0, 0.0, end[2] - foot[2]]
    return judged(
        name, kind=KIND, value=value, unit="m", limit=default("boom_clear"),
        sd=ask.sureness.sd(surface, points[least], np.array([0.0, 0.0, 1.0])),
        note=f"Least over {surface.name}." if value > 0 else f"It runs into {surface.name}.", source=rule.source,
        picture=Picture(points=points[least], lines=(np.array([foot, foot + tip]),), surfaces=(surface.name,)),
    )  # fmt: skip

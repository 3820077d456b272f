"""Check that canvas leaves room round what must be reached: cleats, drains, lockers, ladder, gear, liferaft.

Computes: the distance from each declared fitting to the nearest canvas, against the room it must have; whether canvas
    stands between man-overboard gear, extinguishers and cleats and the nearest shoulder in the cockpit; the height of
    free space over a liferaft.
Units: metres.
Source: the design's own `clear`, else the default (canvas/design/tables/defaults.toml).
Limits: as far as declared; a solid with "raft" in its name is taken for the liferaft. Half a metre over a raft is a
    project rule: a hand's height to lift it by.
"""

from __future__ import annotations

import numpy as np

from canvas.design.schema.boat import Fitting, Solid
from canvas.design.tables import default_entry
from canvas.fit.ask import Ask
from canvas.fit.near import Near
from canvas.fit.reach import Stances
from canvas.fit.result import CheckResult, Picture, judged
from canvas.geometry.surface import Floats

KIND = "fittings"
NEARBY = 1.0  # farther canvas does not matter [m]
OVER_RAFT = 0.50  # [m]
IN_HURRY = ("man-overboard gear", "fire extinguisher", "harness point")


def examine(ask: Ask) -> list[CheckResult]:
    """Return the room round each fitting and over each liferaft."""
    rafts = [solid for solid in ask.design.solid if "raft" in solid.name.lower()
             and (solid.sets is None or ask.set_name in solid.sets)]  # fmt: skip
    hurry = [fitting for fitting in ask.design.fitting if fitting.kind in IN_HURRY]
    return [
        *(_room(ask, fitting) for fitting in ask.design.fitting if fitting.kind != "navigation light"),
        *(_in_the_open(ask, fitting) for fitting in hurry),
        *(_raft(ask, solid) for solid in rafts),
    ]


def _room(ask: Ask, fitting: Fitting) -> CheckResult:
    at = ask.rigging.model.at(fitting.at)
    looked = max(NEARBY, fitting.clear)
    found = Near(ask.cloth, around=at, reach=looked).closest(at)
    far = found.surface is None or found.distance >= looked
    none = f"No canvas within {looked:g} m." if looked > NEARBY else "No canvas within a metre."
    return judged(
        f"room at {fitting.name}", kind=KIND, value=looked if far else found.distance, unit="m", limit=fitting.clear,
        sd=None if far else ask.sd_of(found),
        note=none if far or found.surface is None else f"Nearest is {found.surface.name}.",
        source=default_entry("fitting_clear").source, picture=Picture(points=np.array([at, found.spot])),
    )  # fmt: skip


def _in_the_open(ask: Ask, fitting: Fitting) -> CheckResult:
    """Return from what share of the places in the cockpit it is seen past canvas: a hand goes where an eye goes."""
    at = ask.rigging.model.at(fitting.at)
    shoulders = Stances(ask.design, ask.people[0]).shoulders()
    away = at - shoulders
    inside = ask.by_night.cloth.occluded(shoulders, away * (1 - 0.05 / np.linalg.norm(away, axis=1))[:, None])
    _, distance = ask.by_night.cloth.first_hit(shoulders, away)
    hidden = inside & (distance < np.linalg.norm(away, axis=1) - 0.05)
    share = float(np.mean(~hidden))
    return judged(
        f"in the open, {fitting.name}", kind=KIND, value=share, unit="share", limit=0.1,
        note=f"Canvas stands between it and {100 * hidden.mean():.0f} % of the places where one stands.",
        source="project rule: from a tenth of the cockpit at least", picture=Picture(points=at),
    )  # fmt: skip


def _raft(ask: Ask, solid: Solid) -> CheckResult:
    surface = next(one for one in ask.scene.of_kind("solid") if one.name == solid.name)
    low, high = surface.vertices.min(axis=0), surface.vertices.max(axis=0)
    x, y = np.meshgrid(np.linspace(low[0], high[0], 9), np.linspace(low[1], high[1], 9))
    tops: Floats = np.c_[x.ravel(), y.ravel(), np.full(x.size, high[2] + 0.001)]
    face, distance = ask.by_night.cloth.first_hit(tops, np.tile([0.0, 0.0, 1.0], (len(tops), 1)))
    least = int(np.argmin(distance))
    value = float(min(distance[least], NEARBY))
    covered = float(np.mean(face >= 0))
    return judged(
        f"room over {solid.name}", kind=KIND, value=value, unit="m", limit=OVER_RAFT,
        note="No canvas over it." if covered == 0 else f"Canvas over {100 * covered:.0f} % of it.",
        source="project rule", picture=Picture(points=tops[least]),
    )  # fmt: skip

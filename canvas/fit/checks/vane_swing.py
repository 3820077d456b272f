"""Check that the vane's air blade swings clear of canvas, tubes, wires and what stands about.

Computes: the least distance from the blade, leaned through its whole swing, to anything but its own gear.
Units: metres, radians.
Source: common practice for the room (canvas/design/tables/defaults.toml).
Limits: what reaches within 150 mm of the blade's foot counts as its own gear.
"""

from __future__ import annotations

import numpy as np

from canvas.design.tables import default_entry
from canvas.fit.ask import Ask
from canvas.fit.near import Near
from canvas.fit.result import CheckResult, Picture, judged, not_applicable
from canvas.geometry.surface import Floats
from canvas.geometry.vane import leaned

KIND = "vane's swing"
GEAR = 0.15  # [m]
LEANS = 13
NEARBY = 1.0  # farther things do not matter [m]


def examine(ask: Ask) -> list[CheckResult]:
    """Return the room round the swinging blade."""
    if not ask.under_way:
        return [not_applicable(KIND, kind=KIND, unit="m", why="At anchor the vane does not steer.")]
    vane = ask.design.vane
    foot = np.array(vane.foot)
    blade = swept_blade(ask)
    fixed = [
        surface
        for surface in ask.scene.of_kind("solid", "tube")
        if Near([surface], around=foot, reach=GEAR).closest(foot).distance > GEAR
    ]
    others = [*fixed, *ask.cloth]
    found = Near(others, around=blade, reach=NEARBY).closest(blade)
    rule = default_entry("vane_clear")
    if found.surface is None or found.distance >= NEARBY:
        return [judged(KIND, kind=KIND, value=NEARBY, unit="m", limit=rule.value, note="Nothing within a metre.",
                       source=rule.source, picture=Picture(points=foot))]  # fmt: skip
    return [
        judged(
            KIND, kind=KIND, value=found.distance, unit="m", limit=rule.value, sd=ask.sd_of(found),
            note=f"Nearest is {found.surface.name}.", source=rule.source,
            picture=Picture(points=np.array([found.point, found.spot]), lines=(blade,),
                            surfaces=(found.surface.name,)),
        )
    ]  # fmt: skip


def swept_blade(ask: Ask) -> Floats:
    """Return points over the blade at leans through its whole swing, (n, 3) [m]."""
    vane = ask.design.vane
    x, z = np.meshgrid(np.linspace(-0.5, 0.5, 5) * vane.width, np.linspace(0.0, vane.height, 17), indexing="ij")
    flat = np.c_[x.ravel(), np.zeros(x.size), z.ravel()]
    leans = np.linspace(-vane.swing, vane.swing, LEANS)
    return np.vstack([np.array(vane.foot) + flat @ leaned(vane, angle=float(lean)).T for lean in leans])

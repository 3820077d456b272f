"""Check that no standing eye is hidden behind an edge: one sees over or under an edge of canvas, never through it.

Computes: how far the eyes of each of the crew, standing at the helm, are above or below the nearest edge of canvas
    that crosses the level line of sight within two points of the bow.
Units: metres.
Source: project rule for the limit (canvas/design/tables/defaults.toml); the trade's rule that a standing helm sees
    over or under an edge.
Limits: by dry day: an edge of a clear window is none, that of the cloth round it is one. Edges farther than 0.4 m from
    the eyes' height do not matter.
"""

from __future__ import annotations

import numpy as np

from canvas.design.tables import default, default_entry
from canvas.fit.ask import Ask
from canvas.fit.people import Person
from canvas.fit.result import CheckResult, Picture, joint_sd, judged, not_applicable
from canvas.fit.sight import AHEAD
from canvas.fit.spots import Spot, helm_spots

KIND = "eye at an edge"
SPAN, STEP = 0.40, 0.01  # how far from the eyes' height edges are looked for, and how finely [m]
ACROSS = 9  # directions


def examine(ask: Ask) -> list[CheckResult]:
    """Return how far everyone's standing eyes are from an edge."""
    spot = next(one for one in helm_spots(ask.design) if one.stands)
    return [_one(ask, person, spot) for person in ask.people]


def _one(ask: Ask, person: Person, spot: Spot) -> CheckResult:
    name = f"eye at an edge, {person.name} {spot.name}"
    if not ask.under_way:
        return not_applicable(name, kind=KIND, unit="m", why="At anchor nobody keeps a look-out under way.")
    eyes = spot.eyes(person)
    up = np.arange(-SPAN, SPAN + STEP / 2, STEP)
    aside = np.linspace(-AHEAD, AHEAD, ACROSS)
    ways = np.c_[-np.cos(aside), np.sin(aside), np.zeros(ACROSS)]
    origins = np.repeat(eyes + np.c_[np.zeros((len(up), 2)), up], ACROSS, axis=0)
    hit = ask.by_day.cloth.occluded(origins, np.tile(ways, (len(up), 1))).reshape(len(up), ACROSS)
    change, way = np.nonzero(hit[1:] != hit[:-1])
    limit = default("eye_to_edge")
    if not len(change):
        note = "Nothing but canvas at that height." if hit.any() else "No edge within 0.4 m of the eyes' height."
        return judged(name, kind=KIND, value=SPAN, unit="m", limit=limit, note=note,
                      source=default_entry("eye_to_edge").source, picture=Picture(points=eyes))  # fmt: skip
    offset = (up[change] + up[change + 1]) / 2
    nearest = int(np.argmin(np.abs(offset)))
    sd = joint_sd([ask.worst_sd, person.eye_standing_sd, STEP / np.sqrt(12)])
    where = "over" if offset[nearest] > 0 else "under"
    start = eyes + np.array([0.0, 0.0, offset[nearest]])
    return judged(
        name, kind=KIND, value=float(abs(offset[nearest])), unit="m", limit=limit, sd=sd,
        note=f"The nearest edge passes {where} the eyes.", source=default_entry("eye_to_edge").source,
        picture=Picture(points=eyes, lines=(np.array([start, start + 3.0 * ways[way[nearest]]]),)),
    )  # fmt: skip

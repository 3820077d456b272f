"""Check that mainsheet, steering lines and stays run clear of canvas, or pass where the design pierces it.

Computes: the least distance from each line to canvas; nothing where it crosses.
Units: metres.
Source: common practice for the room (canvas/design/tables/defaults.toml).
Limits: lines are straight between their ends; the mainsheet is followed from side to side as the boom gybes, from the
    place on the boom nearest above where it is made fast. Canvas that hangs on a wire is not
    in that wire's way, nor is any within 0.25 m of a tie.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from canvas.design.schema.boat import Boom, Mast
from canvas.design.tables import default_entry
from canvas.fit.ask import Ask
from canvas.fit.checks.booms import SWEEP, booms, lies_on
from canvas.fit.near import Near
from canvas.fit.result import CheckResult, Picture, judged, not_applicable
from canvas.geometry.rays import tracer_of
from canvas.geometry.surface import Bools, Floats

KIND = "lines"
STEP = 0.04  # between points of a line that is followed [m]
ANGLES = 35  # of a gybing boom
ENDS = 0.06  # a line may touch within this of its ends: blocks and chain plates [m]
TIED = 0.25  # a line may touch canvas within this of a tie, which may go to it [m]
NEARBY = 1.0  # farther canvas does not matter [m]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Line:
    """A line to follow: its straight parts, and the panels that it is allowed to touch."""

    name: str
    parts: tuple[Floats, ...]
    allowed: frozenset[str]
    under_way_only: bool
    swings: Floats | None = None  # of the boom, for each part of its sheet [rad]


def examine(ask: Ask) -> list[CheckResult]:
    """Return the room round mainsheets, steering lines and stays."""
    known: dict[frozenset[str], Near] = {}
    results = []
    for line in (*_sheets(ask), *_stays(ask), *_steering_lines(ask)):
        if line.allowed not in known:
            others = [surface for surface in ask.cloth if surface.panel not in line.allowed]
            around = np.vstack([surface.vertices for surface in others]) if others else np.zeros((1, 3))
            known[line.allowed] = Near(others, around=around, reach=0.0)
        results.append(_one(ask, line, near=known[line.allowed]))
    return results


def _sheets(ask: Ask) -> Iterator[_Line]:
    for name, mast, boom in booms(ask):
        if boom.sheet_at is None:
            continue
        foot = ask.rigging.model.at(boom.sheet_at)
        gybes = ask.under_way and not lies_on(ask, name)
        angles = np.linspace(-SWEEP, SWEEP, ANGLES) if gybes else np.array([boom.angle])
        parts = tuple(np.array([foot, _on_boom(mast, boom, foot, float(angle))]) for angle in angles)
        yield _Line(name=f"sheet clear, {name}", parts=parts, allowed=frozenset(), under_way_only=False, swings=angles)


def _on_boom(mast: Mast, boom: Boom, foot: Floats, angle: float) -> Floats:
    """Return the underside of a boom where its sheet leaves it."""
    out = float(np.clip(np.hypot(foot[0] - mast.x - mast.radius, foot[1]), 0.2, boom.length))
    rise = boom.height + out / boom.length * (boom.end_height - boom.height)
    return np.array([mast.x + mast.radius + out * np.cos(angle), out * np.sin(angle), rise])


def _stays(ask: Ask) -> Iterator[_Line]:
    for tube in ask.rigging.model.tubes.values():
        if tube.kind != "wire":
            continue
        panels = ask.design.panel
        hangs = {panel.name for panel in panels if any(edge.along == tube.name for edge in panel.edges)}
        pierced = {panel.name for panel in panels if any(wire.by == tube.name for wire in panel.pierced)}
        parts = tuple(np.array(part) for part in pairwise(tube.line))
        yield _Line(name=f"stay clear, {tube.name}", parts=parts, allowed=frozenset(hangs | pierced),
                    under_way_only=False)  # fmt: skip


def _steering_lines(ask: Ask) -> Iterator[_Line]:
    spots = [ask.rigging.model.at(spot) for spot in ask.design.vane.lines]
    if len(spots) > 1:
        parts = tuple(np.array(part) for part in pairwise(spots))
        yield _Line(name="steering lines clear", parts=parts, allowed=frozenset(), under_way_only=True)


def _one(ask: Ask, line: _Line, *, near: Near) -> CheckResult:
    if line.under_way_only and not ask.under_way:
        return not_applicable(line.name, kind=KIND, unit="m", why="At anchor the vane does not steer.")
    rule = default_entry("line_clear")
    passed = f" It passes through {', '.join(sorted(line.allowed))} by design." if line.allowed else ""
    followed = np.vstack([_followed(part) for part in line.parts])
    points = followed[~_at_a_tie(ask, followed)]
    if not len(points):
        points = followed
    found = near.closest(points)
    if found.surface is None or found.distance > NEARBY:
        return judged(
            line.name, kind=KIND, value=NEARBY, unit="m", limit=rule.value, source=rule.source,
            note=f"No canvas within a metre.{passed}", picture=Picture(points=points[:0], lines=line.parts),
        )  # fmt: skip
    starts, ways = np.array([part[0] for part in line.parts]), np.array([part[1] - part[0] for part in line.parts])
    face, distance = tracer_of(*near.surfaces).first_hit(starts, ways)
    length = np.linalg.norm(ways, axis=1)
    met = starts + np.minimum(distance, length)[:, None] * ways / length[:, None]
    crossing = np.flatnonzero((distance < length - ENDS) & ~_at_a_tie(ask, met))
    surface, at = found.surface, ""
    if len(crossing):
        if line.swings is not None and len(line.swings) > 1:
            least = np.degrees(line.swings[crossing[np.argmin(np.abs(line.swings[crossing]))]])
            at = f" from {abs(least):.0f} deg to {'port' if least < 0 else 'starboard'} on"
        owner = np.repeat(np.arange(len(near.surfaces)), [len(one.faces) for one in near.surfaces])
        surface = near.surfaces[int(owner[face[crossing[0]]])]
    return judged(
        line.name, kind=KIND, value=0.0 if len(crossing) else found.distance, unit="m", limit=rule.value,
        sd=ask.sd_of(found), note=f"{'It runs through' if len(crossing) else 'Nearest is'} {surface.name}{at}.{passed}",
        source=rule.source,
        picture=Picture(points=np.array([found.point, found.spot]), lines=line.parts, surfaces=(surface.name,)),
    )  # fmt: skip


def _at_a_tie(ask: Ask, points: Floats) -> Bools:
    """Return which points lie where canvas is tied: what a tie goes to, it may touch."""
    ties = [shape.vertices[shape.ties] for shape in ask.rig.formed.panels if len(shape.ties)]
    if not ties:
        return np.zeros(len(points), dtype=bool)
    away = np.linalg.norm(points[:, None] - np.vstack(ties), axis=2)
    return np.asarray(away.min(axis=1) < TIED)


def _followed(part: Floats) -> Floats:
    """Return points along a straight part, its very ends left out."""
    length = float(np.linalg.norm(part[1] - part[0]))
    inset = min(ENDS / max(length, 1e-9), 0.4)
    share = np.linspace(inset, 1 - inset, max(2, int(np.ceil(length / STEP))))
    return np.asarray(part[0] + share[:, None] * (part[1] - part[0]))

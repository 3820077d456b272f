"""Push loose bows the worst way: is there still room over heads, and do zips on them hold.

Computes: the least room over any head with the bows pushed so that the canvas over it comes down; the greatest pull
    on a zip, on the length that its strength is given for.
Units: metres, newtons.
Source: `canvas.cloth.sway`; limits as headroom has them and as the table of fastenings gives zips.
Limits: to first order; bows are pushed by hand, in harbour: the wind's pull is not in, see the loads.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from canvas.cloth.sway import pushed, zip_pulls
from canvas.design.tables import fastenings
from canvas.fit.ask import Ask
from canvas.fit.checks import headroom
from canvas.fit.people import Person
from canvas.fit.result import CheckResult, judged, not_applicable
from canvas.fit.spots import Spot, spots_of
from canvas.geometry.surface import Floats

KIND = "loose bows"
ROUGH = 0.005  # [m] how far first order may be off where it decides what is looked at
ROOM, ZIPS = "headroom with bows pushed", "zips with bows pushed"


def examine(ask: Ask) -> list[CheckResult]:
    """Return the least headroom and the hardest pulled zip of a set, its loose bows pushed the worst way."""
    return [_room(ask), _zips(ask)]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Push:
    """One head under canvas that loose bows let down: as set up, which way each bow goes, and how far it comes down."""

    person: Person
    spot: Spot
    before: CheckResult
    ways: dict[str, int]
    down: float

    @property
    def expected(self) -> float:
        """Margin to first order [m]."""
        return (self.before.margin or 0.0) - self.down


def _room(ask: Ask) -> CheckResult:
    pushes = [push for spot in spots_of(ask.design) for person in ask.people if (push := _push(ask, person, spot))]
    if not pushes:
        return not_applicable(ROOM, kind=KIND, unit="m", why="No canvas overhead that a loose bow moves.")
    least: tuple[float, CheckResult, _Push] | None = None
    for push in sorted(pushes, key=lambda one: one.expected):
        if least is not None and least[0] < push.expected - ROUGH:
            break
        rig = pushed(ask.rigging, ask.rig, ask.sureness, push.ways)
        after = headroom.one(ask.with_rig(rig), push.person, push.spot)
        if after.margin is not None and (least is None or after.margin < least[0]):
            least = (after.margin, after, push)
    if least is None:
        return not_applicable(ROOM, kind=KIND, unit="m", why="No canvas overhead once the bows are pushed.")
    _, after, push = least
    who = after.name.removeprefix("headroom, ")
    return judged(
        ROOM, kind=KIND, value=after.value, unit="m", limit=float(after.limit or 0.0), sd=push.before.sd,
        note=f"{who}: {push.before.value:.3f} m as set up; {_said(ask, push.ways)}.",
        source=after.source, picture=after.picture,
    )  # fmt: skip


def _push(ask: Ask, person: Person, spot: Spot) -> _Push | None:
    """Return which way each loose bow is pushed so that the canvas over the tightest place comes down, if any does."""
    found = headroom.one(ask, person, spot)
    sure, at = ask.sureness, found.picture.points
    panel = next((s.panel for s in ask.cloth if s.name in found.picture.surfaces), None)
    if found.margin is None or panel is None or not len(at):
        return None
    shape = ask.rig.formed.panel(panel)
    followers = sure.followers(panel)
    middle = shape.vertices[shape.faces].mean(axis=1)
    face = shape.faces[int(np.argmin(np.linalg.norm(middle - at[0], axis=1)))]
    a, b, c = shape.vertices[face]
    normal: Floats = np.cross(b - a, c - a)
    if abs(normal[2]) < 1e-9:
        return None
    rise = followers.plays[face].mean(axis=0) * (followers.ways @ normal) / normal[2]  # at the same place in plan
    ways = {name: int(-np.sign(up)) for name, up in zip(sure.loose, rise, strict=True) if abs(up) > 1e-4}
    if not ways:
        return None
    return _Push(person=person, spot=spot, before=found, ways=ways, down=float(np.abs(rise).sum()))


def _said(ask: Ask, ways: dict[str, int]) -> str:
    parts = []
    for name, sign in ways.items():
        way = sign * ask.sureness.ways[ask.sureness.loose.index(name)]
        axis = int(np.argmax(np.abs(way)))
        word = (("aft", "forward"), ("to starboard", "to port"), ("up", "down"))[axis][0 if way[axis] > 0 else 1]
        parts.append(f"{name} pushed {1000 * ask.rigging.model.tubes[name].play:.0f} mm {word}")
    return ", ".join(parts)


def _zips(ask: Ask) -> CheckResult:
    pulls = zip_pulls(ask.rigging, ask.rig, ask.sureness)
    strength = fastenings()["zip"]
    if not pulls or strength.strength_low is None or strength.per is None:
        return not_applicable(ZIPS, kind=KIND, unit="N", why="No zip that a loose bow pulls or slackens.")
    worst = max(pulls, key=lambda one: one.most)
    slack = [f"{one.panel}, {one.edge}" for one in pulls if one.least == 0.0]
    hangs = f" Slack when they come nearer: {'; '.join(slack)}." if slack else ""
    return judged(
        ZIPS, kind=KIND, value=worst.most * strength.per, unit="N", limit=strength.strength_low, sense="at most",
        note=(
            f"{worst.panel}, {worst.edge}, on {1000 * strength.per:.0f} mm: {worst.set_up * strength.per:.1f} N as set "
            f"up; bows move it {1000 * worst.moves:.0f} mm.{hangs}"
        ),
        source=strength.source,
    )  # fmt: skip

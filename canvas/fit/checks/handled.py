"""Check that one clipped-on person strikes the new canvas of a set in time, without leaving the cockpit.

Computes: the time to strike it, and how far the farthest fastening is beyond the reach of whoever reaches least.
Units: seconds; metres.
Source: common practice for the limit (`strike_time` in canvas/design/tables/defaults.toml); canvas/fit/handling.py.
Limits: existing canvas stays up unless it hangs on the new. At anchor the time is given and not judged so hard: two
    people in daylight have the same work in half the time; nobody has to reach from the cockpit. That zips can be
    worked from both sides is for the maker: the note asks for it.
"""

from __future__ import annotations

import numpy as np

from canvas.design.tables import default, default_entry
from canvas.fit.ask import Ask
from canvas.fit.handling import Change, striking
from canvas.fit.reach import Stances
from canvas.fit.result import CheckResult, Picture, judged, not_applicable

KIND = "handling"
TIME, REACH = "striking, one person", "farthest fastening beyond reach"
TIMES_VARY = 0.15  # standard deviation of a time as share of it; project's estimate


def examine(ask: Ask) -> list[CheckResult]:
    """Return time and reach of striking the set's new canvas."""
    new = [up.panel for up in ask.design.panels_up(ask.set_name) if not ask.design.panel_named(up.panel).existing]
    if not new:
        why = "No new canvas is up."
        return [not_applicable(TIME, kind=KIND, unit="s", why=why), not_applicable(REACH, kind=KIND, unit="m", why=why)]
    change = striking(ask.rigging, ask.set_name, new)
    if not ask.under_way:
        spent = "not known" if change.time is None else f"about {change.time:.0f} s"
        why = f"At anchor there is time: {spent} for one person. {_bundles(change)}"
        return [not_applicable(TIME, kind=KIND, unit="s", why=why),
                not_applicable(REACH, kind=KIND, unit="m", why="At anchor one goes round on deck.")]  # fmt: skip
    return [_time(change), _reach(ask, change)]


def _time(change: Change) -> CheckResult:
    unknown = sorted({step.fastening for step in change.steps if step.time is None})
    order = ", ".join(f"{step.panel} {step.edge} ({step.fastening})" for step in change.steps)
    zips = any(step.fastening == "zip" for step in change.steps)
    note = f"In this order: {order}. {_bundles(change)}"
    if zips:
        note += " Order sliders that work from both sides."
    if unknown:
        note += f" No time is known for {', '.join(unknown)}."
    return judged(
        TIME, kind=KIND, value=change.time, unit="s", limit=default("strike_time"), sense="at most",
        sd=None if change.time is None else TIMES_VARY * change.time, note=note,
        source=default_entry("strike_time").source,
        picture=Picture(points=np.vstack([step.points for step in change.steps]) if change.steps else np.zeros((0, 3)),
                        lines=tuple(step.points for step in change.steps)),
    )  # fmt: skip


def _reach(ask: Ask, change: Change) -> CheckResult:
    worst, where, who, spot = -np.inf, "", "", np.zeros(3)
    for person in ask.people:
        stances = Stances(ask.design, person)
        for step in change.steps:
            beyond = stances.reach(step.points).beyond
            if beyond.max() > worst:
                worst, spot = float(beyond.max()), step.points[int(np.argmax(beyond))]
                where, who = f"{step.panel} {step.edge}", person.name
    return judged(
        REACH, kind=KIND, value=worst if change.steps else None, unit="m", limit=0.0, sense="at most",
        sd=ask.worst_sd, note=f"{where}, for {who}, feet or knees inside the coamings.",
        source="project rule: nobody outside the lifelines", picture=Picture(points=spot),
    )  # fmt: skip


def _bundles(change: Change) -> str:
    said = "; ".join(f"{one.panel} {one.mass:.1f} kg, {one.length:.2f} m by {1000 * one.diameter:.0f} mm"
                     for one in change.bundles)  # fmt: skip
    return f"Bundles: {said}."

"""Load the canvas of a set with wind, and find what each part carries and which goes first.

Computes: elastic cloth under the bounding pressures of both cases at several winds; cloth stress, pull of edges on
    their fastenings, webbing, ties; tubes as frames under what the cloth pulls on them; limits and when to strike.
Units: newtons, pascals, metres a second.
Source: pressures by `canvas.strength.pressure`, cloth by `canvas.strength.blown`, parts of a panel by
    `canvas.strength.holding`, tubes by `canvas.strength.hoops`, when to strike by `canvas.strength.strike`.
Limits: mean wind with gusts; no flogging, no breaking seas, which carry over ten times more; wet cloth's weight is in.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from canvas.cloth.rigging import Rigging
from canvas.geometry.surface import Floats
from canvas.strength.blown import AtWind, Blown, blown
from canvas.strength.holding import Holding, holdings, loose_corners
from canvas.strength.hoops import bent, grabbed
from canvas.strength.parts import Kind, PartLoad, Strength, Verdict, joint_verdict, limit_wind
from canvas.strength.pressure import CASES, Case, Coefficients, coefficients, upright, with_flow
from canvas.strength.strike import Strike, Stronger, made_stronger, strike
from canvas.strength.weak_link import WeakLink, weak_links


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SetLoads:
    """What the parts of a set carry.

    Attributes
    ----------
    parts : tuple of PartLoad
        Weakest first; those with unknown limits last.
    coefficients : tuple of Coefficients
        By panel.
    strike : Strike
        When to begin to strike, and on what ground.
    stronger : Stronger or None
        What comes of making what goes first stronger, where that helps.
    unsolved : tuple of str
        Cases in which the cloth found no rest, in words.
    grabbed : tuple of (str, float)
        Share of yield in each hoop when a person pulls it to one side.
    weak_links : tuple of WeakLink
        By panel that has a forward edge to stay by.
    """

    parts: tuple[PartLoad, ...]
    coefficients: tuple[Coefficients, ...]
    strike: Strike
    stronger: Stronger | None
    unsolved: tuple[str, ...]
    grabbed: tuple[tuple[str, float], ...]
    weak_links: tuple[WeakLink, ...]

    @property
    def strike_at(self) -> float | None:
        """Wind at the instrument at which to begin to strike [m/s]; None where nothing is up or it is not known."""
        return self.strike.at

    def verdict(self, wind: float) -> Verdict:
        """Return whether the set holds at a wind [m/s]: its worst part; unknown where cloth found no rest."""
        found: list[Verdict] = [part.verdict(wind) for part in self.parts]
        return joint_verdict([*found, *(() if self.strike.solved else ("unknown",))])


def set_loads(rigging: Rigging, set_name: str, *, aws: float, flow: Mapping[str, Floats] | None = None) -> SetLoads:
    """Return what the parts of a set carry at a wind, and their limits.

    Parameters
    ----------
    rigging : Rigging
    set_name : str
    aws : float
        Mean apparent wind at the instrument [m/s].
    flow : mapping of str to (r,) ndarray, optional
        By panel, its mean net pressure coefficient along its outward normal in each run of the air flow, on the wind's
        pressure at the middle of the air blade.
    """
    if not rigging.model.design.panels_up(set_name):
        nothing = Strike(at=None, first=None, declared=True, governing=(), unknown=(), solved=True)
        return SetLoads(
            parts=(), coefficients=(), strike=nothing, stronger=None, unsolved=(), grabbed=(), weak_links=()
        )
    bounds = bounding(rigging, set_name, flow=flow or {})
    groups = blown(rigging, set_name, bounds, aws=aws)
    parts = _worst(_rows(rigging, set_name, groups), aws)
    solved = all(len(group.runs[case]) >= 2 for group in groups for case in CASES)
    when = strike(parts, solved=solved)
    return SetLoads(
        parts=parts,
        coefficients=bounds,
        strike=when,
        stronger=made_stronger(parts, when),
        unsolved=tuple(said for group in groups for said in group.unsolved),
        grabbed=grabbed(rigging),
        weak_links=weak_links(rigging, set_name, parts, when),
    )


def bounding(rigging: Rigging, set_name: str, *, flow: Mapping[str, Floats]) -> tuple[Coefficients, ...]:
    """Return the pressure coefficients of the panels of a set, in order, the flow's with them where there is one.

    Parameters
    ----------
    rigging : Rigging
    set_name : str
    flow : mapping of str to (r,) ndarray
        As in `set_loads`; panels that are not in it stand on the tables alone.

    Raises
    ------
    CouldNot
        When the set's canvas has no shape in balance.
    """
    scene, shapes = rigging.rig(set_name).scene, rigging.rig(set_name).formed.panels
    shut = any(upright(shape) for shape in shapes)
    blade = float(scene.blade.points[:, 2].mean() - scene.water_z)
    tables = [coefficients(shape, water_z=scene.water_z, shut=shut) for shape in shapes]
    return tuple(with_flow(one, along_normal=flow.get(one.panel, np.zeros(0)), height=blade) for one in tables)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Row:
    """One part in one case: its loads at the winds that were solved."""

    name: str
    panel: str | None
    edge: str | None
    kind: Kind
    each: str
    case: Case
    winds: Floats
    loads: Floats
    strength: Strength | None


def _rows(rigging: Rigging, set_name: str, groups: Sequence[Blown]) -> list[_Row]:
    rows = [row for group in groups for case in CASES for row in _panel_rows(rigging, group, case)]
    shapes = rigging.rig(set_name).formed.panels
    corners = np.vstack([shape.vertices[[line[0] for line in shape.edge_vertices]] for shape in shapes])
    solved = {case: min(len(group.runs[case]) for group in groups) for case in CASES}
    asked = [(case, k) for case in CASES for k in range(solved[case]) if solved[case] >= 2]
    for one in bent(rigging, corners, [[group.runs[case][k] for group in groups] for case, k in asked]):
        for case in CASES:
            chosen = [n for n, (mine, _) in enumerate(asked) if mine == case]
            if chosen:
                winds = np.array([groups[0].runs[case][asked[n][1]].wind for n in chosen])
                rows.append(
                    _Row(name=one.name, panel=None, edge=None, kind=one.kind, each=one.each, case=case, winds=winds,
                         loads=one.loads[chosen], strength=one.strength)
                )  # fmt: skip
    return rows


def _panel_rows(rigging: Rigging, group: Blown, case: Case) -> list[_Row]:
    runs = group.runs[case]
    if len(runs) < 2:
        return []
    gathered: dict[str, list[Holding]] = {}
    for run in runs:
        for part in _held(rigging, run):
            gathered.setdefault(part.name, []).append(part)
    winds = np.array([run.wind for run in runs])
    return [
        _Row(name=name, panel=one[0].panel, edge=one[0].edge, kind=one[0].kind, each=one[0].each, case=case,
             winds=winds, loads=np.array([part.load for part in one]), strength=one[0].strength)
        for name, one in gathered.items()
    ]  # fmt: skip


def _held(rigging: Rigging, run: AtWind) -> list[Holding]:
    model = rigging.model
    marks = {name: model.at(name) for name in model.design.marks}
    parts = [part for shape in run.panels for part in holdings(model.design, shape)]
    return [*parts, *loose_corners(model.design, run, marks)]


def _worst(rows: Sequence[_Row], aws: float) -> tuple[PartLoad, ...]:
    """Return one part a name, in its worse case, weakest first."""
    parts: dict[str, PartLoad] = {}
    for row in rows:
        limits = None
        if row.strength is not None:
            ends = (row.strength.low, row.strength.high)
            limits = tuple(limit_wind(row.winds, row.loads, end) for end in ends)
        part = PartLoad(
            name=row.name, panel=row.panel, edge=row.edge, kind=row.kind, each=row.each, case=row.case,
            load=float(np.interp(aws, row.winds, row.loads)), winds=row.winds, loads=row.loads,
            strength=row.strength, limit_low=None if limits is None else limits[0],
            limit_high=None if limits is None else limits[1],
        )  # fmt: skip
        before = parts.get(row.name)
        if before is None or _goes_first(part, before):
            parts[row.name] = part
    return tuple(sorted(parts.values(), key=lambda part: (part.limit_low is None, part.limit_low or 0.0, part.name)))


def _goes_first(one: PartLoad, other: PartLoad) -> bool:
    """Return whether one case of a part is worse than another: by limit where known, else by load."""
    if one.limit_low is None or other.limit_low is None or one.limit_low == other.limit_low:
        return one.load > other.load
    return one.limit_low < other.limit_low

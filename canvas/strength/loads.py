"""Load the canvas of a set with wind, and find what each part carries and which goes first.

Computes: elastic cloth under the bounding pressures of both cases at several winds; cloth stress, pull of edges on
    their fastenings, webbing, ties; tubes as frames under what the cloth pulls on them; limits and when to strike.
Units: newtons, pascals, metres a second.
Source: pressures by `canvas.strength.pressure`, cloth by `canvas.cloth`, tubes by `canvas.strength.frames`; the share
    of new strength that aged and sewn cloth keeps, and the rise of wind while striking, are project rules, no source.
Limits: mean wind with gusts; no flogging, no breaking seas, which carry over ten times more; wet cloth's weight is in.
    Each panel's corners are left out of its stress: a corner patch is chosen for them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from canvas.cloth.domain import closest
from canvas.cloth.elastic import Loaded, settle
from canvas.cloth.joined import Joined, Stiffness, join_up
from canvas.cloth.loads import Loads, cloth_weight
from canvas.cloth.rigging import MEASURED_CLOTH, Rigging
from canvas.cloth.setting import hung
from canvas.cloth.shape import Formed
from canvas.design.schema.design import BARE
from canvas.design.schema.rig import Panel, Tube
from canvas.design.tables import Cloth, Fastening, fastenings, finishes, metals
from canvas.geometry.model import Model
from canvas.geometry.surface import Floats, Ints, Surface
from canvas.geometry.tubes import TubeLine
from canvas.jobs.failure import CouldNot
from canvas.strength.frames import FrameResult, solve_tube
from canvas.strength.parts import Kind, PartLoad, Strength, limit_wind
from canvas.strength.pressure import CASES, Case, Coefficients, coefficients, gust_pressure

STRIP = 0.05  # width of cloth whose strength tables give [m]
AGED = 0.35  # of new strength, in aged and sewn cloth: the low end taken
WET = 1.3  # wet cloth over dry, by weight; common practice, no source
RISE = 1.2  # wind at the end of striking over that at its start
MOST_UNDECLARED = 30.0 * 1852 / 3600  # never advised to stay up above this unless strengths are declared [m/s]
WINDS = (0.6, 1.0, 1.5)  # winds solved, over the one asked about
ON_DECK = 0.08  # a tube this near the boat's surface lies on it [m]
BEDDED = 0.6  # share of a tube's length that must lie on the boat
LEAST_AREA = 1e-9  # triangles smaller than this are left out when looking for what is near [m2]
NEAR_FOOT = 0.15  # canvas corners this near a hoop's foot are not where its straps go [m]
TOUCHES = 0.06  # a strut's end or a corner this near a tube's middle line is fastened to it [m]
ON_TUBE = 0.03  # a held vertex this near a tube's middle line hangs on it [m]
GRAB = 800.0  # a person's pull on a hoop [N]; from memory


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SetLoads:
    """What the parts of a set carry.

    Attributes
    ----------
    parts : tuple of PartLoad
        Weakest first; those with unknown limits last.
    coefficients : tuple of Coefficients
        By panel.
    strike_at : float or None
        Wind at the instrument at which to begin to strike [m/s]; None where nothing is up or no limit is known.
    declared : bool
        Whether every strength that governs was declared.
    unsolved : tuple of str
        Cases in which the cloth found no rest, in words.
    grabbed : tuple of (str, float)
        Share of yield in each hoop when a person pulls it to one side.
    """

    parts: tuple[PartLoad, ...]
    coefficients: tuple[Coefficients, ...]
    strike_at: float | None
    declared: bool
    unsolved: tuple[str, ...]
    grabbed: tuple[tuple[str, float], ...]


def set_loads(rigging: Rigging, set_name: str, *, aws: float) -> SetLoads:
    """Return what the parts of a set carry at a wind, and their limits.

    Parameters
    ----------
    rigging : Rigging
    set_name : str
    aws : float
        Mean apparent wind at the instrument [m/s].
    """
    model = rigging.model
    ups = [up.panel for up in model.design.panels_up(set_name)]
    if not ups:
        return SetLoads(parts=(), coefficients=(), strike_at=None, declared=True, unsolved=(), grabbed=())
    solver = _Solver(rigging, set_name, ups)
    runs: dict[Case, list[tuple[float, Formed, Loaded]]] = {case: [] for case in CASES}
    unsolved = []
    for case in CASES:
        for share in WINDS:
            try:
                runs[case].append((aws * share, *solver.at(aws * share, case)))
            except CouldNot as failure:
                unsolved.append(f"{case} at {aws * share * 3600 / 1852:.0f} kn: {failure.what}")
                break
    found = [row for case in CASES for row in _rows(solver, case, runs[case])]
    parts = _worst(found, aws)
    known = [part for part in parts if part.limit_low is not None]
    governing = known[0] if known else None
    declared = all(part.strength is not None and part.strength.declared for part in known)
    strike = None if governing is None or governing.limit_low is None else governing.limit_low / RISE
    if strike is not None and not declared:
        strike = min(strike, MOST_UNDECLARED)
    return SetLoads(
        parts=parts, coefficients=solver.coefficients, strike_at=strike, declared=declared, unsolved=tuple(unsolved),
        grabbed=tuple(_grabbed(rigging)),
    )  # fmt: skip


class _Solver:
    """One set as a membrane, to be loaded again and again."""

    def __init__(self, rigging: Rigging, set_name: str, panels: Sequence[str]) -> None:
        model = rigging.model
        self.rigging, self.set_name, self.panels = rigging, set_name, tuple(panels)
        known = model.design.cloths()
        outlines = tuple(model.outlines[name] for name in panels)
        self.specs: tuple[Panel, ...] = tuple(model.design.panel_named(name) for name in panels)
        self.cloths: tuple[Cloth, ...] = tuple(known[panel.cloth or MEASURED_CLOTH] for panel in self.specs)
        self.joined: Joined = join_up(
            tuple(rigging.cut_shape(name) for name in panels),
            outlines,
            cloths={name: Stiffness.of(cloth) for name, cloth in known.items()}
            | {"": Stiffness.of(known[MEASURED_CLOTH])},
        )
        shapes = rigging.rig(set_name).formed.panels
        shut = any(_upright(shape.vertices, shape.faces) for shape in shapes)
        water = model.design.hull.waterline
        self.coefficients = tuple(coefficients(shape, water_z=water, shut=shut) for shape in shapes)
        self.start = np.vstack([shape.vertices for shape in shapes])
        weights = [
            cloth_weight(shape.vertices, shape.faces, mass=WET * cloth.mass)
            for shape, cloth in zip(shapes, self.cloths, strict=True)
        ]
        self.dead = np.vstack(weights)
        self.corners = np.vstack([shape.vertices[[line[0] for line in shape.edge_vertices]] for shape in shapes])
        self.on_deck = _on_deck(rigging)

    def at(self, wind: float, case: Case) -> tuple[Formed, Loaded]:
        """Return the canvas at rest in a wind."""
        high = self.rigging.model.instrument_height
        pressure = np.concatenate(
            [
                -one.of(case) * gust_pressure(wind, height=one.height, instrument_height=high)
                for one in self.coefficients
            ]
        )
        what = f'The canvas of set "{self.set_name}"'
        loaded = settle(self.joined.membrane, self.start, loads=Loads(pressure=pressure, dead=self.dead), what=what)
        return hung(self.joined, loaded, set_name=self.set_name), loaded


def _on_deck(rigging: Rigging) -> frozenset[str]:
    """Return the tubes that lie on boat or solids all along, such as a track on the coachroof: they do not bend."""
    model = rigging.model
    bearing = [(one.vertices, _with_area(one)) for one in model.fixed_surfaces(BARE) if one.kind in ("boat", "solid")]
    lying = []
    for tube in model.tubes.values():
        near = np.zeros(len(tube.line[::4]), dtype=bool)
        for vertices, faces in bearing:
            near |= closest(tube.line[::4], vertices, faces)[2] < ON_DECK
        if near.mean() > BEDDED:
            lying.append(tube.name)
    return frozenset(lying)


def _with_area(surface: Surface) -> Ints:
    """Return a surface's triangles without those that have no area."""
    corners = surface.vertices[surface.faces]
    area = np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1) / 2
    return np.asarray(surface.faces[area > LEAST_AREA])


def _upright(vertices: Floats, faces: Ints) -> bool:
    corners = vertices[faces]
    total = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]).sum(axis=0)
    return bool(abs(total[2]) < 0.5 * np.linalg.norm(total))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Row:
    """One part in one case: its loads at the winds that were solved."""

    name: str
    kind: Kind
    each: str
    case: Case
    winds: Floats
    loads: Floats
    strength: Strength | None


def _rows(solver: _Solver, case: Case, runs: Sequence[tuple[float, Formed, Loaded]]) -> list[_Row]:
    if len(runs) < 2:
        return []
    winds = np.array([wind for wind, _, _ in runs])
    gathered: dict[str, tuple[Kind, str, Strength | None, list[float]]] = {}
    for _, formed, _ in runs:
        for name, kind, each, strength, load in _cloth_parts(solver, formed):
            gathered.setdefault(name, (kind, each, strength, []))[3].append(load)
    rows = [
        _Row(name=name, kind=kind, each=each, case=case, winds=winds, loads=np.array(loads), strength=strength)
        for name, (kind, each, strength, loads) in gathered.items()
    ]
    return [*rows, *_tube_rows(solver, case, winds, [loaded for _, _, loaded in runs])]


Found = tuple[str, Kind, str, Strength | None, float]


def _cloth_parts(solver: _Solver, formed: Formed) -> list[Found]:
    found: list[Found] = []
    for spec, cloth, shape in zip(solver.specs, solver.cloths, formed.panels, strict=True):
        inside = _away_from_corners(shape.vertices, shape.faces, [line[0] for line in shape.edge_vertices])
        for way, column, new in (("warp", 0, cloth.warp_strength), ("weft", 1, cloth.weft_strength)):
            strength = Strength(low=AGED * new * STRIP, high=new * STRIP, declared=False, source=cloth.source)
            most = float(shape.tension[inside, column].max(initial=0.0))
            found.append((f"{spec.name}, {way}", "cloth", "a strip 50 mm wide", strength, most * STRIP))
        for told, edge in zip(spec.edges, shape.edges, strict=True):
            name = f"{spec.name}, {edge.name}"
            if edge.cable_force is not None:
                tape = fastenings()["webbing 25"]
                found.append(
                    (f"{name}, webbing", "webbing", "along the edge", _range(tape, width=1.0), edge.cable_force)
                )
            finish = finishes().get(edge.finish)
            key = None if finish is None or edge.kind == "free" else finish.fastening or finish.tape
            if key is None or key not in fastenings():
                continue
            one = fastenings()[key]
            width = one.per or one.spacing or 1.0
            each = f"each {width * 1000:.0f} mm" if one.each == "m" else f"each {one.name}"
            holds = _range(one, width=1.0) if told.strength is None else _declared(told.strength * width)
            found.append((f"{name}, {one.name}", "edge", each, holds, edge.line_tension_most * width))
        for tie, pull in zip(spec.ties, shape.tie_forces, strict=True):
            where = tie.at if isinstance(tie.at, str) else "a point"
            holds = _range(fastenings()[tie.kind], width=1.0) if tie.strength is None else _declared(tie.strength)
            found.append((f"{spec.name}, {tie.kind} at {where}", "tie", "each", holds, float(pull)))
    return found


def _declared(strength: float) -> Strength:
    return Strength(low=strength, high=strength, declared=True, source="this design")


def _range(one: Fastening, *, width: float) -> Strength | None:
    if one.strength_low is None or one.strength_high is None:
        return None
    return Strength(low=one.strength_low * width, high=one.strength_high * width, declared=False, source=one.source)


def _away_from_corners(vertices: Floats, faces: Ints, corners: Sequence[int], *, off: float = 0.15) -> Floats:
    middles = vertices[faces].mean(axis=1)
    spots = vertices[np.asarray(corners)]
    return np.asarray(np.linalg.norm(middles[:, None] - spots[None], axis=2).min(axis=1) > off)


def _tube_rows(solver: _Solver, case: Case, winds: Floats, runs: Sequence[Loaded]) -> list[_Row]:
    model = solver.rigging.model
    held = solver.joined.membrane.held
    places = solver.joined.start[held]
    pulls = [-loaded.reactions[held] for loaded in runs]
    rows: list[_Row] = []
    for spec in model.design.tube:
        tube = model.tubes[spec.name]
        if spec.kind == "wire" or len(tube.line) < 5 or spec.name in solver.on_deck:
            continue
        gaps = np.linalg.norm(places[:, None] - tube.line[None], axis=2)
        mine = gaps.min(axis=1) < ON_TUBE
        totals = np.array([np.linalg.norm(pull[mine].sum(axis=0)) for pull in pulls])
        if not mine.any() or totals.max() < 1.0:
            continue
        spots = gaps[mine].argmin(axis=1)
        loadings = [np.zeros_like(tube.line) for _ in pulls]
        for loads, pull in zip(loadings, pulls, strict=True):
            np.add.at(loads, spots, pull[mine])
        results = _solved(spec, tube, loadings, corners=solver.corners, struts=_strut_ends(model, spec.name))
        rows += _bending(spec, case, winds, results)
        if len(results[0].held_forces):
            straps = np.array([np.linalg.norm(result.held_forces, axis=1).max() for result in results])
            name = f"{spec.name}, strap or strut"
            rows.append(_Row(name=name, kind="strap", each="each", case=case, winds=winds, loads=straps, strength=None))
    return rows


def _bending(spec: Tube, case: Case, winds: Floats, results: Sequence[FrameResult]) -> list[_Row]:
    """Return a tube's bending as its greatest moment against the moment at which it yields, over its own width."""
    metal = metals()[spec.metal]
    moments = np.array([result.moment for result in results])
    yields = float(np.max([result.moment / max(result.share, 1e-12) for result in results]))
    weld = 0.5 if spec.metal == "aluminium" else 1.0
    lever = 1.0  # a moment of so many newton metres is written as newtons at a lever of one metre
    strength = Strength(low=weld * yields / lever, high=yields / lever, declared=False, source=metal.source)
    each = "bending moment, at a lever of 1 m"
    name = f"{spec.name}, bending"
    return [_Row(name=name, kind="tube", each=each, case=case, winds=winds, loads=moments / lever, strength=strength)]


def _solved(
    spec: Tube, tube: TubeLine, loadings: Sequence[Floats], *, corners: Floats, struts: Floats
) -> tuple[FrameResult, ...]:
    """Return a tube's frame, held fore and aft by struts and, if hinged, at the canvas's corners: straps go there."""
    held = np.zeros(len(tube.line), dtype=bool)
    held[_near(tube.line, struts)] = True
    if spec.kind == "hoop" and spec.feet == "hinged":
        held[_near(tube.line, corners)] = True
        if not held.any():
            held[_shoulders(tube.line)] = True
    return solve_tube(
        tube.line, loadings, diameter=tube.diameter, wall=tube.wall, metal=metals()[spec.metal], feet=spec.feet,
        held=held, name=spec.name,
    )  # fmt: skip


def _near(line: Floats, spots: Floats) -> Ints:
    """Return the points of a line next to spots that lie on it away from its feet."""
    if len(spots) == 0:
        return np.zeros(0, dtype=np.int64)
    gaps = np.linalg.norm(spots[:, None] - line[None], axis=2)
    off_feet = np.minimum(gaps[:, 0], gaps[:, -1]) > NEAR_FOOT
    return np.asarray(gaps[(gaps.min(axis=1) < TOUCHES) & off_feet].argmin(axis=1))


def _strut_ends(model: Model, name: str) -> Floats:
    """Return where other rails and struts end."""
    others = [tube for tube in model.tubes.values() if tube.name != name and tube.kind in ("rail", "strut")]
    return np.vstack([np.zeros((0, 3)), *(tube.line[[0, -1]] for tube in others)])


def _shoulders(line: Floats) -> list[int]:
    """Return the two points of a hoop that are highest among those widest out: where straps are set."""
    reach = line[:, 2] - line[:, 2].min() + np.abs(line[:, 1] - line[:, 1].mean())
    half = len(line) // 2
    return [int(np.argmax(reach[:half])), half + int(np.argmax(reach[half:]))]


def _grabbed(rigging: Rigging) -> list[tuple[str, float]]:
    """Return the share of yield in each hoop when a person hangs on its crown, pulling to starboard."""
    model = rigging.model
    shares = []
    for spec in model.design.tube:
        if spec.kind != "hoop":
            continue
        tube = model.tubes[spec.name]
        loads = np.zeros_like(tube.line)
        loads[int(np.argmax(tube.line[:, 2])), 1] = GRAB
        (result,) = _solved(spec, tube, [loads], corners=np.zeros((0, 3)), struts=_strut_ends(model, spec.name))
        shares.append((spec.name, result.share))
    return shares


def _worst(rows: Sequence[_Row], aws: float) -> tuple[PartLoad, ...]:
    """Return one part a name, in its worse case, weakest first."""
    parts: dict[str, PartLoad] = {}
    for row in rows:
        load = float(np.interp(aws, row.winds, row.loads))
        limits = None
        if row.strength is not None:
            ends = (row.strength.low, row.strength.high)
            limits = tuple(limit_wind(row.winds, row.loads, end) for end in ends)
        part = PartLoad(
            name=row.name, kind=row.kind, each=row.each, load=load, case=row.case, strength=row.strength,
            limit_low=None if limits is None else limits[0], limit_high=None if limits is None else limits[1],
        )  # fmt: skip
        before = parts.get(row.name)
        if before is None or (part.limit_low or np.inf) < (before.limit_low or np.inf) or part.load > before.load:
            parts[row.name] = part
    return tuple(sorted(parts.values(), key=lambda part: (part.limit_low is None, part.limit_low or 0.0, part.name)))

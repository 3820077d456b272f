"""Resolve the edges of every panel of a design into polylines that meet at their corners.

Computes: `PanelOutline` records: held, free and shared edges, corners, lines lain over, wires, ties, insert outlines.
Units: metres, boat frame.
Source: geometry.
Limits: an upright panel's edges run clockwise seen from outside the boat, any other's clockwise seen from above; a mark
    that ends part of a tube must lie within 60 mm of it, and the corner is then the nearest point of the tube.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import combinations, product

import numpy as np
from shapely import LinearRing

from canvas.design.names import NameProblem
from canvas.design.positions import Path
from canvas.design.schema import rig
from canvas.design.schema.design import Design
from canvas.design.schema.rig import Edge, Panel
from canvas.design.tables import default, finishes
from canvas.geometry.inserts import insert_outline, overlap
from canvas.geometry.marks import Locate
from canvas.geometry.outline import Batten, EdgeKind, Insert, PanelEdge, PanelOutline, Pierced, Tie, Wire
from canvas.geometry.surface import Floats
from canvas.geometry.tubes import TubeLine, smooth_line
from canvas.geometry.underneath import NotUnder, lines_under

SNAP = 0.06  # how far a mark may lie from the tube or edge that it ends [m]
WIRE_FORCE = 200.0  # a wire in a hem is set up to this [N]; common practice, no source
CROSSING, ANTICLOCKWISE = 1e3, 1e6  # cost of a way round that cannot be, far above any length [m]
UPRIGHT = 0.35  # a panel whose area faces up less than this share counts as upright


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outlines:
    """All panels of a design resolved, and what could not be.

    Attributes
    ----------
    by_name : mapping of str to PanelOutline
        In the order of the file.
    problems : tuple of NameProblem
    """

    by_name: Mapping[str, PanelOutline]
    problems: tuple[NameProblem, ...]


class _Unclosed(Exception):
    """Raised inside this module with the path, what was found and what would do."""

    def __init__(self, path: Path, found: str, wanted: str) -> None:
        super().__init__(found)
        self.problem = NameProblem(path=path, code="impossible-panel", found=found, wanted=wanted)


def resolve_panels(design: Design, *, tubes: Mapping[str, TubeLine], at: Locate) -> Outlines:
    """Resolve every panel of a design.

    Parameters
    ----------
    design : Design
    tubes : mapping of str to TubeLine
        Middle lines by name; a tube that could not be built is absent.
    at : callable
        From spot to point.
    """
    done: dict[str, PanelOutline] = {}
    failed: set[str] = set()
    problems: list[NameProblem] = []
    waiting = list(enumerate(design.panel))
    while waiting:
        failed |= {panel.name for _, panel in waiting if _needs(panel, design) & failed}  # told by what they lie along
        waiting = [(index, panel) for index, panel in waiting if panel.name not in failed]
        ready = [(index, panel) for index, panel in waiting if _needs(panel, design) <= done.keys()]
        if not ready and not any(_needs(panel, design) & failed for _, panel in waiting):
            problems += [_circle(index) for index, _ in waiting]
            break
        waiting = [one for one in waiting if one not in ready]
        for index, panel in ready:
            try:
                done[panel.name] = _outline(design, panel, ("panel", index), tubes=tubes, done=done, at=at)
            except _Unclosed as gap:
                problems.append(gap.problem)
                failed.add(panel.name)
    ordered = {panel.name: done[panel.name] for panel in design.panel if panel.name in done}
    return Outlines(by_name=ordered, problems=tuple(problems))


def _needs(panel: Panel, design: Design) -> set[str]:
    panels = {other.name for other in design.panel}
    return {edge.along for edge in panel.edges if edge.along in panels}


def _circle(index: int) -> NameProblem:
    return NameProblem(
        path=("panel", index), code="impossible-panel", found="panels whose edges lie along one another in a circle",
        wanted="Let one of them run between marks or along a tube.",
    )  # fmt: skip


def _outline(
    design: Design,
    panel: Panel,
    path: Path,
    *,
    tubes: Mapping[str, TubeLine],
    done: Mapping[str, PanelOutline],
    at: Locate,
) -> PanelOutline:
    lines = _chain(panel, path, fixed=_fixed_lines(panel, path, tubes=tubes, done=done, at=at), at=at)
    edges = tuple(
        _edge(edge, line, name=edge.name or f"edge {place + 1}", shared=edge.along in done)
        for place, (edge, line) in enumerate(zip(panel.edges, lines, strict=True))
    )
    for place, edge in enumerate(edges):
        loose = edge.kind == "free" and edge.hollow is None and edge.batten is None and edge.wire is None
        if loose and not panel.existing:
            raise _Unclosed(
                (*path, "edges", place), "a free edge with nothing to keep it straight",
                'Give it hollow = "4 %", a finish "batten pocket", or wire = true.',
            )  # fmt: skip
    try:
        over = lines_under(design, panel.over, tubes=tubes, edges=[edge.line for edge in edges])
    except NotUnder as gap:
        raise _Unclosed((*path, "over", gap.place), gap.found, gap.wanted) from gap
    return PanelOutline(
        name=panel.name,
        cloth=panel.cloth or "",
        edges=edges,
        over=over,
        pierced=tuple(
            _pierced(pierced, edges, wire=tubes[pierced.by].line, path=(*path, "pierced", place))
            for place, pierced in enumerate(panel.pierced)
            if pierced.by in tubes
        ),
        ties=tuple(Tie(name=str(tie.at), at=at(tie.at)) for tie in panel.ties),
        inserts=_inserts(panel, edges, over=over, path=(*path, "inserts")),
        flat=panel.flat,
    )


def _fixed_lines(
    panel: Panel, path: Path, *, tubes: Mapping[str, TubeLine], done: Mapping[str, PanelOutline], at: Locate
) -> list[Floats | None]:
    """Return for each edge along something its line, in that thing's own direction; None for the others."""
    lines: list[Floats | None] = []
    for place, edge in enumerate(panel.edges):
        if edge.along is None:
            lines.append(None)
            continue
        here = (*path, "edges", place)
        if edge.along in tubes:
            whole = tubes[edge.along].line
        elif edge.along in done:
            whole = next(other.line for other in done[edge.along].edges if other.name == edge.edge)
        else:
            raise _Unclosed(here, f'an edge along "{edge.along}", which could not be built', "Mend that first.")
        ends = [at(mark) if mark is not None else None for mark in (edge.start, edge.to)]
        lines.append(_part_of(whole, ends, here=here, what=edge.along))
    return lines


def _part_of(line: Floats, ends: list[Floats | None], *, here: Path, what: str) -> Floats:
    """Return the part of a line between two points near it, running from the first to the second."""
    if ends[0] is None and ends[1] is None:
        return line
    places = []
    for key, end, whole in zip(("from", "to"), ends, (0.0, float(len(line) - 1)), strict=True):
        if end is None:
            places.append(whole)
            continue
        place, distance = _nearest(line, end)
        if distance > SNAP:
            raise _Unclosed(
                (*here, key), f'a mark {distance * 1000:.0f} mm off "{what}"',
                f"A mark that ends part of it must lie within {SNAP * 1000:.0f} mm of its middle line.",
            )  # fmt: skip
        places.append(place)
    low, high = sorted(places)
    inner = np.arange(int(np.floor(low)) + 1, int(np.ceil(high)))
    part = np.vstack([_at_place(line, low)[None], line[inner], _at_place(line, high)[None]])
    if np.linalg.norm(part[-1] - part[0]) < 0.01:
        raise _Unclosed(here, f'no length along "{what}"', "Choose two different marks.")
    return part if places[0] <= places[1] else part[::-1]


def _nearest(line: Floats, point: Floats) -> tuple[float, float]:
    """Return where along a polyline (in points and shares) the nearest spot to `point` is, and how far off."""
    steps = np.diff(line, axis=0)
    lengths = np.maximum((steps**2).sum(axis=1), 1e-18)
    share = np.clip(((point - line[:-1]) * steps).sum(axis=1) / lengths, 0, 1)
    spots = line[:-1] + share[:, None] * steps
    distances = np.linalg.norm(spots - point, axis=1)
    best = int(np.argmin(distances))
    return best + float(share[best]), float(distances[best])


def _at_place(line: Floats, place: float) -> Floats:
    low = min(int(place), len(line) - 2)
    spot: Floats = line[low] + (place - low) * (line[low + 1] - line[low])
    return spot


def _chain(panel: Panel, path: Path, *, fixed: list[Floats | None], at: Locate) -> list[Floats]:
    """Return every edge's line so that each starts where the last ended and the panel runs clockwise."""
    freely = [
        place
        for place, (edge, line) in enumerate(zip(panel.edges, fixed, strict=True))
        if line is not None and (edge.start is None or edge.to is None)
    ]
    best: tuple[float, list[Floats]] | None = None
    problem: _Unclosed | None = None
    for turns in product((False, True), repeat=len(freely)):
        turned = list(fixed)
        for place, turn in zip(freely, turns, strict=True):
            line = turned[place]
            turned[place] = line[::-1] if turn and line is not None else line
        try:
            lines = _linked(panel, path, turned, at=at)
        except _Unclosed as gap:
            problem = gap
            continue
        cost = sum(
            float(np.linalg.norm(line[-1] - line[0])) for place, line in enumerate(lines) if fixed[place] is None
        )
        if _crossing(lines):
            cost += CROSSING
        elif not _clockwise(lines):
            cost += ANTICLOCKWISE
        if best is None or cost < best[0] - 1e-9:
            best = (cost, lines)
    if best is None:
        raise problem or _Unclosed(path, "edges that do not close", "Let each edge end where the next begins.")
    if best[0] >= CROSSING and problem is not None:
        raise problem
    if CROSSING <= best[0] < ANTICLOCKWISE:
        raise _Unclosed(
            (*path, "edges"), "edges that cross or lie on one another",
            "List them in order round the panel, each ending where the next begins.",
        )  # fmt: skip
    if best[0] >= ANTICLOCKWISE:
        raise _Unclosed(
            (*path, "edges"), "edges that run anti-clockwise",
            "List them clockwise seen from above (an upright panel: seen from outside the boat).",
        )  # fmt: skip
    return best[1]


def _linked(panel: Panel, path: Path, fixed: list[Floats | None], *, at: Locate) -> list[Floats]:
    """Return the lines with the mark-to-mark ones put between their neighbours."""
    count = len(fixed)
    starts: list[Floats | None] = [None if line is None else line[0] for line in fixed]
    ends: list[Floats | None] = [None if line is None else line[-1] for line in fixed]
    for place, edge in enumerate(panel.edges):
        if fixed[place] is None:
            starts[place] = at(edge.start) if edge.start is not None else None
            ends[place] = at(edge.to) if edge.to is not None else None
    lines: list[Floats] = []
    for place, edge in enumerate(panel.edges):
        here = (*path, "edges", place)
        before, after = ends[place - 1], starts[(place + 1) % count]
        line = fixed[place]
        if line is None:
            start = starts[place] if starts[place] is not None else before
            end = ends[place] if ends[place] is not None else after
            if start is None or end is None:
                raise _Unclosed(here, "an edge whose end is not said", "Give it `to`, or let a neighbour start there.")
            line = _between(start, end, through=[at(spot) for spot in edge.through], edge=edge, here=here)
        lines.append(line.copy())
    for place in range(count):
        gap = float(np.linalg.norm(lines[place][-1] - lines[(place + 1) % count][0]))
        if gap > SNAP:
            raise _Unclosed(
                (*path, "edges", place), f"a gap of {gap * 1000:.0f} mm to the next edge",
                "Let each edge end where the next begins, or put an edge between them.",
            )  # fmt: skip
        lines[(place + 1) % count][0] = lines[place][-1]
    return lines


def _between(start: Floats, end: Floats, *, through: list[Floats], edge: Edge, here: Path) -> Floats:
    chord = end - start
    length = float(np.linalg.norm(chord))
    if length < 0.02:
        raise _Unclosed(here, f"an edge {length * 1000:.0f} mm long", "Leave it out, or end it elsewhere.")
    if through:
        return smooth_line(np.vstack([start, *through, end]))
    share = np.linspace(0, 1, max(2, int(np.ceil(length / 0.05)) + 1))
    line: Floats = start + share[:, None] * chord
    if edge.batten_bow:
        up = np.array([0.0, 0.0, 1.0]) - chord[2] * chord / length**2
        up /= max(float(np.linalg.norm(up)), 1e-9)
        line = line + (4 * edge.batten_bow * share * (1 - share))[:, None] * up
    line[0], line[-1] = start, end
    return line


def area_vector(lines: list[Floats]) -> Floats:
    """Return the area vector of a closed loop of lines by the right-hand rule, shape (3,) [m2]."""
    loop = np.vstack([line[:-1] for line in lines])
    loop = loop - loop.mean(axis=0)
    total: Floats = 0.5 * np.cross(loop, np.roll(loop, -1, axis=0)).sum(axis=0)
    return total


def _clockwise(lines: list[Floats]) -> bool:
    facing = area_vector(lines)
    size = max(float(np.linalg.norm(facing)), 1e-12)
    if abs(facing[2]) > UPRIGHT * size:
        return bool(facing[2] < 0)
    middle = np.vstack(lines).mean(axis=0)
    beam_on = abs(facing[1]) >= abs(facing[0])
    outside = np.array([0.0, np.sign(middle[1]) or 1.0, 0.0]) if beam_on else np.array([1.0, 0.0, 0.0])
    if not beam_on and middle[0] < 0.5:
        outside = -outside
    return bool(facing @ outside < 0)


def _crossing(lines: list[Floats]) -> bool:
    """Whether the loop crosses or touches itself, seen square to its mean plane."""
    loop = np.vstack([line[:-1] for line in lines])
    _, _, axes = np.linalg.svd(loop - loop.mean(axis=0), full_matrices=False)
    return not LinearRing(loop @ axes[:2].T).is_simple


def _edge(edge: Edge, line: Floats, *, name: str, shared: bool) -> PanelEdge:
    chord = float(np.linalg.norm(line[-1] - line[0]))
    hollow = None
    if edge.hollow is not None:
        hollow = edge.hollow[0] * chord if edge.hollow[1] else edge.hollow[0]
    kind: EdgeKind = "free"
    if shared:
        kind = "shared"
    elif edge.along is not None or (edge.finish in finishes() and finishes()[str(edge.finish)].holds == "held"):
        kind = "held"
    pocket = edge.finish == "batten pocket"
    return PanelEdge(
        name=name,
        line=line,
        kind=kind,
        hollow=hollow,
        batten=Batten(bending=edge.batten or default("batten_stiffness")) if pocket else None,
        wire=Wire(force=WIRE_FORCE) if edge.wire else None,
        finish=edge.finish or "",
    )


def _pierced(pierced: rig.Pierced, edges: tuple[PanelEdge, ...], *, wire: Floats, path: Path) -> Pierced:
    """Return where a wire passes the panel's mean plane, and the shortest slit to the named edge."""
    normal = area_vector([edge.line for edge in edges])
    normal /= np.linalg.norm(normal)
    centre = np.vstack([edge.line[:-1] for edge in edges]).mean(axis=0)
    sides = (wire - centre) @ normal
    crossing = np.flatnonzero(np.sign(sides[:-1]) != np.sign(sides[1:]))
    if len(crossing) == 0:
        raise _Unclosed(
            (*path, "by"),
            f'"{pierced.by}", which does not pass through this panel',
            "Leave it out, or mend its course.",
        )
    first = int(crossing[0])
    share = sides[first] / (sides[first] - sides[first + 1])
    spot = wire[first] + share * (wire[first + 1] - wire[first])
    if pierced.slit_to is None:
        return Pierced(name=pierced.by, at=spot)
    line = next(edge.line for edge in edges if edge.name == pierced.slit_to)
    place, _ = _nearest(line, spot)
    return Pierced(name=pierced.by, at=spot, slit=np.vstack([spot, _at_place(line, place)]))


def _inserts(
    panel: rig.Panel, edges: tuple[PanelEdge, ...], *, over: tuple[Floats, ...], path: Path
) -> tuple[Insert, ...]:
    inserts = tuple(
        _insert(insert, edges, over=over, path=(*path, place)) for place, insert in enumerate(panel.inserts)
    )
    for one, other in combinations(range(len(inserts)), 2):
        if overlap(inserts[one].outline, inserts[other].outline):
            raise _Unclosed(
                (*path, other, "inset"),
                f'an insert that lies over "{inserts[one].name}"',
                "Give each insert insets from every edge that keep it clear of the others.",
            )
    return inserts


def _insert(insert: rig.Insert, edges: tuple[PanelEdge, ...], *, over: tuple[Floats, ...], path: Path) -> Insert:
    insets = list(insert.inset) if isinstance(insert.inset, list) else [insert.inset] * len(edges)
    try:
        outline = insert_outline([edge.line for edge in edges], insets=insets, radius=insert.corner_radius, over=over)
    except ValueError as error:
        raise _Unclosed((*path, "inset"), "an insert with no room left", str(error)) from error
    return Insert(name=insert.name, outline=outline)

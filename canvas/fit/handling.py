"""Work out how one person puts panels up and strikes them: which fastenings in which order, how long, how big a bundle.

Computes: the steps of striking a set's panels or some of them: fastenings from the aft edge forward, the edge that
    faces the bow last, so that the panel stays held by it; time, reach and bundle of each panel. Putting up is the same
    the other way round.
Units: metres, seconds, kilograms.
Source: times by kind of fastening (canvas/design/tables/fastenings.toml), for moves and bundles (defaults.toml).
Limits: one pair of hands; a zip is run along its whole length within reach; what a time is not known for makes the sum
    unknown. Bundles are cylinders as long as a metre or the panel's longest edge, if that is shorter.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from canvas.cloth.lines import arc_lengths, points_at
from canvas.cloth.rigging import MEASURED_CLOTH, Rigging
from canvas.cloth.shape import PanelShape
from canvas.design.schema.rig import Panel
from canvas.design.tables import default, fastenings, finishes
from canvas.geometry.surface import Floats, locked
from canvas.geometry.triangles import area_vectors

SPACING = 0.15  # between points at which hands work along an edge [m]
STRETCH = 1.2  # length of edge worked from one spot [m]; common practice, no source
LONGEST_BUNDLE = 1.0  # [m]
SLID = ("tube pocket", "bolt rope")
NOT_WORKED = ("raw", "binding", "hem", "webbing hem", "batten pocket", "seam")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Step:
    """One fastening, or a row of them along one edge, to undo.

    Attributes
    ----------
    panel, edge, fastening : str
        Of a tie the mark stands for the edge.
    count : float
        Pieces, or metres of a zip, tape or pocket.
    time : float or None
        None where no time is known for the kind [s].
    points : (n, 3) ndarray
        Where hands work [m].
    """

    panel: str
    edge: str
    fastening: str
    count: float
    time: float | None
    points: Floats

    def __post_init__(self) -> None:
        object.__setattr__(self, "points", locked(self.points))


@dataclass(frozen=True, slots=True, kw_only=True)
class Bundle:
    """A panel rolled up.

    Attributes
    ----------
    panel : str
    mass, length, diameter : float
        [kg], [m]
    """

    panel: str
    mass: float
    length: float
    diameter: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Change:
    """A change from one set to another by one person.

    Attributes
    ----------
    struck, put_up : tuple of str
        Panels, in the order in which they are handled.
    steps : tuple of Step
        Striking first, then putting up.
    bundles : tuple of Bundle
        Of the panels struck.
    time : float or None
        With moves and bundling; None where a fastening's time is not known [s].
    """

    struck: tuple[str, ...]
    put_up: tuple[str, ...]
    steps: tuple[Step, ...]
    bundles: tuple[Bundle, ...]
    time: float | None


def striking(rigging: Rigging, set_name: str, panels: Sequence[str]) -> Change:
    """Return how panels of a set are struck.

    Parameters
    ----------
    rigging : Rigging
    set_name : str
    panels : sequence of str
        With those that hang on them, which come off first.
    """
    order = _outermost_first(rigging, set_name, panels)
    shapes = {shape.name: shape for shape in rigging.rig(set_name).formed.panels}
    steps = tuple(step for name in order for step in _steps(rigging, shapes[name], set_name))
    bundles = tuple(_bundle(rigging, shapes[name]) for name in order)
    return Change(struck=order, put_up=(), steps=steps, bundles=bundles, time=_time(steps, panels=len(order)))


def change_of_set(rigging: Rigging, before: str, after: str) -> Change:
    """Return how one set becomes another: what is not wanted is struck, then what is missing is put up.

    Parameters
    ----------
    rigging : Rigging
    before, after : str
    """
    design = rigging.model.design
    old, new = ([up.panel for up in design.panels_up(name)] for name in (before, after))
    down = striking(rigging, before, [name for name in old if name not in new])
    up = striking(rigging, after, [name for name in new if name not in old])
    moves = (*down.steps, *up.steps[::-1])
    return Change(
        struck=down.struck,
        put_up=up.struck[::-1],
        steps=moves,
        bundles=down.bundles,
        time=_time(moves, panels=len(down.struck) + len(up.struck)),
    )


def _time(steps: Sequence[Step], *, panels: int) -> float | None:
    known = [step.time for step in steps if step.time is not None]
    if len(known) < len(steps):
        return None
    moves = sum(max(1, int(np.ceil(step.count / STRETCH))) if _by_length(step) else 1 for step in steps)
    return sum(known) + moves * default("move_time") + panels * default("bundle_time")


def _by_length(step: Step) -> bool:
    known = fastenings().get(step.fastening)
    return step.fastening in SLID or (known is not None and known.each == "m")


def _outermost_first(rigging: Rigging, set_name: str, panels: Sequence[str]) -> tuple[str, ...]:
    """Return panels so that what hangs on another comes before it, with everything of the set that hangs on them."""
    design = rigging.model.design
    up = [entry.panel for entry in design.panels_up(set_name)]
    hangs = {name: {edge.along for edge in design.panel_named(name).edges} & set(up) for name in up}
    wanted = set(panels)
    grown = True
    while grown:
        more = {name for name in up if hangs[name] & wanted} - wanted
        grown = bool(more)
        wanted |= more
    order: list[str] = []
    waiting = [name for name in reversed(up) if name in wanted]
    while waiting:
        free = next((name for name in waiting if not any(name in hangs[other] for other in waiting)), waiting[0])
        order.append(free)
        waiting.remove(free)
    return tuple(order)


def _steps(rigging: Rigging, shape: PanelShape, set_name: str) -> list[Step]:
    """Return the fastenings of one panel, ties first, then from the aft edge forward."""
    panel = rigging.model.design.panel_named(shape.name)
    opened = {up.panel: up for up in rigging.model.design.panels_up(set_name)}[shape.name].zip
    ties = [
        Step(panel=shape.name, edge=str(tie.at) if isinstance(tie.at, str) else "tie", fastening=tie.kind, count=1.0,
             time=_each(tie.kind), points=shape.vertices[[vertex]])
        for tie, vertex in zip(panel.ties, shape.ties, strict=True)
    ]  # fmt: skip
    edges = sorted(
        zip(panel.edges, shape.edges, shape.edge_vertices, strict=True),
        key=lambda one: -float(shape.vertices[one[2]][:, 0].mean()),
    )
    steps = []
    for spec, formed, line in edges:
        fastening = _fastening(spec.finish or "hem")
        if fastening is None:
            continue
        left = 1.0 - opened if fastening == "zip" else 1.0
        steps.append(_edge_step(shape, formed.name, fastening, shape.vertices[line], left=left))
    return [*ties, *steps]


def _fastening(finish: str) -> str | None:
    """Return what holds an edge of a finish: a fastening, a tape, or how it is slid on; None where nothing does."""
    if finish in NOT_WORKED:
        return None
    if finish in SLID:
        return finish
    known = finishes()[finish]
    return known.fastening or known.tape


def _edge_step(shape: PanelShape, edge: str, fastening: str, line: Floats, *, left: float) -> Step:
    along = arc_lengths(line)
    length = float(along[-1]) * left
    points = points_at(line, np.linspace(0.0, length, max(2, int(np.ceil(length / SPACING)) + 1)))
    if fastening in SLID:
        count, each = length, float(default("pocket_time"))
        return Step(panel=shape.name, edge=edge, fastening=fastening, count=count, time=count * each, points=points)
    known = fastenings()[fastening]
    count = length if known.each == "m" else float(np.ceil(length / (known.spacing or length)) + 1)
    time = None if known.time is None else count * known.time
    return Step(panel=shape.name, edge=edge, fastening=fastening, count=count, time=time, points=points)


def _each(kind: str) -> float | None:
    known = fastenings().get(kind)
    return None if known is None else known.time


def _bundle(rigging: Rigging, shape: PanelShape) -> Bundle:
    design = rigging.model.design
    panel: Panel = design.panel_named(shape.name)
    cloths = design.cloths()
    names = [panel.cloth or MEASURED_CLOTH, *(insert.cloth for insert in panel.inserts)]
    corner = shape.vertices[shape.faces]
    area = np.linalg.norm(area_vectors(corner), axis=1)
    mass = float(sum(area[shape.zone == zone].sum() * cloths[name].mass for zone, name in enumerate(names)))
    length = min(LONGEST_BUNDLE, max(edge.length for edge in shape.edges))
    volume = mass / default("bundle_density")
    return Bundle(panel=shape.name, mass=mass, length=length, diameter=float(np.sqrt(4 * volume / (np.pi * length))))

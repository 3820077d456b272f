"""Put the mock-up of a set in order: which edge goes up first, and how each free corner is found with cord.

Computes: for each new panel, its held edges, then its free corners with cord lengths from known points, height over the
    sole and distance from the centreline, then its free edges with their hollow.
Units: metres, boat frame.
Source: geometry of the formed panel; corners are found by the three marks that fix them best (largest volume of unit
    vectors).
Limits: whether a cord runs clear is not checked; corners that hang free are no start for a cord, nor are marks farther
    than `REACH`.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from canvas.asbuilt.built import hanging_marks
from canvas.cloth.rigging import Rigging
from canvas.cloth.shape import PanelShape
from canvas.design.schema.rig import Panel, Tie
from canvas.design.tables import finishes
from canvas.geometry.surface import Floats, locked
from canvas.survey.marks import Marks

REACH = 3.5  # longest cord [m]
SAME = 0.03  # a corner this near a mark is at the mark [m]
NEAREST = 9  # marks among which the best three are looked for


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cord:
    """A straight cord from a known point: its name, its place (3,) [m], the length to the corner [m]."""

    name: str
    start: Floats
    length: float

    def __post_init__(self) -> None:
        object.__setattr__(self, "start", locked(self.start))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FreeCorner:
    """A corner to be found.

    Attributes
    ----------
    name : str
        Which edges meet there.
    at : (3,) ndarray
        [m]
    mark : str or None
        The mark it is at.
    hangs : bool
        Whether that mark is nowhere on board until the canvas is up.
    cords : tuple of Cord
    tolerance : float
        Of the finishes that meet there [m].
    """

    name: str
    at: Floats
    mark: str | None
    hangs: bool
    cords: tuple[Cord, ...]
    tolerance: float

    def __post_init__(self) -> None:
        object.__setattr__(self, "at", locked(self.at))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class EdgeStep:
    """An edge as it is set up.

    Attributes
    ----------
    name, kind, finish : str
    along : str
        What a held edge lies on; empty for a free one.
    length, chord : float
        [m]
    hollow : float or None
        [m]
    line : (k, 3) ndarray
        [m]
    """

    name: str
    kind: str
    finish: str
    along: str
    length: float
    chord: float
    hollow: float | None
    line: Floats

    def __post_init__(self) -> None:
        object.__setattr__(self, "line", locked(self.line))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PanelSteps:
    """How one panel is rigged: held edges, free corners, free edges, in this order."""

    panel: str
    held: tuple[EdgeStep, ...]
    corners: tuple[FreeCorner, ...]
    free: tuple[EdgeStep, ...]
    ties: tuple[Tie, ...]  # as the design has them


def rigging_steps(rigging: Rigging, set_name: str) -> tuple[PanelSteps, ...]:
    """Return the steps for every new panel of a set, what others hang on first.

    Parameters
    ----------
    rigging : Rigging
    set_name : str

    Raises
    ------
    CouldNot
        When the set has no shape in balance.
    """
    design = rigging.model.design
    formed = rigging.rig(set_name).formed
    hanging = hanging_marks(rigging)
    new = [panel for panel in (design.panel_named(shape.name) for shape in formed.panels) if not panel.existing]
    ordered: list[Panel] = []
    while len(ordered) < len(new):
        names = {panel.name for panel in ordered}
        waiting = {panel.name for panel in new} - names
        ready = [p for p in new if p.name in waiting and not {edge.along for edge in p.edges} & (waiting - {p.name})]
        ordered += ready or [panel for panel in new if panel.name in waiting]
    return tuple(_panel(panel, formed.panel(panel.name), rigging.model.marks, hanging) for panel in ordered)


def _panel(panel: Panel, shape: PanelShape, marks: Marks, hanging: Collection[str]) -> PanelSteps:
    edges = [
        EdgeStep(
            name=formed.name, kind=formed.kind, finish=formed.finish, along=_along(spec.along, spec.edge),
            length=formed.length, chord=formed.chord, hollow=formed.hollow, line=shape.vertices[line],
        )
        for spec, formed, line in zip(panel.edges, shape.edges, shape.edge_vertices, strict=True)
    ]  # fmt: skip
    corners = []
    for before, after in zip([edges[-1], *edges[:-1]], edges, strict=True):
        if before.kind == after.kind == "free":
            corners.append(_corner(before, after, marks, hanging))
    return PanelSteps(
        panel=panel.name,
        held=tuple(edge for edge in edges if edge.kind != "free"),
        corners=tuple(corners),
        free=tuple(edge for edge in edges if edge.kind == "free"),
        ties=tuple(panel.ties),
    )


def _along(along: str | None, edge: str | None) -> str:
    if along is None:
        return ""
    return f"{along}, {edge} edge" if edge else along


def _corner(before: EdgeStep, after: EdgeStep, marks: Marks, hanging: Collection[str]) -> FreeCorner:
    at = after.line[0]
    known = finishes()
    tolerance = max((known[edge.finish].tolerance for edge in (before, after) if edge.finish in known), default=0.01)
    off = np.linalg.norm(marks.xyz - at, axis=1) if len(marks.names) else np.zeros(0)
    nearest = int(np.argmin(off)) if len(off) else -1
    mark = marks.names[nearest] if len(off) and off[nearest] < SAME else None
    return FreeCorner(
        name=f"{before.name} / {after.name}", at=at, mark=mark, hangs=mark in hanging,
        cords=_cords(at, marks, off, hanging), tolerance=tolerance,
    )  # fmt: skip


def _cords(at: Floats, marks: Marks, off: Floats, hanging: Collection[str]) -> tuple[Cord, ...]:
    """Return cords from the three marks on board that fix a point best."""
    near = [int(k) for k in np.argsort(off, kind="stable") if SAME < off[k] <= REACH]
    usable = [k for k in near if marks.names[k] not in hanging][:NEAREST]
    if len(usable) < 3:
        chosen: Sequence[int] = usable
    else:
        towards = (marks.xyz - at) / np.maximum(off, 1e-9)[:, None]

        def firm(three: Sequence[int]) -> tuple[float, int]:
            return round(abs(float(np.linalg.det(towards[list(three)]))), 6), -sum(three)

        chosen = max(combinations(usable, 3), key=firm)
    return tuple(Cord(name=marks.names[k], start=marks.xyz[k], length=float(off[k])) for k in chosen)

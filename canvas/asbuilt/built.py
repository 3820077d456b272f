"""Take the readings of a design that were taken on a panel, and bend the panel to them.

Computes: which marks lie on the panel and which on the boat; what of the panel stays; the bent panel; what changed.
Units: metres, boat frame.
Source: the design file; `canvas.asbuilt.bend`.
Limits: edges on tubes and on other canvas stay where they are, and so does cloth that lies on a bow; panels that run
    along an edge of a measured one are formed to it anew. Tensions are those of the panel as designed.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from canvas.asbuilt.bend import Bent, PanelToBend, bend
from canvas.cloth.domain import closest
from canvas.cloth.faces import faces_along, hollow_of
from canvas.cloth.lines import arc_lengths
from canvas.cloth.rigging import Measured, Rigging
from canvas.cloth.shape import EdgeShape, PanelShape
from canvas.design.positions import Path
from canvas.design.problems import DesignError
from canvas.design.references import references
from canvas.design.schema.rig import Panel
from canvas.geometry.model import Model
from canvas.geometry.surface import Bools, Floats, Ints
from canvas.jobs.shelf import Shelf
from canvas.survey.from_design import survey_of
from canvas.survey.readings import Height, Reading, Side, describe

ON_PANEL = 0.15  # [m] a mark farther from the panel as designed is not on it
AT = 1e-3  # [m] a corner at a mark
TYPED = 5e-3  # [m] a corner at a spot of its own, whose place was typed in sixteenths


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Moved:
    """One measured spot of the panel.

    Attributes
    ----------
    name : str
    by : (3,) ndarray
        [m] Aft, to starboard, up.
    sd : float
        [m]
    """

    name: str
    by: Floats
    sd: float


@dataclass(frozen=True, slots=True, kw_only=True)
class EdgeChange:
    """One edge of the panel, as designed and as it came out.

    Attributes
    ----------
    name : str
    length, length_designed : float
        [m]
    hollow, hollow_designed : float or None
        [m]
    """

    name: str
    length: float
    length_designed: float
    hollow: float | None
    hollow_designed: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingChange:
    """One reading on the panel against the design.

    Attributes
    ----------
    reading : Reading
    name : str
    read, designed : float
        [m]
    residual : float
        [m] Of the bent panel.
    """

    reading: Reading
    name: str
    read: float
    designed: float
    residual: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AsBuilt:
    """A panel as it came out.

    Attributes
    ----------
    shape : PanelShape
        As the designed one, vertex for vertex, moved; for cutting, drawing and checks.
    bent : Bent
    moved : tuple of Moved
    edges : tuple of EdgeChange
    readings : tuple of ReadingChange
    largest : float
        [m] How far the vertex moved that moved most.
    """

    shape: PanelShape
    bent: Bent
    moved: tuple[Moved, ...]
    edges: tuple[EdgeChange, ...]
    readings: tuple[ReadingChange, ...]
    largest: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BoatAsBuilt:
    """A boat with every measured panel as it came out.

    Attributes
    ----------
    rigging : Rigging
    panels : mapping of str to AsBuilt
        In the order of the file; empty where no readings were taken on new canvas.
    """

    rigging: Rigging
    panels: Mapping[str, AsBuilt]


def boat_as_built(model: Model, *, shelf: Shelf | None = None) -> BoatAsBuilt:
    """Return the boat rigged with every panel on which readings were taken bent to them, one after another.

    Parameters
    ----------
    model : Model
    shelf : Shelf, optional
        Of the rigging.

    Raises
    ------
    DesignError, CouldNot
        As `as_built`.
    """
    rigging = Rigging(model, shelf=shelf)
    panels = {}
    for name in measured_panels(rigging):
        panels[name] = as_built(rigging, name)
        bent = panels[name].bent
        rigging = rigging.with_measured(Measured(shape=panels[name].shape, spots=bent.measured, sd=bent.spot_sd))
    return BoatAsBuilt(rigging=rigging, panels=panels)


def measured_panels(rigging: Rigging) -> tuple[str, ...]:
    """Return the new panels on which readings were taken, in the order of the file."""
    design = rigging.model.design
    touched = {getattr(reading, "panel", None) for reading in design.reading}
    return tuple(panel.name for panel in design.panel if panel.name in touched and not panel.existing)


def hanging_marks(rigging: Rigging) -> dict[str, str]:
    """Return the marks that are only corners of new canvas, held off by ties, each with its panel.

    They are nowhere on board until the canvas, or its mock-up, is up.
    """
    design = rigging.model.design
    on_board = {mark for entry in survey_of(rigging.model.source).entries for mark in entry.marks}
    hanging = {}
    for panel in design.panel:
        if not panel.existing:
            ends = {str(tie.at) for tie in panel.ties if tie.length is not None and isinstance(tie.at, str)}
            hanging.update(dict.fromkeys(ends - _on_board(rigging, panel) - on_board, panel.name))
    return hanging


def as_built(rigging: Rigging, panel: str) -> AsBuilt:
    """Return a panel bent to the readings taken on it.

    Parameters
    ----------
    rigging : Rigging
    panel : str
        A new panel; see `measured_panels`.

    Raises
    ------
    DesignError
        When no reading touches a mark on the panel.
    CouldNot
        When the readings do not settle on one shape, or the panel has none in its set.
    """
    design, source = rigging.model.design, rigging.model.source
    spec = design.panel_named(panel)
    shape = rigging.rig(design.home_set(spec) or "").formed.panel(panel)
    boat, both = survey_of(source), survey_of(source, panel=panel)
    own = [entry for entry in both.entries if not isinstance(entry, Side) and entry not in boat.entries]
    fixed = _on_board(rigging, spec) | {mark for entry in boat.entries for mark in entry.marks}
    spots = _spots(rigging, own, fixed, shape)
    if not spots:
        place = next((k for k, r in enumerate(design.reading) if getattr(r, "panel", None) == panel), None)
        raise DesignError([
            source.problem(
                ("reading",) if place is None else ("reading", place), code="no-spot",
                found=f'readings on "{panel}" that touch no mark on it',
                wanted="Give marks on the panel their places by design; take readings from them to marks on board.",
            )
        ])  # fmt: skip
    sessions = {entry.session for entry in own if isinstance(entry, Height)}
    level = [entry for entry in boat.entries if isinstance(entry, Height) and entry.session in sessions]
    marks = rigging.model.marks
    bent = bend(
        _to_bend(spec, shape, frozenset(fixed) - set(spots), rigging, spots),
        [*own, *level],
        spots=spots,
        marks=marks,
        sessions=both.sessions,
        precision=both.precision,
    )
    return _answer(shape, bent, own)


def _on_board(rigging: Rigging, spec: Panel) -> set[str]:
    """Return the marks that the design uses for anything but readings and what hangs free of this panel."""
    source = rigging.model.source
    data = tomllib.loads(source.text)
    own = [panel.name for panel in source.design.panel].index(spec.name)
    free = [edge.kind == "free" for edge in rigging.model.outlines[spec.name].edges]

    def hangs(where: Path) -> bool:
        if where[:2] != ("panel", own) or where[2] == "seams":
            return where[:2] == ("panel", own)
        place = int(where[3])
        if where[2] == "ties":
            return spec.ties[place].length is not None
        return free[place] and (where[4] == "through" or free[(place + (1 if where[4] == "to" else -1)) % len(free)])

    return {
        name
        for name in source.design.marks
        if not all(where[0] == "reading" or hangs(where) for where in references(data, ("marks", name)))
    }


def _spots(rigging: Rigging, own: list[Reading], fixed: set[str], shape: PanelShape) -> dict[str, Floats]:
    """Return the marks on the panel: touched by its readings, not by the boat's, and near it by design."""
    marks = rigging.model.marks
    names = [name for name in dict.fromkeys(mark for entry in own for mark in entry.marks) if name not in fixed]
    if not names:
        return {}
    places = np.array([marks.at(name) for name in names])
    distance = closest(places, shape.vertices, shape.faces)[2]
    return {name: place for name, place, far in zip(names, places, distance, strict=True) if far <= ON_PANEL}


def _to_bend(
    spec: Panel, shape: PanelShape, boat: frozenset[str], rigging: Rigging, spots: Mapping[str, Floats]
) -> PanelToBend:
    """Return the panel with what stays: held edges, corners at fittings unless they were measured, cloth on bows."""
    stays: Bools = np.zeros(len(shape.vertices), dtype=np.bool_)
    lines: list[Ints] = []
    forces = []
    tension = max(float(np.mean(shape.tension)), 1.0)
    marks = rigging.model.marks
    outline = rigging.model.outlines[spec.name]
    for edge, formed, line in zip(outline.edges, shape.edges, shape.edge_vertices, strict=True):
        if edge.kind != "free":
            stays[line] = True
            continue
        if formed.cable_force is not None and formed.cable_force > 0:
            lines.append(line)
            forces.append(formed.cable_force / tension)
        for corner in (line[0], line[-1]):
            away = np.linalg.norm(marks.xyz - shape.vertices[corner], axis=1)
            measured = any(np.linalg.norm(place - shape.vertices[corner]) < TYPED for place in spots.values())
            stays[corner] |= not measured and any(marks.names[k] in boat for k in np.flatnonzero(away < AT).tolist())
    for line, touching in zip(shape.over, shape.touching, strict=True):
        stays[line[touching]] = True
    return PanelToBend(
        vertices=shape.vertices, faces=shape.faces, stays=stays, lines=tuple(lines), forces=tuple(forces)
    )


def _answer(shape: PanelShape, bent: Bent, own: list[Reading]) -> AsBuilt:
    after = replace(
        shape,
        vertices=bent.vertices,
        edges=tuple(
            _measured_edge(edge, line, bent.vertices, shape.faces)
            for edge, line in zip(shape.edges, shape.edge_vertices, strict=True)
        ),
    )
    rows = [row for row in range(len(bent.residual)) if bent.readings[bent.row_reading[row]] in own]
    return AsBuilt(
        shape=after,
        bent=bent,
        moved=tuple(
            Moved(name=name, by=by, sd=float(sd))
            for name, by, sd in zip(bent.spots, bent.measured - bent.designed, bent.spot_sd, strict=True)
        ),
        edges=tuple(
            EdgeChange(
                name=new.name, length=new.length, length_designed=old.length, hollow=new.hollow,
                hollow_designed=old.hollow,
            )
            for old, new in zip(shape.edges, after.edges, strict=True)
        ),
        readings=tuple(_reading_change(bent, row) for row in rows),
        largest=float(np.linalg.norm(bent.vertices - shape.vertices, axis=1).max()),
    )  # fmt: skip


def _reading_change(bent: Bent, row: int) -> ReadingChange:
    reading = bent.readings[bent.row_reading[row]]
    return ReadingChange(
        reading=reading,
        name=describe(reading),
        read=float(bent.observed[row]),
        designed=float(bent.expected[row]),
        residual=float(bent.residual[row]),
    )


def _measured_edge(edge: EdgeShape, line: Ints, vertices: Floats, faces: Ints) -> EdgeShape:
    return replace(
        edge,
        length=float(arc_lengths(vertices[line])[-1]),
        chord=float(np.linalg.norm(vertices[line[-1]] - vertices[line[0]])),
        hollow=None if edge.hollow is None else hollow_of(vertices, faces_along(faces, line), line),
    )

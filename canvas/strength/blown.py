"""Solve the canvas of a set under the wind, case by case and wind by wind.

Computes: elastic cloth under bounding pressures at several winds; what it pulls on whatever holds it.
Units: newtons, pascals, metres a second, metres.
Source: pressures by `canvas.strength.pressure`, cloth by `canvas.cloth`.
Limits: panels that pull on nothing but tubes and marks are solved apart, so that sets share them; what supports them
    stays where it is. Each wind starts from the rest of the weaker one. A tie gives way along its pull by its own
    stretch, from memory, along the pull of its hems; one without a length, and what it is made fast to, do not.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from weakref import WeakKeyDictionary

import numpy as np

from canvas.cloth.elastic import Loaded, settle
from canvas.cloth.given import Stiffness
from canvas.cloth.joined import Joined, join_up
from canvas.cloth.loads import Loads, cloth_weight
from canvas.cloth.membrane import ElasticLine, support_forces
from canvas.cloth.partners import loose_groups, supporters
from canvas.cloth.rigging import MEASURED_CLOTH, Rigging
from canvas.cloth.setting import hung
from canvas.cloth.shape import Formed, PanelShape
from canvas.design.tables import fastenings
from canvas.geometry.surface import Floats
from canvas.jobs.cache import key_of
from canvas.jobs.failure import CouldNot
from canvas.jobs.shelf import from_shelf
from canvas.strength.pressure import CASES, Case, Coefficients

WET = 1.3  # wet cloth over dry, by weight; common practice, no source
BALANCED = 1e-4  # of the greatest force of an element; loads are not known to a hundredth of that
WINDS = (0.6, 1.0, 1.5)  # winds solved, over the one asked about

SET_UP = 0.5  # share of the low end of its strength that a tie is set up to by hand at most; common practice, no source
TIE_STRETCH = {"webbing and buckle": 6e4, "lashing": 6e4, "shock cord": 400.0}  # EA, from memory [N]

_BLOWN: WeakKeyDictionary[Rigging, dict[str, Blown]] = WeakKeyDictionary()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AtWind:
    """A group of panels at rest in one wind.

    Attributes
    ----------
    wind : float
        At the instrument [m/s].
    panels : tuple of PanelShape
        As they hang.
    spots, pulls : (k, 3) ndarray
        Where the canvas pulls or presses on what holds it [m], and with what [N].
    """

    wind: float
    panels: tuple[PanelShape, ...]
    spots: Floats
    pulls: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Blown:
    """A group of panels in the wind.

    Attributes
    ----------
    panels : tuple of str
    runs : mapping of str to tuple of AtWind
        By case, winds rising; fewer than the winds asked where the cloth found no rest.
    unsolved : tuple of str
        Cases without rest, in words.
    """

    panels: tuple[str, ...]
    runs: Mapping[Case, tuple[AtWind, ...]]
    unsolved: tuple[str, ...]


def blown(rigging: Rigging, set_name: str, coefficients: Sequence[Coefficients], *, aws: float) -> tuple[Blown, ...]:
    """Return the panels of a set in the wind, those together that pull on each other.

    Parameters
    ----------
    rigging : Rigging
    set_name : str
    coefficients : sequence of Coefficients
        Of the set's panels, in order.
    aws : float
        Mean apparent wind at the instrument that is asked about [m/s].
    """
    model = rigging.model
    names = [up.panel for up in model.design.panels_up(set_name)]
    outlines = tuple(model.outlines[name] for name in names)
    shapes = rigging.rig(set_name).formed.panels
    kept = _BLOWN.setdefault(rigging, {})
    found = []
    for group in loose_groups(outlines):
        near = [*group, *supporters(outlines, group)]
        acting = [coefficients[n].pressure(case, aws=aws, instrument_height=model.instrument_height)
                  for n in group for case in CASES]  # fmt: skip
        opened = [up.zip for up in model.design.panels_up(set_name) if up.panel in {names[n] for n in group}]
        key = key_of([names[n] for n in near], [shapes[n].vertices for n in near], acting, opened, aws)
        if key not in kept:
            kept[key] = _solved(
                rigging, tuple(shapes[n] for n in near), [coefficients[n] for n in group], set_name=set_name, aws=aws
            )  # fmt: skip
        found.append(kept[key])
    return tuple(found)


def _solved(
    rigging: Rigging,
    shapes: tuple[PanelShape, ...],
    coefficients: Sequence[Coefficients],
    *,
    set_name: str,
    aws: float,
) -> Blown:
    """Return the first panels in the wind, one a coefficient; the others support them and stay where they hang."""
    joined, anchors = _joined(rigging, shapes, len(coefficients), set_name)
    known = rigging.model.design.cloths()
    dead = np.vstack([
        cloth_weight(shape.vertices, shape.faces, mass=WET * known[shape.cloth or MEASURED_CLOTH].mass)
        for shape in shapes
    ])  # fmt: skip
    return from_shelf(
        rigging.shelf,
        _winds,
        joined,
        tuple(coefficients),
        start=np.vstack([*(shape.vertices for shape in shapes), anchors]),
        dead=np.vstack([dead, np.zeros_like(anchors)]),
        set_name=set_name,
        aws=aws,
        instrument_height=rigging.model.instrument_height,
    )


def _winds(
    joined: Joined,
    coefficients: Sequence[Coefficients],
    *,
    start: Floats,
    dead: Floats,
    set_name: str,
    aws: float,
    instrument_height: float,
) -> Blown:
    """Return joined panels in each case and wind, from where they hang and what their cloth weighs."""
    mine = tuple(shape.name for shape in joined.shapes)
    said = " and ".join(f'"{name}"' for name in mine)
    runs: dict[Case, tuple[AtWind, ...]] = {}
    unsolved = []
    for case in CASES:
        places, rows = start, []
        for share in WINDS:
            pressure = np.zeros(len(joined.membrane.faces))
            for faces, one in zip(joined.faces, coefficients, strict=True):
                pressure[faces] = -one.pressure(case, aws=aws * share, instrument_height=instrument_height)
            try:
                loads = Loads(pressure=pressure, dead=dead)
                loaded = settle(joined.membrane, places, loads=loads, what=said, balanced=BALANCED)
            except CouldNot as failure:
                unsolved.append(f"{said}, {case} at {aws * share * 3600 / 1852:.0f} kn: {failure.what}")
                break
            places = loaded.vertices
            rows.append(_at(joined, loaded, wind=aws * share, set_name=set_name))
        runs[case] = tuple(rows)
    return Blown(panels=mine, runs=runs, unsolved=tuple(unsolved))


def _joined(rigging: Rigging, shapes: tuple[PanelShape, ...], count: int, set_name: str) -> tuple[Joined, Floats]:
    """Return the first panels as a membrane, with the vertices of the others held, and the far ends of their ties."""
    model = rigging.model
    known = model.design.cloths()
    stiff = {name: Stiffness.of(cloth) for name, cloth in known.items()} | {"": Stiffness.of(known[MEASURED_CLOTH])}
    whole = join_up(
        tuple(rigging.cut_shape(shape.name) for shape in shapes),
        tuple(model.outlines[shape.name] for shape in shapes),
        cloths=stiff,
        open_zips=rigging.open_zips(set_name),
    )
    sheet, first, last = whole.membrane, whole.vertices[count - 1].stop, whole.faces[count - 1].stop
    held = np.array(sheet.held)
    held[first:] = True
    ties, anchors = _ties(rigging, whole, shapes[:count])
    for tie in ties:
        held[tie.vertices[0]] = False
    membrane = replace(
        sheet, faces=sheet.faces[:last], rest=sheet.rest[:last], stiffness=sheet.stiffness[:last],
        prestress=None if sheet.prestress is None else sheet.prestress[:last],
        held=np.append(held, np.ones(len(anchors), dtype=bool)),
        lines=(*(line for line in sheet.lines if line.vertices.max() < first), *ties),
        supports=tuple(one for one in sheet.supports if one.vertices.max() < first),
    )  # fmt: skip
    mine = replace(
        whole, membrane=membrane, shapes=whole.shapes[:count], outlines=whole.outlines[:count],
        vertices=whole.vertices[:count], faces=whole.faces[:count],
    )  # fmt: skip
    return mine, anchors


def _ties(rigging: Rigging, joined: Joined, shapes: tuple[PanelShape, ...]) -> tuple[list[ElasticLine], Floats]:
    """Return the ties of free corners as elastic lines, set up to what the hems pull at rest, and their far ends."""
    ties: list[ElasticLine] = []
    ends = [np.zeros((0, 3))]
    for n, shape in enumerate(shapes):
        spec = rigging.model.design.panel_named(shape.name)
        for tie, vertex in zip(spec.ties, shape.ties, strict=True):
            pull = _hems_pull(shape, int(vertex))
            if tie.length is None or tie.kind not in TIE_STRETCH or pull is None:
                continue
            whole = float(np.linalg.norm(pull))
            force = min(whole, SET_UP * (fastenings()[tie.kind].strength_low or np.inf))
            ends.append((shape.vertices[vertex] - tie.length * pull / whole)[None])
            ties.append(
                ElasticLine(
                    name=f"{shape.name}: tie", rest=np.array([tie.length]), stretching=TIE_STRETCH[tie.kind],
                    vertices=np.array([joined.vertices[n].start + vertex, len(joined.start) + len(ties)]),
                    tension=force,
                )
            )  # fmt: skip
    return ties, np.vstack(ends)


def _hems_pull(shape: PanelShape, vertex: int) -> Floats | None:
    """Return the pull of the two hems on a free corner at rest [N]; None where it is no corner of two hems."""
    pull = np.zeros(3)
    hems = 0
    for edge, line in zip(shape.edges, shape.edge_vertices, strict=True):
        chain = line if line[0] == vertex else line[::-1] if line[-1] == vertex else None
        if chain is None or edge.kind != "free":
            continue
        way = shape.vertices[chain[1]] - shape.vertices[vertex]
        pull += (edge.cable_force or 0.0) * way / np.linalg.norm(way)
        hems += 1
    return pull if hems == 2 and np.linalg.norm(pull) > 1e-6 else None


def _at(joined: Joined, loaded: Loaded, *, wind: float, set_name: str) -> AtWind:
    formed = _with_ties(hung(joined, loaded, set_name=set_name), joined, loaded)
    membrane = joined.membrane
    held = np.flatnonzero(membrane.held[: joined.vertices[-1].stop])  # the far ends of ties are on no tube
    spots, pulls = [loaded.vertices[held]], [-loaded.reactions[held]]
    for support in membrane.supports:
        spots.append(loaded.vertices[support.vertices])
        pulls.append(support_forces(support, loaded.vertices, membrane.faces))
    return AtWind(wind=wind, panels=formed.panels, spots=np.vstack(spots), pulls=np.vstack(pulls))


def _with_ties(formed: Formed, joined: Joined, loaded: Loaded) -> Formed:
    """Return panels whose stretching ties carry what their lines do."""
    carried = {
        int(line.vertices[0]): float(abs(tension[0]))
        for line, tension in zip(joined.membrane.lines, loaded.line_tensions, strict=True)
        if line.name.endswith(": tie")
    }
    panels = []
    for panel, own in zip(formed.panels, joined.vertices, strict=True):
        pulls = [carried.get(own.start + int(vertex), float(pull))
                 for vertex, pull in zip(panel.ties, panel.tie_forces, strict=True)]  # fmt: skip
        panels.append(replace(panel, tie_forces=np.array(pulls)))
    return replace(formed, panels=tuple(panels))

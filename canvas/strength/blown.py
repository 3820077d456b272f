"""Solve the canvas of a set under the wind, case by case and wind by wind.

Computes: elastic cloth under bounding pressures at several winds; what it pulls on whatever holds it.
Units: newtons, pascals, metres a second, metres.
Source: pressures by `canvas.strength.pressure`, cloth by `canvas.cloth`.
Limits: panels that pull on nothing but tubes and marks are solved apart, so that sets share them; what supports them
    stays where it is. Each wind starts from the rest of the weaker one.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from weakref import WeakKeyDictionary

import numpy as np

from canvas.cloth.elastic import Loaded, settle
from canvas.cloth.joined import Joined, Stiffness, join_up
from canvas.cloth.loads import Loads, cloth_weight
from canvas.cloth.membrane import support_forces
from canvas.cloth.partners import loose_groups, supporters
from canvas.cloth.rigging import MEASURED_CLOTH, Rigging
from canvas.cloth.setting import hung
from canvas.cloth.shape import PanelShape
from canvas.geometry.surface import Floats
from canvas.jobs.cache import key_of
from canvas.jobs.failure import CouldNot
from canvas.strength.pressure import CASES, Case, Coefficients

WET = 1.3  # wet cloth over dry, by weight; common practice, no source
WINDS = (0.6, 1.0, 1.5)  # winds solved, over the one asked about

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
        near = sorted({*group, *supporters(outlines, group)})
        acting = [coefficients[n].pressure(case, aws=aws, instrument_height=model.instrument_height)
                  for n in group for case in CASES]  # fmt: skip
        opened = [up.zip for up in model.design.panels_up(set_name) if up.panel in {names[n] for n in group}]
        key = key_of([names[n] for n in near], [shapes[n].vertices for n in near], acting, opened, aws)
        if key not in kept:
            kept[key] = _solved(
                rigging, tuple(shapes[n] for n in near), [near.index(n) for n in group],
                [coefficients[n] for n in group], set_name=set_name, aws=aws,
            )  # fmt: skip
        found.append(kept[key])
    return tuple(found)


def _solved(
    rigging: Rigging,
    shapes: tuple[PanelShape, ...],
    group: Sequence[int],
    coefficients: Sequence[Coefficients],
    *,
    set_name: str,
    aws: float,
) -> Blown:
    joined = _joined(rigging, shapes, group, set_name)
    known = rigging.model.design.cloths()
    dead = np.vstack([
        cloth_weight(shape.vertices, shape.faces, mass=WET * known[shape.cloth or MEASURED_CLOTH].mass)
        for shape in shapes
    ])  # fmt: skip
    mine = tuple(shapes[n].name for n in group)
    said = " and ".join(f'"{name}"' for name in mine)
    runs: dict[Case, tuple[AtWind, ...]] = {}
    unsolved = []
    for case in CASES:
        places, rows = np.vstack([shape.vertices for shape in shapes]), []
        for share in WINDS:
            pressure = np.zeros(len(joined.membrane.faces))
            for n, one in zip(group, coefficients, strict=True):
                high = rigging.model.instrument_height
                pressure[joined.faces[n]] = -one.pressure(case, aws=aws * share, instrument_height=high)
            try:
                loaded = settle(joined.membrane, places, loads=Loads(pressure=pressure, dead=dead), what=said)
            except CouldNot as failure:
                unsolved.append(f"{said}, {case} at {aws * share * 3600 / 1852:.0f} kn: {failure.what}")
                break
            places = loaded.vertices
            rows.append(_at(joined, loaded, group, wind=aws * share, set_name=set_name))
        runs[case] = tuple(rows)
    return Blown(panels=mine, runs=runs, unsolved=tuple(unsolved))


def _joined(rigging: Rigging, shapes: tuple[PanelShape, ...], group: Sequence[int], set_name: str) -> Joined:
    """Return a group as a membrane; the panels that support it are in it, held where they hang."""
    model = rigging.model
    known = model.design.cloths()
    stiff = {name: Stiffness.of(cloth) for name, cloth in known.items()} | {"": Stiffness.of(known[MEASURED_CLOTH])}
    joined = join_up(
        tuple(rigging.cut_shape(shape.name) for shape in shapes),
        tuple(model.outlines[shape.name] for shape in shapes),
        cloths=stiff,
        open_zips=rigging.open_zips(set_name),
    )
    held = np.array(joined.membrane.held)
    for n in range(len(shapes)):
        if n not in group:
            held[joined.vertices[n]] = True
    return replace(joined, membrane=replace(joined.membrane, held=held))


def _at(joined: Joined, loaded: Loaded, group: Sequence[int], *, wind: float, set_name: str) -> AtWind:
    formed = hung(joined, loaded, set_name=set_name)
    membrane = joined.membrane
    own = np.zeros(len(membrane.held), dtype=bool)
    for n in group:
        own[joined.vertices[n]] = True
    held = membrane.held & own
    spots, pulls = [loaded.vertices[held]], [-loaded.reactions[held]]
    for support in membrane.supports:
        if own[support.vertices].all():
            spots.append(loaded.vertices[support.vertices])
            pulls.append(support_forces(support, loaded.vertices, membrane.faces))
    return AtWind(
        wind=wind, panels=tuple(formed.panels[n] for n in group), spots=np.vstack(spots), pulls=np.vstack(pulls)
    )

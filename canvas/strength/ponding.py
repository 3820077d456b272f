"""Say whether a set's roofs would hold rain, how much, and the least that drains them.

Computes: by roof panel, how near its dry shape is to sinking under a puddle; the pools that stand at rest, heeled and
    trimmed; where the cloth is flatter than sheds water; the smallest lowering of one side that leaves it dry.
Units: cubic metres, kilograms, radians, metres.
Source: smallest eigenvalue of tangent stiffness less rho g area (canvas/cloth/pool.py), over the cloth flat enough
    for water to begin to stand; least slopes that shed water: 10 deg for soft cloth, common practice, no source; how
    far she is trimmed is a project rule.
Limits: fresh water on clean cloth; wet cloth's stretch with time is not in; puddles are begun at rest only. A side is
    lowered by turning the whole panel about its other side, frames and all.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from weakref import WeakKeyDictionary

import numpy as np

from canvas.air.attitude import to_boat
from canvas.cloth.given import Stiffness
from canvas.cloth.joined import Joined, join_up
from canvas.cloth.loads import cloth_weight
from canvas.cloth.membrane import Membrane
from canvas.cloth.partners import partner_of
from canvas.cloth.pool import Pool, follow_pool, ponding, standing_levels, water_volume
from canvas.cloth.rigging import MEASURED_CLOTH, Rigging
from canvas.cloth.shape import PanelShape
from canvas.geometry.surface import Floats, locked
from canvas.geometry.triangles import area_vectors
from canvas.jobs.cache import key_of
from canvas.jobs.failure import CouldNot
from canvas.jobs.shelf import from_shelf

WATER_MASS = 1000.0  # [kg/m3]
LEAST_SLOPE = np.radians(10.0)  # soft cloth
AT_REST = "at rest"
PUDDLE = 0.10  # depth of the puddle that soft cloth is tried with [m]
LEAST_POOL = 1e-4  # less than this does not count as standing water [m3]
ROOF = 0.5  # a panel that faces up more than this counts as a roof
WET = 1.3  # wet cloth over dry
TRIM = np.radians(3.0)  # by bow or stern
TURNS = np.radians(np.array([1.0, 2.0, 3.0, 5.0, 7.0, 10.0, 14.0]))  # tried to drain a pool
SIDES = {"aft": (0.0, 1.0), "forward": (0.0, -1.0), "starboard": (1.0, 0.0), "port": (-1.0, 0.0)}

ALIKE = 1e-4  # a roof that hangs within this in another set holds the same water [m]

_WATER: WeakKeyDictionary[Rigging, dict[str, RoofWater]] = WeakKeyDictionary()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Standing:
    """Water on one roof as the boat lies.

    Attributes
    ----------
    lying : str
        ``at rest``, ``heeled to port``, ``heeled to starboard``, ``by the bow`` or ``by the stern``.
    heel, trim : float
        [rad]
    volume : float or None
        Of the pool, filled to its spill while the cloth sinks under it; None where it found no rest [m3].
    where : (3,) ndarray or None
        Deepest place, boat frame [m]; None where no water stands.
    """

    lying: str
    heel: float
    trim: float
    volume: float | None
    where: Floats | None

    @property
    def mass(self) -> float | None:
        """Of the water [kg]."""
        return None if self.volume is None else self.volume * WATER_MASS


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Drain:
    """The smallest change that leaves a roof dry at rest.

    Attributes
    ----------
    side : str
        Which side to lower.
    by : float
        How far [m].
    """

    side: str
    by: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RoofWater:
    """Water on one roof.

    Attributes
    ----------
    panel : str
    factor : float or None
        How much heavier water would have to be for the dry shape to sink under it; below 1 it is unstable. None where
        no cloth is flat enough for water to begin to stand, or where it could not be found.
    stable : bool or None
        Whether the dry shape is; None where it could not be found.
    standing : tuple of Standing
        At rest first.
    flat_share : float
        Share of the panel with less slope than sheds water.
    flattest : (3,) ndarray
        Where it slopes least [m].
    least_slope : float
        There [rad].
    drain : Drain or None
        None where no water stands at rest, or no lowering tried drains it.
    """

    panel: str
    factor: float | None
    stable: bool | None
    standing: tuple[Standing, ...]
    flat_share: float
    flattest: Floats
    least_slope: float
    drain: Drain | None

    @property
    def at_rest(self) -> Standing:
        """The water at rest on an even keel."""
        return self.standing[0]

    @property
    def worst(self) -> Standing:
        """The most water over all ways of lying; one that is not known counts as the most."""
        return max(self.standing, key=lambda one: np.inf if one.volume is None else one.volume)


def roof_water(rigging: Rigging, set_name: str) -> tuple[RoofWater, ...]:
    """Return the water that each roof of a set would hold.

    Parameters
    ----------
    rigging : Rigging
    set_name : str
    """
    kept = _WATER.setdefault(rigging, {})
    found = []
    for here in _hanging(rigging, set_name).values():
        roof = _first_alike(rigging, set_name, here)
        key = key_of(roof.shape.name, roof.mated, roof.lying, roof.shape.vertices)
        if key not in kept:
            kept[key] = from_shelf(rigging.shelf, _on_one, _roof(rigging, roof.shape, roof.mated), roof.lying)
        found.append(kept[key])
    return tuple(found)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Hanging:
    """A roof as it hangs in a set: which of its edges are zipped to another panel, and how the boat lies there."""

    shape: PanelShape
    mated: tuple[int, ...]
    lying: tuple[tuple[str, float, float], ...]

    def alike(self, other: _Hanging) -> bool:
        """Return whether both hold the same water."""
        mine, others = self.shape.vertices, other.shape.vertices
        same = (self.mated, self.lying, mine.shape) == (other.mated, other.lying, others.shape)
        return same and bool(np.abs(mine - others).max() < ALIKE)


def _hanging(rigging: Rigging, set_name: str) -> dict[str, _Hanging]:
    """Return the roofs of a set by panel."""
    model = rigging.model
    heel = model.design.sailing.heel_close_hauled
    lying = [(AT_REST, 0.0, 0.0)]
    if "under way" in model.design.set_named(set_name).used:
        lying += [("heeled to port", -heel, 0.0), ("heeled to starboard", heel, 0.0)]
    lying += [("by the bow", 0.0, -TRIM), ("by the stern", 0.0, TRIM)]
    outlines = tuple(model.outlines[up.panel] for up in model.design.panels_up(set_name))
    found = {}
    for number, shape in enumerate(rigging.rig(set_name).formed.panels):
        areas = area_vectors(shape.vertices[shape.faces])
        if areas[:, 2].sum() >= ROOF * np.linalg.norm(areas, axis=1).sum():
            edges = outlines[number].edges
            mated = tuple(k for k, edge in enumerate(edges) if partner_of(number, edge, outlines) is not None)
            found[shape.name] = _Hanging(shape=shape, mated=mated, lying=tuple(lying))
    return found


def _first_alike(rigging: Rigging, set_name: str, here: _Hanging) -> _Hanging:
    """Return the roof as it hangs in the first set of the design in which it hangs alike, whichever are asked about."""
    every = rigging.model.design.set_names()
    first: list[_Hanging] = []
    for name in every[: every.index(set_name) + 1]:
        if any(up.panel == here.shape.name for up in rigging.model.design.panels_up(name)):
            roof = _hanging(rigging, name).get(here.shape.name)
            if roof is not None and not any(one.alike(roof) for one in first):
                first.append(roof)
    return next(one for one in first if one.alike(here))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Roof:
    """One roof as a membrane that can be turned, and what its wet cloth weighs [kg/m2]."""

    shape: PanelShape
    membrane: Membrane
    mass: float

    def turned(self, heel: float, trim: float) -> tuple[Membrane, Floats]:
        """Return membrane and vertices in axes whose z is straight up when the boat lies over."""
        axes = np.array([to_boat(axis, heel=heel, trim=trim) for axis in np.eye(3)])
        supports = tuple(replace(one, line=one.line @ axes.T) for one in self.membrane.supports)
        return replace(self.membrane, supports=supports), np.asarray(self.shape.vertices @ axes.T)

    def pool(self, heel: float, trim: float, *, sunk: Floats | None = None) -> Pool | None:
        """Return the pool that stands, begun from a shape sunk by so much; None where the cloth finds no rest."""
        membrane, level = self.turned(heel, trim)
        dead = cloth_weight(level, membrane.faces, mass=self.mass)
        start = level if sunk is None else level - sunk
        try:
            return follow_pool(membrane, start, dead=dead, what=f'Panel "{self.shape.name}" under rain')
        except CouldNot:
            return None


def _roof(rigging: Rigging, shape: PanelShape, mated: Sequence[int]) -> _Roof:
    """Return a roof of a set; edges zipped to another panel stay where they hang."""
    known = rigging.model.design.cloths()
    stiff = {name: Stiffness.of(cloth) for name, cloth in known.items()} | {"": Stiffness.of(known[MEASURED_CLOTH])}
    joined: Joined = join_up((rigging.cut_shape(shape.name),), (rigging.model.outlines[shape.name],), cloths=stiff)
    held = np.array(joined.membrane.held)
    for k in mated:
        held[shape.edge_vertices[k]] = True
    mass = WET * known[shape.cloth or MEASURED_CLOTH].mass
    return _Roof(shape=shape, membrane=replace(joined.membrane, held=held), mass=mass)


def _on_one(roof: _Roof, lying: Sequence[tuple[str, float, float]]) -> RoofWater:
    areas = area_vectors(roof.shape.vertices[roof.shape.faces])
    size = np.linalg.norm(areas, axis=1)
    slopes = np.arccos(np.clip(np.abs(areas[:, 2]) / np.maximum(size, 1e-12), 0.0, 1.0))
    flat = slopes < LEAST_SLOPE
    factor, stable, mode = None, None if flat.any() else True, None
    if flat.any():
        try:
            dry = ponding(roof.membrane, roof.shape.vertices, standing=flat)
            factor, stable, mode = dry.factor, dry.stable, dry.mode
        except CouldNot:
            factor = None
    begun = [None] if mode is None or stable is not False else [None, PUDDLE * mode]
    standing = [_standing(roof, name, heel, trim, begun if name == AT_REST else [None]) for name, heel, trim in lying]
    flattest = int(np.argmin(slopes))
    rest = standing[0].volume
    return RoofWater(
        panel=roof.shape.name, factor=factor, stable=stable, standing=tuple(standing),
        flat_share=float(size[flat].sum() / size.sum()),
        flattest=locked(roof.shape.vertices[roof.shape.faces[flattest]].mean(axis=0)),
        least_slope=float(slopes[flattest]), drain=_drain(roof, begun) if rest is None or rest > LEAST_POOL else None,
    )  # fmt: skip


def _standing(roof: _Roof, lying: str, heel: float, trim: float, begun: Sequence[Floats | None]) -> Standing:
    """Return the most water that stands, begun dry or, on soft cloth, from a puddle that is followed to its end."""
    pools = [roof.pool(heel, trim, sunk=sunk) for sunk in begun]
    known = [pool for pool in pools if pool is not None]
    pool = max(known, key=lambda one: one.volume) if len(known) == len(pools) else None
    wet = pool is not None and pool.volume > LEAST_POOL
    where = roof.shape.vertices[int(np.argmax(pool.depth))] if pool is not None and wet else None
    volume = None if pool is None else pool.volume if wet else 0.0
    return Standing(
        lying=lying, heel=heel, trim=trim, volume=volume, where=None if where is None else locked(where)
    )  # fmt: skip


def _drain(roof: _Roof, begun: Sequence[Floats | None]) -> Drain | None:
    """Return the smallest lowering of one side after which no water stands at rest."""
    extent = np.ptp(roof.shape.vertices, axis=0)
    found = []
    for side, (athwart, along) in SIDES.items():
        for turn in TURNS:
            membrane, level = roof.turned(athwart * turn, along * turn)
            dry = water_volume(level, membrane.faces, standing_levels(level, membrane.faces))
            if dry > LEAST_POOL:
                continue
            after = _standing(roof, side, athwart * turn, along * turn, begun)
            if after.volume is not None and after.volume <= LEAST_POOL:
                found.append(Drain(side=side, by=float(extent[1 if athwart else 0] * np.tan(turn))))
                break
    return min(found, key=lambda one: one.by, default=None)


def wettest(found: Sequence[RoofWater]) -> RoofWater | None:
    """Return the roof that would hold most in any way of lying, None where none holds any."""
    holding = [one for one in found if one.worst.volume]
    return max(holding, key=lambda one: one.worst.volume or 0.0, default=None)

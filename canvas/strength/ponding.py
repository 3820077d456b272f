"""Say whether a set's roofs would hold rain, how much, and what slope is missing.

Computes: by roof panel, how near its dry shape is to sinking under a puddle, the pool that stands at rest, and the
    least slope of its cloth.
Units: cubic metres, kilograms, radians, metres.
Source: smallest eigenvalue of tangent stiffness less rho g area (canvas/cloth/pool.py); least slopes that shed water:
    10 deg for soft cloth, common practice, no source.
Limits: fresh water on clean cloth; the boat at rest on an even keel, or heeled or trimmed as asked; wet cloth's stretch
    with time is not in.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from canvas.air.attitude import to_boat
from canvas.cloth.joined import Joined, Stiffness, join_up
from canvas.cloth.loads import cloth_weight
from canvas.cloth.pool import Pool, follow_pool, ponding
from canvas.cloth.rigging import MEASURED_CLOTH, Rigging
from canvas.geometry.surface import Floats, locked
from canvas.jobs.failure import CouldNot

WATER_MASS = 1000.0  # [kg/m3]
LEAST_SLOPE = np.radians(10.0)  # soft cloth
PUDDLE = 0.03  # depth of the puddle that soft cloth is tried with [m]
LEAST_POOL = 1e-4  # less than this does not count as standing water [m3]
ROOF = 0.5  # a panel that faces up more than this counts as a roof
WET = 1.3  # wet cloth over dry


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RoofWater:
    """Water on one roof.

    Attributes
    ----------
    panel : str
    factor : float or None
        How much heavier water would have to be for the dry shape to sink under it; below 1 it is unstable. None where
        it could not be found.
    volume : float or None
        Of the pool at rest [m3].
    where : (3,) ndarray or None
        Deepest place [m]; None where no water stands.
    flat_share : float
        Share of the panel with less slope than sheds water.
    """

    panel: str
    factor: float | None
    volume: float | None
    where: Floats | None
    flat_share: float

    @property
    def mass(self) -> float | None:
        """Of the water [kg]."""
        return None if self.volume is None else self.volume * WATER_MASS


def roof_water(rigging: Rigging, set_name: str, *, heel: float = 0.0, trim: float = 0.0) -> tuple[RoofWater, ...]:
    """Return the water that each roof of a set would hold.

    Parameters
    ----------
    rigging : Rigging
    set_name : str
    heel, trim : float
        Positive starboard side down, positive stern down [rad].
    """
    model = rigging.model
    known = model.design.cloths()
    rig = rigging.rig(set_name)
    stiff = {name: Stiffness.of(cloth) for name, cloth in known.items()} | {"": Stiffness.of(known[MEASURED_CLOTH])}
    found = []
    for shape in rig.formed.panels:
        corners = shape.vertices[shape.faces]
        areas = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]) / 2
        size = np.linalg.norm(areas, axis=1)
        if areas[:, 2].sum() < ROOF * size.sum():
            continue
        joined = join_up((rigging.cut_shape(shape.name),), (model.outlines[shape.name],), cloths=stiff)
        cloth = known[model.design.panel_named(shape.name).cloth or MEASURED_CLOTH]
        slopes = np.arccos(np.clip(np.abs(areas[:, 2]) / np.maximum(size, 1e-12), 0.0, 1.0))
        flat = float(size[slopes < LEAST_SLOPE].sum() / size.sum())
        found.append(
            _on_one(shape.name, joined, shape.vertices, mass=WET * cloth.mass, heel=heel, trim=trim, flat=flat)
        )
    return tuple(found)


def _on_one(
    name: str, joined: Joined, vertices: Floats, *, mass: float, heel: float, trim: float, flat: float
) -> RoofWater:
    """Return the water on one roof, the boat turned so that up is up."""
    level = _turned(vertices, heel=heel, trim=trim)
    weight = cloth_weight(level, joined.membrane.faces, mass=mass)
    factor, start = None, level
    try:
        dry = ponding(joined.membrane, level)
        factor = dry.factor
        if not dry.stable:
            start = level - PUDDLE * dry.mode  # a puddle begins it, and is followed to where it ends
    except CouldNot:
        factor = None
    try:
        pool: Pool | None = follow_pool(joined.membrane, start, dead=weight, what=f'Panel "{name}" under rain')
    except CouldNot:
        pool = None
    standing = pool is not None and pool.volume > LEAST_POOL
    where = vertices[int(np.argmax(pool.depth))] if pool is not None and standing else None
    return RoofWater(
        panel=name,
        factor=factor,
        volume=None if pool is None else pool.volume,
        where=None if where is None else locked(where),
        flat_share=flat,
    )


def _turned(vertices: Floats, *, heel: float, trim: float) -> Floats:
    """Return places in axes whose z is straight up when the boat lies over."""
    axes = np.array([to_boat(axis, heel=heel, trim=trim) for axis in np.eye(3)])
    return np.asarray(vertices @ axes.T)


def wettest(found: Sequence[RoofWater]) -> RoofWater | None:
    """Return the roof that would hold most, None where none holds any."""
    holding = [one for one in found if one.volume]
    return max(holding, key=lambda one: one.volume or 0.0, default=None)

"""Weigh what new canvas puts aloft, and how high.

Computes: for each new panel of a set, and each new tube, its mass and the height of its middle over the water.
Units: kilograms, metres; moments in kilogram metres.
Source: masses after canvas/materials/quantities.py; heights of the cloth as it hangs.
Limits: set, in its home set, dry; wet cloth weighs up to twice as much. Existing canvas is aboard already.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from canvas.cloth.rigging import Rigging
from canvas.geometry.triangles import area_vectors
from canvas.materials.takeoff import TakeOff


@dataclass(frozen=True, slots=True, kw_only=True)
class Weight:
    """One thing aloft: its name, mass [kg] and height over the water [m]."""

    name: str
    mass: float
    height: float

    @property
    def moment(self) -> float:
        """Mass times height [kg m]."""
        return self.mass * self.height


def weights_aloft(rigging: Rigging, take: TakeOff) -> tuple[Weight, ...]:
    """Return what the new panels and tubes of one set weigh, and how high.

    Raises
    ------
    CouldNot
        When a panel has no shape in balance.
    """
    rig = rigging.rig(take.set_name)
    water = rig.scene.water_z
    found = []
    for panel in take.panels:
        shape = rig.formed.panel(panel.panel)
        corners = shape.vertices[shape.faces]
        area = np.linalg.norm(area_vectors(corners), axis=1)
        height = float((corners[:, :, 2].mean(axis=1) * area).sum() / area.sum()) - water
        found.append(Weight(name=panel.panel, mass=panel.mass, height=height))
    for tube in take.tubes:
        name = next(name for name in rigging.model.tubes if f'"{name}"' in tube.name)
        line = rigging.model.tubes[name].line
        steps = np.linalg.norm(np.diff(line, axis=0), axis=1)
        middle = float((steps * (line[1:, 2] + line[:-1, 2]) / 2).sum() / steps.sum())
        found.append(Weight(name=name, mass=tube.mass, height=middle - water))
    return tuple(found)

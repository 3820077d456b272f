"""Count the tubes that are to be bent and fitted for new canvas.

Computes: length and mass of each new tube, in the set whose panels first need it.
Units: metres, kilograms.
Source: middle lines of canvas/geometry/tubes.py; densities of canvas/design/tables/metals.toml.
Limits: feet, joints and offcuts are not counted; a tube is listed in the set where a new panel that lies on it is made,
    or else in the first set that has a new panel.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from canvas.design.schema.design import Design
from canvas.design.schema.rig import Tube
from canvas.design.tables import metals
from canvas.geometry.tubes import TubeLine
from canvas.materials.takeoff import GoodsBuy


def new_tubes(
    design: Design, lines: Mapping[str, TubeLine], *, homes: Sequence[str]
) -> dict[str, tuple[GoodsBuy, ...]]:
    """Return the new tubes to buy, by set.

    Parameters
    ----------
    design : Design
    lines : mapping of str to TubeLine
        Middle lines by name.
    homes : sequence of str
        The sets in which new panels are made, in order.

    Returns
    -------
    dict of str to tuple of GoodsBuy
        Each by the metre; a set without new tubes is absent.
    """
    found: dict[str, list[GoodsBuy]] = {}
    for tube in design.tube:
        if tube.new and tube.name in lines and homes:
            found.setdefault(_home(design, tube.name, homes), []).append(_bought(tube, lines[tube.name]))
    return {name: tuple(tubes) for name, tubes in found.items()}


def _home(design: Design, tube: str, homes: Sequence[str]) -> str:
    """Return the first set in which a new panel that lies on a tube is made, else the first set of all."""
    for home in homes:
        for panel in design.panel:
            on_it = tube in panel.over or any(edge.along == tube for edge in panel.edges)
            if on_it and not panel.existing and design.home_set(panel) == home:
                return home
    return homes[0]


def _bought(tube: Tube, line: TubeLine) -> GoodsBuy:
    inner = max(line.diameter - 2 * line.wall, 0.0)
    section = np.pi / 4 * (line.diameter**2 - inner**2)
    make = f"{line.diameter * 1000:.0f}" + (f" x {line.wall * 1000:.1f}" if inner > 0 else "")
    return GoodsBuy(
        name=f'{tube.kind} "{tube.name}", {tube.metal}, {make} mm',
        each="m",
        amount=line.length,
        mass=float(section * line.length * metals()[tube.metal].density),
    )

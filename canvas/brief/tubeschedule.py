"""Put hoops and rails into a bending schedule: what a tube bender sets up.

Computes: developed length, span, crown, offsets from the chord of the feet, and points where the line bends most.
Units: metres.
Source: the tubes' middle lines.
Limits: spring-back, jaw slides and end fittings are the bender's; offsets are in the hoop's own plane.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from canvas.geometry.surface import Floats, locked
from canvas.geometry.tubes import TubeLine

STATIONS = 11  # of the offsets, both feet included


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bend:
    """One bent tube.

    Attributes
    ----------
    name : str
    developed : float
        Length of its middle line [m].
    chord : float
        Between its ends [m].
    highest : float
        Greatest distance of the line from the chord [m].
    diameter, wall : float
        [m]
    station : (n,) ndarray
        Along the chord from the first end [m].
    offset : (n,) ndarray
        Farthest distance of the line from the chord at each station, square to it [m].
    """

    name: str
    developed: float
    chord: float
    highest: float
    diameter: float
    wall: float
    station: Floats
    offset: Floats

    def __post_init__(self) -> None:
        object.__setattr__(self, "station", locked(self.station))
        object.__setattr__(self, "offset", locked(self.offset))


def bend_of(tube: TubeLine) -> Bend:
    """Return the bending schedule of one tube."""
    start, end = tube.line[0], tube.line[-1]
    chord = float(np.linalg.norm(end - start))
    along = (tube.line - start) @ (end - start) / chord
    off = np.linalg.norm(tube.line - start - along[:, None] * (end - start) / chord, axis=1)
    station = np.linspace(0.0, chord, STATIONS)
    return Bend(
        name=tube.name,
        developed=tube.length,
        chord=chord,
        highest=float(off.max()),
        diameter=tube.diameter,
        wall=tube.wall,
        station=station,
        offset=_farthest(along, off, station),
    )


def _farthest(along: Floats, off: Floats, station: Floats) -> Floats:
    """Return the farthest crossing of the line at each station; a hoop wider than its feet is crossed twice."""
    result = np.zeros(len(station))
    low, high = np.minimum(along[:-1], along[1:]), np.maximum(along[:-1], along[1:])
    for k, place in enumerate(station):
        near = np.flatnonzero((low <= place + 1e-9) & (high >= place - 1e-9))
        steps = along[near + 1] - along[near]
        flat = np.abs(steps) < 1e-12
        share = np.where(flat, 0.0, (place - along[near]) / np.where(flat, 1.0, steps))
        result[k] = float(np.max(off[near] + np.clip(share, 0, 1) * (off[near + 1] - off[near]), initial=0.0))
    return result

"""Report how far port differs from starboard, as measured and never averaged away.

Computes: the difference of each pair of marks from mirror images about the centreline, with its standard deviation.
Units: metres, boat frame.
Source: law of propagation of covariance.
Limits: pairs are told by their names' ends, or given.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from canvas.survey.marks import Floats, Marks

ENDS = (("_port", "_stbd"), ("_port", "_starboard"), ("port_", "stbd_"), ("port_", "starboard_"))
SURE = 2.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Difference:
    """One pair of marks.

    Attributes
    ----------
    port, starboard : str
    aft, outboard, up : float
        [m] Starboard less port; outboard is the distance from the centreline.
    sd : (3,) ndarray
        [m] Of the three.
    real : bool
        Whether any of the three is more than two standard deviations and so no error of measuring.
    """

    port: str
    starboard: str
    aft: float
    outboard: float
    up: float
    sd: Floats
    real: bool


def pairs_by_name(names: Sequence[str]) -> tuple[tuple[str, str], ...]:
    """Return pairs of names that differ only in port and starboard, in the order of the port ones."""
    found = []
    for name in names:
        for port, starboard in ENDS:
            if port in name and name.replace(port, starboard) in names:
                found.append((name, name.replace(port, starboard)))
    return tuple(dict.fromkeys(found))


def port_starboard(marks: Marks, *, pairs: Sequence[tuple[str, str]] | None = None) -> tuple[Difference, ...]:
    """Return the differences between port and starboard.

    Parameters
    ----------
    marks : Marks
    pairs : sequence of (str, str), optional
        Port name first; by the names' ends where absent.
    """
    slope = np.hstack([-np.diag([1.0, -1.0, 1.0]), np.eye(3)])
    differences = []
    for port, starboard in pairs if pairs is not None else pairs_by_name(marks.names):
        value = slope @ np.concatenate([marks.at(port), marks.at(starboard)])
        sd = np.sqrt(np.maximum(np.diag(slope @ marks.joint((port, starboard)) @ slope.T), 0.0))
        differences.append(
            Difference(
                port=port,
                starboard=starboard,
                aft=float(value[0]),
                outboard=float(value[1]),
                up=float(value[2]),
                sd=sd,
                real=bool(np.any(np.abs(value) > np.maximum(SURE * sd, 1e-9))),
            )
        )
    return tuple(differences)

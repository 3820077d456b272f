"""Carry how well marks are known on to what is computed from them: clearances, lengths of edges, how to cut them.

Computes: value, standard deviation and spread by tubes that move; whether an edge is final, long or left for on board.
Units: metres.
Source: law of propagation of covariance, as in Ghilani, Adjustment Computations, chapter 6; tolerances of finishes are
    the trade's; the rule of two standard deviations is common practice, no source.
Limits: to first order; play is a range, not a deviation, and is added whole.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from math import ceil
from typing import Literal

import numpy as np

from canvas.survey.marks import Floats, Marks

STEP = 1e-5  # [m] for slopes of what is computed
SURE = 2.0  # standard deviations taken as sure
ROUND = 0.005  # [m] an edge is left long by whole steps of this
MOST_LONG = 4.0  # tolerances beyond which an edge is patterned on board


@dataclass(frozen=True, slots=True, kw_only=True)
class Carried:
    """A number computed from marks.

    Attributes
    ----------
    value : float
        [m]
    sd : float
        [m] From the marks' covariance.
    play : float
        [m] How far it moves either way when every loose tube moves its worst.
    """

    value: float
    sd: float
    play: float

    @property
    def low(self) -> float:
        """Smallest likely value: two standard deviations and the play below [m]."""
        return self.value - SURE * self.sd - self.play

    @property
    def high(self) -> float:
        """Largest likely value [m]."""
        return self.value + SURE * self.sd + self.play


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Play:
    """A tube that moves by hand.

    Attributes
    ----------
    tube : str
    reach : float
        [m] How far, either way, the mark of largest share moves.
    direction : (3,) ndarray
        Unit vector of the movement.
    share : mapping of str to float
        Part of the movement that each mark on it takes, 0 at its feet to 1 at its top.
    """

    tube: str
    reach: float
    direction: Floats
    share: Mapping[str, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class EdgeFit:
    """How an edge is to be cut.

    Attributes
    ----------
    fit : {"final", "long", "on board"}
        As measured; long, and trimmed on board; patterned on board.
    long_by : float
        [m]
    """

    fit: Literal["final", "long", "on board"]
    long_by: float


def carry(
    function: Callable[[Floats], float], marks: Marks, names: Sequence[str], *, plays: Sequence[Play] = ()
) -> Carried:
    """Return what `function` gives at the marks, with its deviation and its play.

    Parameters
    ----------
    function : callable
        From the places of `names`, shape (k, 3) [m], to a length [m].
    marks : Marks
    names : sequence of str
    plays : sequence of Play
        Tubes that move, each by itself; the worst of all together is taken.
    """
    places = np.array([marks.at(name) for name in names])
    slope = np.zeros(places.shape)
    for index in np.ndindex(*places.shape):
        ahead, behind = places.copy(), places.copy()
        ahead[index] += STEP
        behind[index] -= STEP
        slope[index] = (function(ahead) - function(behind)) / (2 * STEP)
    variance = slope.ravel() @ marks.joint(names) @ slope.ravel()
    moved = 0.0
    for play in plays:
        share = np.array([play.share.get(name, 0.0) for name in names])
        towards: Floats = share[:, None] * play.direction
        moved += abs(float(slope.ravel() @ towards.ravel())) * play.reach
    return Carried(value=float(function(places)), sd=max(float(variance), 0.0) ** 0.5, play=moved)


def length_between(marks: Marks, names: Sequence[str], *, plays: Sequence[Play] = ()) -> Carried:
    """Return the length of the line through `names`, in straight stretches.

    Parameters
    ----------
    marks : Marks
    names : sequence of str
        Two or more.
    plays : sequence of Play
    """
    return carry(_line_length, marks, names, plays=plays)


def _line_length(places: Floats) -> float:
    return float(np.linalg.norm(np.diff(places, axis=0), axis=1).sum())


def edge_fit(length: Carried, *, tolerance: float, zipped: bool, measured: bool) -> EdgeFit:
    """Return how an edge is to be cut from how well its length is known.

    Final where two standard deviations and the play stay within the finish's tolerance; else long by what they come to,
    in steps of 5 mm; patterned on board beyond four tolerances.

    Parameters
    ----------
    length : Carried
    tolerance : float
        [m] Of the finish: zip 3 mm, hem 6 mm, tie 15 mm.
    zipped : bool
        Whether the edge carries a zip half.
    measured : bool
        Whether the length of the edge itself was measured. A zip from marks alone is never final.
    """
    need = SURE * length.sd + length.play
    if need <= tolerance and (measured or not zipped):
        return EdgeFit(fit="final", long_by=0.0)
    long_by = ceil(max(need, tolerance) / ROUND - 1e-9) * ROUND
    return EdgeFit(fit="long" if need <= MOST_LONG * tolerance else "on board", long_by=long_by)

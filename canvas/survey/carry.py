"""Carry how well marks are known on to what follows them: places of cloth, lengths of edges, how to cut them.

Computes: standard deviation and spread by tubes that move, of a place in a direction and of a length; whether an edge
    is final, long or left for on board.
Units: metres.
Source: law of propagation of covariance, as in Ghilani, Adjustment Computations, chapter 6; tolerances of finishes are
    the trade's; the rule of two standard deviations is common practice, no source.
Limits: to first order; play is a range, not a deviation, and is added whole. Tubes move each by itself, in one way.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil
from typing import Literal

import numpy as np

from canvas.survey.marks import Floats, locked

SURE = 2.0  # standard deviations taken as sure
ROUND = 0.005  # [m] an edge is left long by whole steps of this
MOST_LONG = 4.0  # tolerances beyond which an edge is patterned on board


@dataclass(frozen=True, slots=True, kw_only=True)
class Carried:
    """A length that follows marks and tubes.

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
class Followers:
    """Points that follow marks and loose tubes.

    Attributes
    ----------
    points : (n, 3) ndarray
        [m]
    shares : (n, k) ndarray
        Of each mark's error, what each point takes.
    plays : (n, t) ndarray
        [m] How far each point moves, either way, when a tube moves its worst.
    ways : (t, 3) ndarray
        Unit direction in which each tube moves.
    """

    points: Floats
    shares: Floats
    plays: Floats
    ways: Floats

    def __post_init__(self) -> None:
        for name in ("points", "shares", "plays", "ways"):
            object.__setattr__(self, name, locked(getattr(self, name)))

    def at(self, rows: Floats | list[int]) -> Followers:
        """Return some of the points: those numbered by `rows`."""
        return Followers(points=self.points[rows], shares=self.shares[rows], plays=self.plays[rows], ways=self.ways)


def carried_place(followers: Followers, row: int, direction: Floats, covariance: Floats) -> Carried:
    """Return how well a point is known in a direction; its value is zero.

    Parameters
    ----------
    followers : Followers
    row : int
    direction : (3,) ndarray
        Need not be unit.
    covariance : (3k, 3k) ndarray
        [m2] Of the marks.
    """
    unit = direction / np.linalg.norm(direction)
    slope = np.zeros(followers.points.shape)
    slope[row] = unit
    return _carried(followers, slope, covariance, value=0.0)


def carried_length(followers: Followers, covariance: Floats) -> Carried:
    """Return the length of the line through the points, in straight stretches.

    Parameters
    ----------
    followers : Followers
        In order along the line.
    covariance : (3k, 3k) ndarray
        [m2] Of the marks.
    """
    steps = np.diff(followers.points, axis=0)
    length = np.linalg.norm(steps, axis=1)
    unit = steps / np.maximum(length, 1e-12)[:, None]
    slope = np.vstack([-unit[:1], unit[:-1] - unit[1:], unit[-1:]])
    return _carried(followers, slope, covariance, value=float(length.sum()))


def _carried(followers: Followers, slope: Floats, covariance: Floats, *, value: float) -> Carried:
    """Return a number whose slope by each point's place is (n, 3)."""
    by_mark = (followers.shares.T @ slope).ravel()
    by_tube = np.sum(followers.plays * (slope @ followers.ways.T), axis=0)
    variance = float(by_mark @ covariance @ by_mark)
    return Carried(value=value, sd=max(variance, 0.0) ** 0.5, play=float(np.abs(by_tube).sum()))


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


def edge_fit(
    *, sd: float | None, play: float = 0.0, tolerance: float, zipped: bool = False, measured: bool = False
) -> EdgeFit:
    """Return how an edge is to be cut from how well its length is known.

    Final where two standard deviations and the play stay within the finish's tolerance; else long by what they come to,
    in steps of 5 mm; patterned on board beyond four tolerances.

    Parameters
    ----------
    sd : float or None
        [m] Of its length; None, not known, is patterned on board with two tolerances left on.
    play : float
        [m] By tubes that move.
    tolerance : float
        [m] Of the finish: zip 3 mm, hem 6 mm, tie 15 mm.
    zipped : bool
        Whether the edge carries a zip half.
    measured : bool
        Whether the length of the edge itself was measured. A zip from marks alone is never final.
    """
    if sd is None:
        return EdgeFit(fit="on board", long_by=_whole_steps(2 * tolerance))
    need = SURE * sd + play
    if need <= tolerance and (measured or not zipped):
        return EdgeFit(fit="final", long_by=0.0)
    fit: Literal["long", "on board"] = "long" if need <= MOST_LONG * tolerance else "on board"
    return EdgeFit(fit=fit, long_by=_whole_steps(max(need, tolerance)))


def _whole_steps(length: float) -> float:
    return ceil(length / ROUND - 1e-9) * ROUND

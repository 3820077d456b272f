"""Say what the vane's air blade feels of the flow: speed, force, turn, unsteadiness, and the lowest wind it steers in.

Computes: time series reduced to what moves the blade; their ratios to the bare boat and to free air, each with a band;
the lowest steering wind and its verdict.
Units: radians, metres a second; ratios without unit.
Source: definitions of this project (see DEVELOPERS.md): speed ratio set/bare, force ratio as the mean of squares; lowest
wind = steers_from sqrt(force ratio of the set it was sailed with / force ratio of this one).
Limits: a mean answer: gusts, waves and the boat's own roll are not in it; 0.3 gain and 30 deg wander are rules, not laws.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Verdict = Literal["pass", "fail", "close", "unknown"]
LEAST_GAIN = 0.3
MOST_WANDER = float(np.radians(30.0))
BATCHES = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """A value and between what it lies.

    Attributes
    ----------
    value, low, high : float
    """

    value: float
    low: float
    high: float

    @staticmethod
    def about(value: float, half: float, *, least: float = -np.inf) -> Estimate:
        """Return an estimate `half` wide either side, cut off at `least`."""
        return Estimate(value=value, low=max(value - half, least), high=value + half)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Felt:
    """One run reduced to what moves the blade; velocities over the undisturbed wind there.

    Attributes
    ----------
    time : (t,) ndarray
        Way of the undisturbed wind [m].
    along, across : (t,) ndarray
        Mean level velocity over the blade, aft and to starboard.
    speed, square : (t,) ndarray
        Mean over the blade of the level speed and of its square.
    free_along, free_across : float
        Undisturbed.
    """

    time: Floats
    along: Floats
    across: Floats
    speed: Floats
    square: Floats
    free_along: float
    free_across: float

    @property
    def direction(self) -> float:
        """Return the angle the mean wind comes from, from the bow, positive to starboard [rad]."""
        return float(np.arctan2(self.across.mean(), -self.along.mean()))

    @property
    def free_direction(self) -> float:
        """Return the same of the undisturbed wind."""
        return float(np.arctan2(self.free_across, -self.free_along))

    @property
    def unsteadiness(self) -> float:
        """Return the rms of speed over its mean."""
        return float(self.speed.std() / max(self.speed.mean(), 1e-9))

    @property
    def wander(self) -> float:
        """Return the rms of direction about the direction of the mean wind [rad]."""
        now = np.arctan2(self.across, -self.along)
        return float(np.sqrt((wrapped(now - self.direction) ** 2).mean()))

    @property
    def reverses(self) -> bool:
        """Return whether the mean flow at the blade runs against the free wind."""
        return bool(self.along.mean() * self.free_along + self.across.mean() * self.free_across <= 0)

    @property
    def memory(self) -> float:
        """Return how far the free wind travels while the direction forgets itself [m] (integral scale)."""
        now = wrapped(np.arctan2(self.across, -self.along) - self.direction)
        now = now - now.mean()
        power = np.abs(np.fft.rfft(now, 2 * len(now))) ** 2
        kept = np.fft.irfft(power)[: len(now)]
        if not kept[0] > 0:
            return 0.0
        kept = kept / kept[0]
        until = int(np.argmax(kept <= 0)) or len(kept)
        return float(kept[:until].sum() * (self.time[1] - self.time[0]))

    def error(self, values: Floats) -> float:
        """Return the standard error of the mean of a series, from the scatter of ten stretches."""
        parts = np.array([part.mean() for part in np.array_split(values, BATCHES)])
        return float(parts.std(ddof=1) / np.sqrt(BATCHES))


def wrapped(angle: npt.ArrayLike) -> Floats:
    """Return angles brought into [-pi, pi)."""
    return np.asarray((np.asarray(angle, dtype=float) + np.pi) % (2 * np.pi) - np.pi)


def felt(*, time: Floats, velocity: Floats, free: Floats) -> Felt:
    """Reduce velocity at points of the blade.

    Parameters
    ----------
    time : (t,) ndarray
        Way of the undisturbed wind [m].
    velocity : (t, n, 3) ndarray
        Level axes (x aft, y starboard, z up), over the undisturbed wind at the blade.
    free : (n, 3) ndarray
        Undisturbed, the same.
    """
    square = velocity[..., 0] ** 2 + velocity[..., 1] ** 2
    return Felt(
        time=time,
        along=velocity[..., 0].mean(axis=1),
        across=velocity[..., 1].mean(axis=1),
        speed=np.sqrt(square).mean(axis=1),
        square=square.mean(axis=1),
        free_along=float(free[:, 0].mean()),
        free_across=float(free[:, 1].mean()),
    )

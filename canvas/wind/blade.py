"""Say what the vane's air blade feels of the flow: speed, force, turn, unsteadiness, and the lowest wind it steers in.

Computes: time series reduced to what moves the blade; their ratios to the bare boat and to free air, each with a
band; the lowest steering wind and its verdict.
Units: radians, metres a second; ratios without unit.
Source: definitions of this project (DEVELOPERS.md): speed ratio set/bare, force ratio by the mean of squares;
lowest wind = steers_from sqrt(force ratio of the set it was sailed with / that of this one). A blade on a tilted axis
swings 1 / sin(tilt) as far as the wind it feels turns, about three times; one on an upright axis only as far, so that
it needs more of the turn to reach it and stands less wander.
Limits: a mean answer: gusts, waves and roll are not in it; gain of 0.3 (upright 0.5) and wander of 30 deg (upright 20)
are rules of this project, not laws.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Where = Literal["clear", "wake", "deep"]
Verdict = Literal["pass", "fail", "close", "unknown"]
BATCHES = 10
STERN = float(np.radians(5.0))  # the wind this near dead astern, or across it, may gybe the mainsail
RUNNING = float(np.radians(150.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """From which flow a vane can steer.

    Attributes
    ----------
    least_gain : float
        Turn of the wind at the blade for a unit turn of the free wind.
    most_wander : float
        Rms of its direction [rad].
    """

    least_gain: float
    most_wander: float


TILTED = Rule(least_gain=0.3, most_wander=float(np.radians(30.0)))
UPRIGHT = Rule(least_gain=0.5, most_wander=float(np.radians(20.0)))


def rule_of(axis: Literal["tilted", "upright"]) -> Rule:
    """Return the rule for a blade by its axis: tilted as of servo-pendulum gears, upright as of trim tabs."""
    return UPRIGHT if axis == "upright" else TILTED


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
        return float(np.arctan2(-self.across.mean(), self.along.mean()))

    @property
    def free_direction(self) -> float:
        """Return the same of the undisturbed wind."""
        return float(np.arctan2(-self.free_across, self.free_along))

    @property
    def unsteadiness(self) -> float:
        """Return the rms of speed over its mean."""
        return float(self.speed.std() / max(self.speed.mean(), 1e-9))

    @property
    def wander(self) -> float:
        """Return the rms of direction about the direction of the mean wind [rad]."""
        now = np.arctan2(-self.across, self.along)
        return float(np.sqrt((wrapped(now - self.direction) ** 2).mean()))

    @property
    def reverses(self) -> bool:
        """Return whether the mean flow at the blade runs against the free wind."""
        return bool(self.along.mean() * self.free_along + self.across.mean() * self.free_across <= 0)

    @property
    def memory(self) -> float:
        """Return how far the free wind travels while the direction forgets itself [m] (integral scale)."""
        now = wrapped(np.arctan2(-self.across, self.along) - self.direction)
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


HALF_WIDTH = {  # finest cell [m]: clear of wakes, in a wake, both bare boat and set in one; speed ratio
    0.045: (0.06, 0.15, 0.15),
    0.065: (0.10, 0.18, 0.30),
    0.10: (0.12, 0.25, 0.35),
    1.0: (0.12, 0.40, 0.50),
}
WIDEST = 0.16  # a half-width past this gives no verdict
CLEAR_UNSTEADINESS, CLEAR_SPEED, DEEP_SPEED = 0.08, 0.85, 0.80


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BladeWind:
    """What the blade feels with a set up, at one wind angle.

    Attributes
    ----------
    where : str
        ``clear`` of wakes, in a ``wake``, or ``deep``: bare boat and set alike in one.
    speed_ratio, speed_ratio_free, force_ratio : Estimate
        Set over bare, set over free, and mean squares set over bare.
    turn : float
        Direction of the mean wind, set less bare (bare: less free), positive to starboard [rad].
    turn_free : float
        The same less the undisturbed wind's.
    gain : float or None
        Turn at the blade for a unit turn of the free wind; None where it was not run.
    unsteadiness : float
        Rms of speed over its mean.
    wander : float
        Rms of direction [rad].
    memory : float
        Integral scale of the direction [m of wind].
    reverses : bool
        Whether the mean flow runs against the free wind.
    """

    where: Where
    speed_ratio: Estimate
    speed_ratio_free: Estimate
    force_ratio: Estimate
    turn: float
    turn_free: float
    gain: float | None
    unsteadiness: float
    wander: float
    memory: float
    reverses: bool

    def follows(self, rule: Rule = TILTED) -> bool:
        """Return whether a vane could follow this flow at all."""
        weak = self.gain is not None and self.gain < rule.least_gain
        return not (self.reverses or self.wander > rule.most_wander or weak)

    @property
    def known(self) -> bool:
        """Return whether the band is narrow enough for a verdict."""
        return 0.5 * (self.speed_ratio.high - self.speed_ratio.low) <= WIDEST


def place_of(canvas: Felt, bare: Felt) -> Where:
    """Return whether the blade is clear of wakes, in one, or in one with and without canvas."""
    speed = float(canvas.speed.mean()), float(bare.speed.mean())
    if speed[0] < DEEP_SPEED and speed[1] < DEEP_SPEED:
        return "deep"
    unsteady = max(canvas.unsteadiness, bare.unsteadiness) > CLEAR_UNSTEADINESS
    return "wake" if unsteady or min(speed) < CLEAR_SPEED else "clear"


def half_width(where: Where, cell: float) -> float:
    """Return the half-width of the speed ratio's band from grid and model.

    Source: convergence from 12 to 2 cm cells on the example boats, tests/benchmarks/flow/cases.csv.
    """
    row = next(HALF_WIDTH[limit] for limit in sorted(HALF_WIDTH) if cell <= limit)
    return row[("clear", "wake", "deep").index(where)]


def draws(canvas: Felt, bare: Felt) -> tuple[float, float]:
    """Return what the draw of the set's mean, and of the bare boat's, adds to the speed ratio: two standard errors."""
    canvas_speed, bare_speed = float(canvas.speed.mean()), float(bare.speed.mean())
    scale = 2.0 / bare_speed
    return scale * canvas.error(canvas.speed), scale * bare.error(bare.speed) * canvas_speed / bare_speed


def compare(canvas: Felt, bare: Felt, *, cell: float, same: bool = False, gain: float | None = None) -> BladeWind:
    """Return what the blade feels with a set, against the bare boat run on the same grid.

    Parameters
    ----------
    canvas, bare : Felt
        Runs with and without.
    cell : float
        Finest cell of both [m].
    same : bool
        Whether the set has no canvas up: then it is the bare boat itself.
    gain : float, optional
    """
    where = place_of(canvas, bare)
    grid = half_width(where, cell)
    speed = float(canvas.speed.mean())
    ratio = speed / float(bare.speed.mean())
    half = 0.0 if same else float(np.hypot(grid, np.hypot(*draws(canvas, bare))))
    force = float(canvas.square.mean() / bare.square.mean())
    low, high = max(ratio - half, 0.0) / ratio, (ratio + half) / ratio
    free = float(np.hypot(grid, 2.0 * canvas.error(canvas.speed)))
    turn = canvas.direction - (bare.free_direction if same else bare.direction)
    return BladeWind(
        where=where,
        speed_ratio=Estimate.about(ratio, half, least=0.0),
        speed_ratio_free=Estimate.about(speed, free, least=0.0),
        force_ratio=Estimate(value=force, low=force * low**2, high=force * high**2),
        turn=float(wrapped(turn)),
        turn_free=float(wrapped(canvas.direction - canvas.free_direction)),
        gain=gain,
        unsteadiness=canvas.unsteadiness,
        wander=canvas.wander,
        memory=canvas.memory,
        reverses=canvas.reverses,
    )


def gain_of(low: Felt, high: Felt) -> float:
    """Return how far the wind at the blade turns when the free wind turns one, from runs either side."""
    free = float(wrapped(high.free_direction - low.free_direction))
    return float(wrapped(high.direction - low.direction)) / free


@dataclass(frozen=True, slots=True, kw_only=True)
class Steering:
    """Whether the vane steers.

    Attributes
    ----------
    lowest : Estimate or None
        Lowest apparent wind at the instrument in which it steers [m/s]; None where no wind is enough or none is known.
    verdict : str
        ``pass``, ``fail``, ``close`` or ``unknown``.
    """

    lowest: Estimate | None
    verdict: Verdict


def steering(
    wind: BladeWind,
    *,
    reference: BladeWind,
    steers_from: float,
    must_steer_from: float,
    rule: Rule = TILTED,
) -> Steering:
    """Return the lowest wind the vane steers in with a set, from that in which it steers now.

    Parameters
    ----------
    wind : BladeWind
        With the set.
    reference : BladeWind
        With the set it has been sailed with, at the same angle.
    steers_from : float
        Lowest apparent wind at the instrument with that set [m/s].
    must_steer_from : float
        What the crew needs [m/s].
    rule : Rule
        Of the vane's axis.
    """
    if not wind.follows(rule):
        return Steering(lowest=None, verdict="fail")
    if not wind.known or not reference.follows(rule):
        return Steering(lowest=None, verdict="unknown")
    if wind is reference:
        lowest = Estimate(value=steers_from, low=steers_from, high=steers_from)
    else:
        lowest = Estimate(
            value=steers_from * float(np.sqrt(reference.force_ratio.value / wind.force_ratio.value)),
            low=steers_from * float(np.sqrt(reference.force_ratio.low / wind.force_ratio.high)),
            high=steers_from * float(np.sqrt(reference.force_ratio.high / max(wind.force_ratio.low, 1e-9))),
        )
    if lowest.high <= must_steer_from:
        return Steering(lowest=lowest, verdict="pass")
    return Steering(lowest=lowest, verdict="fail" if lowest.low > must_steer_from else "close")


@dataclass(frozen=True, slots=True, kw_only=True)
class CourseTurn:
    """How setting or striking the canvas turns the course while the vane is left as it is.

    Attributes
    ----------
    setting : float
        Turn of the heading when the canvas is set, positive to starboard [rad]; striking turns it back.
    gybes : str or None
        ``setting`` or ``striking`` where that may bring the wind across the stern on a run.
    """

    setting: float
    gybes: Literal["setting", "striking"] | None


def course_turn(wind: BladeWind, *, awa: float) -> CourseTurn:
    """Return how setting a set turns the course at an apparent wind angle.

    The vane holds the wind at the blade at one angle: awa + turn stays, so that the apparent wind angle falls, and the
    heading goes to starboard, by the turn.

    Parameters
    ----------
    wind : BladeWind
        With the set.
    awa : float
        [rad]
    """
    room = np.pi - abs(awa)
    if abs(awa) < RUNNING - 1e-6 or abs(wind.turn) < max(room - STERN, STERN):
        return CourseTurn(setting=wind.turn, gybes=None)
    outward = -wind.turn * (1.0 if awa >= 0 else -1.0)  # of the apparent wind angle, when set
    return CourseTurn(setting=wind.turn, gybes="setting" if outward > 0 or room < STERN else "striking")

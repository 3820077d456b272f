"""Set readings taken aboard beside the flow: whether they agree, and what they move.

Computes: by set and angle the mean of meter pairs and ribbons with their error, whether they agree with the flow within
both bands, and the band they leave.
Units: radians; ratios without unit.
Source: rules of this project: a reading counts for its set and within 15 deg of its own angle; its scatter is its error
(95 % of Student's t on the standard error); one pair never narrows anything; readings that contradict the flow widen
the band to hold both. Means of two are weighted by the inverse square of their half-widths.
Limits: pairs are taken in turn, a minute each, with one meter, so that its calibration cancels; gusts do not.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from scipy.special import stdtrit

from canvas.design.schema.voyage import MeterReading, Reading, RibbonReading
from canvas.wind.blade import BladeWind, Estimate, Where, wrapped

WITHIN = float(np.radians(15.0))
LEAST_HALF = 0.03  # no mean of pairs is better than this share: a hand-held meter turned a little off the wind
TURN_HALF = {"clear": np.radians(5.0), "wake": np.radians(10.0), "deep": np.radians(15.0)}  # of the flow's turn; a rule
PROTOCOL = (
    "Readings at anchor, with the set up and again bare: hold the meter at the middle of the air blade for one minute "
    "and note the mean, then one minute in clear air at the same height, to windward and clear of the boat; five pairs "
    "in turn. Tie a ribbon of 30 cm at the blade and note the angle it lies at against a ribbon in clear air, five "
    'times. Write each as [[reading]] with kind = "meter" or "ribbon", the set and the wind angle off the bow.'
)

Agreement = Literal["agrees", "disagrees", "not run"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """Readings of one kind, set and angle, together.

    Attributes
    ----------
    kind : str
        ``meter`` or ``ribbon``.
    set_name : str
    awa : float
        [rad]
    count : int
    value : Estimate
        Speed over clear air, or turn against clear air [rad]; a single reading has no band of its own and takes
        `LEAST_HALF` or its declared error.
    """

    kind: Literal["meter", "ribbon"]
    set_name: str
    awa: float
    count: int
    value: Estimate

    @property
    def half(self) -> float:
        """Return the half-width of its band."""
        return 0.5 * (self.value.high - self.value.low)


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """Readings beside the flow.

    Attributes
    ----------
    measured : Measured
    flow : Estimate or None
        The flow's own, before; None where none was run within 15 deg.
    after : Estimate or None
        With the readings taken in.
    says : str
        ``agrees``, ``disagrees`` or ``not run``.
    """

    measured: Measured
    flow: Estimate | None
    after: Estimate | None
    says: Agreement


def measured(readings: Sequence[Reading]) -> tuple[Measured, ...]:
    """Return meter and ribbon readings gathered by kind, set and angle, in the order of the file."""
    groups: dict[tuple[str, str, float], list[MeterReading | RibbonReading]] = {}
    for one in readings:
        if isinstance(one, MeterReading | RibbonReading):
            groups.setdefault((one.kind, one.set, round(one.awa, 6)), []).append(one)
    return tuple(_gathered(group) for group in groups.values())


def _gathered(group: Sequence[MeterReading | RibbonReading]) -> Measured:
    first = group[0]
    if isinstance(first, MeterReading):
        pairs = [one for one in group if isinstance(one, MeterReading)]
        values = np.array([one.at_blade / max(one.clear, 1e-6) for one in pairs])
        least = LEAST_HALF * max(float(values.mean()), 0.5)
    else:
        ribbons = [one for one in group if isinstance(one, RibbonReading)]
        values = np.array([one.turn for one in ribbons])
        least = 2.0 * float(np.mean([one.sd for one in ribbons])) / float(np.sqrt(len(ribbons)))
    count = len(values)
    half = least
    if count > 1:
        half = max(least, float(stdtrit(count - 1, 0.975) * values.std(ddof=1) / np.sqrt(count)))
    return Measured(
        kind=first.kind, set_name=first.set, awa=float(first.awa), count=count,
        value=Estimate.about(float(values.mean()), half),
    )  # fmt: skip


def near(one: Measured, awa: float) -> bool:
    """Return whether a reading counts at an angle."""
    return abs(float(wrapped(one.awa - awa))) <= WITHIN + 1e-9


def taken_in(flow: Estimate, one: Measured, *, least: float = -np.inf) -> tuple[Estimate, Agreement]:
    """Return the flow's band with a reading taken in, and whether the two agree.

    Parameters
    ----------
    flow : Estimate
    one : Measured
    least : float
        Below which no value can lie.
    """
    half = 0.5 * (flow.high - flow.low)
    apart = abs(one.value.value - flow.value)
    if apart > np.hypot(half, one.half):
        low, high = min(flow.low, one.value.low), max(flow.high, one.value.high)
        return Estimate(value=0.5 * (low + high), low=max(low, least), high=high), "disagrees"
    if one.count < 2:
        return flow, "agrees"
    ours, theirs = 1.0 / max(half, 1e-6) ** 2, 1.0 / max(one.half, 1e-6) ** 2
    value = (ours * flow.value + theirs * one.value.value) / (ours + theirs)
    return Estimate.about(float(value), float((ours + theirs) ** -0.5), least=least), "agrees"


def moved(wind: BladeWind, readings: Sequence[Measured], *, bare: bool) -> tuple[BladeWind, tuple[Compared, ...]]:
    """Return what the blade feels with the readings of its set and angle taken in, and each reading beside the flow.

    Parameters
    ----------
    wind : BladeWind
        Of the flow.
    readings : sequence of Measured
        Of this set, within reach of this angle.
    bare : bool
        Whether it is the bare boat, whose ratio to itself no reading moves.
    """
    said = []
    for one in readings:
        if one.kind == "meter":
            before = wind.speed_ratio_free
            after, word = taken_in(before, one, least=0.0)
            wind = _scaled(wind, after, bare=bare)
        else:
            before = Estimate.about(wind.turn_free, turn_half(wind.where))
            after, word = taken_in(before, one)
            wind = replace(wind, turn=wind.turn + after.value - before.value, turn_free=after.value)
        said.append(Compared(measured=one, flow=before, after=after, says=word))
    return wind, tuple(said)


def turn_half(where: Where) -> float:
    """Return the half-width of the flow's turn."""
    return float(TURN_HALF[where])


def _scaled(wind: BladeWind, free: Estimate, *, bare: bool) -> BladeWind:
    """Return the wind with its speed over free air as given, the other ratios in proportion and no narrower a share."""
    before = wind.speed_ratio_free
    if bare or free == before or before.value <= 0.0:
        return replace(wind, speed_ratio_free=free)
    scale = free.value / before.value
    ratio, force = scale * wind.speed_ratio.value, scale**2 * wind.force_ratio.value
    low, high = (end / max(free.value, 1e-9) for end in (free.low, free.high))
    return replace(
        wind,
        speed_ratio_free=free,
        speed_ratio=Estimate(value=ratio, low=ratio * low, high=ratio * high),
        force_ratio=Estimate(value=force, low=force * low**2, high=force * high**2),
    )

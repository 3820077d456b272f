"""Hold what each part of a set carries in a wind, and the wind at which it reaches its strength.

Computes: the limit of a part from its loads at several winds.
Units: newtons, metres a second.
Source: loads by `canvas.strength.loads`; strengths from the design where declared, else ranges from its tables.
Limits: between and beyond the winds solved a load follows a power of the wind; a strength that is not known leaves the
    limit unknown, never a pass.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

import numpy as np

from canvas.geometry.surface import Floats

Kind = Literal["cloth", "edge", "webbing", "tie", "tube", "strap", "wire"]
Verdict = Literal["pass", "fail", "close", "unknown"]
WORST_FIRST: tuple[Verdict, ...] = ("fail", "unknown", "close", "pass")  # several together are as the first of these
MOST_UNDECLARED = 30.0 * 1852 / 3600  # nothing is said to hold above this on strengths that are not declared [m/s]


@dataclass(frozen=True, slots=True, kw_only=True)
class Strength:
    """What a part can carry, and how well that is known.

    Attributes
    ----------
    low, high : float
        [N]
    declared : bool
        Said in the design; a default of the tables otherwise.
    source : str
    """

    low: float
    high: float
    declared: bool
    source: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PartLoad:
    """One part of a set and its limit.

    Attributes
    ----------
    name : str
    panel, edge : str or None
        Of the design, where it is part of one.
    kind : str
    each : str
        What the load is of, such as ``a strip 50 mm wide`` or ``each stud``.
    load : float
        At the wind asked about, the worse case [N].
    case : str
        Which case is the worse.
    winds, loads : (k,) ndarray
        Winds solved in that case and the load at each [m/s], [N].
    strength : Strength or None
        None where not known.
    limit_low, limit_high : float or None
        Wind at the instrument at which the load reaches the strength's low and high end [m/s].
    """

    name: str
    panel: str | None
    edge: str | None
    kind: Kind
    each: str
    load: float
    case: str
    winds: Floats
    loads: Floats
    strength: Strength | None
    limit_low: float | None
    limit_high: float | None

    @property
    def sort(self) -> tuple[str, str, str]:
        """Tell what is made stronger together: what is alike on one panel, and each part of a frame by itself."""
        return self.kind, self.panel or self.name, self.each

    def verdict(self, wind: float) -> Verdict:
        """Return whether it holds at a wind [m/s]; above 30 kn nothing passes on a default strength."""
        if self.limit_low is None or self.limit_high is None or self.strength is None:
            return "unknown"
        if self.limit_high < wind:
            return "fail"
        sure = self.strength.declared or wind <= MOST_UNDECLARED
        return "pass" if self.limit_low >= wind and sure else "close"

    def load_at(self, wind: float) -> float:
        """Return the load at another wind, by a power of it between and beyond the winds solved [N]."""
        k = int(np.clip(np.searchsorted(self.winds, wind), 1, len(self.winds) - 1))
        low, high = np.maximum(self.loads[k - 1 : k + 1], 1e-9)
        power = np.log(high / low) / np.log(self.winds[k] / self.winds[k - 1])
        return float(low * (wind / self.winds[k - 1]) ** power)


def joint_verdict(verdicts: Iterable[Verdict]) -> Verdict:
    """Return the verdict on several parts together: the worst of them."""
    return min(verdicts, key=WORST_FIRST.index, default="pass")


def limit_wind(winds: Floats, loads: Floats, strength: float) -> float:
    """Return the wind at which a load reaches a strength.

    Parameters
    ----------
    winds, loads : (k,) ndarray
        k >= 2, winds rising [m/s], [N].
    strength : float
        [N]

    Returns
    -------
    float
        [m/s]; infinite where the load does not, or hardly, grow with the wind.
    """
    grown = np.maximum.accumulate(np.maximum(loads, 1e-9))
    if strength <= grown[0]:
        pairs = (0, 1)
    else:
        above = np.flatnonzero(grown >= strength)
        last = int(above[0]) if len(above) else len(grown) - 1
        pairs = (last - 1, last)
    power = np.log(grown[pairs[1]] / grown[pairs[0]]) / np.log(winds[pairs[1]] / winds[pairs[0]])
    if power <= 1e-6:
        return float("inf")
    with np.errstate(over="ignore"):  # a load that hardly grows reaches it in a wind past counting
        return float(winds[pairs[0]] * (strength / grown[pairs[0]]) ** (1 / power))

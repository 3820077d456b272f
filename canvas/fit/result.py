"""Hold what a check found: value, limit, margin, how sure it is, verdict, and the geometry of its picture.

Computes: margin and verdict.
Units: as `unit` says: m, s, kg, share, or a count.
Source: project rule for the verdict: within two standard deviations of the limit it is close; a value that is not known
    is unknown, never pass.
Limits: a standard deviation of None means that nothing with a stated error enters; the sign of the margin then decides.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from canvas.geometry.surface import Floats, locked

Verdict = Literal["pass", "fail", "close", "unknown", "not applicable"]
Sense = Literal["at least", "at most"]
CLOSE = 2.0  # standard deviations either side of the limit within which a verdict is "close"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Picture:
    """What to draw of a check; drawing is done elsewhere.

    Attributes
    ----------
    points : (n, 3) ndarray
        Where the value was found, and what else is to be marked [m].
    lines : tuple of (k, 3) ndarray
        [m]
    regions : tuple of (k, 3) ndarray
        Closed outlines, first point not repeated [m].
    surfaces : tuple of str
        Surfaces of the scene that the check met.
    """

    points: Floats
    lines: tuple[Floats, ...] = ()
    regions: tuple[Floats, ...] = ()
    surfaces: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        object.__setattr__(self, "points", locked(np.reshape(self.points, (-1, 3))))
        object.__setattr__(self, "lines", tuple(locked(line) for line in self.lines))
        object.__setattr__(self, "regions", tuple(locked(region) for region in self.regions))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CheckResult:
    """One check of one set.

    Attributes
    ----------
    name : str
        Unique in its set, such as ``headroom, Rolf on the port seat``.
    kind : str
        The module it comes from.
    value, limit, margin : float or None
        In `unit`; the margin is positive on the good side. None where unknown or not applicable.
    unit : str
        ``m``, ``s``, ``kg``, ``share`` or ``count``.
    sense : str
        Whether the value has to be at least or at most the limit.
    sd : float or None
        Standard deviation of the margin: marks, play of tubes, the finish's tolerance, a body measure not given.
    verdict : str
        ``pass``, ``fail``, ``close``, ``unknown`` or ``not applicable``.
    note : str
        What was found, in a sentence.
    source : str
        Where the limit comes from.
    picture : Picture
    """

    name: str
    kind: str
    value: float | None
    unit: str
    limit: float | None
    margin: float | None
    sense: Sense
    sd: float | None
    verdict: Verdict
    note: str
    source: str
    picture: Picture


NOWHERE = Picture(points=np.zeros((0, 3)))


def judged(
    name: str,
    *,
    kind: str,
    value: float | None,
    unit: str,
    limit: float,
    sense: Sense = "at least",
    sd: float | None = None,
    note: str = "",
    source: str = "",
    picture: Picture = NOWHERE,
) -> CheckResult:
    """Return a check with its margin and verdict.

    Parameters
    ----------
    name, kind : str
    value : float or None
        None where it could not be found: the verdict is then unknown.
    unit : str
    limit : float
    sense : str
    sd : float or None
    note, source : str
    picture : Picture
    """
    margin = None if value is None else (value - limit if sense == "at least" else limit - value)
    return CheckResult(
        name=name, kind=kind, value=value, unit=unit, limit=limit, margin=margin, sense=sense, sd=sd,
        verdict=_verdict(margin, sd), note=note, source=source, picture=picture,
    )  # fmt: skip


def not_applicable(name: str, *, kind: str, unit: str, why: str) -> CheckResult:
    """Return a check that says why it does not apply.

    Parameters
    ----------
    name : str
        Of the check.
    kind : str
    unit : str
        In which its value would be.
    why : str
        A sentence for the reader.
    """
    return CheckResult(
        name=name, kind=kind, value=None, unit=unit, limit=None, margin=None, sense="at least", sd=None,
        verdict="not applicable", note=why, source="", picture=NOWHERE,
    )  # fmt: skip


def _verdict(margin: float | None, sd: float | None) -> Verdict:
    if margin is None:
        return "unknown"
    if sd is not None and abs(margin) < CLOSE * sd:
        return "close"
    return "pass" if margin >= 0 else "fail"


def joint_sd(parts: Sequence[float | None]) -> float | None:
    """Return the standard deviation of a sum of independent parts; None where none is known."""
    known = [part for part in parts if part is not None]
    return float(np.sqrt(np.sum(np.square(known)))) if known else None

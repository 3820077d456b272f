"""Say what slip of hand, eye or pen would turn the probable reading into the one that was written down.

Computes: the likeliest of the usual slips that explains a difference within its error.
Units: metres.
Source: common practice, no source: the slips that people who measure boats own up to.
Limits: several slips may fit; the list is in order of how often they happen, and the first that fits is given.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from canvas.survey.readings import Reading, Tape

FITS = 3.0  # standard deviations within which a slip explains the difference
UNITS = {"mm": 0.001, "cm": 0.01, "m": 1.0, "in": 0.0254, "ft": 0.3048}
STEPS = {
    "off by 100 mm": 0.1,
    "off by a foot": 0.3048,
    "off by an inch": 0.0254,
    "off by 10 mm": 0.01,
    "off by half a metre": 0.5,
    "off by a metre": 1.0,
    "off by 200 mm": 0.2,
    "off by 50 mm": 0.05,
}
LOOK_ALIKE = {"0": "68", "1": "7", "3": "8", "4": "9", "5": "6", "6": "05", "7": "1", "8": "03", "9": "4"}
HOOK = (0.012, 0.075)  # [m] what taking the hook, the ring or the tape's case along, or leaving it out, comes to


@dataclass(frozen=True, slots=True, kw_only=True)
class Slip:
    """One slip: what it is and what the reading would then have been.

    Attributes
    ----------
    said : str
    meant : float
        [m]
    """

    said: str
    meant: float


def probable_slip(reading: Reading, *, found: float, probable: float, sd: float) -> str | None:
    """Return what probably happened, or None where no usual slip fits.

    Parameters
    ----------
    reading : Reading
    found, probable : float
        [m] As written, and as the other readings say.
    sd : float
        [m] Standard deviation of `probable`.
    """
    near = FITS * sd
    for slip in _slips(reading, found):
        if abs(slip.meant - probable) <= near:
            return slip.said
    off = abs(found - probable)
    if isinstance(reading, Tape) and HOOK[0] - near <= off <= HOOK[1] + near:
        return (
            "held at the tape's hook or case instead of its zero"
            if found > probable
            else "started past the tape's zero"
        )
    return None


def _slips(reading: Reading, found: float) -> Iterator[Slip]:
    """Yield usual slips, most frequent first."""
    if reading.where.text:
        yield from _swapped(reading.where.text, reading.where.unit)
    yield from _other_unit(reading, found)
    for said, step in STEPS.items():
        yield Slip(said=said, meant=found - step)
        yield Slip(said=said, meant=found + step)
    if reading.where.text:
        yield from _one_digit(reading.where.text, reading.where.unit)


def _decimal(text: str, unit: str) -> tuple[str, float] | None:
    """Return the digits of a plain decimal reading and the size of its unit; None for feet and inches in parts."""
    match = re.fullmatch(r"\s*[-+]?(\d+(?:\.\d+)?)\s*(mm|cm|m|in|ft)?\s*", text)
    return (match.group(1), UNITS[match.group(2) or unit]) if match else None


def _swapped(text: str, unit: str) -> Iterator[Slip]:
    plain = _decimal(text, unit)
    if plain is None:
        return
    digits, size = plain
    places = [k for k, sign in enumerate(digits) if sign != "."]
    for a, b in pairwise(places):
        if digits[a] != digits[b]:
            swapped = list(digits)
            swapped[a], swapped[b] = swapped[b], swapped[a]
            meant = "".join(swapped)
            yield Slip(said=f"digits swapped: {digits} for {meant}", meant=float(meant) * size)


def _one_digit(text: str, unit: str) -> Iterator[Slip]:
    plain = _decimal(text, unit)
    if plain is None:
        return
    digits, size = plain
    for k, sign in enumerate(digits):
        for other in LOOK_ALIKE.get(sign, ""):
            meant = digits[:k] + other + digits[k + 1 :]
            yield Slip(said=f"one digit misread: {digits} for {meant}", meant=float(meant) * size)


def _other_unit(reading: Reading, found: float) -> Iterator[Slip]:
    plain = _decimal(reading.where.text, reading.where.unit) if reading.where.text else None
    if plain is None:
        return
    number, size = float(plain[0]), plain[1]
    for unit, other in UNITS.items():
        if other != size:
            sign = -1.0 if found < 0 else 1.0
            yield Slip(said=f"{plain[0]} was in {unit}", meant=sign * number * other)

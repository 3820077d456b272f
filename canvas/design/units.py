"""Read quantities as people write them: the only place where text becomes numbers, and lengths become text again.

Computes: metres, metres a second, radians, kilograms, newtons and shares from text such as "6 ft 2 1/2 in" or "17.5 S".
Units: SI and radians out; a bare number takes the unit the file declares (lengths) or the one named for its kind.
Source: inch 25.4 mm exactly, foot 12 in, pound 0.45359237 kg (1959 agreement); nautical mile 1852 m (1929).
Limits: own grammar, because general unit libraries read "6 ft 2 in" as a product and "17.5 S" as siemens.
Departs: a comma is never a decimal sign here; it is refused, not guessed.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from fractions import Fraction

INCH = 0.0254
FOOT = 12 * INCH
KNOT = 1852 / 3600
STANDARD_GRAVITY = 9.80665

LENGTHS: Mapping[str, float] = {
    "m": 1.0, "cm": 0.01, "mm": 0.001, "ft": FOOT, "'": FOOT, "′": FOOT, "in": INCH, '"': INCH, "″": INCH,
}  # fmt: skip
BARE_LENGTHS = ("m", "mm", "ft", "in")
SPEEDS: Mapping[str, float] = {"kn": KNOT, "kt": KNOT, "m/s": 1.0, "km/h": 1 / 3.6, "mph": 1609.344 / 3600}
ANGLES: Mapping[str, float] = {"deg": math.pi / 180, "°": math.pi / 180, "rad": 1.0}
MASSES: Mapping[str, float] = {"kg": 1.0, "g": 0.001, "lb": 0.45359237}
FORCES: Mapping[str, float] = {"N": 1.0, "kN": 1000.0, "kgf": STANDARD_GRAVITY, "lbf": 0.45359237 * STANDARD_GRAVITY}
LINE_FORCES: Mapping[str, float] = {"N/m": 1.0, "kN/m": 1000.0, "N/50 mm": 20.0, "N/25 mm": 40.0, "N/cm": 100.0}
AREAS: Mapping[str, float] = {"m2": 1.0, "cm2": 1e-4, "ft2": FOOT**2}
AREA_MASSES: Mapping[str, float] = {"kg/m2": 1.0, "g/m2": 0.001, "oz/yd2": 0.028349523125 / 0.9144**2}
STRESSES: Mapping[str, float] = {"Pa": 1.0, "MPa": 1e6, "GPa": 1e9}
STIFFNESSES: Mapping[str, float] = {"N m2": 1.0}
VOLUMES: Mapping[str, float] = {"l": 0.001, "m3": 1.0}
DURATIONS: Mapping[str, float] = {"s": 1.0, "min": 60.0, "h": 3600.0}

_SIGN = r"(?P<sign>[-+−])?\s*"
_NUMBER = r"(?:\d+\s+\d+/\d+|\d+/\d+|\d+\.\d*|\.\d+|\d+)(?:[eE][-+]?\d+)?"
_TERM = re.compile(rf"\s*(?P<number>{_NUMBER})\s*(?P<unit>[^\d\s.,+−-][^\d\s,+−-]*|)")
_INCHES_UNSAID = re.compile(rf"(?:^|[\s+−-])\d+\s*(?:ft|'|′)\s*(?P<number>{_NUMBER})\s*$")
_PLAIN = re.compile(rf"\s*{_SIGN}(?P<number>{_NUMBER})\s*(?P<unit>.*?)\s*$")
_POSITION = re.compile(
    r"\s*(?P<degrees>\d+(?:\.\d+)?)\s*(?:°|deg)?\s*(?:(?P<minutes>\d+(?:\.\d+)?)\s*['′])?\s*(?P<half>[NSEWnsew])\s*$"
)


def _finite(number: float) -> float:
    try:
        held = float(number)
    except OverflowError:  # a whole number that no float holds
        held = math.inf
    if not math.isfinite(held):
        raise ValueError("Write a finite number.")
    return held


def _value(text: str) -> float:
    try:
        return float(sum((Fraction(part) for part in text.split()), Fraction(0))) if "/" in text else float(text)
    except (ValueError, ZeroDivisionError, OverflowError):
        raise ValueError("Write a number, or a fraction such as 1/2.") from None


def length(found: object, *, bare: str = "m") -> float:
    """Return a length.

    Parameters
    ----------
    found : str, int or float
        Such as ``"2.35 m"``, ``"6 ft 2 1/2 in"``, ``"1850 mm"`` or a bare number in the unit `bare`. After whole feet a
        last number below 12 may go without its unit: inches.
    bare : str
        One of m, mm, ft, in.

    Returns
    -------
    float
        [m]

    Raises
    ------
    ValueError
        Its text says what would do.

    Examples
    --------
    >>> round(length("6 ft 2 1/2 in"), 4)
    1.8923
    >>> length("6 ft 3") == length("6 ft 3 in")
    True
    >>> length(1850, bare="mm")
    1.85
    """
    wanted = 'Write a length such as "2.35 m", "1850 mm" or "6 ft 2 1/2 in".'
    if isinstance(found, bool) or not isinstance(found, str | int | float):
        raise ValueError(wanted)
    if not isinstance(found, str):
        return _finite(found) * LENGTHS[bare]
    sign = re.match(rf"\s*{_SIGN}", found)
    rest = _inches_said(found[sign.end() :] if sign else found)
    total, last = 0.0, math.inf
    while rest.strip():
        term = _TERM.match(rest)
        if term is None:
            raise ValueError(wanted)
        unit = term["unit"] or bare
        if (
            unit not in LENGTHS
            or LENGTHS[unit] >= last
            or (not term["unit"] and (last < math.inf or rest[term.end() :].strip()))
        ):
            raise ValueError(wanted)
        total, last = total + _value(term["number"]) * LENGTHS[unit], LENGTHS[unit]
        rest = rest[term.end() :]
    if last == math.inf:
        raise ValueError(wanted)
    return _finite(-total if sign and sign["sign"] in ("-", "−") else total)


def _inches_said(text: str) -> str:
    """Return a length with "in" behind inches that people leave bare after whole feet."""
    unsaid = _INCHES_UNSAID.search(text)
    if unsaid is None:
        return text
    if _value(unsaid["number"]) >= 12:
        raise ValueError(
            f'Write "in" after {unsaid["number"]} if inches are meant: after feet a bare number is below 12.'
        )
    return f"{text} in"


def quantity(found: object, units: Mapping[str, float], *, bare: str | None, example: str) -> float:
    """Return a quantity of one kind in SI.

    Parameters
    ----------
    found : str, int or float
        Number with a unit, or a bare number where `bare` names its unit.
    units : mapping of str to float
        Known units and their size in SI.
    bare : str or None
        Unit of a bare number; None where a unit must be written.
    example : str
        Shown to the user when the text does not read.

    Raises
    ------
    ValueError
        Its text says what would do.
    """
    wanted = f"Write it as {example}, in {', '.join(units)}."
    if isinstance(found, bool) or not isinstance(found, str | int | float):
        raise ValueError(wanted)
    if not isinstance(found, str):
        if bare is None:
            raise ValueError(wanted)
        return _finite(found) * units[bare]
    match = _PLAIN.match(found)
    if match is None or (match["unit"] or bare) not in units:
        raise ValueError(wanted)
    size = _value(match["number"]) * units[match["unit"] or str(bare)]
    return _finite(-size if match["sign"] in ("-", "−") else size)


def speed(found: object) -> float:
    """Return a speed [m/s]; a bare number is in knots."""
    return quantity(found, SPEEDS, bare="kn", example='"12 kn"')


def angle(found: object) -> float:
    """Return an angle [rad]; a bare number is in degrees."""
    return quantity(found, ANGLES, bare="deg", example='"15 deg"')


def mass(found: object) -> float:
    """Return a mass [kg]; a unit must be written."""
    return quantity(found, MASSES, bare=None, example='"75 kg"')


def force(found: object) -> float:
    """Return a force [N]; a unit must be written."""
    return quantity(found, FORCES, bare=None, example='"600 N"')


def line_force(found: object) -> float:
    """Return a force per width [N/m]; a unit must be written."""
    return quantity(found, LINE_FORCES, bare=None, example='"1200 N/50 mm"')


def area_mass(found: object) -> float:
    """Return a mass per area [kg/m2]; a unit must be written."""
    return quantity(found, AREA_MASSES, bare=None, example='"300 g/m2"')


def stress(found: object) -> float:
    """Return a stress [Pa]; a unit must be written."""
    return quantity(found, STRESSES, bare=None, example='"190 MPa"')


def bending_stiffness(found: object) -> float:
    """Return a bending stiffness EI [N m2]; a unit must be written."""
    return quantity(found, STIFFNESSES, bare=None, example='"12 N m2"')


def duration(found: object) -> float:
    """Return a time span [s]; a unit must be written."""
    return quantity(found, DURATIONS, bare=None, example='"2 min"')


def area(found: object) -> float:
    """Return an area [m2]; a unit must be written."""
    return quantity(found, AREAS, bare=None, example='"0.15 m2"')


def share(found: object) -> float:
    """Return a share 0..1 from "4 %" or a bare number 0..1.

    Raises
    ------
    ValueError
        Its text says what would do.
    """
    value = quantity(found, {"%": 0.01, "": 1.0}, bare="", example='"40 %"')
    if not 0 <= value <= 1:
        raise ValueError('Write a share between "0 %" and "100 %".')
    return value


def _position(found: object, halves: str, most: float, example: str) -> float:
    wanted = f'Write it as "{example}", at most {most:g} degrees.'
    match = _POSITION.match(found) if isinstance(found, str) else None
    if match is None or match["half"].upper() not in halves:
        raise ValueError(wanted)
    degrees = float(match["degrees"]) + float(match["minutes"] or 0) / 60
    if degrees > most or float(match["minutes"] or 0) >= 60:
        raise ValueError(wanted)
    return math.radians(-degrees if match["half"].upper() == halves[1] else degrees)


def latitude(found: object) -> float:
    """Return a latitude, north positive [rad], from text such as ``"17.5 S"`` or ``"17° 30' S"``."""
    return _position(found, "NS", 90, "17.5 S")


def longitude(found: object) -> float:
    """Return a longitude, east positive [rad], from text such as ``"149 W"``."""
    return _position(found, "EW", 180, "149 W")


def length_text(metres: float, unit: str) -> str:
    """Return a length as text in a file's own unit: decimals, or feet, inches and sixteenths.

    Parameters
    ----------
    metres : float
        [m]
    unit : str
        One of m, mm, ft, in.

    Examples
    --------
    >>> length_text(1.8923, "ft")
    '6 ft 2 1/2 in'
    """
    if unit == "m":
        return f"{metres:.3f} m"
    if unit == "mm":
        return f"{metres * 1000:.0f} mm"
    sixteenths = round(abs(metres) / INCH * 16)
    feet, rest = divmod(sixteenths, 192) if unit == "ft" else (0, sixteenths)
    inches, part = divmod(rest, 16)
    fraction = f" {Fraction(part, 16)}" if part else ""
    whole = f"{inches}{fraction}" if inches or not part else fraction.strip()
    sign = "-" if metres < 0 and sixteenths else ""
    return f"{sign}{feet} ft {whole} in" if unit == "ft" and feet else f"{sign}{whole} in"


def small_length(metres: float, units: str) -> str:
    """Return a small length, such as a tolerance or an allowance: in millimetres, or in inches and sixteenths.

    Parameters
    ----------
    metres : float
        [m]
    units : str
        ``m``, ``mm``, ``ft`` or ``in``.
    """
    if small_unit(units) == "mm":
        return f"{metres * 1000:.0f} mm" if metres >= 0.01 else f"{metres * 1000:.2g} mm"
    return length_text(metres, units) if not 0 < metres < INCH / 32 else "under 1/16 in"


def small_unit(units: str) -> str:
    """Return the unit in which small lengths are said."""
    return "mm" if units in ("m", "mm") else "in"

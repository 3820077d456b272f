"""Define the quantities and the strict record that every part of the design file is made of.

Computes: nothing beyond reading quantities; see `canvas.design.units`.
Units: SI and radians after reading; a bare number takes the file's declared length unit.
Source: none.
Limits: an unknown key is an error; records cannot be changed after reading; what no yacht has (a length over 200 m, a
    speed over 200 kn) is refused, because it can only be a slip of unit or finger.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, PlainValidator, ValidationInfo

from canvas.design import units
from canvas.design.tables import default

Vector = tuple[float, float, float]

MOST_LENGTH = 200.0  # [m]
MOST_SPEED = 200.0 * units.KNOT  # [m/s]
MOST_ANGLE = 6.2831853072  # a full turn [rad]
MOST_MASS = 1e5  # [kg]
MOST_FORCE = 1e7  # [N], and [N/m]


class Record(BaseModel):
    """A part of the design file: no unknown keys, no changes after reading."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True, allow_inf_nan=False)


def _bare(info: ValidationInfo) -> str:
    return str((info.context or {}).get("units", "m"))


def _length(found: Any, info: ValidationInfo) -> float:
    value = units.length(found, bare=_bare(info))
    if abs(value) > MOST_LENGTH:
        raise ValueError(f"Write a length of at most {MOST_LENGTH:.0f} m; check the unit.")
    return value


def _positive_length(found: Any, info: ValidationInfo) -> float:
    value = _length(found, info)
    if value <= 0:
        raise ValueError("Write a length above zero.")
    return value


def _length_or_zero(found: Any, info: ValidationInfo) -> float:
    value = _length(found, info)
    if value < 0:
        raise ValueError("Write a length of zero or more.")
    return value


def _vector(found: Any, info: ValidationInfo) -> Vector:
    if not isinstance(found, list | tuple) or len(found) != 3:
        raise ValueError('Write three lengths, aft, to starboard and up: ["3.05 m", "-0.92 m", "1.18 m"].')
    x, y, z = (_length(part, info) for part in found)
    return (x, y, z)


def _spot(found: Any, info: ValidationInfo) -> Vector | str:
    if isinstance(found, str):
        return found
    return _vector(found, info)


def _mark(found: Any, info: ValidationInfo) -> Vector | str:
    if found == SURVEY:
        return SURVEY
    try:
        return _vector(found, info)
    except ValueError as error:
        raise ValueError(f'{error} Or write "{SURVEY}" and take readings to it.') from None


def _inset(found: Any, info: ValidationInfo) -> float | list[float]:
    if not isinstance(found, list):
        return _positive_length(found, info)
    if len(found) < 3:
        raise ValueError("Write one length for all edges, or a list with one length for each edge.")
    return [_positive_length(part, info) for part in found]


def _opening(found: Any) -> float:
    if found == "closed":
        return 0.0
    if found == "open":
        return 1.0
    try:
        if not isinstance(found, str) or not found.startswith("open "):
            raise ValueError
        return units.share(found.removeprefix("open "))
    except ValueError:
        raise ValueError('Write "closed", "open", or such as "open 40 %".') from None


def _day(found: Any) -> str:
    try:
        return (found if isinstance(found, date) else date.fromisoformat(found)).isoformat()[:10]
    except (TypeError, ValueError):
        raise ValueError('Write a day as "2026-03-02".') from None


def _hollow(found: Any, info: ValidationInfo) -> tuple[float, bool]:
    if isinstance(found, str) and found.strip().endswith("%"):
        return (units.share(found), True)
    try:
        value = _length_or_zero(found, info)
    except ValueError:
        raise ValueError('Write "4 %" of the chord, or a length such as "60 mm".') from None
    return (value, False)


def _above_zero(reader: Callable[[object], float], most: float) -> Callable[[Any], float]:
    def read(found: Any) -> float:
        value = reader(found)
        if value <= 0:
            raise ValueError("Write a value above zero.")
        if value > most:
            raise ValueError(f"Write at most {most:.4g} in SI units; check the unit.")
        return value

    return read


def _angle(found: Any) -> float:
    value = units.angle(found)
    if abs(value) > MOST_ANGLE:
        raise ValueError("Write an angle of at most a full turn, 360 deg.")
    return value


_NO_CONTROLS = r"^[^\x00-\x1f\x7f]*[^\x00-\x20\x7f][^\x00-\x1f\x7f]*$"

Name = Annotated[str, Field(pattern=_NO_CONTROLS, max_length=80)]  # one line of text with something on it
SURVEY = "survey"  # stands for the coordinates of a mark that readings give

Length = Annotated[float, PlainValidator(_length)]
PositiveLength = Annotated[float, PlainValidator(_positive_length)]
LengthOrZero = Annotated[float, PlainValidator(_length_or_zero)]
Point = Annotated[Vector, PlainValidator(_vector)]
Spot = Annotated[Vector | str, PlainValidator(_spot)]
MarkPlace = Annotated[Vector | Literal["survey"], PlainValidator(_mark)]
Inset = Annotated[float | list[float], PlainValidator(_inset)]
Opening = Annotated[float, PlainValidator(_opening)]  # share of a zip that is open
Day = Annotated[str, PlainValidator(_day)]
Hollow = Annotated[tuple[float, bool], PlainValidator(_hollow)]  # length [m], or share of the chord where true
Angle = Annotated[float, PlainValidator(_angle)]
Speed = Annotated[float, PlainValidator(_above_zero(units.speed, MOST_SPEED))]
Mass = Annotated[float, PlainValidator(_above_zero(units.mass, MOST_MASS))]
AreaMass = Annotated[float, PlainValidator(_above_zero(units.area_mass, 100.0))]
Force = Annotated[float, PlainValidator(_above_zero(units.force, MOST_FORCE))]
LineForce = Annotated[float, PlainValidator(_above_zero(units.line_force, MOST_FORCE))]
Stiffness = Annotated[float, PlainValidator(_above_zero(units.bending_stiffness, 1e6))]
Share = Annotated[float, PlainValidator(units.share)]
Latitude = Annotated[float, PlainValidator(units.latitude)]
Longitude = Annotated[float, PlainValidator(units.longitude)]


def defaulted(name: str) -> Any:
    """Return a field whose default stands in the table of defaults under `name`."""
    return Field(default_factory=lambda: default(name), json_schema_extra={"default_entry": name})


def descriptive(value: Any = ...) -> Any:
    """Return a field that describes and moves no number: a label, a source, a remark; required without a value."""
    return Field(default=value, json_schema_extra={"descriptive": True})

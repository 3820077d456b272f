"""Define the quantities and the strict record that every part of the design file is made of.

Computes: nothing beyond reading quantities; see `canvas.design.units`.
Units: SI and radians after reading; a bare number takes the file's declared length unit.
Source: none.
Limits: an unknown key is an error; records cannot be changed after reading.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, PlainValidator, ValidationInfo

from canvas.design import units
from canvas.design.tables import default

Vector = tuple[float, float, float]


class Record(BaseModel):
    """A part of the design file: no unknown keys, no changes after reading."""

    model_config = ConfigDict(extra="forbid", frozen=True)


def _bare(info: ValidationInfo) -> str:
    return str((info.context or {}).get("units", "m"))


def _length(found: Any, info: ValidationInfo) -> float:
    return units.length(found, bare=_bare(info))


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


def _hollow(found: Any, info: ValidationInfo) -> tuple[float, bool]:
    if isinstance(found, str) and found.strip().endswith("%"):
        return (units.share(found), True)
    try:
        value = _length_or_zero(found, info)
    except ValueError:
        raise ValueError('Write "4 %" of the chord, or a length such as "60 mm".') from None
    return (value, False)


def _above_zero(reader: Callable[[object], float]) -> Callable[[Any], float]:
    def read(found: Any) -> float:
        value = reader(found)
        if value <= 0:
            raise ValueError("Write a value above zero.")
        return value

    return read


Length = Annotated[float, PlainValidator(_length)]
PositiveLength = Annotated[float, PlainValidator(_positive_length)]
LengthOrZero = Annotated[float, PlainValidator(_length_or_zero)]
Point = Annotated[Vector, PlainValidator(_vector)]
Spot = Annotated[Vector | str, PlainValidator(_spot)]
Hollow = Annotated[tuple[float, bool], PlainValidator(_hollow)]
Angle = Annotated[float, PlainValidator(units.angle)]
Speed = Annotated[float, PlainValidator(_above_zero(units.speed))]
Mass = Annotated[float, PlainValidator(_above_zero(units.mass))]
AreaMass = Annotated[float, PlainValidator(_above_zero(units.area_mass))]
Force = Annotated[float, PlainValidator(_above_zero(units.force))]
LineForce = Annotated[float, PlainValidator(_above_zero(units.line_force))]
Stiffness = Annotated[float, PlainValidator(_above_zero(units.bending_stiffness))]
Share = Annotated[float, PlainValidator(units.share)]
Latitude = Annotated[float, PlainValidator(units.latitude)]
Longitude = Annotated[float, PlainValidator(units.longitude)]
Duration = Annotated[float, PlainValidator(_above_zero(units.duration))]


def defaulted(name: str) -> Any:
    """Return a field whose default stands in the table of defaults under `name`."""
    return Field(default_factory=lambda: default(name), json_schema_extra={"default_entry": name})

"""Read what is asked beside the design file: times, places, angles and winds typed on a command line or a screen.

Computes: values in SI from text; a wrong one is a `DesignError` that names the option.
Units: SI and radians out; times carry a zone, except the sun's own.
Source: ISO 8601 for dates and times.
Limits: nothing is guessed: a time without a zone is refused.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date, datetime, time
from typing import TypeVar

from canvas.design import units
from canvas.design.problems import DesignError, Problem, nearest

T = TypeVar("T")
C = TypeVar("C", bound=str)


def asked(option: str, text: str | None, reader: Callable[[str], T]) -> T | None:
    """Return what an option's text means, None where it was not given.

    Parameters
    ----------
    option : str
        Its name, such as ``--at``.
    text : str or None
        As typed.
    reader : callable
        One of this module's or of `canvas.design.units`; its ValueError says what would do.

    Raises
    ------
    DesignError
        Naming the option.
    """
    if text is None:
        return None
    try:
        return reader(text)
    except ValueError as error:
        problem = Problem(code="wrong-option", key=option, found=f'"{text}"', wanted=str(error))
        raise DesignError([problem]) from error


def choice(option: str, text: str, choices: Sequence[C]) -> C:
    """Return the one of `choices` that was typed.

    Parameters
    ----------
    option : str
        As it is typed, with its dashes.
    text : str
        What was typed after it.
    choices : sequence of str

    Raises
    ------
    DesignError
        Naming the option, offering the nearest.
    """
    for one in choices:
        if one == text:
            return one
    problem = Problem(code="unknown-choice", key=option, found=f'"{text}"', wanted=nearest(text, choices))
    raise DesignError([problem])


def choice_or_none(option: str, text: str | None, choices: Sequence[C]) -> C | None:
    """Return the one of `choices` that was typed, as `choice` does; None where the option was left out."""
    return None if text is None else choice(option, text, choices)


def instant(text: str) -> datetime:
    """Return a moment with its zone, such as ``2026-12-21T12:00-10:00``; a ValueError says what to write."""
    wanted = 'Write a date, a time and its zone: "2026-12-21T12:00-10:00", or end it in Z for UTC.'
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        raise ValueError(wanted) from None
    if moment.tzinfo is None:
        raise ValueError(f"The time has no zone. {wanted}")
    return moment


def calendar_day(text: str) -> date:
    """Return a day, such as ``2026-12-21``; a ValueError says what to write."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise ValueError('Write a day that exists, as "2026-12-21".') from None


def clock_time(text: str) -> time:
    """Return an apparent solar time, noon being when the sun is highest; a ValueError says what to write."""
    try:
        moment = time.fromisoformat(text)
    except ValueError:
        raise ValueError('Write a time of day as "12:00".') from None
    if moment.tzinfo is not None:
        raise ValueError('Solar time has no zone: write "12:00".')
    return moment


def latitudes(text: str) -> tuple[float, ...]:
    """Return latitudes [rad] from text such as ``"10 N, 17.5 S"``."""
    return tuple(units.latitude(part.strip()) for part in text.split(","))


def bearing(text: str) -> float:
    """Return a bearing clockwise from true north [rad]."""
    return units.angle(_number_or_text(text))


def angle(text: str) -> float:
    """Return an angle [rad]; a bare number is in degrees."""
    return units.angle(_number_or_text(text))


def angles(text: str) -> tuple[float, ...]:
    """Return angles [rad] from text such as ``"0, 30, 60"``."""
    return tuple(angle(part.strip()) for part in text.split(","))


def clear_height(text: str) -> float:
    """Return a height that shall be clear [m]; a ValueError says what to write."""
    height = units.length(text)
    if height <= 0:
        raise ValueError('Write a height above 0, such as "0.95 m".')
    return height


def wind_speed(text: str) -> float:
    """Return a wind speed [m/s]; a bare number is in knots; a ValueError says what to write."""
    speed = units.speed(_number_or_text(text))
    if not 0 < speed <= 100 * units.KNOT:
        raise ValueError("Write a wind above 0 and up to 100 kn.")
    return speed


def wind_speeds(text: str) -> tuple[float, ...]:
    """Return wind speeds [m/s] from text such as ``"10, 20 kn"``."""
    return tuple(wind_speed(part.strip()) for part in text.split(","))


def cell_size(text: str) -> float:
    """Return the size of a flow's finest cell [m], 3 to 30 cm; a ValueError says what to write."""
    size = units.length(text)
    if not 0.03 <= size <= 0.3:
        raise ValueError('Write a size from "3 cm" to "30 cm".')
    return size


def _number_or_text(text: str) -> float | str:
    try:
        return float(text)
    except ValueError:
        return text

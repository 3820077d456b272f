"""Find instants: of clock times with their zone, of the sun's own time, evenly through days.

Computes: unix seconds of clock times; the instant of an apparent solar time; instants evenly through days of local
    mean solar time.
Units: unix seconds (UTC); radians.
Source: none; the equation of time is that of `canvas.sky.sun`.
Limits: 1900 to 2100.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, date, datetime, time, timedelta

import numpy as np

from canvas.design.problems import DesignError, Problem
from canvas.geometry.surface import Floats
from canvas.sky.sun import DAY, sun_clock


def unix_seconds(times: Iterable[datetime]) -> Floats:
    """Return instants as seconds since 1970-01-01T00:00Z.

    Parameters
    ----------
    times : iterable of datetime
        Each with its zone, m of them.

    Returns
    -------
    (m,) ndarray
        [s]

    Raises
    ------
    DesignError
        ``time-without-zone`` where a time has none.
    """
    return np.array([_instant(one).timestamp() for one in times], dtype=float)


def instant_of_sun_time(day: date, sun_time: time, *, longitude: float = 0.0) -> datetime:
    """Return the instant at which a sundial shows `sun_time`: the one time that needs no zone.

    Parameters
    ----------
    day : date
        The sundial's own date, that is, of mean solar time at the longitude.
    sun_time : time
        Apparent solar time; 12:00 when the sun crosses the meridian.
    longitude : float
        East positive [rad].

    Returns
    -------
    datetime
        In UTC, to the microsecond.

    Raises
    ------
    DesignError
        ``sun-time-with-zone`` where the sun time carries a zone; ``date-too-far``.
    """
    if sun_time.tzinfo is not None:
        found, wanted = (
            sun_time.isoformat(),
            "Sun time carries no zone: write 12:00, or give a clock time with its zone.",
        )
        raise DesignError([Problem(code="sun-time-with-zone", key="sun time", found=found, wanted=wanted)])
    mean = datetime.combine(day, sun_time, UTC).timestamp() - longitude / (2.0 * np.pi) * DAY
    instant = mean
    for _ in range(4):  # the equation of time moves by 30 s a day at most, so each turn gains three figures
        instant = mean - float(sun_clock([instant]).equation_of_time[0])
    return datetime.fromtimestamp(instant, UTC)


def mean_solar_times(first: date, last: date, *, step_minutes: float = 60.0, longitude: float = 0.0) -> Floats:
    """Return instants evenly through days of local mean solar time, each in the middle of its step.

    Parameters
    ----------
    first, last : date
        Both included.
    step_minutes : float
        A divisor of a day.
    longitude : float
        East positive [rad].

    Returns
    -------
    (m,) ndarray
        Unix seconds.
    """
    start = datetime.combine(first, time(0), UTC).timestamp() - longitude / (2.0 * np.pi) * DAY
    days = ((last - first) + timedelta(days=1)).days
    step = step_minutes * 60.0
    return np.asarray(start + step * (0.5 + np.arange(round(days * DAY / step))))


def _instant(one: datetime) -> datetime:
    if one.tzinfo is None or one.utcoffset() is None:
        raise DesignError(
            [
                Problem(
                    code="time-without-zone",
                    key="time",
                    found=f'"{one.isoformat()}", which carries no zone',
                    wanted=f'Write "{one.isoformat()}Z" for UTC or "{one.isoformat()}-10:00" for a zone, '
                    "or give a day and a sun time.",
                )
            ]
        )
    return one

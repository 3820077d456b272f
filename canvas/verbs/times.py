"""Settle which times, days, latitudes and headings a question about the sun is about.

Computes: one moment, or days and latitudes with the sun at every hour of them; headings.
Units: SI and radians in and out.
Source: a day a season, or the middle of each month of the passage, where nothing is asked: project rule, no source.
Limits: a span of more than two months is asked on the middle day of each month.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, time, timedelta

import numpy as np

from canvas.cloth.rigging import Rigging
from canvas.design.problems import DesignError, Problem
from canvas.geometry.surface import Floats
from canvas.sky.heading import Headings, all_round, on_heading, swinging
from canvas.sky.instants import instant_of_sun_time, mean_solar_times
from canvas.sky.sun import Sun, sun_positions

MOST_DAYS = 62  # a longer span is asked on the middle day of each month


def span_of_suns(days: Sequence[date], where: Sequence[float]) -> Sun:
    """Return the sun at every hour of local mean solar time of some days at some latitudes, longitude 0.

    Parameters
    ----------
    days : sequence of date
    where : sequence of float
        Latitudes [rad].
    """
    hours = np.concatenate([mean_solar_times(one, one) for one in days])
    times = np.tile(hours, len(where))
    lats: Floats = np.repeat(np.asarray(where, dtype=float), len(hours))
    return sun_positions(times, latitude=lats, longitude=0.0)


def moment_of(at: datetime | None, *, day: date | None, sun_time: time | None, longitude: float) -> datetime | None:
    """Return the one time that was asked for, with its zone; None where it was a span.

    Parameters
    ----------
    at : datetime or None
        With its zone.
    day, sun_time : date, time or None
        A solar time: noon is when the sun is highest.
    longitude : float
        Positive east [rad].

    Raises
    ------
    DesignError
        When two times are given, or half of one.
    """
    if at is not None and (day is not None or sun_time is not None):
        raise wrong_option("--at", "both a zoned time and a solar time", "Give --at, or --day and --sun-time.")
    if (day is None) != (sun_time is None):
        raise wrong_option("--day", "half a solar time", "Give both --day and --sun-time.")
    if day is not None and sun_time is not None:
        return instant_of_sun_time(day, sun_time, longitude=longitude)
    return at


def headings_of(heading: float | None, wind_from: float | None, *, one_time: bool) -> Headings:
    """Return the headings that were asked for; of one time north, of a span every one alike, where none was.

    Parameters
    ----------
    heading : float or None
        Clockwise from true north [rad].
    wind_from : float or None
        Wind she swings to at anchor, from where it blows [rad].
    one_time : bool
        Whether one time is asked about, not a span.

    Raises
    ------
    DesignError
        When both are given.
    """
    if heading is not None and wind_from is not None:
        raise wrong_option("--heading", "both a heading and a wind to swing to", "Give one of them.")
    if wind_from is not None:
        return swinging(wind_from)
    if heading is not None:
        return on_heading(heading)
    return on_heading(0.0) if one_time else all_round()


def span_of(
    rigging: Rigging, first: date | None, last: date | None, latitudes: Sequence[float] | None
) -> tuple[tuple[date, ...], tuple[float, ...]]:
    """Return the days and latitudes [rad] that were asked for: the passage's, or a day a season, where none were.

    Parameters
    ----------
    rigging : Rigging
        Whose passage is taken where nothing is said.
    first, last : date or None
        Days up to `MOST_DAYS` are all taken, beyond that the middle of each month.
    latitudes : sequence of float or None
        Positive north [rad].

    Raises
    ------
    DesignError
        When the span has no end, or ends before it begins.
    """
    if (first is None) != (last is None):
        raise wrong_option("--from", "half a span", "Give both --from and --to.")
    passage = rigging.model.design.passage
    if first is None or last is None:
        year = 2026
        months = sorted({leg.month for leg in passage.legs}) if passage else [3, 6, 9, 12]
        days = tuple(date(year, month, 15) for month in months)
    elif last < first:
        raise wrong_option("--to", f"{last} before {first}", "Let the span end after it begins.")
    elif (last - first).days <= MOST_DAYS:
        days = tuple(first + timedelta(days=n) for n in range((last - first).days + 1))
    else:
        months_between = range(first.year * 12 + first.month - 1, last.year * 12 + last.month)
        middles = (date(month // 12, month % 12 + 1, 15) for month in months_between)
        days = tuple(one for one in middles if first <= one <= last) or (first, last)
    if latitudes:
        return days, tuple(latitudes)
    if passage:
        return days, tuple(sorted({(leg.start_latitude + leg.end_latitude) / 2 for leg in passage.legs}))
    return days, tuple(np.radians([0.0, 15.0, 30.0, 45.0]))


def wrong_option(option: str, found: str, wanted: str) -> DesignError:
    """Return the error of an option.

    Parameters
    ----------
    option : str
        As it is typed, with its dashes.
    found, wanted : str
        As in `canvas.design.problems.Problem`.
    """
    return DesignError([Problem(code="wrong-option", key=option, found=found, wanted=wanted)])

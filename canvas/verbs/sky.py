"""Answer what the sky does: shade.

Computes: shade at one time by direct rays, and over days and latitudes through the dome map.
Units: SI and radians in and out; records carry their units in their keys.
Source: the layers below.
Limits: nothing is printed or drawn here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

import numpy as np

from canvas.air.attitude import up_in_boat
from canvas.brief.answer import Answer
from canvas.brief.records import sky as sky_records
from canvas.cloth.rigging import Rigging
from canvas.design.problems import DesignError, Problem
from canvas.geometry.surface import Floats
from canvas.jobs.progress import SILENT, Progress
from canvas.sky.dome import DomeMap, dome_map, place_tables
from canvas.sky.dose import Doses, doses
from canvas.sky.heading import Headings, all_round, on_heading, swinging
from canvas.sky.shade import ShadeAt, ShadeHours, shade_at, shade_hours
from canvas.sky.sun import Sun, instant_of_sun_time, mean_solar_times, sun_positions, unix_seconds
from canvas.verbs.asking import DesignLike, chosen_sets, rigging_of

MOST_DAYS = 62  # a longer span is asked on the middle day of each month


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ShadeSpan:
    """Shade of one set over days and latitudes.

    Attributes
    ----------
    hours : ShadeHours
    doses : Doses
    """

    hours: ShadeHours
    doses: Doses


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ShadeAsked:
    """When, where and on which heading shade was asked for.

    Attributes
    ----------
    sun : Sun
    headings : Headings
    days : tuple of date
        Days asked about; empty for one time.
    """

    sun: Sun
    headings: Headings
    days: tuple[date, ...]


def shade(
    design: DesignLike,
    *,
    sets: Sequence[str] | None = None,
    latitude: float | None = None,
    longitude: float = 0.0,
    at: datetime | None = None,
    day: date | None = None,
    sun_time: time | None = None,
    first: date | None = None,
    last: date | None = None,
    latitudes: Sequence[float] | None = None,
    heading: float | None = None,
    wind_from: float | None = None,
    heel: float = 0.0,
    progress: Progress = SILENT,
) -> Answer:
    """Compute the share of each place out of direct sun, at one time or over days and latitudes.

    Parameters
    ----------
    design : path, Source or Rigging
    sets : sequence of str, optional
    latitude, longitude : float
        Of one time, north and east positive [rad].
    at : datetime, optional
        One time, with its zone; or give `day` and `sun_time`.
    day, sun_time : date, time, optional
        One time by the sun's own clock.
    first, last : date, optional
        First and last day of a span; the passage's legs where neither a time nor a span is asked.
    latitudes : sequence of float, optional
        Of the span [rad].
    heading : float, optional
        Clockwise from true north [rad]. North for one time, every heading alike for a span, where not given.
    wind_from : float, optional
        At anchor: where the wind comes from [rad]; the boat swings about it.
    heel : float
        Positive starboard side down [rad].

    Raises
    ------
    DesignError
        When the question does not say one time or one span.
    """
    rigging = rigging_of(design)
    names = chosen_sets(rigging, sets)
    moment = _moment(at, day=day, sun_time=sun_time, longitude=longitude)
    headings = _headings(heading, wind_from, one_time=moment is not None)
    if moment is not None:
        if latitude is None:
            raise _wrong("--latitude", "no latitude", 'Write one, as --latitude "17.5 S".')
        sun = sun_positions(unix_seconds([moment]), latitude=latitude, longitude=longitude)
        results: dict[str, ShadeAt | ShadeSpan] = {
            name: shade_at(
                rigging.rig(name).scene,
                azimuth=float(sun.azimuth[0]),
                altitude=float(sun.apparent_altitude[0]),
                headings=headings,
                heel=heel,
            )
            for name in names
        }
        asked = ShadeAsked(sun=sun, headings=headings, days=())
    else:
        days, where = _span(rigging, first, last, latitudes)
        sun = span_of_suns(days, where)
        asked = ShadeAsked(sun=sun, headings=headings, days=days)
        results = {}
        known: DomeMap | None = None
        for number, name in enumerate(names):
            progress.step("mapping what each place sees", number, len(names))
            known = dome_map(rigging.rig(name).scene, known=known)
            tables = place_tables(known, up=up_in_boat(heel=heel))
            results[name] = ShadeSpan(
                hours=shade_hours(tables, sun, headings=headings, heel=heel),
                doses=doses(known, sun, headings=headings, heel=heel),
            )
    return Answer(verb="shade", rigging=rigging, results=results, top=asked, writer=sky_records.shade_record)


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


def _moment(at: datetime | None, *, day: date | None, sun_time: time | None, longitude: float) -> datetime | None:
    if at is not None and (day is not None or sun_time is not None):
        raise _wrong("--at", "both a zoned time and a solar time", "Give --at, or --day and --sun-time.")
    if (day is None) != (sun_time is None):
        raise _wrong("--day", "half a solar time", "Give both --day and --sun-time.")
    if day is not None and sun_time is not None:
        return instant_of_sun_time(day, sun_time, longitude=longitude)
    return at


def _headings(heading: float | None, wind_from: float | None, *, one_time: bool) -> Headings:
    if heading is not None and wind_from is not None:
        raise _wrong("--heading", "both a heading and a wind to swing to", "Give one of them.")
    if wind_from is not None:
        return swinging(wind_from)
    if heading is not None:
        return on_heading(heading)
    return on_heading(0.0) if one_time else all_round()


def _span(
    rigging: Rigging, first: date | None, last: date | None, latitudes: Sequence[float] | None
) -> tuple[tuple[date, ...], tuple[float, ...]]:
    if (first is None) != (last is None):
        raise _wrong("--from", "half a span", "Give both --from and --to.")
    passage = rigging.model.design.passage
    if first is None or last is None:
        year = 2026
        months = sorted({leg.month for leg in passage.legs}) if passage else [3, 6, 9, 12]
        days = tuple(date(year, month, 15) for month in months)
    elif last < first:
        raise _wrong("--to", f"{last} before {first}", "Let the span end after it begins.")
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


def _wrong(option: str, found: str, wanted: str) -> DesignError:
    return DesignError([Problem(code="wrong-option", key=option, found=found, wanted=wanted)])

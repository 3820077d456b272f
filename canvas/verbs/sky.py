"""Answer what the sky does: shade and rain.

Computes: shade at one time by direct rays; shade, low sun and rain over spans and winds through the dome map.
Units: SI and radians in and out; records carry their units in their keys.
Source: the layers below.
Limits: nothing is printed or drawn here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from functools import reduce
from weakref import WeakKeyDictionary

import numpy as np

from canvas.air.attitude import up_in_boat
from canvas.air.profile import profile_ratio
from canvas.air.wind import KNOT
from canvas.brief.answer import Answer
from canvas.brief.records import sky as sky_records
from canvas.cloth.rigging import Rigging
from canvas.design.problems import DesignError, Problem
from canvas.design.schema.design import BARE
from canvas.design.tables import default
from canvas.geometry.surface import Floats, Surface
from canvas.jobs.progress import SILENT, Progress
from canvas.sky.catch import Catch, catches
from canvas.sky.dome import DomeMap, dome_map, place_tables, pooled, same_ground
from canvas.sky.dose import Doses, doses
from canvas.sky.drips import Drips, drips
from canvas.sky.heading import Headings, all_round, on_heading, swinging
from canvas.sky.low_sun import LowSun, low_sun
from canvas.sky.openings import Openings
from canvas.sky.person import person_place
from canvas.sky.rain import RainRose, rain_openings, rain_rose
from canvas.sky.rain_direct import rain_on
from canvas.sky.shade import ShadeAt, ShadeHours, shade_at, shade_hours
from canvas.sky.sun import Sun, instant_of_sun_time, mean_solar_times, sun_positions, unix_seconds
from canvas.verbs.asking import DesignLike, chosen_sets, rigging_of

COCKPIT_HEIGHT = 2.0  # above the water, where rain is driven [m]; common practice, no source
RAIN_STEP_DEG = 15.0
SEATS = ("port seat", "starboard seat", "helm")
PERSON_POINTS = 600  # on each body: what falls on it is then known to some 3 %

MOST_DAYS = 62  # a longer span is asked on the middle day of each month


@dataclass(slots=True, kw_only=True, eq=False)
class _Maps:
    """Dome maps of one boat: by set, and one that holds all bodies and canvas traced so far."""

    by_set: dict[str, DomeMap]
    stock: DomeMap


_MAPS: WeakKeyDictionary[Rigging, _Maps] = WeakKeyDictionary()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ShadeSpan:
    """Shade of one set over days and latitudes.

    Attributes
    ----------
    hours : ShadeHours
    doses : Doses
    low : LowSun
        Minutes of low sun, where it comes in and which canvas not up would stop it.
    """

    hours: ShadeHours
    doses: Doses
    low: LowSun


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
        candidates = all_canvas(rigging)
        every = rigging.model.design.set_names()
        for number, name in enumerate(every):
            progress.step("mapping what each place sees", number, len(every))
            known_map(rigging, name)
        stock = _MAPS[rigging].stock  # holds all canvas now
        for name in names:
            known = known_map(rigging, name)
            tables = place_tables(known, up=up_in_boat(heel=heel))
            scene = rigging.rig(name).scene
            results[name] = ShadeSpan(
                hours=shade_hours(tables, sun, headings=headings, heel=heel),
                doses=doses(known, sun, headings=headings, heel=heel),
                low=low_sun(
                    scene,
                    known,
                    sun,
                    headings=headings,
                    step_minutes=60.0,
                    heel=heel,
                    candidates=candidates,
                    stock=stock,
                ),
            )
    return Answer(verb="shade", rigging=rigging, results=results, top=asked, writer=sky_records.shade_record)


def known_map(rigging: Rigging, set_name: str) -> DomeMap:
    """Return the dome map of a set, traced once a boat; sets take over from one another what they share."""
    if rigging not in _MAPS:  # the boat under sail first: the directions follow the sails' edges in every set
        _MAPS[rigging] = _Maps(by_set={}, stock=dome_map(rigging.rig(BARE).scene))
    maps = _MAPS[rigging]
    if set_name not in maps.by_set:
        maps.by_set[set_name] = dome_map(rigging.rig(set_name).scene, known=maps.stock)
        maps.stock = pooled(maps.stock, maps.by_set[set_name])
    return maps.by_set[set_name]


def take_over(rigging: Rigging, other: Rigging) -> None:
    """Let a boat take over the dome maps of the same boat before an edit: what kept its shape is not traced again.

    Parameters
    ----------
    rigging : Rigging
        The boat after the edit; nothing of it is mapped yet.
    other : Rigging
        The boat before. Only what its sets hold is taken over, so that maps do not grow from edit to edit.
    """
    if other not in _MAPS or rigging in _MAPS:
        return
    held = _MAPS[other]
    bare = rigging.rig(BARE).scene
    if not same_ground(held.stock, bare):
        return
    bodies = dome_map(bare, known=held.stock)
    stock = reduce(pooled, held.by_set.values(), bodies) if held.by_set else held.stock
    _MAPS[rigging] = _Maps(by_set={}, stock=stock)


def all_canvas(rigging: Rigging) -> tuple[Surface, ...]:
    """Return every cloth surface of every set, each panel as it hangs in the last set it is up in."""
    found: dict[str, Surface] = {}
    for name in rigging.model.design.set_names():
        for surface in rigging.rig(name).scene.of_kind("cloth"):
            found[surface.name] = surface
    return tuple(found.values())


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RainFound:
    """Rain on one set, all round.

    Attributes
    ----------
    roses : tuple of RainRose
        One a way of lying: each holds its own angles.
    worst : float
        Apparent wind angle at which most of the seats is wetted [rad].
    openings : Openings
        Where the rain comes in at that angle.
    drips : Drips
        Where water leaves the canvas at that angle.
    people : tuple of RainRose
        The same roses of everyone aboard, one a way of lying.
    catches : tuple of Catch
        What each filler could take in calm.
    """

    roses: tuple[RainRose, ...]
    worst: float
    openings: Openings
    drips: Drips
    people: tuple[RainRose, ...]
    catches: tuple[Catch, ...]


def rain(
    design: DesignLike,
    *,
    sets: Sequence[str] | None = None,
    aws: Sequence[float] | None = None,
    rate: float | None = None,
    progress: Progress = SILENT,
) -> Answer:
    """Compute the share of each place that driving rain wets, by apparent wind angle and speed.

    Parameters
    ----------
    design : path, Source or Rigging
    sets : sequence of str, optional
    aws : sequence of float, optional
        Apparent winds at the instrument [m/s]; 10, 20 and 30 kn where absent.
    rate : float, optional
        Rain rate [mm/h].

    Notes
    -----
    Heel and roll are those usual at each angle: heeled away from the wind before the beam, rolling abaft it, upright at
    anchor. The wind at the cockpit is the instrument's by the profile over the sea, the boat taken as still.
    """
    rigging = rigging_of(design)
    winds = np.asarray(aws if aws is not None else np.array([10.0, 20.0, 30.0]) * KNOT)
    amount = rate if rate is not None else default("rain_rate")
    names = chosen_sets(rigging, sets)
    results = {}
    for number, name in enumerate(names):
        progress.step("letting it rain", number, len(names))
        results[name] = _rain_on(rigging, name, winds, amount)
    asked = RainAsked(aws=winds, rate=amount)
    return Answer(verb="rain", rigging=rigging, results=results, top=asked, writer=sky_records.rain_record)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RainAsked:
    """Winds at the instrument [m/s] and rain rate [mm/h] that were asked about."""

    aws: Floats
    rate: float


def _rain_on(rigging: Rigging, name: str, winds: Floats, rate: float) -> RainFound:
    model = rigging.model
    low = profile_ratio(COCKPIT_HEIGHT, reference=model.instrument_height)
    known = known_map(rigging, name)
    roses = tuple(
        rain_rose(known, aws=winds * low, awa=lying.awa, rate=rate, heel=lying.heel, roll=lying.roll)
        for lying in _lying(rigging, name)
    )
    seats = [k for k, place in enumerate(model.places) if place.name in SEATS]
    wet = np.concatenate([rose.wetted_share[-1][:, seats].mean(axis=1) for rose in roses])
    angles = np.concatenate([rose.awa for rose in roses])
    worst = float(angles[int(np.argmax(wet))])
    scene = rigging.rig(name).scene
    strongest = float(winds[-1] * low)
    crew = [person_place(one, points=PERSON_POINTS) for one in scene.of_kind("crew")]
    people = tuple(
        rain_on(scene, crew, aws=winds * low, awa=lying.awa, rate=rate, heel=lying.heel, roll=lying.roll)
        for lying in _lying(rigging, name)
        if crew
    )
    fillers = {one.name: model.at(one.at) for one in model.design.filler}
    return RainFound(
        roses=roses,
        worst=worst,
        openings=rain_openings(scene, known, aws=strongest, awa=worst, rate=rate),
        drips=drips(scene, rate=rate, aws=strongest, awa=worst),
        people=people,
        catches=catches(drips(scene, rate=rate), fillers) if fillers and scene.of_kind("cloth") else (),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Lying:
    awa: Floats
    heel: float
    roll: float


def _lying(rigging: Rigging, name: str) -> tuple[_Lying, ...]:
    """Return how the boat lies at each apparent wind angle: heeled away from the wind, or rolling."""
    sailing = rigging.model.design.sailing
    angles = np.radians(np.arange(-165.0, 181.0, RAIN_STEP_DEG))
    if "under way" not in rigging.model.design.set_named(name).used:
        return (_Lying(awa=angles, heel=0.0, roll=0.0),)
    heeled = np.abs(angles) <= np.pi / 2
    port, starboard = angles[heeled & (angles < 0)], angles[heeled & (angles > 0)]
    rest = angles[~heeled | (angles == 0)]
    return (
        _Lying(awa=port, heel=sailing.heel_close_hauled, roll=0.0),
        _Lying(awa=starboard, heel=-sailing.heel_close_hauled, roll=0.0),
        _Lying(awa=rest, heel=0.0, roll=sailing.roll),
    )


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

"""Answer what the sky does: shade and rain.

Computes: shade at one time by direct rays; shade, low sun and rain over spans and winds through the dome map.
Units: SI and radians in and out; records carry their units in their keys.
Source: the layers below.
Limits: nothing is printed or drawn here.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time

import numpy as np

from canvas.air.attitude import up_in_boat
from canvas.air.profile import profile_ratio
from canvas.air.wind import KNOT
from canvas.brief.answer import Answer
from canvas.brief.records import sky as sky_records
from canvas.cloth.rigging import Rigging
from canvas.design.schema.design import BARE
from canvas.design.tables import default
from canvas.geometry.scene import Scene
from canvas.geometry.surface import Floats, Surface
from canvas.jobs.progress import SILENT, Progress
from canvas.jobs.shelf import Derived, from_shelf
from canvas.sky.catch import Catch, catches
from canvas.sky.dome import DomeMap, place_tables
from canvas.sky.dose import Doses, doses
from canvas.sky.drips import Drips, drips
from canvas.sky.heading import Headings
from canvas.sky.instants import unix_seconds
from canvas.sky.low_sun import LowSun, low_sun
from canvas.sky.openings import Openings
from canvas.sky.person import person_place
from canvas.sky.rain import RainRose, rain_openings, rain_rose
from canvas.sky.rain_direct import rain_on
from canvas.sky.shade import ShadeAt, ShadeHours, shade_at, shade_hours
from canvas.sky.sun import Sun, sun_positions
from canvas.verbs.asking import DesignLike, chosen_sets, rigging_of
from canvas.verbs.maps import MapsAhead, known_map, rain_map, stock_of
from canvas.verbs.times import headings_of, moment_of, span_of, span_of_suns, wrong_option

COCKPIT_HEIGHT = 2.0  # above the water, where rain is driven [m]; common practice, no source
RAIN_STEP_DEG = 15.0
SEATS = ("port seat", "starboard seat", "helm")
PERSON_POINTS = 600  # on each body: what falls on it is then known to some 3 %


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
    moment = moment_of(at, day=day, sun_time=sun_time, longitude=longitude)
    headings = headings_of(heading, wind_from, one_time=moment is not None)
    results: Mapping[str, ShadeAt | ShadeSpan]
    days: tuple[date, ...] = ()
    if moment is not None:
        sun = _sun_then(moment, latitude=latitude, longitude=longitude)
        results = {name: _at_one_time(rigging, name, sun, headings=headings, heel=heel) for name in names}
    else:
        days, where = span_of(rigging, first, last, latitudes)
        sun = from_shelf(rigging.shelf, span_of_suns, days, where)
        results = _over_spans(rigging, names, sun, headings=headings, heel=heel, progress=progress)
    asked = ShadeAsked(sun=sun, headings=headings, days=days)
    return Answer(verb="shade", rigging=rigging, results=results, top=asked, writer=sky_records.shade_record)


def _sun_then(moment: datetime, *, latitude: float | None, longitude: float) -> Sun:
    if latitude is None:
        raise wrong_option("--latitude", "no latitude", 'Write one, as --latitude "17.5 S".')
    return sun_positions(unix_seconds([moment]), latitude=latitude, longitude=longitude)


def _at_one_time(rigging: Rigging, name: str, sun: Sun, *, headings: Headings, heel: float) -> ShadeAt:
    azimuth, altitude = float(sun.azimuth[0]), float(sun.apparent_altitude[0])
    return shade_at(rigging.rig(name).scene, azimuth=azimuth, altitude=altitude, headings=headings, heel=heel)


def _over_spans(
    rigging: Rigging, names: Sequence[str], sun: Sun, *, headings: Headings, heel: float, progress: Progress
) -> dict[str, ShadeSpan]:
    """Return the shade of sets over a span; all sets are mapped first, so that canvas not up can be tried."""

    def mapped() -> Rigging:
        every = rigging.model.design.set_names()
        with MapsAhead(known_map, rigging, every) as maps:
            for number, name in enumerate(every):
                progress.step("mapping what each place sees", number, len(every))
                maps.of(name)
        return rigging

    boat = Derived(of=rigging.whole().of, make=mapped)
    return {
        name: from_shelf(rigging.shelf, _over_span, boat, name, sun, headings=headings, heel=heel) for name in names
    }


def _over_span(boat: Derived[Rigging], name: str, sun: Sun, *, headings: Headings, heel: float) -> ShadeSpan:
    rigging = boat.make()
    known = known_map(rigging, name)
    return ShadeSpan(
        hours=shade_hours(place_tables(known, up=up_in_boat(heel=heel)), sun, headings=headings, heel=heel),
        doses=doses(known, sun, headings=headings, heel=heel),
        low=low_sun(
            rigging.rig(name).scene, known, sun, headings=headings, step_minutes=60.0, heel=heel,
            candidates=all_canvas(rigging), stock=stock_of(rigging),
        ),
    )  # fmt: skip


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
    with MapsAhead(rain_map, rigging, names) as maps:
        for number, name in enumerate(names):
            progress.step("letting it rain", number, len(names))
            results[name] = _rain_on(rigging, name, winds, amount, maps=maps)
    asked = RainAsked(aws=winds, rate=amount)
    return Answer(verb="rain", rigging=rigging, results=results, top=asked, writer=sky_records.rain_record)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RainAsked:
    """Winds at the instrument [m/s] and rain rate [mm/h] that were asked about."""

    aws: Floats
    rate: float


def _rain_on(rigging: Rigging, name: str, winds: Floats, rate: float, *, maps: MapsAhead) -> RainFound:
    model = rigging.model
    scene = rigging.rig(name).scene
    return from_shelf(
        rigging.shelf,
        _rained,
        scene,
        Derived(of=(rigging.rig(BARE).scene, scene), make=lambda: maps.of(name)),
        aws=winds * profile_ratio(COCKPIT_HEIGHT, reference=model.instrument_height),
        lying=_lying(rigging, name),
        rate=rate,
        fillers={one.name: model.at(one.at) for one in model.design.filler},
    )


def _rained(
    scene: Scene,
    mapped: Derived[DomeMap],
    *,
    aws: Floats,
    lying: Sequence[_Lying],
    rate: float,
    fillers: Mapping[str, Floats],
) -> RainFound:
    """Return the rain on one set, its map made when it is needed."""
    known = mapped.make()
    roses = tuple(rain_rose(known, aws=aws, awa=one.awa, rate=rate, heel=one.heel, roll=one.roll) for one in lying)
    seats = [k for k, place in enumerate(scene.places) if place.name in SEATS]
    wet = np.concatenate([rose.wetted_share[-1][:, seats].mean(axis=1) for rose in roses])
    angles = np.concatenate([rose.awa for rose in roses])
    worst = float(angles[int(np.argmax(wet))])
    crew = [person_place(one, points=PERSON_POINTS) for one in scene.of_kind("crew")]
    people = tuple(
        rain_on(scene, crew, aws=aws, awa=one.awa, rate=rate, heel=one.heel, roll=one.roll) for one in lying if crew
    )
    strongest = float(aws[-1])
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

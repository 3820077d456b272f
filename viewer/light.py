"""Follow the sun over the seats fast enough to drag it.

Computes: which sample points are sunlit at one time, the share of each place in shade (as `canvas shade` gives it), the
    same by hour and latitude, and over a day.
Units: radians; shares 0..1; apparent solar time in hours.
Source: canvas/sky; any-hit rays with the trees kept between questions.
Limits: one time is traced directly with all sample points, no preview; hours, latitudes and the day come from the map.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from itertools import pairwise

import numpy as np

from canvas.cloth.rigging import Rig
from canvas.geometry.panorama import GRAZING
from canvas.geometry.scene import Place
from canvas.geometry.surface import Floats, Ints
from canvas.sky.casters import casters_of, lifted, what_passes
from canvas.sky.dome import PlaceTables
from canvas.sky.heading import Headings, on_heading, swinging
from canvas.sky.instants import instant_of_sun_time, mean_solar_times, unix_seconds
from canvas.sky.samples import by_neighbours, slices_of
from canvas.sky.shade import shade_hours
from canvas.sky.sun import Sun, directions, sun_clock, sun_positions
from canvas.verbs.times import span_of_suns

LATITUDES_DEG = np.arange(-60, 61, 10)
HOURS = np.arange(5.0, 20.0, 1.0)
QUARTERS = 4  # of an hour: the step of the page's slider


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """When, where and how the boat lies.

    Attributes
    ----------
    latitude : float
        North positive [rad].
    day : date
    hour : float
        Apparent solar time [h].
    heading : float
        Clockwise from true north; where the wind comes from when she swings [rad].
    heel : float
        Positive starboard side down [rad].
    swings : bool
        Whether she swings to the wind at anchor.
    """

    latitude: float
    day: date
    hour: float
    heading: float
    heel: float
    swings: bool = False

    def sun(self) -> Sun:
        """Return the sun at that time."""
        return _sun_of(self.day, self.hour, self.latitude)

    def headings(self) -> Headings:
        """Return the headings she lies on."""
        return swinging(self.heading) if self.swings else on_heading(self.heading)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lit:
    """Light at one time.

    Attributes
    ----------
    points : (n,) ndarray
        Light that reaches each sample point, all places in order.
    share : (p,) ndarray
        Share of each place out of direct sun.
    """

    points: Floats
    share: Floats


class Follower:
    """One set that is up, ready to be asked again and again.

    Parameters
    ----------
    rig : Rig
    most : int, optional
        Sample points asked at most, for a preview; all where absent.
    """

    def __init__(self, rig: Rig, *, most: int | None = None) -> None:
        self.rig = rig
        casters = casters_of(rig.scene)
        self._tracers = [caster.tracer() for caster in casters]
        self._shares = np.array([caster.light for caster in casters])
        points = lifted(rig.scene.places)
        self._asked = evenly(rig.scene.places, most)
        self._points = points[self._asked]
        self._normals = np.vstack([place.normals for place in rig.scene.places])[self._asked]
        ends = np.searchsorted(self._asked, [0, *(rows.stop for rows in slices_of(rig.scene.places))])
        self._rows = tuple(slice(int(a), int(b)) for a, b in pairwise(ends))

    def at(self, asked: Asked) -> Lit:
        """Return the light at one time."""
        sun, headings = asked.sun(), asked.headings()
        if sun.apparent_altitude[0] <= 0.0:
            return Lit(points=np.zeros(len(self._points)), share=np.ones(len(self._rows)))
        towards = directions(
            float(sun.azimuth[0]), float(sun.apparent_altitude[0]), heading=headings.angles, heel=asked.heel
        )
        reaching = self._reaching(towards) @ headings.weights
        share = np.array([1.0 - reaching[rows].mean() for rows in self._rows])
        return Lit(points=reaching, share=share)

    @property
    def error(self) -> float:
        """Greatest standard error twice over of a place's share from so many points drawn at random."""
        return float(1.0 / np.sqrt(min(rows.stop - rows.start for rows in self._rows)))

    def _reaching(self, towards: Floats) -> Floats:
        faced = self._normals @ towards.T > GRAZING
        solid = self._tracers[0].occluded_grid(self._points, towards, ask=faced)
        open_to = faced & ~solid  # behind the solid boat nothing else is asked
        rest = [tracer.occluded_grid(self._points, towards, ask=open_to) for tracer in self._tracers[1:]]
        return np.asarray(what_passes(np.array([solid, *rest]), self._shares) * faced)


def evenly(places: Sequence[Place], most: int | None) -> Ints:
    """Return the rows of the sample points that are asked: as many of each place, spread over it, or all."""
    if most is None:
        return np.arange(sum(len(place.points) for place in places))
    found = []
    for place, rows in zip(places, slices_of(places), strict=True):
        few = min(len(place.points), most // len(places))
        pick = np.linspace(0, len(place.points) - 1, few).round().astype(np.int64)
        found.append(np.sort(by_neighbours(place.points)[pick]) + rows.start)
    return np.concatenate(found)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Chart:
    """Shade of the seats by hour and latitude on one day.

    Attributes
    ----------
    latitudes_deg, hours : ndarray
    share : (latitudes, hours) ndarray
        Mean of the seats asked about; nan with the sun down.
    """

    latitudes_deg: Floats
    hours: Floats
    share: Floats


def chart_of(tables: PlaceTables, asked: Asked, *, places: tuple[str, ...]) -> Chart:
    """Look up the shade by hour and latitude.

    Parameters
    ----------
    tables : PlaceTables
        Of the set's map.
    asked : Asked
        Day, heading and heel.
    places : tuple of str
        Whose mean is wanted.
    """
    rows = [tables.names.index(name) for name in places]
    where = np.radians(LATITUDES_DEG)
    moments = np.array([_moment(asked.day, float(hour)) for hour in HOURS])
    sun = sun_positions(np.tile(moments, len(where)), latitude=np.repeat(where, len(HOURS)), longitude=0.0)
    hours = shade_hours(tables, sun, headings=asked.headings(), heel=asked.heel)
    share = hours.share[rows].mean(axis=0).reshape(len(where), len(HOURS))
    return Chart(latitudes_deg=LATITUDES_DEG.astype(float), hours=HOURS, share=share)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DayShade:
    """Shade of each place over a day, by the sun's strength.

    Attributes
    ----------
    names : tuple of str
    share : (p,) ndarray
    """

    names: tuple[str, ...]
    share: Floats


def day_of(tables: PlaceTables, asked: Asked) -> DayShade:
    """Return the shade over the day asked about, as `canvas shade --from DAY --to DAY` gives it: mean of its sun hours.

    Parameters
    ----------
    tables : PlaceTables
        Of the set's map.
    asked : Asked
        Day, latitude, heading and heel.
    """
    sun = span_of_suns([asked.day], [asked.latitude])
    hours = shade_hours(tables, sun, headings=asked.headings(), heel=asked.heel)
    lit = hours.share[:, sun.up]
    share = lit.mean(axis=1) if lit.size else np.full(len(hours.names), np.nan)
    return DayShade(names=hours.names, share=share)


def sun_at(day: date, hours: Floats | list[float], latitude: float) -> Sun:
    """Return the sun at apparent solar times of a day, on the Greenwich meridian.

    Parameters
    ----------
    day : date
    hours : array_like
        Apparent solar time, 0 to under 24 [h].
    latitude : float
        [rad]
    """
    moments = np.array([_moment(day, float(hour)) for hour in hours])
    return sun_positions(moments, latitude=latitude, longitude=0.0)


@lru_cache(maxsize=4096)
def _moment(day: date, hour: float) -> float:
    """Return the instant of an apparent solar time on the Greenwich meridian [s]."""
    return float(unix_seconds([instant_of_sun_time(day, clock(hour))])[0])


@lru_cache(maxsize=64)
def _moments(day: date) -> Floats:
    """Return the instants of every quarter of an hour of a day, (96,) [s]: in one go about as quick as one alone."""
    mean = unix_seconds([datetime.combine(day, clock(n / QUARTERS), UTC) for n in range(24 * QUARTERS)])
    instants = mean
    for _ in range(4):  # as `instant_of_sun_time` does
        instants = mean - sun_clock(instants).equation_of_time
    return instants


@lru_cache(maxsize=64)
def _suns_of(day: date, latitude: float) -> tuple[Sun, Sun]:
    """Return the sun at every quarter of an hour by itself, and every half hour of mean time, in one question."""
    quarters, halves = _moments(day), mean_solar_times(day, day, step_minutes=30.0)
    both = sun_positions(np.concatenate([quarters, halves]), latitude=latitude, longitude=0.0)
    return _rows_of(both, slice(len(quarters))), _rows_of(both, slice(len(quarters), None))


def _rows_of(sun: Sun, rows: slice) -> Sun:
    return Sun(**{one.name: getattr(sun, one.name)[rows] for one in fields(Sun)})


@lru_cache(maxsize=64)
def _sun_of(day: date, hour: float, latitude: float) -> Sun:
    quarter = QUARTERS * (hour % 24.0)
    if not quarter.is_integer():
        return sun_at(day, [hour], latitude)
    return _rows_of(_suns_of(day, latitude)[0], slice(int(quarter), int(quarter) + 1))


def path_of(day: date, latitude: float) -> Sun:
    """Return the sun every half hour of a day, for its path in the sky."""
    return _suns_of(day, latitude)[1]


def clock(hour: float) -> time:
    """Return an hour of the day as a time, to the minute."""
    minutes = round(hour * 60) % (24 * 60)
    return time(minutes // 60, minutes % 60)


def day_of_year(year: int, number: int) -> date:
    """Return the day of a year by its number, 1 for 1 January."""
    return date(year, 1, 1) + timedelta(days=number - 1)

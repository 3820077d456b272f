"""Plan a passage: each leg as points on the way, days, suns, and ways of lying with the hours that each takes.

Computes: for each leg its distance, progress, hours, and the suns of whole days along it.
Units: metres, seconds, radians; instants in unix seconds.
Source: routes after canvas/study/routes.py, boat speeds after canvas/study/sailing.py.
Limits: nobody knows the hour of setting out, so every hour of the day counts alike at every point of the way. The days
    of a leg stand round the middle of its month, or run on from a day of leaving. Winds come and go in any order: each
    has its share of the time wherever the boat is. A leg without wind has shares, but no hours.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np

from canvas.design.problems import DesignError, Problem
from canvas.design.reading import Source
from canvas.design.schema.voyage import Leg
from canvas.geometry.surface import Floats, locked
from canvas.sky.instants import mean_solar_times
from canvas.sky.sun import DAY, Sun, sun_positions
from canvas.study.routes import Route, route
from canvas.study.sailing import Lying, ways_of_lying

STEP_MINUTES = 20.0
MOST_DAYS = 45  # points on one leg; a longer leg takes every so many days
YEAR = 2026
HOUR = 3600.0
SHARES_MISS = 0.005  # of a leg's winds, by which they may miss the whole
AHEAD = Lying(
    true_speed=0.0, true_angle=0.0, off_course=0.0, boat_speed=0.0, made_good=0.0, aws=0.0, awa=0.0, heel=0.0,
    share=1.0, beating=False,
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LegPlan:
    """One leg, ready to be summed over.

    Attributes
    ----------
    name : str
    set_name : str or None
        The set it is sailed with.
    along, wind_source : str
    route : Route
        One point for each day, in the middle of its part of the way.
    lyings : tuple of Lying
    windless : bool
        No wind was given: upright, on the course, hours unknown.
    speed : float or None
        Made good over the whole leg [m/s].
    duration : float or None
        [s]
    days : tuple of date
    sun : Sun
        All instants of all days; azimuths from the bow of a boat on the course at that point.
    weight : float
        Hours that one instant stands for; a share of the leg where hours are unknown.
    """

    name: str
    set_name: str | None
    along: str
    wind_source: str
    route: Route
    lyings: tuple[Lying, ...]
    windless: bool
    speed: float | None
    duration: float | None
    days: tuple[date, ...]
    sun: Sun
    weight: float


def plan_legs(source: Source, *, leave: date | None = None) -> tuple[LegPlan, ...]:
    """Return the legs of a design's passage.

    Parameters
    ----------
    source : Source
    leave : date, optional
        Day of leaving: the legs then follow one another from it, whatever months they name.

    Raises
    ------
    DesignError
        When there is no passage, a leg goes nowhere or to a pole along a rhumb line, its winds do not add up, or boat
        speeds are missing.
    """
    passage = source.design.passage
    if passage is None:
        raise DesignError(
            [Problem(code="no-passage", file=source.file, key="passage", found="none", wanted=_PASSAGE_WANTED)]
        )
    problems: list[Problem] = []
    plans: list[LegPlan] = []
    begins = leave
    for number, leg in enumerate(passage.legs):
        try:
            plan = _plan(source, leg, number, begins)
        except DesignError as refused:
            problems += refused.problems
            continue
        plans.append(plan)
        if begins is not None:
            begins += timedelta(days=round((plan.duration or 0.0) / DAY))
    if problems:
        raise DesignError(problems)
    return tuple(plans)


def plan_of_year(latitudes: Sequence[float]) -> LegPlan:
    """Return a plan without wind or hours for a design without a passage: four days of the year, some latitudes.

    Parameters
    ----------
    latitudes : sequence of float
        [rad]
    """
    days = tuple(date(YEAR, month, 15) for month in (3, 6, 9, 12) for _ in latitudes)
    count = len(days)
    points = Route(
        distance=0.0,
        share=locked((np.arange(count) + 0.5) / count),
        latitude=locked(np.tile(np.asarray(latitudes, dtype=float), 4)),
        longitude=locked(np.zeros(count)),
        course=locked(np.zeros(count)),
    )
    sun = _suns(days, points)
    return LegPlan(
        name="four days of the year, heading north", set_name=None, along="nowhere", wind_source="none given",
        route=points, lyings=(AHEAD,), windless=True, speed=None, duration=None, days=days, sun=sun,
        weight=1.0 / len(sun.unix_s),
    )  # fmt: skip


_PASSAGE_WANTED = (
    "Write [[passage.legs]] with a name, start_latitude, start_longitude, end_latitude, end_longitude, month and wind."
)


def _plan(source: Source, leg: Leg, number: int, begins: date | None) -> LegPlan:
    whole = _laid(source, leg, number, (0.0, 1.0))
    lyings = _lyings(source, leg, number)
    total = sum(one.share for one in lyings)
    speed = sum(one.share * one.made_good for one in lyings) / total if leg.wind else None
    if speed is not None and speed <= 0.0:
        raise _wrong(source, number, "wind", "winds in which she makes no way", "Give a wind that she can sail in.")
    duration = None if speed is None else whole.distance / speed
    days = _days(leg, duration, begins)
    share = (np.arange(len(days)) + 0.5) / len(days)
    points = _laid(source, leg, number, share)
    instants = round(DAY / (STEP_MINUTES * 60.0))
    hours = 1.0 if duration is None else duration / HOUR
    return LegPlan(
        name=leg.name,
        set_name=leg.set,
        along=leg.along,
        wind_source=leg.wind_source if leg.wind else "none given",
        route=points,
        lyings=lyings,
        windless=not leg.wind,
        speed=speed,
        duration=duration,
        days=days,
        sun=_suns(days, points),
        weight=hours / (instants * len(days)),
    )


def _laid(source: Source, leg: Leg, number: int, share: Floats | tuple[float, float]) -> Route:
    start, end = (leg.start_latitude, leg.start_longitude), (leg.end_latitude, leg.end_longitude)
    try:
        laid = route(start, end, along=leg.along, share=share)
    except ValueError as error:
        raise _wrong(source, number, "end_latitude", "a way that cannot be laid", str(error)) from error
    if laid.distance < 1.0:
        raise _wrong(source, number, "end_latitude", "a leg that goes nowhere", "Let it end somewhere else.")
    return laid


def _lyings(source: Source, leg: Leg, number: int) -> tuple[Lying, ...]:
    if not leg.wind:
        return (AHEAD,)
    total = sum(cell.share for cell in leg.wind)
    if abs(total - 1.0) > SHARES_MISS:
        raise _wrong(source, number, "wind", f"shares that add up to {100 * total:.4g} %", "Let them add up to 100 %.")
    sailing = source.design.sailing
    if not sailing.boat_speed:
        found = Problem(
            code="no-boat-speed", file=source.file, key="sailing.boat_speed", found="none",
            wanted='Under [sailing] write boat_speed = [{ true_wind = "12 kn", close_hauled = "5 kn", reach = "6 kn", '
            'run = "5 kn" }], a row for each true wind.',
        )  # fmt: skip
        raise DesignError([found])
    return ways_of_lying(leg.wind, sailing)


def _days(leg: Leg, duration: float | None, begins: date | None) -> tuple[date, ...]:
    """Return a day for each point of a leg: one a day, evenly fewer on a leg that takes longer than can be followed."""
    whole = 1 if duration is None else max(1, round(duration / DAY))
    count = min(whole, MOST_DAYS)
    first = begins if begins is not None else date(YEAR, leg.month, 15) - timedelta(days=whole // 2)
    return tuple(first + timedelta(days=int((k + 0.5) * whole / count)) for k in range(count))


def _suns(days: tuple[date, ...], points: Route) -> Sun:
    """Return the sun through each day at its point, azimuths counted from a bow on the course there."""
    times = [
        mean_solar_times(day, day, step_minutes=STEP_MINUTES, longitude=float(longitude))
        for day, longitude in zip(days, points.longitude, strict=True)
    ]
    count = len(times[0])
    found = sun_positions(
        np.concatenate(times),
        latitude=np.repeat(points.latitude, count),
        longitude=np.repeat(points.longitude, count),
    )
    return from_bow(found, np.repeat(points.course, count))


def from_bow(sun: Sun, heading: Floats | float) -> Sun:
    """Return suns with azimuths counted from the bow of a boat on some headings, so that all look up alike.

    `heading` is one for all instants or one each, (m,), clockwise from true north [rad].
    """
    return replace(sun, azimuth=(sun.azimuth - heading) % (2.0 * np.pi))


def _wrong(source: Source, number: int, key: str, found: str, wanted: str) -> DesignError:
    return DesignError([source.problem(("passage", "legs", number, key), code="wrong-leg", found=found, wanted=wanted)])

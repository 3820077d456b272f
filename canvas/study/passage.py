"""Add up a passage: hours of shade, low sun, rain that reaches, ultraviolet, and what the vane gets of the wind.

Computes: for one set on one leg, hours by place and by way of lying; sums of legs.
Units: hours (shares of the leg where its hours are unknown), minutes of low sun, standard erythemal doses; radians.
Source: canvas/sky for sun and rain; canvas/study/authority.py for the vane.
Limits: a clear sky all the way: hours are of sun-up, not of sunshine. Rain is asked as "were it raining". Every hour of
    the day meets every wind of the leg.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from canvas.air.profile import apparent_at
from canvas.cloth.rigging import Rigging
from canvas.geometry.scene import Scene
from canvas.geometry.surface import Floats, Surface, locked
from canvas.sky.dome import DomeMap, place_tables
from canvas.sky.dose import doses
from canvas.sky.heading import on_heading
from canvas.sky.low_sun import low_sun
from canvas.sky.rain import DRY, rain_rose
from canvas.sky.shade import shade_hours
from canvas.sky.sun import Sun
from canvas.sky.ultraviolet import DOSE_J_M2, ERYTHEMAL_W_M2, uv_index
from canvas.study.authority import VaneHours, vane_hours
from canvas.study.legs import HOUR, STEP_MINUTES, LegPlan, from_bow
from canvas.study.sailing import Lying

TENTHS = 10
AHEAD = on_heading(0.0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlaceHours:
    """Hours on each place.

    Attributes
    ----------
    names : tuple of str
        The places.
    hours, sun_up : float
        All, and those with the sun up.
    shade : (p,) ndarray
        Hours of sun-up, each counted by the share of the place that is in shade.
    by_tenth : (p, 10) ndarray
        Hours of sun-up in which the share in shade lies in each tenth, 0 to 10 % first.
    low_sun_minutes : (p,) ndarray
        In which low sun lights more than a tenth of the place.
    low_sun_full : (p,) ndarray
        The same weighted by the share lit.
    tried : tuple of str
        Canvas that is not up and was tried against low sun.
    stops_minutes : (t, p) ndarray
        Weighted minutes that each of them would stop.
    rain_reaches : (p,) ndarray
        Hours in whose wind rain would wet more than a tenth of the place.
    wetted : (p,) ndarray
        All hours, each counted by the share of the place that rain would wet.
    uv, uv_open : (p,) ndarray
        Dose on the place, and on open deck.
    """

    names: tuple[str, ...]
    hours: float
    sun_up: float
    shade: Floats
    by_tenth: Floats
    low_sun_minutes: Floats
    low_sun_full: Floats
    tried: tuple[str, ...]
    stops_minutes: Floats
    rain_reaches: Floats
    wetted: Floats
    uv: Floats
    uv_open: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LegHours:
    """One set on one leg.

    Attributes
    ----------
    plan : LegPlan
    set_name : str
    places : PlaceHours
    vane : tuple of VaneHours
        Empty where the leg has no wind.
    """

    plan: LegPlan
    set_name: str
    places: PlaceHours
    vane: tuple[VaneHours, ...]

    def strike(self, aws: float) -> float:
        """Return the hours with at least the wind `aws` [m/s] at the instrument."""
        return float(sum(one.hours for one in self.vane if one.lying.aws >= aws))


def leg_hours(
    rigging: Rigging,
    plan: LegPlan,
    *,
    set_name: str,
    known: DomeMap,
    rate: float,
    rain_height: float,
    candidates: Sequence[Surface] = (),
) -> LegHours:
    """Add up one leg for one set.

    Parameters
    ----------
    rigging : Rigging
    plan : LegPlan
    set_name : str
    known : DomeMap
        Of the set.
    rate : float
        Rain rate [mm/h].
    rain_height : float
        At which the wind drives the rain, above the water [m].
    candidates : sequence of Surface
        Canvas that might stop low sun.
    """
    scene = rigging.rig(set_name).scene
    under = [(share, _sun_on(scene, known, plan, lying, candidates)) for share, lying in _alike(plan.lyings)]
    up = plan.sun.up
    total = plan.weight * len(up)
    # sums over instants are in units of one instant; all instants of a leg weigh alike
    shade, tenths, low, full, stops, uv = (
        np.asarray(sum(share * part[k] for share, part in under) * plan.weight) for k in range(6)
    )
    wet = [(lying.share, rain_on(rigging, known, lying, rate, rain_height)) for lying in plan.lyings]
    return LegHours(
        plan=plan,
        set_name=set_name,
        places=PlaceHours(
            names=tuple(place.name for place in known.places),
            hours=total,
            sun_up=plan.weight * float(up.sum()),
            shade=locked(shade),
            by_tenth=locked(tenths),
            low_sun_minutes=locked(low),
            low_sun_full=locked(full),
            tried=_tried(scene, candidates),
            stops_minutes=locked(stops),
            rain_reaches=locked(total * sum(share * np.where(np.isnan(one), np.nan, one > DRY) for share, one in wet)),
            wetted=locked(total * sum(share * one for share, one in wet)),
            uv=locked(uv),
            uv_open=locked(np.full(len(uv), open_dose(plan.sun) * plan.weight)),
        ),
        vane=() if plan.windless else vane_hours(rigging, plan.lyings, set_name=set_name, hours=total),
    )


def _alike(lyings: Sequence[Lying]) -> list[tuple[float, Lying]]:
    """Return the ways of lying in which the sun falls alike, each once with its share of the time."""
    groups: dict[tuple[float, float], list[Lying]] = {}
    for lying in lyings:
        groups.setdefault((lying.off_course, lying.heel), []).append(lying)
    return [(sum(one.share for one in group), group[0]) for group in groups.values()]


def _tried(scene: Scene, candidates: Sequence[Surface]) -> tuple[str, ...]:
    there = {one.name for one in scene.surfaces}
    return tuple(one.name for one in candidates if one.name not in there)


def _sun_on(
    scene: Scene, known: DomeMap, plan: LegPlan, lying: Lying, candidates: Sequence[Surface]
) -> tuple[Floats, ...]:
    """Return shade, tenths, low sun, what stops it, and doses, summed over the instants, each worth one."""
    sun = from_bow(plan.sun, lying.off_course)
    tables = place_tables(known)
    share = shade_hours(tables, sun, headings=AHEAD, heel=lying.heel).share[:, sun.up]
    tenth = np.minimum((share * TENTHS).astype(np.int64), TENTHS - 1)
    tenths = np.stack([(tenth == k).sum(axis=1) for k in range(TENTHS)], axis=1).astype(float)
    low = low_sun(scene, known, sun, headings=AHEAD, step_minutes=STEP_MINUTES, heel=lying.heel, candidates=candidates)
    full = low.full_minutes.sum(axis=0)
    sums = doses(known, sun, headings=AHEAD, step_minutes=STEP_MINUTES, heel=lying.heel)
    # there an instant lasts STEP_MINUTES of its own day; here, an hour, which its weight in hours then stretches
    hour = 60.0 / STEP_MINUTES
    return (
        np.asarray(share.sum(axis=1)),
        tenths,
        low.minutes.sum(axis=0) * hour,
        full * hour,
        np.nan_to_num(low.stops) * full * hour,
        sums.uv.sum(axis=0) * hour,
    )


def open_dose(sun: Sun) -> float:
    """Return the dose on a level open deck, each instant taken to last an hour [SED]."""
    index = np.where(sun.up, uv_index(sun).value, 0.0)
    return float(index.sum()) * ERYTHEMAL_W_M2 * HOUR / DOSE_J_M2


def rain_on(rigging: Rigging, known: DomeMap, lying: Lying, rate: float, height: float) -> Floats:
    """Return the share of each place that rain would wet in one way of lying, shape (p,); nan without wind.

    Parameters
    ----------
    rigging : Rigging
    known : DomeMap
        Of the set that is up.
    lying : Lying
        Wind and attitude.
    rate : float
        Of rain [mm/h].
    height : float
        Of the wind [m].
    """
    if lying.aws <= 0.0:
        return np.full(len(known.places), np.nan)
    model = rigging.model
    felt = apparent_at(
        lying.felt, height=height, instrument_height=model.instrument_height, boat_speed=lying.boat_speed
    )
    rose = rain_rose(
        known,
        aws=[float(felt.speed)],
        awa=[float(felt.angle)],
        rate=rate,
        heel=lying.heel,
        roll=0.0 if lying.heel else model.design.sailing.roll,
    )
    return np.asarray(rose.wetted_share[0, 0])


def summed(legs: Sequence[LegHours]) -> PlaceHours:
    """Return the hours of several legs together, which may be sailed with different sets.

    Parameters
    ----------
    legs : sequence of LegHours
        At least one; legs whose hours are unknown are left out unless there are no others.
    """
    counted = [one.places for one in legs if one.plan.duration is not None] or [one.places for one in legs]
    tried = tuple(dict.fromkeys(name for one in counted for name in one.tried))
    stops = np.zeros((len(tried), len(counted[0].names)))
    for one in counted:
        for name, row in zip(one.tried, one.stops_minutes, strict=True):
            stops[tried.index(name)] += row

    def added(key: str) -> Floats:
        parts: list[Floats] = [getattr(one, key) for one in counted]
        return np.asarray(locked(np.sum(parts, axis=0)))

    return PlaceHours(
        names=counted[0].names,
        hours=sum(one.hours for one in counted),
        sun_up=sum(one.sun_up for one in counted),
        tried=tried,
        stops_minutes=locked(stops),
        **{key: added(key) for key in _SUMS},
    )


_SUMS = ("shade", "by_tenth", "low_sun_minutes", "low_sun_full", "rain_reaches", "wetted", "uv", "uv_open")

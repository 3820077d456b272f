"""Add up the light and ultraviolet that reach each place over days, and what is kept off.

Computes: by day, latitude and place, energy and sunburning dose that reach the place and that would with nothing in the
    way, from the sun, the sky and the sea; what striking each panel would let in.
Units: J/m2; standard erythemal doses (SED, 100 J/m2 of sunburning light); shares 0..1; radians.
Source: beam by Lambert's cosine law, even sky and even sea (Liu and Jordan 1963); clear sky after canvas/sky/sun.py,
    ultraviolet after canvas/sky/ultraviolet.py.
Limits: clear weather; an even sky, so the bright ring round the sun is counted as sky; no light thrown about under the
    cloth. The band of the ultraviolet is that of the formula; the share kept off depends far less on it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_array

from canvas.air.attitude import up_in_boat
from canvas.geometry.surface import Floats, Ints, locked
from canvas.sky.directions import Stencil, stencil
from canvas.sky.dome import DomeMap, PlaceTables, light_from, place_tables, without
from canvas.sky.heading import Headings
from canvas.sky.sun import DAY, SEA_ALBEDO, Sun, clear_sky, sun_directions
from canvas.sky.ultraviolet import DOSE_J_M2, ERYTHEMAL_W_M2, uv_index

UV_SEA_ALBEDO = 0.07  # share of ultraviolet thrown back by the sea; common practice, no source
LOWEST_SINE = 0.02  # of the sun's altitude, below which the beam on a level area tells nothing of the beam itself


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Doses:
    """What reaches each place over days, and what is kept off.

    Attributes
    ----------
    names : tuple of str
        The places.
    day : (k,) ndarray of int
        Days of local mean solar time since 1970-01-01.
    latitude : (k,) ndarray
        [rad]
    shade_share : (k, p) ndarray
        Mean over the day's sun-up time; nan where the sun does not rise.
    energy, energy_open : (k, p) ndarray
        Light that reaches the place, and that would with nothing in the way [J/m2].
    sky_kept_off : (p,) ndarray
        Share of an even sky's diffuse light kept off.
    uv, uv_low, uv_high : (k, p) ndarray
        Sunburning dose that reaches the place, with the band of the formula [SED].
    uv_open : (k, p) ndarray
        The same with nothing in the way [SED].
    uv_kept_off, uv_kept_off_low, uv_kept_off_high : (k, p) ndarray
        Share of that dose kept off; limits from how much of it comes straight from the sun.
    panels : tuple of str
    uv_panel : (j, k, p) ndarray
        Share of the open dose that would reach the place besides, were one panel alone struck.
    """

    names: tuple[str, ...]
    day: Ints
    latitude: Floats
    shade_share: Floats
    energy: Floats
    energy_open: Floats
    sky_kept_off: Floats
    uv: Floats
    uv_low: Floats
    uv_high: Floats
    uv_open: Floats
    uv_kept_off: Floats
    uv_kept_off_low: Floats
    uv_kept_off_high: Floats
    panels: tuple[str, ...]
    uv_panel: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Light:
    """Light by instant: square to the sun, from the sky and from the sea on a level area facing each, (m,)."""

    beam: Floats
    sky: Floats
    sea: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Adding:
    """What adds up light over days: headings with the nodes the sun lies between at each, days, and the step [s]."""

    weights: Floats
    nodes: tuple[Stencil, ...]
    gather: csr_array
    step: float

    def of(self, tables: PlaceTables, falling: _Light, *, bare: bool = False) -> Floats:
        """Return what reaches each place over each day, or would with nothing in the way, (k, p)."""
        flux, sky, sea = (
            (tables.flux_open, tables.sky_open, tables.sea_open) if bare else (tables.flux, tables.sky, tables.sea)
        )
        beam = sum(w * one.of(flux) for w, one in zip(self.weights, self.nodes, strict=True))
        each = falling.beam * beam + sky[:, None] * falling.sky + sea[:, None] * falling.sea
        return np.asarray(self.gather @ each.T) * self.step


def doses(
    known: DomeMap,
    sun: Sun,
    *,
    headings: Headings,
    step_minutes: float = 60.0,
    heel: float = 0.0,
    trim: float = 0.0,
    each_panel: bool = False,
) -> Doses:
    """Add up light and ultraviolet over each day and latitude.

    Parameters
    ----------
    known : DomeMap
    sun : Sun
        Evenly stepped through whole days, see `mean_solar_times`; any number of latitudes.
    headings : Headings
    step_minutes : float
        The step between instants.
    heel, trim : float
        Positive starboard side down, positive stern down [rad].
    each_panel : bool
        Whether to say what striking each panel would let in; takes as long again for each.
    """
    vertical = up_in_boat(heel=heel, trim=trim)
    light, uv = place_tables(known, up=vertical), place_tables(known, through="uv", up=vertical)
    ways = [sun_directions(sun, heading=angle, heel=heel, trim=trim) for angle in headings.angles]
    day, latitude, gather = days_of(sun)
    nodes = tuple(stencil(known.grid, way) for way in ways)
    added = _Adding(weights=headings.weights, nodes=nodes, gather=gather, step=step_minutes * 60.0).of
    index, day_light = uv_index(sun), _day_light(sun)
    middle = _uv_light(sun, index.value, index.direct_share)
    less_direct, more_direct = (_uv_light(sun, index.value, one) for one in (index.direct_low, index.direct_high))
    open_dose = np.maximum(added(uv, middle, bare=True), 1e-9)
    here = added(uv, middle)
    kept = [1.0 - added(uv, one) / np.maximum(added(uv, one, bare=True), 1e-9) for one in (less_direct, more_direct)]
    panels = tuple(dict.fromkeys(one.panel for one in known.casters if one.panel)) if each_panel else ()
    struck = [place_tables(without(known, [one]), through="uv", up=vertical) for one in panels]
    let_in = [(added(tables, middle) - here) / open_dose for tables in struck]
    lit = sum(w * light_from(light, way).lit for w, way in zip(headings.weights, ways, strict=True))
    return Doses(
        names=light.names,
        day=locked(day, dtype=np.int64),
        latitude=locked(latitude),
        shade_share=locked(_shaded(lit, sun, gather)),
        energy=locked(added(light, day_light)),
        energy_open=locked(added(light, day_light, bare=True)),
        sky_kept_off=locked(1.0 - light.sky / np.maximum(light.sky_open, 1e-9)),
        uv=locked(here / DOSE_J_M2),
        uv_low=locked(added(uv, _uv_light(sun, index.low, index.direct_share)) / DOSE_J_M2),
        uv_high=locked(added(uv, _uv_light(sun, index.high, index.direct_share)) / DOSE_J_M2),
        uv_open=locked(open_dose / DOSE_J_M2),
        uv_kept_off=locked(1.0 - here / open_dose),
        uv_kept_off_low=locked(np.minimum(*kept)),
        uv_kept_off_high=locked(np.maximum(*kept)),
        panels=panels,
        uv_panel=locked(np.stack(let_in) if let_in else np.zeros((0, *here.shape))),
    )


def _shaded(lit: Floats, sun: Sun, gather: csr_array) -> Floats:
    """Return the share of each place in shade over each day's hours of sun, (k, p); nan for a day without."""
    with np.errstate(invalid="ignore"):
        return np.asarray((gather @ ((1.0 - lit) * sun.up).T) / (gather @ sun.up.astype(float))[:, None])


def _day_light(sun: Sun) -> _Light:
    sky = clear_sky(sun)
    level = sky.beam * np.maximum(np.sin(sun.apparent_altitude), 0.0) + sky.diffuse
    return _Light(beam=sky.beam, sky=sky.diffuse, sea=SEA_ALBEDO * level)


def _uv_light(sun: Sun, index: Floats, direct: Floats) -> _Light:
    level = np.where(sun.up, index, 0.0) * ERYTHEMAL_W_M2
    sine = np.sin(sun.apparent_altitude)
    beam = np.where(sine > LOWEST_SINE, level * direct / np.maximum(sine, LOWEST_SINE), 0.0)
    return _Light(beam=beam, sky=level - beam * np.maximum(sine, 0.0), sea=UV_SEA_ALBEDO * level)


def days_of(sun: Sun) -> tuple[Ints, Floats, csr_array]:
    """Return days and latitudes in order, and the sparse (k, m) sum of instants onto them."""
    day = np.floor((sun.unix_s + sun.longitude / (2.0 * np.pi) * DAY) / DAY)
    keys, inverse = np.unique(np.stack([sun.latitude, day]), axis=1, return_inverse=True)
    group = inverse.ravel()
    gather = csr_array((np.ones(len(group)), (group, np.arange(len(group)))), shape=(keys.shape[1], len(group)))
    return keys[1].astype(np.int64), keys[0], gather

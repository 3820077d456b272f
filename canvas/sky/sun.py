"""Find the sun and the light of a clear sky: the one door to pvlib.

Computes: altitude (without and with refraction) and azimuth of the sun's centre, seen from the place itself;
    declination and equation of time; beam and diffuse light under a clear sky and their spectra; the direction of the
    sun in the frame of a heading, heeled boat.
Units: radians; unix seconds (UTC); metres; W/m2.
Source: Reda and Andreas, Solar Position Algorithm, NREL/TP-560-34302 (2008), as coded in pvlib; Ineichen and Perez
    (2002) for the clear sky; Bird and Riordan (1986) for spectra; Kasten and Young (1989) for air mass; Espenak and
    Meeus for TT - UT1.
Limits: 1900 to 2100; UT1 = UTC (the real sun within 0.004 deg); a point sun; no clouds. Clear-sky models differ by 5 to
    10 %, more with the sun low.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

import numpy as np
import numpy.typing as npt

from canvas.air.attitude import to_boat, way_to
from canvas.design.problems import DesignError, Problem
from canvas.geometry.surface import Bools, Floats, locked

FIRST_YEAR, LAST_YEAR = 1900, 2100  # beyond them TT - UT1 is a guess
HORIZON_REFRACTION_DEG = 0.5667  # the algorithm's own figure for the rising and setting sun
PRESSURE_HPA, TEMPERATURE_C = 1013.25, 20.0  # sea level, warm; moves refraction only
SOLAR_CONSTANT = 1364.0  # [W/m2], the one the clear-sky model was fitted with
TURBIDITY = 3.5  # Linke turbidity of clean air over a warm sea; common practice, no source
AEROSOL, WATER_CM = 0.1, 2.0  # optical depth at 500 nm, water vapour: clean air at sea; common practice, no source
SEA_ALBEDO = 0.06  # share of light the sea throws back, sun not low (Payne 1972)
MEAN_DISTANCE_DAY = 94  # day of the year on which the sun is at its mean distance
DAY = 86400.0  # [s]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sun:
    """Where the sun stands at some instants and places.

    Attributes
    ----------
    unix_s : (m,) ndarray
        Instants, seconds since 1970-01-01T00:00Z.
    latitude, longitude : (m,) ndarray
        North and east positive [rad].
    altitude, apparent_altitude : (m,) ndarray
        Without and with refraction [rad].
    azimuth : (m,) ndarray
        Clockwise from true north [rad].
    distance_au : (m,) ndarray
    """

    unix_s: Floats
    latitude: Floats
    longitude: Floats
    altitude: Floats
    apparent_altitude: Floats
    azimuth: Floats
    distance_au: Floats

    @property
    def up(self) -> Bools:
        """Whether the sun's centre is seen above the horizon of the sea, (m,)."""
        return np.asarray(self.apparent_altitude > 0.0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SunClock:
    """What the sun's own clock and calendar say.

    Attributes
    ----------
    declination : (m,) ndarray
        Geocentric, of date [rad].
    equation_of_time : (m,) ndarray
        Apparent less mean solar time [s].
    """

    declination: Floats
    equation_of_time: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ClearSky:
    """Light under a clear sky.

    Attributes
    ----------
    beam : (m,) ndarray
        On an area square to the sun [W/m2].
    diffuse : (m,) ndarray
        From the sky on a level area [W/m2].
    """

    beam: Floats
    diffuse: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Spectrum:
    """Spectrum of clear-sky light at sea level.

    Attributes
    ----------
    wavelength_nm : (w,) ndarray
        From 300 nm up.
    beam, diffuse : (w, m) ndarray
        On an area square to the sun, and from the sky on a level area [W/m2/nm].
    """

    wavelength_nm: Floats
    beam: Floats
    diffuse: Floats


def sun_positions(
    unix_s: npt.ArrayLike,
    *,
    latitude: npt.ArrayLike,
    longitude: npt.ArrayLike = 0.0,
    height: float = 0.0,
    pressure_hpa: float = PRESSURE_HPA,
    temperature_c: float = TEMPERATURE_C,
    tt_minus_ut1_s: float | None = None,
) -> Sun:
    """Return where the sun stands, all instants and places in one vectorised call.

    Parameters
    ----------
    unix_s : array_like, shape (m,)
        Instants [s].
    latitude, longitude : array_like
        Broadcast against the instants; north and east positive [rad].
    height : float
        Above the sea [m].
    pressure_hpa, temperature_c, tt_minus_ut1_s : float
        Air, for refraction; TT - UT1, None for the published polynomials.

    Raises
    ------
    DesignError
        ``date-too-far`` outside 1900..2100, ``latitude-range`` past the poles.
    """
    arrays = (np.atleast_1d(np.asarray(a, dtype=float)) for a in (unix_s, latitude, longitude))
    t, phi, lam = (np.array(a) for a in np.broadcast_arrays(*arrays))
    _check(t, phi)
    lag = _tt_minus_ut1(t) if tt_minus_ut1_s is None else tt_minus_ut1_s
    with np.errstate(invalid="ignore"):  # pvlib takes an arcsine that rounding can push past 1 at the very zenith
        _, _, seen, airless, azimuth, _ = _pvlib().spa.solar_position(
            t,
            np.degrees(phi),
            np.degrees(lam),
            height,
            pressure_hpa,
            temperature_c,
            lag,
            HORIZON_REFRACTION_DEG,
            numthreads=1,
        )
    distance = _pvlib().spa.solar_position(t, 0.0, 0.0, 0.0, 0.0, 0.0, lag, 0.0, numthreads=1, esd=True)[0]
    altitude = np.radians(np.where(np.isnan(airless), 90.0, airless))
    apparent = np.radians(np.where(np.isnan(seen), 90.0, np.minimum(seen, 90.0)))
    return Sun(
        unix_s=locked(t),
        latitude=locked(phi),
        longitude=locked(lam),
        altitude=locked(altitude),
        apparent_altitude=locked(apparent),
        azimuth=locked(np.radians(azimuth % 360.0)),
        distance_au=locked(distance),
    )


def sun_clock(unix_s: npt.ArrayLike) -> SunClock:
    """Return declination and equation of time.

    Parameters
    ----------
    unix_s : array_like, shape (m,)
        Instants [s].
    """
    t = np.atleast_1d(np.asarray(unix_s, dtype=float))
    _check(t, np.zeros(1))
    sidereal, ascension, declination = _pvlib().spa.solar_position(
        t, 0.0, 0.0, 0.0, 0.0, 0.0, _tt_minus_ut1(t), 0.0, numthreads=1, sst=True
    )
    mean_angle = (t % DAY) / DAY * 360.0 - 180.0
    lead_deg = (sidereal - ascension - mean_angle + 180.0) % 360.0 - 180.0
    return SunClock(declination=np.radians(declination), equation_of_time=np.asarray(lead_deg / 360.0 * DAY))


def clear_sky(sun: Sun, *, turbidity: float = TURBIDITY) -> ClearSky:
    """Return beam and diffuse light at sea level under a clear sky (Ineichen and Perez 2002).

    Parameters
    ----------
    sun : Sun
    turbidity : float
        Linke turbidity: 2 very clear and cold, 3.5 over a warm sea, 6 hazy.
    """
    zenith_deg = 90.0 - np.degrees(sun.apparent_altitude)
    mass = _pvlib().atmosphere.get_relative_airmass(np.minimum(zenith_deg, 90.0), model="kastenyoung1989")
    extra = SOLAR_CONSTANT / sun.distance_au**2
    with np.errstate(divide="ignore", invalid="ignore"):  # the model divides by the cosine of the zenith at night
        light: Any = _pvlib().clearsky.ineichen(zenith_deg, mass, turbidity, altitude=0.0, dni_extra=extra)
    beam, diffuse = (np.where(sun.up, np.nan_to_num(np.asarray(light[k])), 0.0) for k in ("dni", "dhi"))
    return ClearSky(beam=locked(beam), diffuse=locked(diffuse))


def clear_spectrum(zenith: npt.ArrayLike, *, ozone_du: float = 300.0) -> Spectrum:
    """Return the spectrum of clear-sky light at sea level (Bird and Riordan 1986), earth at mean distance.

    Parameters
    ----------
    zenith : array_like, shape (m,)
        The sun's distance from the zenith, at most a right angle [rad].
    ozone_du : float
        Ozone column [Dobson].
    """
    zenith_deg = np.degrees(np.atleast_1d(np.asarray(zenith, dtype=float)))
    spectra = _pvlib().spectrum.spectrl2(
        apparent_zenith=zenith_deg,
        aoi=zenith_deg,
        surface_tilt=0.0,
        ground_albedo=SEA_ALBEDO,
        surface_pressure=101325.0,
        relative_airmass=_pvlib().atmosphere.get_relative_airmass(zenith_deg, model="kastenyoung1989"),
        precipitable_water=WATER_CM,
        ozone=ozone_du / 1000.0,
        aerosol_turbidity_500nm=AEROSOL,
        dayofyear=np.full(len(zenith_deg), MEAN_DISTANCE_DAY),
    )
    return Spectrum(
        wavelength_nm=locked(spectra["wavelength"]), beam=locked(spectra["dni"]), diffuse=locked(spectra["dhi"])
    )


def sun_directions(sun: Sun, *, heading: npt.ArrayLike, heel: npt.ArrayLike = 0.0, trim: npt.ArrayLike = 0.0) -> Floats:
    """Return unit vectors towards the sun as it is seen (refracted) in the boat frame.

    Parameters
    ----------
    sun : Sun
    heading : array_like
        Clockwise from true north; broadcast against the instants [rad].
    heel, trim : array_like
        Positive starboard side down, positive stern down [rad].

    Returns
    -------
    (..., 3) ndarray
    """
    return directions(sun.azimuth, sun.apparent_altitude, heading=heading, heel=heel, trim=trim)


def directions(
    azimuth: npt.ArrayLike,
    altitude: npt.ArrayLike,
    *,
    heading: npt.ArrayLike,
    heel: npt.ArrayLike = 0.0,
    trim: npt.ArrayLike = 0.0,
) -> Floats:
    """Return unit vectors (..., 3) in the boat frame of azimuths and altitudes, as `sun_directions` does for the sun.

    Parameters
    ----------
    azimuth : array_like
        Clockwise from true north [rad].
    altitude : array_like
        Over the horizon [rad].
    heading : array_like
        Clockwise from true north [rad].
    heel, trim : array_like
        Positive starboard side down, positive stern down [rad].
    """
    bearing = np.asarray(azimuth, dtype=float) - np.asarray(heading, dtype=float)
    return to_boat(way_to(bearing, altitude), heel=heel, trim=trim)


def _check(unix_s: Floats, latitude: Floats) -> None:
    first = datetime(FIRST_YEAR, 1, 1, tzinfo=UTC).timestamp()
    last = datetime(LAST_YEAR + 1, 1, 1, tzinfo=UTC).timestamp()
    problems = []
    if not np.all((unix_s >= first) & (unix_s < last)):
        wanted = f"A date from {FIRST_YEAR} to {LAST_YEAR}: beyond, the earth's turning is not known well enough."
        problems.append(Problem(code="date-too-far", key="time", found="a date outside the range", wanted=wanted))
    if not np.all(np.abs(latitude) <= np.pi / 2):
        found = f"{np.degrees(latitude[np.argmax(np.abs(latitude))]):g} deg"
        wanted = "A latitude from 90 S to 90 N."
        problems.append(Problem(code="latitude-range", key="latitude", found=found, wanted=wanted))
    if problems:
        raise DesignError(problems)


def _tt_minus_ut1(unix_s: Floats) -> Floats:
    stamps = unix_s.astype("datetime64[s]")
    months = stamps.astype("datetime64[M]").astype(np.int64)
    return np.asarray(_pvlib().spa.calculate_deltat(1970.0 + months // 12, 1.0 + months % 12), dtype=float)


def _pvlib() -> Any:
    import pvlib  # brings pandas, half a second, for which only the sun should wait

    return pvlib

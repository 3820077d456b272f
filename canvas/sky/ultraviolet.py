"""Estimate clear-sky ultraviolet: the UV index, how much of it comes straight from the sun, ozone by place and season.

Computes: UV index on a level open deck with its band; direct share of it; ozone column.
Units: radians; UV index (1 = 0.025 W/m2 of sunburning light); Dobson units; standard erythemal doses (100 J/m2).
Source: Madronich, Analytic formula for the clear-sky UV index, Photochem. Photobiol. 83 (2007); direct share from the
    spectra of Bird and Riordan (1986) as coded in pvlib, weighted with the CIE erythema spectrum (ISO 17166:1999);
    ozone after van Heuklon, Solar Energy 22 (1979).
Limits: sea level, no cloud, clean air. Published formulas differ by 15 % with the sun above 30 deg and 30 % below: the
    band. The spectra start at 300 nm, so the direct share leaves out the little that is shorter.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from canvas.geometry.surface import Floats, locked
from canvas.sky.sun import DAY, Sun, clear_spectrum

ERYTHEMAL_W_M2 = 0.025  # sunburning light of one unit of the UV index [W/m2], WHO 2002
DOSE_J_M2 = 100.0  # one standard erythemal dose [J/m2], ISO 17166
BAND_HIGH_SUN, BAND_LOW_SUN, LOW_SUN = 0.15, 0.30, np.radians(30.0)
DIRECT_BAND = 0.20  # relative; aerosol and ozone move the direct share by about this much; project's estimate
LONGEST_NM = 400.0  # longest wavelength that the erythema spectrum counts


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class UvIndex:
    """Clear-sky UV index on a level open deck.

    Attributes
    ----------
    value, low, high : (m,) ndarray
    direct_share, direct_low, direct_high : (m,) ndarray
        Part of it that comes straight from the sun.
    """

    value: Floats
    low: Floats
    high: Floats
    direct_share: Floats
    direct_low: Floats
    direct_high: Floats


def uv_index(sun: Sun, *, ozone_du: npt.ArrayLike | None = None) -> UvIndex:
    """Return the clear-sky UV index with its band.

    Parameters
    ----------
    sun : Sun
    ozone_du : array_like or None
        Ozone column [Dobson]; None estimates it by place and season.
    """
    ozone = ozone_column_du(sun) if ozone_du is None else np.asarray(ozone_du, dtype=float)
    value = uv_index_formula(np.pi / 2 - sun.altitude, ozone_du=ozone) / sun.distance_au**2
    band = np.where(sun.altitude >= LOW_SUN, BAND_HIGH_SUN, BAND_LOW_SUN)
    direct = uv_direct_share(np.pi / 2 - sun.altitude)
    return UvIndex(
        value=locked(value),
        low=locked(value * (1.0 - band)),
        high=locked(value * (1.0 + band)),
        direct_share=locked(direct),
        direct_low=locked(direct * (1.0 - DIRECT_BAND)),
        direct_high=locked(np.minimum(direct * (1.0 + DIRECT_BAND), 1.0)),
    )


def uv_index_formula(zenith: npt.ArrayLike, *, ozone_du: npt.ArrayLike = 300.0) -> Floats:
    """Return Madronich's UVI = 12.5 mu^2.42 (ozone/300)^-1.23 at mean sun distance, shaped as its input; 0 by night.

    Parameters
    ----------
    zenith : array_like
        The sun's distance from the zenith, without refraction [rad].
    ozone_du : array_like
        [Dobson]
    """
    mu = np.maximum(np.cos(np.asarray(zenith, dtype=float)), 0.0)
    return np.asarray(12.5 * mu**2.42 * (np.asarray(ozone_du, dtype=float) / 300.0) ** -1.23)


def uv_direct_share(zenith: npt.ArrayLike) -> Floats:
    """Return the share of the UV index on a level deck that comes straight from the sun, shaped as `zenith`.

    Parameters
    ----------
    zenith : array_like
        [rad]
    """
    known, share = _direct_table()
    return np.asarray(np.interp(np.asarray(zenith, dtype=float), known, share))


def erythema(wavelength_nm: npt.ArrayLike) -> Floats:
    """Return how strongly light of a wavelength burns skin, shaped as it, 1 at its strongest (ISO 17166:1999).

    Parameters
    ----------
    wavelength_nm : array_like
        [nm]
    """
    w = np.asarray(wavelength_nm, dtype=float)
    middle, long = 10.0 ** (0.094 * (298.0 - w)), 10.0 ** (0.015 * (140.0 - w))
    weight: Floats = np.select([w <= 298.0, w <= 328.0, w <= LONGEST_NM], [np.ones_like(w), middle, long], 0.0)
    return weight


def ozone_column_du(sun: Sun) -> Floats:
    """Return the ozone column by place and season, (m,), (van Heuklon 1979, eq. 4) [Dobson].

    Parameters
    ----------
    sun : Sun
    """
    north = sun.latitude > 0.0
    longitude_deg = np.degrees((sun.longitude + np.pi) % (2 * np.pi) - np.pi)
    days = sun.unix_s.astype("datetime64[s]")
    day = (days - days.astype("datetime64[Y]")).astype("timedelta64[s]").astype(float) / DAY + 1.0
    a, beta = np.where(north, 150.0, 100.0), np.where(north, 1.28, 1.5)
    c, f = np.where(north, 40.0, 30.0), np.where(north, -30.0, 152.625)
    h, i = np.where(north, 3.0, 2.0), np.where(north, np.where(longitude_deg > 0.0, 20.0, 0.0), -75.0)
    season = c * np.sin(np.radians(0.9865 * (day + f)))
    wave = 20.0 * np.sin(np.radians(h * (longitude_deg + i)))
    return np.asarray(235.0 + (a + season + wave) * np.sin(beta * sun.latitude) ** 2)


@lru_cache(maxsize=1)
def _direct_table() -> tuple[Floats, Floats]:
    """Return zenith angles [rad] and the direct share of sunburning light on a level deck."""
    zenith = np.radians(np.append(np.arange(0.0, 86.0, 2.5), 90.0))
    spectrum = clear_spectrum(zenith)
    burning = spectrum.wavelength_nm <= LONGEST_NM
    wavelength = spectrum.wavelength_nm[burning]
    weight = erythema(wavelength)[:, None]
    beam, sky = (np.trapezoid(one[burning] * weight, wavelength, axis=0) for one in (spectrum.beam, spectrum.diffuse))
    level = beam * np.cos(zenith)
    return zenith, level / np.maximum(level + sky, 1e-12)

"""Load the tables of defaults, cloths, finishes, fastenings, metals and words, each entry with its source.

Computes: nothing; reads the .toml files of this folder once and refuses an entry without a source.
Units: SI after reading.
Source: beside each entry.
Limits: no strength here is a rating; makers' figures go into the design file.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any, Literal

from canvas.design import units


@dataclass(frozen=True, slots=True, kw_only=True)
class Default:
    """A default value in SI, the range in which it is believable, and its source."""

    value: float
    low: float
    high: float
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Cloth:
    """A cloth, mesh or window sheet.

    Attributes
    ----------
    mass : float
        [kg/m2]
    roll_widths : tuple of float
        Widths it is sold in, narrowest first [m].
    light_through, uv_through, rain_through : float
        Shares passed, 0..1.
    wind_loss : float
        Loss coefficient K on the speed through it; infinite for tight cloth.
    warp_stiffness, weft_stiffness, shear_stiffness : float
        [N/m]
    warp_strength, weft_strength : float
        [N/m]
    warp_compensation, weft_compensation : float
        Share by which flat parts are cut shorter.
    strain_limit : float
        Largest strain that sewing may ask of it.
    price_per_m2 : float or None
        In the design's currency.
    """

    name: str
    kind: Literal["cloth", "mesh", "sheet"]
    mass: float
    roll_widths: tuple[float, ...]
    light_through: float
    uv_through: float
    rain_through: float
    wind_loss: float
    warp_stiffness: float
    weft_stiffness: float
    shear_stiffness: float
    warp_strength: float
    weft_strength: float
    warp_compensation: float
    weft_compensation: float
    strain_limit: float
    price_per_m2: float | None
    source: str

    @property
    def sight_through(self) -> float:
        """Share of sight that passes by dry day: clear sheet only."""
        return self.light_through if self.kind == "sheet" else 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Finish:
    """How an edge is finished: allowance and tolerance [m], what holds it, what is bought for it.

    `inner` is one inside a panel or of a seam's lower side, which no edge of a design is given.
    """

    name: str
    allowance: float
    tolerance: float
    holds: Literal["held", "free", "either"]
    rows: int
    tape: str | None
    fastening: str | None
    flap: float | None
    source: str
    inner: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Fastening:
    """A fastening, tape or thread: mass [kg], spacing [m], strength range [N], time for one [s]; None where unknown."""

    name: str
    each: Literal["m", "piece"]
    mass: float
    spacing: float | None
    strength_low: float | None
    strength_high: float | None
    per: float | None
    time: float | None
    price: float | None
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Metal:
    """A tube metal: stiffness, yield stress promised and as often delivered [Pa], density [kg/m3]."""

    name: str
    youngs_modulus: float
    yield_stress: float
    yield_high: float
    density: float
    source: str


_READERS: tuple[Callable[[object], float], ...] = (
    units.length, units.angle, units.speed, units.share, units.mass, units.line_force, units.force, units.stress,
    units.area_mass, units.bending_stiffness, units.duration,
)  # fmt: skip


def _si(value: object) -> float:
    """Return a table's quantity in SI; tables write every unit, so one reader at most accepts it."""
    if isinstance(value, int | float):
        return float(value)
    for reader in _READERS:
        try:
            return reader(value)
        except ValueError:
            continue
    raise ValueError(f"a table holds {value!r}, which no unit reads")


@cache
def _table(name: str) -> Mapping[str, Mapping[str, Any]]:
    text = files(__name__).joinpath(f"{name}.toml").read_text(encoding="utf-8")
    entries: dict[str, dict[str, Any]] = tomllib.loads(text)
    if name != "words":
        unsourced = [key for key, entry in entries.items() if not entry.get("source")]
        if unsourced:
            raise ValueError(f"{name}.toml: no source beside {', '.join(unsourced)}")
    return MappingProxyType(entries)


@cache
def default(name: str) -> float:
    """Return the default of that name in SI."""
    return default_entry(name).value


@cache
def default_entry(name: str) -> Default:
    """Return the default of that name with its range and source."""
    entry = _table("defaults")[name]
    low, high = (_si(bound) for bound in entry["range"])
    return Default(value=_si(entry["value"]), low=low, high=high, source=entry["source"])


def default_text(name: str) -> str:
    """Return the default of that name as its table writes it, with its unit."""
    return str(_table("defaults")[name]["value"])


def cloth_from(name: str, entry: Mapping[str, Any]) -> Cloth:
    """Return a cloth from a table's entry, its quantities read."""
    numbers = {
        key: _si(entry[key])
        for key in (
            "mass", "light_through", "uv_through", "rain_through", "wind_loss", "warp_stiffness", "weft_stiffness",
            "shear_stiffness", "warp_strength", "weft_strength", "warp_compensation", "weft_compensation",
            "strain_limit",
        )
    }  # fmt: skip
    widths = tuple(sorted(_si(width) for width in entry["roll_widths"]))
    price = entry.get("price_per_m2")
    return Cloth(
        name=name, kind=entry["kind"], roll_widths=widths, price_per_m2=price, source=entry["source"], **numbers
    )


@cache
def cloths() -> Mapping[str, Cloth]:
    """Return the program's cloths by name."""
    return MappingProxyType({name: cloth_from(name, entry) for name, entry in _table("cloths").items()})


@cache
def finishes() -> Mapping[str, Finish]:
    """Return the edge finishes by name."""
    return MappingProxyType(
        {
            name: Finish(
                name=name,
                allowance=_si(entry["allowance"]),
                tolerance=_si(entry["tolerance"]),
                holds=entry["holds"],
                rows=entry["rows"],
                tape=entry.get("tape"),
                fastening=entry.get("fastening"),
                flap=_si(entry["flap"]) if "flap" in entry else None,
                source=entry["source"],
                inner=entry.get("inner", False),
            )
            for name, entry in _table("finishes").items()
        }
    )


@cache
def fastenings() -> Mapping[str, Fastening]:
    """Return fastenings, tapes and thread by name."""
    keys = ("spacing", "strength_low", "strength_high", "per", "time")
    return MappingProxyType(
        {
            name: Fastening(
                name=name,
                each=entry["each"],
                mass=_si(entry["mass"]),
                price=entry.get("price"),
                source=entry["source"],
                **{key: _si(entry[key]) if key in entry else None for key in keys},
            )
            for name, entry in _table("fastenings").items()
        }
    )


@cache
def metals() -> Mapping[str, Metal]:
    """Return the tube metals by name."""
    keys = ("youngs_modulus", "yield_stress", "yield_high", "density")
    return MappingProxyType(
        {
            name: Metal(name=name, source=entry["source"], **{key: _si(entry[key]) for key in keys})
            for name, entry in _table("metals").items()
        }
    )


def word(name: str, *, region: str) -> str:
    """Return the word for a thing in the user's region, ``international`` or ``american``."""
    return str(_table("words")[name][region])

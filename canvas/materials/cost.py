"""Price a take-off: materials by the prices typed in, labour as a range at the shop's rate.

Computes: cost of each line, hours of work as a range, totals that say what they leave out.
Units: the design's currency; hours.
Source: prices of the design; hours of labour.toml beside this module, each with its source.
Limits: an unknown price is None, never 0, and a total that lacks one says so. Without a rate there is no total of the
    job, only of the materials, usually the smaller part.
"""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from canvas.design.schema.design import Design
from canvas.design.tables import fastenings
from canvas.materials.takeoff import TakeOff

ONLY_MATERIALS = "materials only, usually the smaller part"


@dataclass(frozen=True, slots=True, kw_only=True)
class Priced:
    """One line of the bill.

    Attributes
    ----------
    name, unit : str
        What, and a metre, a square metre or a piece of it.
    amount : float
    price : float or None
        Of one unit; None where nobody has said.
    """

    name: str
    unit: str
    amount: float
    price: float | None

    @property
    def cost(self) -> float | None:
        """Amount times price; None where the price is unknown."""
        return None if self.price is None else self.amount * self.price


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """One kind of work: how much of it, and hours, low and high."""

    name: str
    amount: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Bill:
    """What a set costs.

    Attributes
    ----------
    set_name, currency : str
    lines : tuple of Priced
    work : tuple of Work
    rate : float or None
        Of an hour in the shop.
    """

    set_name: str
    currency: str
    lines: tuple[Priced, ...]
    work: tuple[Work, ...]
    rate: float | None

    @property
    def unpriced(self) -> tuple[str, ...]:
        """What has no price."""
        return tuple(line.name for line in self.lines if line.price is None)

    @property
    def materials(self) -> float | None:
        """Cost of the materials; None where a price is missing."""
        return None if self.unpriced else self.materials_known

    @property
    def materials_known(self) -> float:
        """Cost of what has a price."""
        return sum(line.cost for line in self.lines if line.cost is not None)

    @property
    def hours_low(self) -> float:
        """Least hours of work."""
        return sum(work.low for work in self.work)

    @property
    def hours_high(self) -> float:
        """Most hours of work."""
        return sum(work.high for work in self.work)

    @property
    def total_low(self) -> float | None:
        """Least total; None without a rate or with a price missing."""
        return None if self.rate is None or self.materials is None else self.materials + self.rate * self.hours_low

    @property
    def total_high(self) -> float | None:
        """Most in total; None without a rate or with a price missing."""
        return None if self.rate is None or self.materials is None else self.materials + self.rate * self.hours_high

    @property
    def says(self) -> str:
        """What the total is worth, in words."""
        missing = f"no price for {', '.join(self.unpriced)}" if self.unpriced else ""
        if self.rate is None:
            return "; ".join(part for part in (ONLY_MATERIALS, missing) if part)
        return missing or "materials, and labour as a range"


@dataclass(frozen=True, slots=True, kw_only=True)
class Hours:
    """Hours that one unit of a kind of work takes."""

    low: float
    high: float
    source: str


@cache
def labour_table() -> dict[str, Hours]:
    """Return the hours by kind of work.

    Raises
    ------
    ValueError
        When an entry has no source.
    """
    entries = tomllib.loads(files("canvas.materials").joinpath("labour.toml").read_text(encoding="utf-8"))
    unsourced = [name for name, entry in entries.items() if not entry.get("source")]
    if unsourced:
        raise ValueError(f"labour.toml: no source beside {', '.join(unsourced)}")
    return {name: Hours(**entry) for name, entry in entries.items()}


def bill(take: TakeOff, design: Design, *, rate: float | None = None) -> Bill:
    """Return what a set costs.

    Parameters
    ----------
    take : TakeOff
    design : Design
        Its prices and cloths.
    rate : float, optional
        Of an hour in the shop; the design's ``[prices] labour_hour`` where absent.
    """
    return Bill(
        set_name=take.set_name,
        currency=design.prices.currency,
        lines=_lines(take, design),
        work=_work(take, visit_quoted=design.prices.fitting_visit is not None),
        rate=rate if rate is not None else design.prices.labour_hour,
    )


def _lines(take: TakeOff, design: Design) -> tuple[Priced, ...]:
    typed, known = design.prices, design.cloths()
    lines = [
        Priced(
            name=cloth.name,
            unit="m2 of roll",
            amount=cloth.roll.width * cloth.roll.length,
            price=typed.cloth.get(cloth.name, known[cloth.name].price_per_m2),
        )
        for cloth in take.cloth
    ]
    if take.zips:
        lines.append(_line("zip", "m", sum(one.length for one in take.zips), design))
    lines += [_line(goods.name, goods.each, goods.amount, design) for goods in take.goods]
    lines += [Priced(name=tube.name, unit="m", amount=tube.amount, price=typed.tube_metre) for tube in take.tubes]
    lines.append(_line("thread", "m", take.thread, design))
    if typed.fitting_visit is not None:  # quoted by the visit: its hours are in the price
        lines.append(Priced(name="fitting visit", unit="visit", amount=1.0, price=typed.fitting_visit))
    return tuple(lines)


def _line(name: str, unit: str, amount: float, design: Design) -> Priced:
    known = fastenings().get(name)
    price = design.prices.fastening.get(name, known.price if known is not None else None)
    return Priced(name=name, unit=unit, amount=amount, price=price)


def _work(take: TakeOff, *, visit_quoted: bool) -> tuple[Work, ...]:
    panels = take.panels
    amounts = {
        "sewing, metres of row": take.sewing,
        "marking and cutting, square metres": sum(cloth.area for cloth in take.cloth),
        "patterning on board, panels": float(len(panels)),
        "zips": float(sum(panel.zips for panel in panels)),
        "windows": float(sum(panel.windows for panel in panels)),
        "studs, eyes and ties": float(sum(panel.points for panel in panels)),
        "fitting visit": 0.0 if visit_quoted else 1.0,
    }
    table = labour_table()
    return tuple(
        Work(name=name, amount=amount, low=amount * table[name].low, high=amount * table[name].high)
        for name, amount in amounts.items()
        if amount > 0
    )


def total_hours(bills: Sequence[Bill]) -> tuple[float, float]:
    """Return least and most hours of several sets."""
    return sum(one.hours_low for one in bills), sum(one.hours_high for one in bills)

"""Hold what has to be bought and sewn for a set, as found by `canvas.materials.quantities`.

Computes: sums only.
Units: metres, square metres, kilograms, pieces.
Source: none.
Limits: exact lengths and counts, without a maker's own waste; cloth by roll length is what the nest takes.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True, kw_only=True)
class RollLength:
    """What one roll width would take: width and length of roll, and the share of it that is used."""

    width: float
    length: float
    used: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ClothBuy:
    """One cloth, mesh or window sheet.

    Attributes
    ----------
    name : str
    kind : str
        ``cloth``, ``mesh`` or ``sheet``.
    area : float
        Of the parts as cut, allowances included [m2].
    roll : RollLength
        At the width chosen.
    others : tuple of RollLength
        At the other widths it is sold in that take every part.
    mass : float
        Of the parts [kg].
    parts : int
        How many parts are cut of it.
    """

    name: str
    kind: Literal["cloth", "mesh", "sheet"]
    area: float
    roll: RollLength
    others: tuple[RollLength, ...]
    mass: float
    parts: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ZipBuy:
    """One zip.

    Attributes
    ----------
    name : str
        Panel and edge.
    mates : str
        What its other half is sewn to.
    length : float
        [m]
    mates_existing : bool
        The other half is on canvas already aboard: buy to match it.
    half : str or None
        Which half the new panel carries, ``left`` or ``right``, seen from outside, forward up.
    gauge : int or None
    tooth : str or None
    slider_end : str or None
        ``start`` or ``end`` of the panel's edge.
    flap : bool
        Under a rain flap.
    mass : float
        Of both halves [kg].
    """

    name: str
    mates: str
    length: float
    mates_existing: bool
    half: str | None
    gauge: int | None
    tooth: str | None
    slider_end: str | None
    flap: bool
    mass: float


@dataclass(frozen=True, slots=True, kw_only=True)
class GoodsBuy:
    """Tape, rope, studs, eyes and the like.

    Attributes
    ----------
    name : str
    each : str
        ``m`` or ``piece``.
    amount : float
    mass : float
        [kg].
    """

    name: str
    each: Literal["m", "piece"]
    amount: float
    mass: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelSewing:
    """The work in one panel.

    Attributes
    ----------
    panel : str
    parts : int
        Pieces of cloth, patches, flaps and windows.
    area : float
        Finished [m2].
    sewing : float
        Length of all rows of stitching [m].
    seams : float
        Length of seams between its pieces and of its darts [m].
    zips, windows, points : int
        Zips; windows and mesh inserts; studs, eyes and ties.
    mass : float
        Cloth, tapes, zips and fastenings [kg].
    """

    panel: str
    parts: int
    area: float
    sewing: float
    seams: float
    zips: int
    windows: int
    points: int
    mass: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeOff:
    """What the new panels whose home is one set take.

    Attributes
    ----------
    set_name : str
    panels : tuple of PanelSewing
    cloth : tuple of ClothBuy
    zips : tuple of ZipBuy
    goods : tuple of GoodsBuy
    thread : float
        [m]
    tubes : tuple of GoodsBuy
        New tubes, bent and fitted.
    """

    set_name: str
    panels: tuple[PanelSewing, ...]
    cloth: tuple[ClothBuy, ...]
    zips: tuple[ZipBuy, ...]
    goods: tuple[GoodsBuy, ...]
    thread: float
    tubes: tuple[GoodsBuy, ...] = ()

    @property
    def sewing(self) -> float:
        """Length of all rows of stitching [m]."""
        return sum(panel.sewing for panel in self.panels)

    @property
    def mass(self) -> float:
        """Of all new panels [kg]."""
        return sum(panel.mass for panel in self.panels)

"""Describe what a panel is cut to: its edges, what it lies over, what holds it, what pierces it.

Computes: nothing; the record that meshing and forming start from.
Units: metres, newtons; bending stiffness in N m2.
Source: none.
Limits: edges run in order, each starting where the last ended, clockwise seen from outside (from above for a roof), so
    that the outward normal is against the right-hand rule.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from canvas.geometry.surface import Floats, locked

EdgeKind = Literal["held", "free", "shared"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Batten:
    """An elastic rod in a pocket along an edge, straight or bent as the edge's line is when nothing pulls.

    Attributes
    ----------
    bending : float
        Bending stiffness EI [N m2].
    """

    bending: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Wire:
    """A taut wire in an edge, set up to a force of its own.

    Attributes
    ----------
    force : float
        Tension it is set up to [N].
    """

    force: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PanelEdge:
    """One edge of a panel between two corners.

    Attributes
    ----------
    name : str
        Unique in its panel.
    line : (k, 3) ndarray
        Polyline from corner to corner, both included [m]; of a free edge, the line its hollow is measured from.
    kind : str
        ``held`` on tube, rail or track; ``free``; ``shared`` with another panel's edge and held by nothing else.
    hollow : float or None
        Wanted greatest distance inside the chord, in the cloth's tangent plane [m].
    batten : Batten or None
        Rod in a pocket.
    wire : Wire or None
        Taut wire in the edge.
    finish : str
        Edge finish, a name of the design's tables.
    """

    name: str
    line: Floats
    kind: EdgeKind
    hollow: float | None = None
    batten: Batten | None = None
    wire: Wire | None = None
    finish: str = ""

    def __post_init__(self) -> None:
        object.__setattr__(self, "line", locked(self.line))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pierced:
    """Where a wire passes through a panel; it does not load the cloth.

    Attributes
    ----------
    name : str
        What passes.
    at : (3,) ndarray
        Where it passes, near the cloth [m].
    slit : (k, 3) ndarray or None
        Line of the closed slit from there to an edge [m].
    """

    name: str
    at: Floats
    slit: Floats | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "at", locked(self.at))
        if self.slit is not None:
            object.__setattr__(self, "slit", locked(self.slit))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Tie:
    """A point of the boat to which the cloth is tied.

    Attributes
    ----------
    name : str
        The mark.
    at : (3,) ndarray
        [m]
    """

    name: str
    at: Floats

    def __post_init__(self) -> None:
        object.__setattr__(self, "at", locked(self.at))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Insert:
    """A window or a piece of mesh inside a panel.

    Attributes
    ----------
    name : str
        Unique in its panel.
    outline : (k, 3) ndarray
        Closed outline near the cloth, first point not repeated [m].
    """

    name: str
    outline: Floats

    def __post_init__(self) -> None:
        object.__setattr__(self, "outline", locked(self.outline))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PanelOutline:
    """A panel before forming.

    Attributes
    ----------
    name : str
        The panel's name.
    cloth : str
        Name of its cloth.
    edges : tuple of PanelEdge
        Two to eight, in order round the panel.
    over : tuple of (k, 3) ndarray
        Lines on which it lies inside its edges: the top of a bow or boom, not its axis [m].
    pierced : tuple of Pierced
    ties : tuple of Tie
    inserts : tuple of Insert
    flat : bool
        Made of flat cloth: developable instead of formed.
    """

    name: str
    cloth: str
    edges: tuple[PanelEdge, ...]
    over: tuple[Floats, ...] = ()
    pierced: tuple[Pierced, ...] = ()
    ties: tuple[Tie, ...] = ()
    inserts: tuple[Insert, ...] = ()
    flat: bool = False

"""Say what was measured on board, one record a reading, each with its place in the file.

Computes: the standard deviation of a reading where the crew gave none.
Units: metres; boat frame (x aft, y starboard, z up).
Source: constant and proportional part of a tape's error: `canvas.survey.tape`; the other standard deviations are common
    practice, no source.
Limits: a reading carries no meaning beyond geometry; ribbons and wind meters are not survey readings.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np

Axis = Literal["x", "y", "z"]
Toward = Literal["above", "below", "aft", "forward", "starboard", "port"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Where:
    """Where a reading stands and how it was written.

    Attributes
    ----------
    file, key : str
        As in `canvas.design.problems.Problem`.
    line : int or None
        From 1.
    text : str
        What was typed, such as ``3.412 m``.
    unit : str
        The file's declared length unit, which a bare number takes.
    """

    file: str = ""
    line: int | None = None
    key: str = ""
    text: str = ""
    unit: str = "m"


NOWHERE = Where()


@dataclass(frozen=True, slots=True, kw_only=True)
class Precision:
    """Standard deviations taken for readings that state none.

    Attributes
    ----------
    tape_constant : float
        [m] Holding both ends on their marks, afloat: common practice, no source.
    tape_proportional : float
        [m/m] Scale, sag and misalignment of a class II tape; see `canvas.survey.tape.proportional_sd`.
    height, offset, plumb, plane, tube : float
        [m] Level or water tube; offset from the centreline; plumb line; off a plane; off a straight tube.
    """

    tape_constant: float = 0.003
    tape_proportional: float = 0.0005
    height: float = 0.003
    offset: float = 0.005
    plumb: float = 0.005
    plane: float = 0.003
    tube: float = 0.003


@dataclass(frozen=True, slots=True, kw_only=True)
class Session:
    """One levelling session: the boat did not move against the vertical while it lasted.

    Attributes
    ----------
    name : str
        As the readings name it.
    level : bool
        True where the boat is known to have lain as at rest: its tilts are then zero, not unknown.
    """

    name: str
    level: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Tape:
    """A tape between two marks, in straight stretches over those in `via`.

    Attributes
    ----------
    a, b : str
        Marks at its zero and at its reading.
    length : float
        [m]
    via : tuple of str
        Marks that the path bends over, in order.
    slack : bool
        True for a path that hung or bent somewhere unknown: it is then only an upper bound.
    sigma : float or None
        [m] Standard deviation; None takes the default.
    """

    a: str
    b: str
    length: float
    via: tuple[str, ...] = ()
    slack: bool = False
    sigma: float | None = None
    where: Where = NOWHERE

    @property
    def marks(self) -> tuple[str, ...]:
        """Return the marks it touches, in order."""
        return (self.a, *self.via, self.b)


@dataclass(frozen=True, slots=True, kw_only=True)
class Height:
    """Height of a mark over the horizontal plane of one levelling session, whose height is unknown.

    Attributes
    ----------
    mark, session : str
    height : float
        [m] Upward. A staff reading, which grows downward, is entered with its sign turned.
    sigma : float or None
        [m]
    """

    mark: str
    height: float
    session: str
    sigma: float | None = None
    where: Where = NOWHERE

    @property
    def marks(self) -> tuple[str, ...]:
        """Return the mark it touches."""
        return (self.mark,)


@dataclass(frozen=True, slots=True, kw_only=True)
class Offset:
    """One coordinate of a mark, taken square off the centreline or another line of the boat, or off another mark.

    Attributes
    ----------
    mark : str
    offset : float
        [m] Positive aft, to starboard or up.
    axis : {"x", "y", "z"}
        y is the distance from the centreline.
    of : str or None
        The mark it is taken from; None for the boat's own axes.
    sigma : float or None
        [m]
    """

    mark: str
    offset: float
    axis: Axis = "y"
    of: str | None = None
    sigma: float | None = None
    where: Where = NOWHERE

    @property
    def marks(self) -> tuple[str, ...]:
        """Return the marks it touches."""
        return (self.mark,) if self.of is None else (self.mark, self.of)


@dataclass(frozen=True, slots=True, kw_only=True)
class Plumb:
    """Level distance from the plumb line hung at mark `a` to mark `b`.

    Attributes
    ----------
    a, b : str
        Where the line hangs; the mark below (or above) it.
    session : str
        Levelling session whose vertical it shares.
    offset : float
        [m] With `along`: how far `b` lies that way from the line, signed. Without: the level distance; 0 means that
        the bob touches `b`, which fixes both ways.
    along : {"aft", "starboard"} or None
    sigma : float or None
        [m]
    """

    a: str
    b: str
    session: str
    offset: float = 0.0
    along: Literal["aft", "starboard"] | None = None
    sigma: float | None = None
    where: Where = NOWHERE

    @property
    def marks(self) -> tuple[str, ...]:
        """Return the marks it touches."""
        return (self.a, self.b)


@dataclass(frozen=True, slots=True, kw_only=True)
class OnPlane:
    """A mark known to lie on a flat face or in the plane of a hoop.

    Attributes
    ----------
    mark, plane : str
        The plane is known only by the marks said to lie on it: four or more.
    sigma : float or None
        [m] Off the plane.
    """

    mark: str
    plane: str
    sigma: float | None = None
    where: Where = NOWHERE

    @property
    def marks(self) -> tuple[str, ...]:
        """Return the mark it touches."""
        return (self.mark,)


@dataclass(frozen=True, slots=True, kw_only=True)
class OnTube:
    """A mark known to lie on a straight tube or taut wire.

    Attributes
    ----------
    mark, tube : str
        The tube is known only by the marks said to lie on it: three or more.
    sigma : float or None
        [m] Off its line.
    """

    mark: str
    tube: str
    sigma: float | None = None
    where: Where = NOWHERE

    @property
    def marks(self) -> tuple[str, ...]:
        """Return the mark it touches."""
        return (self.mark,)


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """A statement without a number: a mark lies above, aft of or to starboard of another.

    It settles which of two mirrored answers is the boat; it has no weight.

    Attributes
    ----------
    mark, of : str
    side : {"above", "below", "aft", "forward", "starboard", "port"}
        ``mark`` lies to this side of ``of``.
    """

    mark: str
    of: str
    side: Toward
    where: Where = NOWHERE

    @property
    def marks(self) -> tuple[str, ...]:
        """Return the marks it touches."""
        return (self.mark, self.of)


Reading: TypeAlias = Tape | Height | Offset | Plumb | OnPlane | OnTube
Entry: TypeAlias = Reading | Side


def standard_deviation(reading: Reading, *, precision: Precision) -> float:
    """Return the standard deviation of one row of `reading` [m].

    Parameters
    ----------
    reading : Reading
    precision : Precision
        Taken where the reading states none; a tape's two parts add as squares.
    """
    if reading.sigma is not None:
        return reading.sigma
    if isinstance(reading, Tape):
        return float(np.hypot(precision.tape_constant, precision.tape_proportional * reading.length))
    name = {Height: "height", Offset: "offset", Plumb: "plumb", OnPlane: "plane", OnTube: "tube"}[type(reading)]
    return float(getattr(precision, name))


def describe(reading: Entry) -> str:
    """Return a short name of `reading` for people, such as ``tape a to b``."""
    match reading:
        case Tape():
            path = " over ".join((f"{reading.a} to {reading.b}", *reading.via))
            said = f"tape {path}" + (", slack" if reading.slack else "")
        case Height():
            said = f"height of {reading.mark}, session {reading.session}"
        case Offset():
            way = {"x": "aft", "y": "to starboard", "z": "up"}[reading.axis]
            said = f"offset of {reading.mark} {way} from " + (reading.of or "the boat's axes")
        case Plumb():
            said = f"plumb line {reading.a} to {reading.b}" + (f", {reading.along}" if reading.along else "")
        case OnPlane():
            said = f"{reading.mark} on plane {reading.plane}"
        case OnTube():
            said = f"{reading.mark} on tube {reading.tube}"
        case Side():
            said = f"{reading.mark} {reading.side} {reading.of}"
    return said

"""Hold what goes on a cutting sheet, by layer, whatever the file it is written to.

Computes: bounds, moves and turns of drawn things. Terms: a *layer* is what a plotter or cutter does with a line; a
    *sheet* is one drawing at 1:1.
Units: metres, text heights too; angles in radians, counter-clockwise from +x.
Source: layer numbers of ASTM D6673 (withdrawn 2019): 1 boundary, 2 turn points, 3 curve points, 4 notches, 7 grain
    line, 8 internal lines, 11 internal cut-outs, 13 drill holes, 14 sew lines, 15 annotation.
Limits: lines, arcs between points, points and plain text; no fills.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import Enum

import numpy as np

from canvas.geometry.surface import Floats, locked

CURVE_TOLERANCE = 0.0001  # [m] farthest a drawn line may lie from the computed one
TEXT_WIDTH = 0.95  # width of a letter over its height: above the mean of the fonts the writers use


class Layer(Enum):
    """Layers of a cutting file: plain name, ASTM D6673 number, and what happens to its lines."""

    CUT = ("cut", 1, "cut along it")
    TURN_POINTS = ("turn points", 2, "corners of the cut line")
    NOTCHES = ("notches", 4, "match marks: both sides of a seam or zip meet here")
    GRAIN = ("grain", 7, "direction of the warp")
    FOLD = ("fold lines", 8, "fold here, or a line to draw; do not cut")
    CUT_OUT = ("cut-outs", 11, "cut inside the part")
    DRILL = ("drill points", 13, "centres of studs, eyes and corners")
    SEW = ("sew lines", 14, "finished edge or line of stitching")
    TEXT = ("text", 15, "labels")

    @property
    def plain_name(self) -> str:
        """Name for people."""
        return str(self.value[0])

    @property
    def number(self) -> int:
        """Number in ASTM D6673."""
        return int(self.value[1])

    @property
    def meaning(self) -> str:
        """What to do with its lines."""
        return str(self.value[2])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Line:
    """A polyline on a layer; `bulge` makes a step an arc, tan of a quarter of its angle, left-turning positive."""

    layer: Layer
    points: Floats
    closed: bool = False
    dashed: bool = False
    bulge: Floats | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "points", locked(self.points))
        if self.bulge is not None:
            object.__setattr__(self, "bulge", locked(self.bulge))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Point:
    """A point on a layer, such as the centre of an eye; `diameter` is the hole, None for a mark only. [m]."""

    layer: Layer
    at: Floats
    diameter: float | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "at", locked(self.at))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Text:
    """A line of text, its middle at a point."""

    at: Floats
    text: str
    height: float
    angle: float = 0.0
    layer: Layer = Layer.TEXT

    def __post_init__(self) -> None:
        object.__setattr__(self, "at", locked(self.at))

    @property
    def width(self) -> float:
        """Upper bound of the drawn width. [m]."""
        return len(self.text) * self.height * TEXT_WIDTH


Item = Line | Point | Text


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sheet:
    """One drawing at 1:1.

    Attributes
    ----------
    title : str
    items : tuple of Line, Point or Text
    notes : tuple of str
        Said in the file beside the drawing.
    """

    title: str
    items: tuple[Item, ...]
    notes: tuple[str, ...] = ()

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """Least x, least y, largest x, largest y of all items. [m]."""
        corners = np.vstack([_extent(item) for item in self.items])
        low, high = corners.min(axis=0), corners.max(axis=0)
        return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def _extent(item: Item) -> Floats:
    if isinstance(item, Line):
        return item.points
    if isinstance(item, Point):
        return item.at[None, :]
    half = np.array([item.width / 2, item.height / 2])
    box = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * half
    c, s = np.cos(item.angle), np.sin(item.angle)
    result: Floats = box @ np.array([[c, s], [-s, c]]) + item.at
    return result


def text_box(text: Text) -> Floats:
    """Return the corners of the box a text fills at most, shape (4, 2). [m]."""
    return _extent(text)


def placed(items: Iterable[Item], *, shift: tuple[float, float], turned: bool = False) -> tuple[Item, ...]:
    """Return items turned half round, where asked, then shifted. Text stays upright in its own part's sense.

    Parameters
    ----------
    items : iterable of Line, Point or Text
    shift : (float, float)
        [m]
    turned : bool
        Half a turn about the origin first.
    """
    sign = -1.0 if turned else 1.0
    by = np.asarray(shift, dtype=np.float64)
    moved: list[Item] = []
    for item in items:
        if isinstance(item, Line):
            moved.append(replace(item, points=item.points * sign + by))
        elif isinstance(item, Point):
            moved.append(replace(item, at=item.at * sign + by))
        else:
            moved.append(replace(item, at=item.at * sign + by, angle=item.angle + (np.pi if turned else 0.0)))
    return tuple(moved)

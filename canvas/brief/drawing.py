"""Hold a drawing on paper: areas, strokes and words, whatever the file it is written to.

Computes: bounds, moves, the room that words take. Terms: a *stroke* is one or more polylines of one pen, an *area* is
    filled, a *drawing* is a list of both in the order they are painted.
Units: metres on the paper, y up; angles in radians, counter-clockwise.
Source: letter widths of DejaVu Sans, which the PDF writer embeds.
Limits: flat colours only; a viewer without the font shows another, a little narrower as a rule.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Literal

import numpy as np

from canvas.geometry.surface import Floats, locked

MM = 0.001
FONT, BOLD = "DejaVuSans", "DejaVuSans-Bold"

Anchor = Literal["start", "middle", "end"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Pen:
    """How a line is drawn: colour, width [m], dashes [m], round or square ends."""

    colour: str = "#1a1a1a"
    width: float = 0.25 * MM
    dash: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Area:
    """A filled area of one or more loops; where loops overlap an odd number of times it is filled.

    Attributes
    ----------
    loops : tuple of (k, 2) ndarray
        Not closed by repeating the first point [m].
    fill : str or None
        Colour.
    pen : Pen or None
        Of its outline.
    opacity : float
        Of the fill, 0..1.
    """

    loops: tuple[Floats, ...]
    fill: str | None = None
    pen: Pen | None = None
    opacity: float = 1.0

    def __post_init__(self) -> None:
        object.__setattr__(self, "loops", tuple(locked(loop) for loop in self.loops))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stroke:
    """Polylines drawn with one pen, each (k, 2) [m]."""

    lines: tuple[Floats, ...]
    pen: Pen = Pen()

    def __post_init__(self) -> None:
        object.__setattr__(self, "lines", tuple(locked(line) for line in self.lines))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Words:
    """One line of text.

    Attributes
    ----------
    at : (2,) ndarray
        Its anchor, on the line's middle height [m].
    text : str
    size : float
        Height of the letters' body [m].
    anchor : str
        Which end of the text lies at `at`.
    angle : float
        [rad]
    colour : str
    bold : bool
    halo : bool
        A white edge round the letters, so that they read over lines.
    """

    at: Floats
    text: str
    size: float = 2.6 * MM
    anchor: Anchor = "middle"
    angle: float = 0.0
    colour: str = "#1a1a1a"
    bold: bool = False
    halo: bool = False

    def __post_init__(self) -> None:
        object.__setattr__(self, "at", locked(self.at))

    @property
    def width(self) -> float:
        """Room the text takes along itself [m]."""
        return text_width(self.text, size=self.size, bold=self.bold)

    def corners(self) -> Floats:
        """Return the corners of the box it fills, (4, 2) [m]."""
        start = {"start": 0.0, "middle": -0.5, "end": -1.0}[self.anchor] * self.width
        half = 0.55 * self.size
        box = np.array([[start, -half], [start + self.width, -half], [start + self.width, half], [start, half]])
        cosine, sine = np.cos(self.angle), np.sin(self.angle)
        turned: Floats = box @ np.array([[cosine, sine], [-sine, cosine]]) + self.at
        return turned


Item = Area | Stroke | Words


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Drawing:
    """Things drawn, in the order they are painted.

    Attributes
    ----------
    title : str
        Said to those who cannot see it.
    items : tuple of Area, Stroke or Words
    low, high : (2,) ndarray
        Corners of the paper it takes [m].
    """

    title: str
    items: tuple[Item, ...]
    low: Floats
    high: Floats

    def __post_init__(self) -> None:
        object.__setattr__(self, "low", locked(self.low))
        object.__setattr__(self, "high", locked(self.high))

    @property
    def width(self) -> float:
        """[m]."""
        return float(self.high[0] - self.low[0])

    @property
    def height(self) -> float:
        """[m]."""
        return float(self.high[1] - self.low[1])


def drawing_of(title: str, items: Sequence[Item], *, margin: float = 1.5 * MM) -> Drawing:
    """Return a drawing on paper just large enough.

    Parameters
    ----------
    title : str
    items : sequence of Area, Stroke or Words
    margin : float
        Left free round all of it [m].
    """
    points = [extent(item) for item in items]
    corners = np.vstack([part for part in points if len(part)]) if points else np.zeros((1, 2))
    return Drawing(title=title, items=tuple(items), low=corners.min(axis=0) - margin, high=corners.max(axis=0) + margin)


def extent(item: Item) -> Floats:
    """Return points that bound an item, (k, 2) [m]."""
    if isinstance(item, Words):
        return item.corners()
    parts = item.loops if isinstance(item, Area) else item.lines
    return np.vstack(parts) if parts else np.zeros((0, 2))


def moved(items: Iterable[Item], *, by: Floats) -> tuple[Item, ...]:
    """Return items shifted by `by`, (2,) [m]."""
    result: list[Item] = []
    for item in items:
        if isinstance(item, Words):
            result.append(replace(item, at=item.at + by))
        elif isinstance(item, Area):
            result.append(replace(item, loops=tuple(loop + by for loop in item.loops)))
        else:
            result.append(replace(item, lines=tuple(line + by for line in item.lines)))
    return tuple(result)


def beside(title: str, drawings: Sequence[Drawing], *, gap: float = 8 * MM, down: bool = False) -> Drawing:
    """Return drawings side by side, feet level, or one under the other, left sides level.

    Parameters
    ----------
    title : str
    drawings : sequence of Drawing
    gap : float
        Between them [m].
    down : bool
        One under the other.
    """
    items: list[Item] = []
    corner = np.zeros(2)
    for drawing in drawings:
        start = np.array([drawing.low[0], drawing.high[1] if down else drawing.low[1]])
        items.extend(moved(drawing.items, by=corner - start))
        corner = corner + np.array([0.0, -drawing.height - gap] if down else [drawing.width + gap, 0.0])
    return drawing_of(title, items)


def circle(at: Floats, radius: float) -> Floats:
    """Return a loop of `radius` round the point `at`, (24, 2) [m]."""
    turn = 2 * np.pi * np.arange(24) / 24
    loop: Floats = np.asarray(at) + radius * np.c_[np.cos(turn), np.sin(turn)]
    return loop


def text_width(text: str, *, size: float, bold: bool = False) -> float:
    """Return the width of a line of text [m]; `size` is its body height [m].

    Parameters
    ----------
    text : str
    size : float
        Body height of the letters [m].
    bold : bool
    """
    from reportlab.pdfbase.pdfmetrics import stringWidth

    register_fonts()
    return float(stringWidth(text, BOLD if bold else FONT, 1.0)) * size


@cache
def register_fonts() -> None:
    """Make DejaVu Sans, which comes with matplotlib, known to the PDF writer."""
    import matplotlib
    from reportlab.pdfbase.pdfmetrics import registerFont, registerFontFamily
    from reportlab.pdfbase.ttfonts import TTFont

    folder = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
    for name in (FONT, BOLD):
        registerFont(TTFont(name, str(folder / f"{name}.ttf")))
    registerFontFamily(FONT, normal=FONT, bold=BOLD, italic=FONT, boldItalic=BOLD)

"""Draw dimension lines and scale bars, and write lengths as drawings have them.

Computes: the strokes and words of a dimension between two points, of a scale bar, and a handy scale.
Units: metres on the paper; what a dimension says is in the boat's metres.
Source: lines and arrow heads as engineers draw them, common practice.
Limits: level and upright dimensions only.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from canvas.brief.drawing import MM, Area, Item, Pen, Stroke, Words
from canvas.brief.palette import INK, PAPER, QUIET
from canvas.design.units import FOOT, INCH, length_text
from canvas.geometry.surface import Floats

SCALES = (2, 5, 10, 12, 15, 20, 25, 30, 35, 40, 50, 60, 75, 100, 125, 150, 200)
LINE = Pen(colour=QUIET, width=0.15 * MM)
HEAD = 1.5 * MM  # length of an arrow head


def dimension_text(metres: float, *, units: str) -> str:
    """Return a length as a drawing says it: to a centimetre, or to half an inch.

    Parameters
    ----------
    metres : float
        [m]
    units : str
        ``m``, ``mm``, ``ft`` or ``in``.
    """
    if units == "m":
        return f"{metres:.2f} m"
    if units == "mm":
        return f"{round(metres * 100) * 10:d} mm"
    return length_text(round(metres / INCH * 2) / 2 * INCH, units)


def scale_for(length: float, *, paper: float) -> int:
    """Return the N of the largest handy scale 1:N at which a length fits a width of paper [m]."""
    return next((scale for scale in SCALES if length / scale <= paper), SCALES[-1])


def dimension(
    first: Sequence[float] | Floats,
    last: Sequence[float] | Floats,
    *,
    text: str,
    lane: float,
    size: float,
    upright: bool = False,
    room: tuple[float, float] | None = None,
) -> tuple[Item, ...]:
    """Return a level or upright dimension between two points.

    Parameters
    ----------
    first, last : (2,)
        What is measured, on the paper [m].
    text : str
    lane : float
        Height of a level dimension's line, or place of an upright one's [m].
    size : float
        Of the letters [m].
    upright : bool
    room : (float, float), optional
        Where the picture begins and ends along the dimension: words too long to stand inside it go past the end that
        leaves them more room; past the last end where absent, and where the room before the first is too short [m].
    """
    a, b = np.asarray(first, dtype=float), np.asarray(last, dtype=float)
    axis, other = (1, 0) if upright else (0, 1)
    if a[axis] > b[axis]:
        a, b = b, a
    one, two = a.copy(), b.copy()
    one[other] = two[other] = lane
    past = 1.2 * MM
    lines: list[Floats] = []
    for spot, end in ((a, one), (b, two)):
        side = np.sign(end[other] - spot[other]) or 1.0
        start, stop = spot.copy(), end.copy()
        start[other] += side * 1.0 * MM
        stop[other] += side * past
        lines.append(np.stack([start, stop]))
    span = two[axis] - one[axis]
    words = Words(at=(one + two) / 2, text=text, size=size, angle=np.pi / 2 if upright else 0.0, halo=True)
    along = np.zeros(2)
    along[axis] = 1.0
    tight = span < words.width + 2.5 * HEAD
    if tight:  # the arrows point in from outside, the words stand past one end
        lines += [np.stack([one - along * 4 * MM, one]), np.stack([two, two + along * 4 * MM])]
        aside = 5 * MM
        before = room is not None and one[axis] - room[0] > max(room[1] - two[axis], words.width + aside)
        spot = one - along * aside if before else two + along * aside
        words = replace(words, at=spot, anchor="end" if before else "start")
    else:  # the line breaks round the words
        gap = (words.width / 2 + 0.8 * MM) * along
        middle = (one + two) / 2
        lines += [np.stack([one, middle - gap]), np.stack([middle + gap, two])]
    heads = (_head(one, along if not tight else -along), _head(two, -along if not tight else along))
    return (Stroke(lines=tuple(lines), pen=LINE), Area(loops=heads, fill=QUIET), words)


def _head(tip: Floats, along: Floats) -> Floats:
    """Return an arrow head whose tip lies at a point and whose body lies in a direction from it."""
    across = np.array([-along[1], along[0]])
    return np.stack([tip, tip + HEAD * along + 0.22 * HEAD * across, tip + HEAD * along - 0.22 * HEAD * across])


def scale_bar(scale: int, *, at: Sequence[float], units: str, size: float) -> tuple[Item, ...]:
    """Return a bar of one or two whole units with its scale beside it.

    Parameters
    ----------
    scale : int
        N of 1:N.
    at : (2,)
        Its left end [m].
    units : str
    size : float
        Of the letters [m].
    """
    imperial = units in ("ft", "in")
    unit = FOOT if imperial else 1.0
    count = 3 if imperial else 1
    step = unit * count / 4
    x, y = at
    high = 0.45 * size
    items: list[Item] = []
    for part in range(4):
        left, right = x + part * step / scale, x + (part + 1) * step / scale
        loop = np.array([[left, y], [right, y], [right, y + high], [left, y + high]])
        items.append(Area(loops=(loop,), fill=INK if part % 2 == 0 else PAPER, pen=Pen(width=0.15 * MM)))
    end = x + unit * count / scale
    small = 0.85 * size
    items += [
        Words(at=np.array([x, y + high + 0.7 * size]), text="0", size=small, anchor="start"),
        Words(at=np.array([end, y + high + 0.7 * size]), text=f"{count} {'ft' if imperial else 'm'}", size=small),
        Words(at=np.array([end + small, y + high / 2]), text=f"1:{scale} on paper", size=small, anchor="start"),
    ]
    return tuple(items)

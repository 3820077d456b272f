"""Mark points in a view, and how well each is known.

Computes: dots, and error ellipses of their covariance as seen.
Units: metres; paper in metres.
Source: an ellipse of two dimensions holds 95 % at 2.448 standard deviations (chi-square, two degrees of freedom).
Limits: ellipses are drawn larger than life by `MAGNIFIED`, which the caller says.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from canvas.brief.drawing import MM, Area, Drawing, Item, Pen, Words, circle, drawing_of
from canvas.brief.palette import INK, PAPER, SERIES
from canvas.brief.projection import Look
from canvas.geometry.surface import Floats
from canvas.survey.marks import Marks

MAGNIFIED = 10.0
HOLDS_95 = 2.4477  # sqrt of the 95 % point of chi-square with two degrees of freedom


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Spot:
    """A point to be marked in a view: its name, place (3,) [m], and covariance (3, 3) [m2] or None."""

    text: str
    at: Floats
    covariance: Floats | None = None


def numbered_spots(marks: Marks) -> tuple[Spot, ...]:
    """Return all marks by number, from 1, each with its covariance where it has one."""
    return tuple(
        Spot(
            text=str(number),
            at=marks.at(name),
            covariance=marks.joint([name]) if marks.joint([name]).any() else None,
        )
        for number, name in enumerate(marks.names, start=1)
    )


def key_drawing(
    entries: Sequence[tuple[str, str]], *, width: float, size: float = 2.6 * MM, columns: int = 3
) -> Drawing:
    """Return a key of numbers and names, in columns, read downwards.

    Parameters
    ----------
    entries : sequence of (number, name)
    width : float
        Of paper [m].
    size : float
        Of letters [m].
    columns : int
    """
    rows = -(-len(entries) // columns)
    items: list[Item] = []
    for index, (number, name) in enumerate(entries):
        column, row = divmod(index, rows)
        at = np.array([column * width / columns, -row * 1.5 * size])
        items.append(Words(at=at + np.array([2.2 * size, 0]), text=number, size=size, anchor="end", bold=True))
        items.append(Words(at=at + np.array([3.0 * size, 0]), text=name.replace("_", " "), size=size, anchor="start"))
    return drawing_of("key", items)


def spot_items(spots: Sequence[Spot], *, look: Look, scale: int) -> list[Item]:
    """Return dots, and ellipses where a covariance is given, for points in a view at 1:scale.

    Parameters
    ----------
    spots : sequence of Spot
    look : Look
        The way that the view looks.
    scale : int
        Of the drawing, 1:scale; ellipses are `MAGNIFIED` times as large as they are.
    """
    items: list[Item] = []
    for spot in spots:
        middle = look.flat(spot.at) / scale
        if spot.covariance is not None:
            loop = middle + MAGNIFIED / scale * ellipse(spot.covariance, look)
            items.append(Area(loops=(loop,), fill=SERIES[6], opacity=0.35, pen=Pen(colour=SERIES[1], width=0.2 * MM)))
        items.append(Area(loops=(circle(middle, 0.7 * MM),), fill=INK, pen=Pen(colour=PAPER, width=0.2 * MM)))
    return items


def ellipse(covariance: Floats, look: Look) -> Floats:
    """Return the outline of the 95 % ellipse of a covariance as seen in a view, about zero, (48, 2) [m]."""
    seen = np.stack([look.right, look.up]) @ covariance @ np.stack([look.right, look.up]).T
    value, axis = np.linalg.eigh(seen)
    turn = 2 * np.pi * np.arange(48) / 48
    loop: Floats = HOLDS_95 * np.c_[np.cos(turn), np.sin(turn)] * np.sqrt(np.maximum(value, 0)) @ axis.T
    return loop

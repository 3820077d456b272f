"""Mark points in a view, and how well each is known.

Computes: dots, and error ellipses of their covariance as seen.
Units: metres; paper in metres.
Source: an ellipse of two dimensions holds 95 % at 2.448 standard deviations (chi-square, two degrees of freedom).
Limits: ellipses are drawn larger than life by `MAGNIFIED`, which the caller says.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from canvas.brief.drawing import MM, Area, Item, Pen, circle
from canvas.brief.palette import INK, PAPER, SERIES
from canvas.brief.projection import Look
from canvas.geometry.surface import Floats

if TYPE_CHECKING:
    from canvas.brief.views import Spot

MAGNIFIED = 10.0
HOLDS_95 = 2.4477  # sqrt of the 95 % point of chi-square with two degrees of freedom


def spot_items(spots: Sequence[Spot], *, look: Look, scale: int) -> list[Item]:
    """Return dots, and ellipses where a covariance is given, for points in a view at 1:scale."""
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

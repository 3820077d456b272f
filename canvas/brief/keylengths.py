"""Dimension the few lengths that a sailor checks a picture by.

Computes: length, width and height of the canvas, height of the vane's blade, and the clear way between the two.
Units: metres, boat frame; paper in metres.
Source: the scene.
Limits: extremes along the boat's axes; the clear way to the blade is measured level, from the aftmost canvas.
"""

from __future__ import annotations

import numpy as np

from canvas.brief.dimensions import dimension, dimension_text
from canvas.brief.drawing import Item
from canvas.brief.projection import Look
from canvas.geometry.scene import Scene
from canvas.geometry.surface import Floats

LEAST = 0.02  # what is shorter is not dimensioned [m]


def key_dimensions(
    scene: Scene,
    *,
    look: Look,
    window: tuple[float, float, float, float],
    sheet_scale: int,
    units: str,
    size: float,
) -> list[Item]:
    """Return the dimensions of one view.

    Parameters
    ----------
    scene : Scene
    look : Look
    window : (float, float, float, float)
        Least right and up, greatest right and up that are drawn [m].
    sheet_scale : int
        N of 1:N.
    units : str
    size : float
        Of letters on the paper [m].
    """
    canvas = [surface.vertices for surface in scene.of_kind("cloth")]
    points = np.vstack(canvas) if canvas else None
    paper = _Paper(look, window=window, scale=sheet_scale, units=units, size=size)
    if look.name == "plan":
        return _plan(scene, points, paper)
    return _heights(scene, points, paper, level=look.name == "profile")


class _Paper:
    """Lanes round a view in which dimensions stand."""

    def __init__(
        self, look: Look, *, window: tuple[float, float, float, float], scale: int, units: str, size: float
    ) -> None:
        self.look, self.scale, self.units, self.size = look, scale, units, size
        self.low_x, self.low_y, self.high_x, self.high_y = (edge / scale for edge in window)

    def level(self, a: Floats, b: Floats, *, what: str, lane: int = 0) -> list[Item]:
        """Return a level dimension below the view between two points in space; `what` says what of, "{}" how much."""
        spots = self.look.flat(np.stack([a, b])) / self.scale
        where = self.low_y - (2.0 + 2.0 * lane) * self.size
        spots[:, 1] = self.low_y  # extension lines start at the frame, not in the picture
        return self._drawn(spots, what, where, axis=0)

    def upright(self, a: Floats, b: Floats, *, what: str, left: bool, lane: int = 0) -> list[Item]:
        """Return an upright dimension left or right of the view between two points in space."""
        spots = self.look.flat(np.stack([a, b])) / self.scale
        off = (1.6 + 2.0 * lane) * self.size
        spots[:, 0] = self.low_x if left else self.high_x
        return self._drawn(spots, what, self.low_x - off if left else self.high_x + off, axis=1)

    def _drawn(self, spots: Floats, what: str, where: float, *, axis: int) -> list[Item]:
        value = abs(float(spots[1, axis] - spots[0, axis])) * self.scale
        if value < LEAST:
            return []
        text = what.format(dimension_text(value, units=self.units))
        return list(dimension(*spots, text=text, lane=where, size=0.85 * self.size, upright=axis == 1))


def _plan(scene: Scene, points: Floats | None, paper: _Paper) -> list[Item]:
    fore_of_blade = scene.blade.foot - [scene.blade.width / 2, 0, 0]
    if points is None:
        return paper.level(np.zeros(3), fore_of_blade, what="bulkhead to blade {}")
    low, high = points.min(axis=0), points.max(axis=0)
    items = paper.level(low, high, what="canvas {} long")
    if fore_of_blade[0] > high[0]:
        items += paper.level(high, fore_of_blade, what="to blade {}", lane=1)
    return items + paper.upright(low, high, what="canvas {} wide", left=True)


def _heights(scene: Scene, points: Floats | None, paper: _Paper, *, level: bool) -> list[Item]:
    sole = np.zeros(3)
    water = np.array([0.0, 0.0, scene.water_z])
    items = paper.upright(sole, scene.blade.foot, what="blade {}", left=True)
    items += paper.upright(water, sole, what="sole {}", left=True, lane=1)
    if points is not None:
        low, high = points.min(axis=0), points.max(axis=0)
        items += paper.upright(sole, high, what="top {}", left=False)
        items += paper.level(low, high, what="canvas {} long" if level else "canvas {} wide")
    return items

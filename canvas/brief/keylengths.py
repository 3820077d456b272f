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
from canvas.brief.known import End, Standings
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
    standings: Standings | None = None,
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
    standings : Standings, optional
        Of the set, where each dimension is to say how it is known.
    """
    paper = _Paper(look, window=window, scale=sheet_scale, units=units, size=size, standings=standings)
    ends = _ends(scene)
    if look.name == "plan":
        return _plan(scene, ends, paper)
    return _heights(scene, ends, paper, level=look.name == "profile")


def _ends(scene: Scene) -> list[tuple[End, End]] | None:
    """Return the least and the greatest spot of the canvas along each axis; None where none is up."""
    canvas = scene.of_kind("cloth")
    if not canvas:
        return None
    found = []
    for axis in range(3):
        spots = [
            (End(spot=v[np.argmin(v[:, axis])], surface=one), End(spot=v[np.argmax(v[:, axis])], surface=one))
            for one in canvas
            for v in (one.vertices,)
        ]
        low = min((low for low, _ in spots), key=lambda end: float(end.spot[axis]))
        high = max((high for _, high in spots), key=lambda end: float(end.spot[axis]))
        found.append((low, high))
    return found


class _Paper:
    """Lanes round a view in which dimensions stand."""

    def __init__(
        self,
        look: Look,
        *,
        window: tuple[float, float, float, float],
        scale: int,
        units: str,
        size: float,
        standings: Standings | None,
    ) -> None:
        self.look, self.scale, self.units, self.size, self.standings = look, scale, units, size, standings
        self.low_x, self.low_y, self.high_x, self.high_y = (edge / scale for edge in window)

    def level(self, a: End, b: End, *, what: str, axis: int, lane: int = 0) -> list[Item]:
        """Return a level dimension below the view along an axis in space; `what` says what of, "{}" how much."""
        spots = self.look.flat(np.stack([a.spot, b.spot])) / self.scale
        where = self.low_y - (2.0 + 2.0 * lane) * self.size
        spots[:, 1] = self.low_y  # extension lines start at the frame, not in the picture
        return self._drawn(spots, what + self._known([a, b], axis), where, axis=0)

    def upright(self, a: End, b: End, *, what: str, axis: int, left: bool, lane: int = 0) -> list[Item]:
        """Return an upright dimension left or right of the view along an axis in space."""
        spots = self.look.flat(np.stack([a.spot, b.spot])) / self.scale
        off = (1.6 + 2.0 * lane) * self.size
        spots[:, 0] = self.low_x if left else self.high_x
        where = self.low_x - off if left else self.high_x + off
        return self._drawn(spots, what + self._known([a, b], axis), where, axis=1)

    def _known(self, ends: list[End], axis: int) -> str:
        """Return how a dimension is known; one from the datum itself hangs on its other end alone."""
        if self.standings is None:
            return ""
        counted = [end for end in ends if end is not DATUM]
        return f", {self.standings.between(counted, axis=axis).said(self.units)}"

    def _drawn(self, spots: Floats, what: str, where: float, *, axis: int) -> list[Item]:
        value = abs(float(spots[1, axis] - spots[0, axis])) * self.scale
        if value < LEAST:
            return []
        text = what.format(dimension_text(value, units=self.units))
        room = ((self.low_x, self.high_x), (self.low_y, self.high_y))[axis]
        return list(dimension(*spots, text=text, lane=where, size=0.85 * self.size, upright=axis == 1, room=room))


DATUM = End(spot=np.zeros(3))


def _plan(scene: Scene, ends: list[tuple[End, End]] | None, paper: _Paper) -> list[Item]:
    blade = End(spot=scene.blade.foot - [scene.blade.width / 2, 0, 0])
    if ends is None:
        return paper.level(DATUM, blade, what="bulkhead to blade {}", axis=0)
    (fore, aft), (port, starboard), _ = ends
    items = paper.level(fore, aft, what="canvas {} long", axis=0)
    if blade.spot[0] > aft.spot[0]:
        items += paper.level(aft, blade, what="to blade {}", axis=0, lane=1)
    return items + paper.upright(port, starboard, what="canvas {} wide", axis=1, left=True)


def _heights(scene: Scene, ends: list[tuple[End, End]] | None, paper: _Paper, *, level: bool) -> list[Item]:
    water, foot = End(spot=np.array([0.0, 0.0, scene.water_z])), End(spot=scene.blade.foot)
    items = paper.upright(DATUM, foot, what="blade {}", axis=2, left=True)
    items += paper.upright(water, DATUM, what="sole {}", axis=2, left=True, lane=1)
    if ends is not None:
        (fore, aft), (port, starboard), (_, top) = ends
        items += paper.upright(DATUM, top, what="top {}", axis=2, left=False)
        if level:
            items += paper.level(fore, aft, what="canvas {} long", axis=0)
        else:
            items += paper.level(port, starboard, what="canvas {} wide", axis=1)
    return items

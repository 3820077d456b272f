"""Choose which part of the boat is drawn, and at what scale it fits the paper.

Computes: the frame round cockpit, vane and canvas, a closer one round some points; the largest usual scale that fits.
Units: metres, boat frame; paper in metres too.
Source: common practice, no source.
Limits: one frame serves all views of a boat, so that they share a scale.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from canvas.brief.dimensions import scale_for
from canvas.brief.drawing import MM
from canvas.brief.projection import Look
from canvas.geometry.scene import Scene
from canvas.geometry.surface import Floats, locked

ROUND = 0.45  # drawn round what is drawn closer [m]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Frame:
    """The part of the boat that is drawn: least and greatest of each axis, (3,) [m]."""

    low: Floats
    high: Floats

    def __post_init__(self) -> None:
        object.__setattr__(self, "low", locked(self.low))
        object.__setattr__(self, "high", locked(self.high))

    def holds(self, point: Floats) -> bool:
        """Return whether a point, (3,) [m], lies in the frame."""
        return bool(np.all((point >= self.low) & (point <= self.high)))

    def round(self, points: Floats) -> Frame:
        """Return the part of this frame that lies round some points, (n, 3) [m], from keel to masthead."""
        low, high = points.min(axis=0) - ROUND, points.max(axis=0) + ROUND
        low[2], high[2] = self.low[2], self.high[2]
        return Frame(low=np.maximum(low, self.low), high=np.minimum(high, self.high))

    def window(self, look: Look) -> tuple[float, float, float, float]:
        """Return least right, least up, greatest right, greatest up in a view [m]."""
        corners = look.flat(np.stack([self.low, self.high]))
        low, high = corners.min(axis=0), corners.max(axis=0)
        return float(low[0]), float(low[1]), float(high[0]), float(high[1])


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """How a view is put on paper: scale 1:N, units, letter height [m], and whether dimensions are drawn."""

    scale: int
    units: str
    text: float = 2.6 * MM
    dimensions: bool = True


def frame_of(scenes: Sequence[Scene]) -> Frame:
    """Return the frame that holds the cockpit, the vane and the canvas of all scenes.

    Parameters
    ----------
    scenes : sequence of Scene
        Of one boat.
    """
    first = scenes[0]
    points = [place.points for place in first.places] + [first.blade.points]
    points += [surface.vertices for scene in scenes for surface in scene.of_kind("cloth", "crew")]
    held = np.vstack(points)
    low, high = held.min(axis=0), held.max(axis=0)
    boat = np.vstack([surface.vertices for surface in first.of_kind("boat")])
    near = boat[(boat[:, 0] > low[0] - 0.4) & (boat[:, 2] < high[2])]
    if len(near):
        low[1], high[1] = min(low[1], near[:, 1].min()), max(high[1], near[:, 1].max())
        high[0] = max(high[0], near[:, 0].max())
    low[2] = first.water_z
    return Frame(low=low - np.array([0.45, 0.12, 0.22]), high=high + np.array([0.20, 0.12, 0.22]))


def sheet_for(frame: Frame, *, paper: float, units: str, text: float = 2.6 * MM, dimensions: bool = True) -> Sheet:
    """Return the largest scale at which every view of a frame, with its dimensions, if any, fits a width of paper [m].

    Parameters
    ----------
    frame : Frame
    paper : float
        Width there is [m].
    units : str
        In which dimensions are said.
    text : float
        Height of letters on paper [m].
    dimensions : bool
        Whether they are drawn.
    """
    size = frame.high - frame.low
    lanes = 8.5 * text if dimensions else 0.0  # on both sides
    scale = scale_for(float(max(size[0], size[1])), paper=paper - lanes - 4 * MM)
    return Sheet(scale=scale, units=units, text=text, dimensions=dimensions)

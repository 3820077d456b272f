"""Turn runs of points that lie on a circle into arcs.

Computes: for a polyline, the fewest steps, straight or arc, that stay within a tolerance of its points.
Units: metres; a bulge is the tangent of a quarter of an arc's angle, left turns positive (DXF).
Source: circle through three points; bulge after the DXF reference.
Limits: greedy from the first point; at least four points to an arc, its radius up to `MOST_RADIUS`; turns sharper
    than `CORNER` end a run.
"""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np

from canvas.cutting.sheet import CURVE_TOLERANCE, Line
from canvas.geometry.surface import Floats

CORNER = math.radians(20)  # a sharper turn between steps is a corner
LEAST = 4  # points to an arc
MOST_RADIUS = 0.5  # [m] some readers draw an arc in steps of 4 degrees: 0.3 mm off at this radius


def with_arcs(line: Line, *, tolerance: float = CURVE_TOLERANCE / 2) -> Line:
    """Return the line with straight runs joined and runs on a circle as arcs; a line with arcs as it is.

    Parameters
    ----------
    line : Line
        Its points are kept within `tolerance`; corners are kept exactly.
    tolerance : float
        [m]
    """
    points = np.vstack([line.points, line.points[:1]]) if line.closed else line.points
    if line.bulge is not None or len(points) < LEAST:
        return line
    breaks = _corners(points)
    kept: list[int] = []
    bulge: list[float] = []
    for start, stop in pairwise(breaks):
        at = start
        while at < stop:
            end, bend = _longest(points, at, stop, tolerance)
            kept.append(at)
            bulge.append(bend)
            at = end
    if not line.closed:
        kept.append(len(points) - 1)
        bulge.append(0.0)
    return replace(line, points=points[kept], bulge=np.array(bulge))


def _corners(points: Floats) -> list[int]:
    """Return indices at which runs must end, first and last included."""
    steps = np.diff(points, axis=0)
    heading = np.arctan2(steps[:, 1], steps[:, 0])
    turn = np.abs((np.diff(heading) + math.pi) % (2 * math.pi) - math.pi)
    inner = (np.flatnonzero(turn > CORNER) + 1).tolist()
    return [0, *inner, len(points) - 1]


def _longest(points: Floats, start: int, stop: int, tolerance: float) -> tuple[int, float]:
    """Return the farthest end of a straight step or arc from `start`, and its bulge."""
    low, step = start + 1, 1
    for first in (start + LEAST - 1, start + 2):
        if first <= stop and _fit(points, start, first, tolerance) is not None:
            low = first
            break
    # gallop, then halve: whether a run fits falls off once, near enough
    while low > start + 1 and low + step <= stop and _fit(points, start, low + step, tolerance) is not None:
        low += step
        step *= 2
    reach = min(low + step, stop) if low > start + 1 else low
    while low < reach:
        middle = (low + reach + 1) // 2
        if _fit(points, start, middle, tolerance) is not None:
            low = middle
        else:
            reach = middle - 1
    return low, _fit(points, start, low, tolerance) or 0.0


def _fit(points: Floats, start: int, end: int, tolerance: float) -> float | None:
    """Return the bulge of one step from `start` to `end` that passes all points between; None where none does."""
    a, b = points[start], points[end]
    chord = b - a
    size = math.hypot(*chord)
    if end == start + 1:
        return 0.0
    if size < 1e-9:
        return None
    between = points[start + 1 : end] - a
    along = between @ chord / size
    off = (chord[0] * between[:, 1] - chord[1] * between[:, 0]) / size
    if np.any(np.diff(np.concatenate([[0.0], along, [size]])) <= 0):
        return None
    if np.max(np.abs(off)) <= tolerance:
        return 0.0
    if end - start + 1 < LEAST:
        return None
    return _arc_fit(along, off, size, tolerance)


def _arc_fit(along: Floats, off: Floats, size: float, tolerance: float) -> float | None:
    """Return the bulge of the arc over a chord nearest its points; None where one is farther off than `tolerance`."""
    weight = along * (size - along)
    sagitta_first = float((weight @ off) / (weight @ weight)) * size * size / 4  # parabola through both ends
    bend = -2 * sagitta_first / size
    for _ in range(4):  # one parameter: Newton on the mean miss
        miss, slope = _miss(along, off, size, bend)
        change = float(miss @ slope) / float(slope @ slope)
        bend -= change
        if abs(change) < 1e-12:
            break
    if abs(bend) > 0.95 or abs(bend) < 1e-9:
        return None
    miss, _ = _miss(along, off, size, bend)
    if np.max(np.abs(miss)) > tolerance:
        return None
    gaps = np.diff(np.concatenate([[0.0], along, [size]]))
    radius = size * (1 + bend * bend) / (4 * abs(bend))
    if radius > MOST_RADIUS:
        return None
    if float(gaps.max()) ** 2 / (8 * radius) > 4 * tolerance:
        return None  # the points are too few to say that this was a curve
    return bend


def _miss(along: Floats, off: Floats, size: float, bend: float) -> tuple[Floats, Floats]:
    """Return how far points lie from the arc of that bulge, and its change with the bulge."""

    def height(b: float) -> Floats:
        sagitta = b * size / 2
        radius = size * (1 + b * b) / (4 * b) if b else math.inf
        x = along - size / 2
        result: Floats = -(np.sign(b) * np.sqrt(np.maximum(radius * radius - x * x, 0.0)) - (radius - sagitta))
        return result

    step = 1e-7 * max(abs(bend), 1e-3)
    here = height(bend) - off
    slope = (height(bend + step) - height(bend - step)) / (2 * step)
    return here, slope

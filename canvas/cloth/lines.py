"""Measure, cut and resample polylines by arc length.

Computes: arc lengths, points at an arc length, nearest points, portions, and vertices spaced by tolerance.
Units: metres.
Source: geometry; a chord c on radius R misses its arc by c^2 / (8 R).
Limits: a turn of more than 20 deg at one point counts as a kink and keeps its vertex.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from canvas.geometry.surface import Floats

KINK = np.radians(20.0)  # a sharper turn keeps its vertex
FINEST = 1 / 6  # least share of the spacing that curvature may ask for
GROWTH = 0.4  # how fast spacing may grow along a line, metre per metre


def arc_lengths(line: Floats) -> Floats:
    """Return the arc length (k,) at each vertex of a polyline (`line`, (k, d)), from 0 [m]."""
    steps = np.linalg.norm(np.diff(line, axis=0), axis=1)
    return np.concatenate([[0.0], np.cumsum(steps)])


def points_at(line: Floats, arc: Floats) -> Floats:
    """Return the points (k, d) of a polyline (`line`, (n, d)) at arc lengths `arc` (k,) [m]."""
    along = arc_lengths(line)
    return np.stack([np.interp(arc, along, line[:, axis]) for axis in range(line.shape[1])], axis=-1)


def locate(line: Floats, points: Floats) -> tuple[Floats, Floats]:
    """Return arc length (k,) on `line`, (n, d), nearest to each of `points` (k, d), and the distance (k,) [m]."""
    along = arc_lengths(line)
    start, step = line[:-1], np.diff(line, axis=0)
    square = np.maximum(np.einsum("ij,ij->i", step, step), 1e-300)
    offset = points[:, None, :] - start[None]
    share = np.clip(np.einsum("kij,ij->ki", offset, step) / square, 0.0, 1.0)
    distance = np.linalg.norm(offset - share[..., None] * step[None], axis=2)
    best = np.argmin(distance, axis=1)
    pick = np.arange(len(points))
    return along[best] + share[pick, best] * np.sqrt(square[best]), distance[pick, best]


def portion(line: Floats, first: float, last: float) -> Floats:
    """Return the part of a polyline between two arc lengths, turned round where `last` < `first` [m].

    Parameters
    ----------
    line : (k, 3) ndarray
        [m]
    first, last : float
        Arc lengths from the line's start [m].
    """
    low, high = min(first, last), max(first, last)
    along = arc_lengths(line)
    inside = line[(along > low + 1e-9) & (along < high - 1e-9)]
    ends = points_at(line, np.array([low, high]))
    part = np.vstack([ends[:1], inside, ends[1:]])
    return part if last >= first else part[::-1]


def resample(line: Floats, *, spacing: float, tolerance: float) -> Floats:
    """Return vertices on a polyline, close enough that chords miss it by no more than `tolerance`.

    Parameters
    ----------
    line : (k, d) ndarray
        [m]
    spacing : float
        Greatest distance between vertices [m].
    tolerance : float
        Greatest miss of a chord [m].

    Returns
    -------
    (n, d) ndarray
        Both ends and every kink are vertices; the same points whichever way the line runs [m].
    """
    turned = tuple(np.round(line[0], 6)) > tuple(np.round(line[-1], 6))
    way = line[::-1] if turned else line
    along = arc_lengths(way)
    turn = _turns(way)
    stops = np.concatenate([[0], np.flatnonzero(turn > KINK), [len(way) - 1]])
    parts = [
        _between(way[a : b + 1], along[a : b + 1] - along[a], turn[a : b + 1], spacing=spacing, tolerance=tolerance)
        for a, b in pairwise(stops.tolist())
    ]
    points = np.vstack([part[:-1] for part in parts] + [way[-1:]])
    return points[::-1] if turned else points


def _turns(line: Floats) -> Floats:
    """Return the angle a polyline turns at each vertex, 0 at its ends [rad]."""
    step = np.diff(line, axis=0)
    unit = step / np.maximum(np.linalg.norm(step, axis=1, keepdims=True), 1e-300)
    cosine = np.clip(np.einsum("ij,ij->i", unit[:-1], unit[1:]), -1.0, 1.0)
    return np.concatenate([[0.0], np.arccos(cosine), [0.0]])


def _between(line: Floats, along: Floats, turn: Floats, *, spacing: float, tolerance: float) -> Floats:
    """Return vertices of a stretch without kinks."""
    whole = float(along[-1])
    fine = np.linspace(0.0, whole, max(65, 2 * int(np.ceil(whole / spacing)) + 1))
    wish = np.full(len(fine), spacing)
    if len(line) > 2:
        mean = (along[2:] - along[:-2]) / 2
        curvature = np.interp(fine, along[1:-1], turn[1:-1] / np.maximum(mean, 1e-12))
        wish = np.clip(np.sqrt(8 * tolerance / np.maximum(curvature, 1e-9)), FINEST * spacing, spacing)
    wish = np.min(wish[None, :] + GROWTH * np.abs(fine[:, None] - fine[None, :]), axis=1)
    density = np.concatenate([[0.0], np.cumsum((1 / wish[1:] + 1 / wish[:-1]) / 2 * np.diff(fine))])
    count = max(1, int(np.ceil(density[-1] - 1e-6)))
    arc = np.interp(np.linspace(0.0, density[-1], count + 1), density, fine)
    points = points_at(line, arc)
    points[0], points[-1] = line[0], line[-1]
    return points

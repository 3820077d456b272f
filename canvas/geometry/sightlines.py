"""Say between which marks something stands in the way of a straight tape.

Computes: pairs of points that no straight line, held at the points or a hand's breadth beside both, joins past solids.
Units: metres, boat frame.
Source: ray tracing against the boat's meshes.
Limits: tubes, wires, people and canvas are passed by; what the design does not hold is not known.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import combinations

import numpy as np

from canvas.geometry.rays import tracer_of
from canvas.geometry.surface import Floats, Surface

BESIDE = (0.03, 0.06)  # [m] how far beside both marks a tape may be held
AROUND = 12  # directions in which it may
BACK = 0.08  # [m] from each mark within which nothing counts as in the way: the mark lies on something


def hidden_pairs(surfaces: Sequence[Surface], places: Mapping[str, Sequence[float]]) -> tuple[tuple[str, str], ...]:
    """Return the pairs of marks with something solid between them.

    Parameters
    ----------
    surfaces : sequence of Surface
        What stands in the way: hull, cabin, seats, solids.
    places : mapping of str to (3,) sequence
        [m]
    """
    pairs = list(combinations(places, 2))
    if not pairs or not surfaces:
        return ()
    a = np.array([places[one] for one, _ in pairs], dtype=np.float64)
    way = np.array([places[other] for _, other in pairs], dtype=np.float64) - a
    length = np.maximum(np.linalg.norm(way, axis=1), 1e-9)
    unit = way / length[:, None]
    back = np.minimum(BACK, length / 4)
    starts = (a + unit * back[:, None])[:, None] + _beside(unit)
    _, distance = tracer_of(*surfaces).first_hit(starts.reshape(-1, 3), np.repeat(unit, starts.shape[1], axis=0))
    shut = np.all(distance.reshape(len(pairs), -1) < (length - 2 * back)[:, None], axis=1)
    return tuple(pair for pair, hidden in zip(pairs, shut, strict=True) if hidden)


def _beside(unit: Floats) -> Floats:
    """Return shifts square to each of some directions, shape (n, k, 3)."""
    first = np.cross(unit, np.eye(3)[np.argmin(np.abs(unit), axis=1)])
    first /= np.linalg.norm(first, axis=1, keepdims=True)
    second = np.cross(unit, first)
    turn = 2 * np.pi * np.arange(AROUND) / AROUND
    ring = np.cos(turn)[None, :, None] * first[:, None] + np.sin(turn)[None, :, None] * second[:, None]
    return np.concatenate([far * ring for far in BESIDE], axis=1)

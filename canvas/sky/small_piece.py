"""Find the small piece of cloth that would stop most of what comes in.

Computes: of some sizes of one area, the place and size on one side of the box round the places through which most
    passes.
Units: metres, boat frame; shares 0..1.
Source: sums over rectangles by a summed-area table (F. C. Crow, SIGGRAPH 1984, from memory).
Limits: an upright or level rectangle on the side of the box, as a place and a size, not as a design; in steps of a
    hand's breadth.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from canvas.geometry.surface import Floats, Ints, locked

STEP = 0.10  # [m]
SIZES = ((1.2, 0.3), (0.9, 0.4), (0.6, 0.6), (0.4, 0.9), (0.3, 1.2))  # all of about a third of a square metre [m]
ACROSS = ((1, 2), (1, 2), (0, 2), (0, 2), (0, 1))  # axes of each side: forward, aft, port, starboard, above


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SmallPiece:
    """A small piece of cloth.

    Attributes
    ----------
    side : int
        Of the box, as in `canvas.sky.openings.SIDES`.
    low, high : (3,) ndarray
        Its corners [m].
    share : float
        Of all that comes in which it would stop.
    """

    side: int
    low: Floats
    high: Floats
    share: float


def small_piece(*, side: Ints, spot: Floats, amount: Floats) -> SmallPiece | None:
    """Return the piece that stops most, None where nothing comes in.

    Parameters
    ----------
    side : (k,) ndarray of int
        Side by which each ray comes.
    spot : (k, 3) ndarray
        Where [m].
    amount : (k,) ndarray
    """
    total = float(amount.sum())
    if total <= 0.0:
        return None
    found = [
        _on_side(number, spot[side == number], amount[side == number], total)
        for number in range(len(ACROSS))
        if amount[side == number].sum() > 0.0
    ]
    return max(found, key=lambda one: one.share)


def _on_side(number: int, spot: Floats, amount: Floats, total: float) -> SmallPiece:
    first, second = ACROSS[number]
    origin = np.floor(spot[:, [first, second]].min(axis=0) / STEP) * STEP
    cell = np.floor((spot[:, [first, second]] - origin) / STEP + 1e-9).astype(np.int64)
    count = cell.max(axis=0) + 1
    grid = np.bincount(cell[:, 0] * count[1] + cell[:, 1], amount, minlength=int(count.prod())).reshape(count)
    table = np.pad(grid.cumsum(axis=0).cumsum(axis=1), ((1, 0), (1, 0)))
    best = (-1.0, 0, 0, 1, 1)
    for size in SIZES:
        a, b = (min(round(size[k] / STEP), int(count[k])) for k in range(2))
        sums = table[a:, b:] - table[:-a, b:] - table[a:, :-b] + table[:-a, :-b]
        most = int(np.argmax(sums))
        row, column = divmod(most, sums.shape[1])
        best = max(best, (float(sums[row, column]), row, column, a, b))
    stopped, i, j, a, b = best
    low, high = np.array(spot.mean(axis=0)), np.array(spot.mean(axis=0))
    low[[first, second]] = origin + STEP * np.array([i, j])
    high[[first, second]] = origin + STEP * np.array([i + a, j + b])
    return SmallPiece(side=number, low=locked(low), high=locked(high), share=stopped / total)

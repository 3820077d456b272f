"""Cut parts into rows across the roll and lay them, one after another, as far back as each goes.

Computes: the spans a part takes in each row, both ways round; places of all parts for one order.
Units: metres; +x along the roll, rows along y.
Source: bottom-left placement, common practice in strip packing; own code.
Limits: a row counts as taken as far as the part reaches anywhere in it, so that parts lie no closer than they may;
    across the roll a part lies on the rows' grid.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from shapely.geometry import Polygon, box

from canvas.geometry.surface import Bools, Floats, Ints
from canvas.jobs.compiled import compiled
from canvas.jobs.turns import give_way

MOST = 16  # spans of one part in one row; more are taken as one
FREE = -1  # a part may lie either way round


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Laid:
    """Parts laid in one order.

    Attributes
    ----------
    length : float
        Of roll used; infinity where a part finds no place. [m]
    x : (n,) ndarray
        Where each part, grown by half the spacing, begins along the roll. [m]
    row : (n,) ndarray of int
        The first row it takes.
    turned : (n,) ndarray of bool
    """

    length: float
    x: Floats
    row: Ints
    turned: Bools


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rows:
    """All parts both ways round as rows, and the rows of the roll.

    Attributes
    ----------
    fine : float
        Height of a row. [m]
    spans : (n, 2, rows, most, 2) ndarray
        From where to where each part reaches along the roll in each of its rows. [m]
    count : (n, 2, rows) ndarray of int
        How many spans a row has.
    height : (n, 2) ndarray of int
        How many rows a part has.
    corner : (n, 2, 2) ndarray
        Least x and y of each grown part. [m]
    blocked : (rows,) ndarray of bool
        Rows of the roll that are not used.
    turns : (n,) ndarray of bool
        Which parts may be turned half round.
    """

    fine: float
    spans: Floats
    count: Ints
    height: Ints
    corner: Floats
    blocked: Bools
    turns: Bools

    def lay(self, order: Ints, way: Ints, *, top: bool = False, limit: float = np.inf) -> Laid:
        """Return the parts laid in an order; infinitely long where that passes a limit.

        Parameters
        ----------
        order : (n,) ndarray of int
        way : (n,) ndarray of int
            0 as drawn, 1 turned half round, FREE for what ends first.
        top : bool
            Look for places from the roll's last row back, not from its first on.
        limit : float
            [m]
        """
        give_way()
        way = np.where(self.turns, way, 0)
        length, x, row, turned = _lay(self.spans, self.count, self.height, self.blocked, way, order, top, limit)
        return Laid(length=float(length), x=x, row=row, turned=turned)


def rows_of(
    outlines: Sequence[Floats],
    *,
    room: float,
    fine: float,
    spacing: float,
    turnable: Sequence[bool] | None = None,
    forbidden: Sequence[tuple[float, float]] = (),
) -> Rows:
    """Return outlines, grown by half the spacing, as rows.

    Parameters
    ----------
    outlines : sequence of (k, 2) ndarray
        [m]
    room : float
        Width of the roll that grown parts may take. [m]
    fine : float
        Height of a row. [m]
    spacing : float
        [m]
    turnable : sequence of bool, optional
        All where absent.
    forbidden : sequence of (float, float)
        Bands across the room that are not used. [m]
    """
    shapes = [_part_rows(sign * outline, spacing, fine) for outline in outlines for sign in (1.0, -1.0)]
    most = max(int(count.max()) for _, count, _ in shapes)
    deep = max(len(count) for _, count, _ in shapes)
    n = len(outlines)
    spans = np.zeros((2 * n, deep, most, 2))
    counts = np.zeros((2 * n, deep), dtype=np.int64)
    for k, (span, count, _) in enumerate(shapes):
        spans[k, : len(count)] = span[:, :most]
        counts[k, : len(count)] = count
    blocked = np.zeros(int(room / fine + 1e-9), dtype=np.bool_)
    for low, high in forbidden:
        blocked[max(0, int(low / fine)) : max(0, int(np.ceil(high / fine)))] = True
    return Rows(
        fine=fine,
        spans=spans.reshape(n, 2, deep, most, 2),
        count=counts.reshape(n, 2, deep),
        height=np.array([len(count) for _, count, _ in shapes], dtype=np.int64).reshape(n, 2),
        corner=np.array([low for _, _, low in shapes]).reshape(n, 2, 2),
        blocked=blocked,
        turns=np.ones(n, dtype=np.bool_) if turnable is None else np.asarray(turnable, dtype=np.bool_),
    )


def _part_rows(outline: Floats, spacing: float, fine: float) -> tuple[Floats, Ints, Floats]:
    """Return the spans of one grown outline by row, how many each row has, and its least x and y."""
    half = spacing / 2
    low_x, low_y, high_x, high_y = Polygon(outline).bounds
    grown = Polygon(outline).buffer(half, join_style="mitre", mitre_limit=1.6)
    grown = grown.intersection(box(low_x - half, low_y - half, high_x + half, high_y + half))  # sharp corners blunted
    ring = np.asarray(grown.exterior.coords)[:-1]
    low = ring.min(axis=0)
    ring = ring - low
    rows = int(np.ceil(ring[:, 1].max() / fine - 1e-9))
    spans, count = _spans(ring, rows, fine)
    return spans, count, low


@compiled
def _spans(ring: Floats, rows: int, fine: float) -> tuple[Floats, Ints]:
    """Return from where to where an area reaches in each row, along its outline and through its inside."""
    spans = np.zeros((rows, MOST, 2))
    count = np.zeros(rows, dtype=np.int64)
    n = len(ring)
    for k in range(n):
        x0, y0, x1, y1 = ring[k - 1, 0], ring[k - 1, 1], ring[k, 0], ring[k, 1]
        low, high = min(y0, y1), max(y0, y1)
        slope = (x1 - x0) / (y1 - y0) if high > low else 0.0
        for r in range(max(0, int(np.floor(low / fine))), min(rows - 1, int(np.floor(high / fine))) + 1):
            a, b = max(low, r * fine), min(high, (r + 1) * fine)
            from_x = x0 + slope * (a - y0)
            to_x = x0 + slope * (b - y0) if high > low else x1
            _take(spans, count, r, min(from_x, to_x), max(from_x, to_x))
    crossing = np.zeros(n)
    for r in range(1, rows):
        met = 0
        for k in range(n):
            x0, y0, x1, y1 = ring[k - 1, 0], ring[k - 1, 1], ring[k, 0], ring[k, 1]
            if (y0 <= r * fine) != (y1 <= r * fine):
                crossing[met] = x0 + (x1 - x0) * (r * fine - y0) / (y1 - y0)
                met += 1
        inside = np.sort(crossing[:met])
        for k in range(0, met - 1, 2):
            _take(spans, count, r - 1, inside[k], inside[k + 1])
            _take(spans, count, r, inside[k], inside[k + 1])
    return spans, count


@compiled
def _take(spans: Floats, count: Ints, row: int, start: float, stop: float) -> None:
    """Add a span to a row, made one with those it meets."""
    kept = 0
    for s in range(count[row]):
        if spans[row, s, 1] < start - 1e-9 or spans[row, s, 0] > stop + 1e-9:
            spans[row, kept] = spans[row, s]
            kept += 1
        else:
            start, stop = min(start, spans[row, s, 0]), max(stop, spans[row, s, 1])
    if kept == MOST:
        kept -= 1
        start, stop = min(start, spans[row, kept, 0]), max(stop, spans[row, kept, 1])
    spans[row, kept, 0], spans[row, kept, 1] = start, stop
    count[row] = kept + 1


@compiled
def _lay(  # noqa: PLR0917
    spans: Floats,
    count: Ints,
    height: Ints,
    blocked: Bools,
    way: Ints,
    order: Ints,
    top: bool,  # noqa: FBT001
    limit: float,
) -> tuple[float, Floats, Ints, Bools]:
    """Lay the parts in an order, each as far back as it goes; return length, x, first row and turn of each."""
    n = len(order)
    rows = len(blocked)
    busy = np.zeros((rows, n * spans.shape[3], 2))
    held = np.zeros(rows, dtype=np.int64)
    x = np.zeros(n)
    row = np.zeros(n, dtype=np.int64)
    turned = np.zeros(n, dtype=np.bool_)
    length = 0.0
    for part in order:
        best_end, best_x, best_row, best_turn = np.inf, 0.0, -1, 0
        for turn in range(2):
            if way[part] == 1 - turn:
                continue
            reach = spans[part, turn, :, :, 1].max()
            last = rows - height[part, turn]
            for step in range(last + 1):
                start = last - step if top else step
                most = min(best_end, limit + 1e-9) - reach
                at = _farthest_back(
                    spans[part, turn], count[part, turn], height[part, turn], start, busy, held, blocked, most
                )
                end = at + reach
                if end < best_end - 1e-9:
                    best_end, best_x, best_row, best_turn = end, at, start, turn
        if best_row < 0 or best_end > limit:
            return np.inf, x, row, turned
        x[part], row[part], turned[part] = best_x, best_row, best_turn == 1
        length = max(length, best_end)
        for k in range(height[part, best_turn]):
            r = best_row + k
            for s in range(count[part, best_turn, k]):
                busy[r, held[r], 0] = spans[part, best_turn, k, s, 0] + best_x
                busy[r, held[r], 1] = spans[part, best_turn, k, s, 1] + best_x
                held[r] += 1
    return length, x, row, turned


@compiled
def _farthest_back(  # noqa: PLR0917
    spans: Floats, count: Ints, height: int, start: int, busy: Floats, held: Ints, blocked: Bools, most: float
) -> float:
    """Return the least x at which a part's rows are free from row `start` on; infinity past `most`."""
    x = 0.0
    moved = True
    while moved:
        moved = False
        for k in range(height):
            r = start + k
            if blocked[r]:
                return np.inf
            for s in range(count[k]):
                for b in range(held[r]):
                    if spans[k, s, 0] + x < busy[r, b, 1] - 1e-9 and spans[k, s, 1] + x > busy[r, b, 0] + 1e-9:
                        x = busy[r, b, 1] - spans[k, s, 0]
                        moved = True
            if x > most:
                return np.inf
    return x

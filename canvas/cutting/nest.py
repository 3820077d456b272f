"""Lay parts on the roll so that little cloth is wasted, the warp always along the roll.

Computes: a place and a half turn or none for every part; roll length and share of cloth used. Parts are cut into
    rows across the roll; each goes to the place farthest back along the roll where its rows are free; orders are
    tried in a fixed seeded sequence and the shortest kept.
Units: metres; +x along the roll, +y across it.
Source: bottom-left placement with a local search over orders, common practice in strip packing; own code.
Limits: parts are laid as their cut lines grown by half the spacing, and across the roll on a grid, 1 mm for few parts,
    5 mm for many. Not the
    shortest layout there is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import Polygon, box

from canvas.cloth.compiled import compiled
from canvas.cutting.part import FlatPart
from canvas.design.problems import DesignError, Problem
from canvas.geometry.surface import Bools, Floats, Ints, locked

ROWS = ((3, 0.001), (8, 0.002), (10**9, 0.005))  # up to so many parts, grid across the roll [m]
SPACING = 0.01  # [m] between parts; common practice
SELVEDGE = 0.015  # [m] of the roll's edge that is not used; common practice
EFFORT = 300  # orders tried at most
PATIENCE = 100  # orders tried without a shorter one before the search ends


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Layout:
    """Parts laid on a roll.

    Attributes
    ----------
    width : float
        Of the roll. [m]
    length : float
        Of roll used, ends of parts with half the spacing. [m]
    x, y : (n,) ndarray
        Shift of each part after its half turn. [m]
    turned : (n,) ndarray of bool
    used : float
        Area of parts over area of roll used, 0..1.
    """

    width: float
    length: float
    x: Floats
    y: Floats
    turned: Bools
    used: float

    def __post_init__(self) -> None:
        object.__setattr__(self, "x", locked(self.x))
        object.__setattr__(self, "y", locked(self.y))
        object.__setattr__(self, "turned", locked(self.turned, dtype=np.bool_))

    def outline(self, index: int, outline: Floats) -> Floats:
        """Return a part's outline where it lies on the roll, shape (k, 2). [m]."""
        sign = -1.0 if self.turned[index] else 1.0
        result: Floats = outline * sign + np.array([self.x[index], self.y[index]])
        return result


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Rows:
    """A part, one way round, as rows: spans [start, stop] of x in each row, and how many a row holds."""

    spans: Floats  # (rows, most, 2)
    count: Ints  # (rows,)
    low: tuple[float, float]  # least x and y of the grown outline


def width_problems(parts: Sequence[FlatPart], *, width: float, selvedge: float = SELVEDGE) -> list[Problem]:
    """Return a problem for each part that is wider than the roll.

    Parameters
    ----------
    parts : sequence of FlatPart
    width, selvedge : float
        Of the roll; of each of its edges that is not used. [m]
    """
    problems: list[Problem] = []
    for part in parts:
        across = float(np.ptp(part.cut[:, 1]))
        if across > width - 2 * selvedge + 1e-9:
            problems.append(
                Problem(
                    code="part-wider-than-roll",
                    key=f'part "{part.name}"',
                    found=f"{across:.3f} m across the warp on a roll of {width:.2f} m",
                    wanted=f"Divide it with a seam along the warp, or choose a roll of {across + 2 * selvedge:.2f} m "
                    "or more.",
                )
            )
    return problems


def nest(
    parts: Sequence[FlatPart],
    *,
    width: float,
    spacing: float = SPACING,
    selvedge: float = SELVEDGE,
    forbidden: Sequence[tuple[float, float]] = (),
) -> Layout:
    """Return a short layout of the parts, the same each time.

    Parameters
    ----------
    parts : sequence of FlatPart
        Warp along +u; turned half round where `turnable`.
    width : float
        Of the roll. [m]
    spacing : float
        Least distance between cut lines. [m]
    selvedge : float
        Not used at each edge of the roll. [m]
    forbidden : sequence of (float, float)
        Bands across the roll, from its lower edge, that are not used either: flaws, print. [m]

    Raises
    ------
    DesignError
        When a part is wider than the roll.
    """
    problems = width_problems(parts, width=width, selvedge=selvedge)
    if problems:
        raise DesignError(problems)
    outlines = [part.cut for part in parts]
    return nest_outlines(
        outlines,
        width=width,
        spacing=spacing,
        selvedge=selvedge,
        forbidden=forbidden,
        turnable=[part.turnable for part in parts],
    )


def nest_outlines(
    outlines: Sequence[Floats],
    *,
    width: float,
    spacing: float = SPACING,
    selvedge: float = SELVEDGE,
    forbidden: Sequence[tuple[float, float]] = (),
    turnable: Sequence[bool] | None = None,
) -> Layout:
    """Return a short layout of outlines that all fit across the roll; see `nest`."""
    if not outlines:
        return Layout(
            width=width, length=0.0, x=np.empty(0), y=np.empty(0), turned=np.empty(0, dtype=np.bool_), used=0.0
        )
    base = selvedge - spacing / 2
    fine = next(size for most, size in ROWS if len(outlines) <= most)
    rows = int((width - 2 * base) / fine + 1e-9)
    shapes = [(_rows(o, spacing, fine), _rows(-o, spacing, fine)) for o in outlines]
    table = _table(shapes, rows=rows, turnable=turnable)
    for low, high in forbidden:
        table.blocked[max(0, int((low - base) / fine)) : max(0, int(np.ceil((high - base) / fine)))] = True
    areas = np.array([Polygon(o).area for o in outlines])
    length, x, row, turned = table.lay(_search(table, areas, fine), limit=np.inf)
    if not np.isfinite(length):
        raise DesignError([_no_room(width)])
    corner = np.array([shapes[k][int(turned[k])].low for k in range(len(outlines))])
    return Layout(
        width=width,
        length=float(length),
        x=x - corner[:, 0],
        y=base + row * fine - corner[:, 1],
        turned=turned,
        used=float(areas.sum() / (length * width)),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Table:
    """All parts both ways round as rows, and the rows of the roll."""

    spans: Floats  # (parts, 2, rows, most, 2)
    count: Ints  # (parts, 2, rows)
    height: Ints  # (parts, 2)
    blocked: Bools  # (rows of the roll,)
    turns: Bools  # (parts,)

    def lay(self, order: Ints, *, limit: float) -> tuple[float, Floats, Ints, Bools]:
        laid: tuple[float, Floats, Ints, Bools] = _lay(
            self.spans, self.count, self.height, self.blocked, self.turns, order, limit
        )
        return laid

    def score(self, order: Ints, *, limit: float) -> float:
        """Return the length used, with a little for where the parts lie so that ties go towards the start."""
        length, x, _, _ = self.lay(order, limit=limit)
        return float(length + 1e-3 * x.mean()) if np.isfinite(length) else np.inf


def _table(shapes: Sequence[tuple[_Rows, _Rows]], *, rows: int, turnable: Sequence[bool] | None) -> _Table:
    most = max(s.spans.shape[1] for pair in shapes for s in pair)
    deep = max(s.spans.shape[0] for pair in shapes for s in pair)
    spans = np.zeros((len(shapes), 2, deep, most, 2))
    count = np.zeros((len(shapes), 2, deep), dtype=np.int64)
    height = np.zeros((len(shapes), 2), dtype=np.int64)
    for k, pair in enumerate(shapes):
        for turn, shape in enumerate(pair):
            spans[k, turn, : shape.spans.shape[0], : shape.spans.shape[1]] = shape.spans
            count[k, turn, : len(shape.count)] = shape.count
            height[k, turn] = len(shape.count)
    turns = np.ones(len(shapes), dtype=np.bool_) if turnable is None else np.asarray(turnable, dtype=np.bool_)
    return _Table(spans=spans, count=count, height=height, blocked=np.zeros(rows, dtype=np.bool_), turns=turns)


def _no_room(width: float) -> Problem:
    return Problem(
        code="no-room-on-roll",
        key=f"roll of {width:.2f} m",
        found="bands that are not used, and a part wider than what is left between them",
        wanted="Use a wider roll or another piece of it.",
    )


def _rows(outline: Floats, spacing: float, fine: float) -> _Rows:
    """Return a part grown by half the spacing as rows of spans."""
    shape = Polygon(outline).buffer(spacing / 2, join_style="mitre", mitre_limit=1.6)
    low_x, low_y, high_x, high_y = shape.bounds
    rows = int(np.ceil((high_y - low_y) / fine - 1e-9))
    bands = [box(low_x - 1, low_y + k * fine, high_x + 1, low_y + (k + 1) * fine) for k in range(rows)]
    met = shapely.intersection(shape, bands)
    found: list[list[tuple[float, float]]] = []
    for piece in met:
        spans = sorted((g.bounds[0] - low_x, g.bounds[2] - low_x) for g in getattr(piece, "geoms", [piece]))
        merged: list[tuple[float, float]] = []
        for start, stop in spans:
            if merged and start <= merged[-1][1]:
                merged[-1] = (merged[-1][0], max(stop, merged[-1][1]))
            else:
                merged.append((start, stop))
        found.append(merged)
    most = max(len(spans) for spans in found)
    result = np.zeros((rows, most, 2))
    for k, spans in enumerate(found):
        result[k, : len(spans)] = spans
    return _Rows(spans=result, count=np.array([len(s) for s in found], dtype=np.int64), low=(low_x, low_y))


def _search(table: _Table, areas: Floats, fine: float) -> Ints:
    """Return the best order found: by size first, then a seeded walk that swaps and moves parts."""
    n = len(areas)
    along = table.spans[:, 0, :, :, 1].max(axis=(1, 2))
    across = table.height[:, 0] * fine
    best, best_score = np.argsort(-areas, kind="stable"), np.inf
    for key in (areas, along, across, along + across, along * across):
        order = np.argsort(-key, kind="stable")
        score = table.score(order, limit=np.inf)
        if score < best_score:
            best, best_score = order, score
    random = np.random.default_rng(1)
    current, current_score = best, best_score
    rounds = EFFORT if n > 1 else 0
    last = 0
    for k in range(rounds):
        if k - last > PATIENCE:
            break
        i, j = random.integers(0, n, size=2)
        trial = np.insert(np.delete(current, i), j, current[i])
        if k % 2:
            trial = current.copy()
            trial[i], trial[j] = current[j], current[i]
        score = table.score(trial, limit=1.02 * current_score)
        heat = 0.004 * (1 - k / rounds) * best_score
        if score < current_score or random.random() < np.exp(-(score - current_score) / heat):
            current, current_score = trial, score
        if score < best_score:
            best, best_score, last = trial, score, k
    return best


@compiled
def _lay(  # noqa: PLR0917
    spans: Floats, count: Ints, height: Ints, blocked: Bools, turns: Bools, order: Ints, limit: float
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
        for turn in range(2 if turns[part] else 1):
            reach = spans[part, turn, :, :, 1].max()
            for start in range(rows - height[part, turn] + 1):
                most = best_end - reach
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


def shelf_length(
    outlines: Sequence[Floats], *, width: float, spacing: float = SPACING, selvedge: float = SELVEDGE
) -> float:
    """Return the roll length of plain shelf packing: bounding boxes by falling length, first shelf that has room. [m].

    Parameters
    ----------
    outlines : sequence of (k, 2) ndarray
        [m]
    width, spacing, selvedge : float
        [m]
    """
    sizes = sorted(((float(np.ptp(o[:, 0])), float(np.ptp(o[:, 1]))) for o in outlines), reverse=True)
    shelves: list[list[float]] = []  # length of each shelf, width filled
    room = width - 2 * selvedge + spacing
    for along, across in sizes:
        for shelf in shelves:
            if shelf[1] + across + spacing <= room + 1e-9:
                shelf[1] += across + spacing
                break
        else:
            shelves.append([along + spacing, across + spacing])
    return sum(shelf[0] for shelf in shelves)

"""Lay parts on the roll so that little cloth is wasted, the warp always along the roll.

Computes: a place and a half turn or none for every part; roll length and share of cloth used. Each part goes to the
    place farthest back along the roll where it has room (see rows.py); orders and half turns are tried in a fixed
    seeded sequence on a coarse grid, the best laid again on a fine one, and the shortest kept.
Units: metres; +x along the roll, +y across it.
Source: bottom-left placement with a local search over orders, common practice in strip packing; own code.
Limits: parts are laid as their cut lines grown by half the spacing, and across the roll on a grid of 1 or 2 mm. Not
    the shortest layout there is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import permutations, product

import numpy as np
from shapely.geometry import Polygon

from canvas.cutting.part import FlatPart
from canvas.cutting.rows import FREE, Rows, rows_of
from canvas.design.problems import DesignError, Problem
from canvas.geometry.surface import Bools, Floats, Ints, locked

FEW = 3  # of so many parts every order is tried, both ways round
COARSE, FINE, FINEST = 0.005, 0.002, 0.001  # grid across the roll: to search on, to lay on, to lay few parts on [m]
SIDE = 11  # of every twelve steps of the walk the one that changes the side parts are laid from
KEPT = 64  # layouts remembered
BEST = 4  # orders laid on the finer grid
SPACING = 0.01  # [m] between parts; common practice
SELVEDGE = 0.015  # [m] of the roll's edge that is not used; common practice
EFFORT = 600  # orders tried at most
PATIENCE = 200  # orders tried without a shorter one before the search ends


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
    """Return a short layout of outlines, (k, 2) each [m], that all fit across the roll; the rest as in `nest`."""
    turns = [True] * len(outlines) if turnable is None else turnable
    shapes = tuple(np.ascontiguousarray(outline, dtype=np.float64).tobytes() for outline in outlines)
    return _nested(
        shapes,
        width=width,
        spacing=spacing,
        selvedge=selvedge,
        forbidden=tuple((float(low), float(high)) for low, high in forbidden),
        turnable=tuple(bool(turn) for turn in turns),
    )


@lru_cache(maxsize=KEPT)
def _nested(
    shapes: tuple[bytes, ...],
    *,
    width: float,
    spacing: float,
    selvedge: float,
    forbidden: tuple[tuple[float, float], ...],
    turnable: tuple[bool, ...],
) -> Layout:
    """Return the layout of outlines given as bytes: laid once, however often cut, take-off and report ask."""
    if not shapes:
        return Layout(
            width=width, length=0.0, x=np.empty(0), y=np.empty(0), turned=np.empty(0, dtype=np.bool_), used=0.0
        )
    outlines = [np.frombuffer(shape).reshape(-1, 2) for shape in shapes]
    base = selvedge - spacing / 2
    bands = [(low - base, high - base) for low, high in forbidden]
    coarse, fine = (
        rows_of(
            outlines, room=width - 2 * base, fine=size, spacing=spacing, turnable=turnable, forbidden=bands
        )
        for size in (COARSE, FINEST if len(outlines) <= FEW else FINE)
    )  # fmt: skip
    areas = np.array([Polygon(o).area for o in outlines])
    laid = min((fine.lay(t.order, t.way, top=t.top) for t in _search(coarse, areas)), key=lambda one: one.length)
    if not np.isfinite(laid.length):
        raise DesignError([_no_room(width)])
    corner = fine.corner[np.arange(len(outlines)), laid.turned.astype(np.int64)]
    return Layout(
        width=width,
        length=laid.length,
        x=laid.x - corner[:, 0],
        y=base + laid.row * fine.fine - corner[:, 1],
        turned=laid.turned,
        used=float(areas.sum() / (laid.length * width)),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Try:
    """An order of the parts, which way round each lies, from which side, and the length with a little for ties."""

    order: Ints
    way: Ints
    top: bool
    score: float


def _no_room(width: float) -> Problem:
    return Problem(
        code="no-room-on-roll",
        key=f"roll of {width:.2f} m",
        found="bands that are not used, and a part wider than what is left between them",
        wanted="Use a wider roll or another piece of it.",
    )


def _search(rows: Rows, areas: Floats) -> list[_Try]:
    """Return the best tries, best first: every order of few parts, else by size and a seeded walk from there."""
    n = len(areas)
    if n <= FEW:
        tries = [
            _tried(rows, np.array(order), np.array(way), top=top)
            for order in permutations(range(n))
            for way in product((0, 1), repeat=n)
            for top in (False, True)
        ]
    else:
        along = rows.spans[:, 0, :, :, 1].max(axis=(1, 2))
        across = rows.height[:, 0] * rows.fine
        keys = (areas, along, across, along + across, along * across)
        orders = [np.argsort(-key, kind="stable") for key in keys]
        tries = [_tried(rows, order, np.full(n, FREE), top=top) for order in orders for top in (False, True)]
        tries += _walk(rows, min(tries, key=lambda one: one.score))
    return sorted(tries, key=lambda one: one.score)[:BEST]


def _tried(rows: Rows, order: Ints, way: Ints, *, top: bool, limit: float = np.inf) -> _Try:
    laid = rows.lay(order, way, top=top, limit=limit)
    score = laid.length + 1e-3 * float(laid.x.mean()) if np.isfinite(laid.length) else np.inf
    return _Try(order=order, way=way, top=top, score=score)


def _walk(rows: Rows, best: _Try) -> list[_Try]:
    """Return every shorter try found on a seeded walk that moves, swaps and turns parts."""
    n = len(best.order)
    random = np.random.default_rng(1)
    current, found, last = best, [best], 0
    for k in range(EFFORT):
        if k - last > PATIENCE:
            break
        i, j = random.integers(0, n, size=2)
        order, way, top = current.order.copy(), current.way, current.top
        if k % 3 == 0:
            order = np.insert(np.delete(order, i), j, order[i])
        elif k % 3 == 1:
            order[i], order[j] = order[j], order[i]
        elif k % 12 == SIDE:
            top = not top
        else:
            way = way.copy()
            way[i] = random.integers(FREE, 2)
        trial = _tried(rows, order, way, top=top, limit=1.02 * current.score)
        heat = 0.004 * (1 - k / EFFORT) * best.score
        if trial.score < current.score or random.random() < np.exp(-(trial.score - current.score) / heat):
            current = trial
        if trial.score < best.score:
            best, last = trial, k
            found.append(trial)
    return found


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

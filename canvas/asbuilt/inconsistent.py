"""Find what agrees least with the rest of the photographs: a view, a photograph, or a target that moved.

Computes: the one thing to leave out next; how far a target moved, and between which photographs.
Units: metres; pixels.
Source: misfit against the spread of all, worst first, as in `canvas.survey.suspects`; a move is told by the split of a
    target's photographs, in order, that explains its misfits best.
Limits: a target seen once, or from one side only, cannot be seen to have moved. Photographs in the order of the list.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from canvas.asbuilt.photographed import Moved, Stuck
from canvas.asbuilt.placing import pose_by_views
from canvas.asbuilt.views import State, Views
from canvas.geometry.surface import Bools, Floats, Ints

FAR_OFF = 1.5  # [px] more than a corner is ever misread by
TOLD = 0.15  # what is left of the misfits when a target's move is told rightly


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Inconsistent:
    """What agrees least.

    Attributes
    ----------
    keep : (v,) ndarray of bool
        The views that are left without it.
    photo : int or None
        The photograph it is, where it is a whole one.
    moved : Moved or None
        The target it is, where it is one.
    """

    keep: Bools
    photo: int | None = None
    moved: Moved | None = None


def least_consistent(
    views: Views, square: Floats, limit: float, *, state: State, stuck: Sequence[Stuck], files: Sequence[str]
) -> Inconsistent | None:
    """Return what agrees least with the rest, None where all agrees.

    Parameters
    ----------
    views : Views
    square : (v,) ndarray
        Mean square of each view's misfits [px2].
    limit : float
        Of the mean square of a photograph or target [px2].
    state : State
        As adjusted to these views.
    stuck : sequence of Stuck
    files : sequence of str
        Of the photographs.
    """
    photo = np.array([  # half of its views: a few moved targets are not its fault
        np.median(square[views.photo == p]) if (views.photo == p).any() else 0.0 for p in range(len(files))
    ])  # fmt: skip
    target = np.bincount(views.target, square) / np.maximum(np.bincount(views.target), 1)
    every = np.arange(len(square))
    if max(photo.max(), target.max()) <= limit:
        row = int(np.argmax(square))
        return Inconsistent(keep=every != row) if square[row] > 4 * limit else None
    if photo.max() > limit:
        p = int(np.argmax(photo))
        return Inconsistent(keep=views.photo != p, photo=p)
    t = int(np.argmax(target))
    rows = np.flatnonzero(views.target == t)
    rest = rows[np.argsort(square[rows])[: max(len(rows) - max(1, len(rows) // 5), 1)]]
    told, fewest = _told(views, rows, stuck[t], state, files)
    moved = told.by is not None and (fewest > 1 or _at_an_end(views, rows, square))
    if not moved and len(rows) >= 4 and square[rest].mean() <= limit:  # one bad view of a target that stood still
        return Inconsistent(keep=every != rows[np.argmax(square[rows])])
    return Inconsistent(keep=views.target != t, moved=told)


def _at_an_end(views: Views, rows: Ints, square: Floats) -> bool:
    """Return whether the view that fits worst is a target's first or last and far off: it moved then."""
    order = rows[np.argsort(views.photo[rows], kind="stable")]
    worst = rows[np.argmax(square[rows])]
    return worst in (order[0], order[-1]) and bool(square[worst] > FAR_OFF**2)


def _told(views: Views, rows: Ints, one: Stuck, state: State, files: Sequence[str]) -> tuple[Moved, int]:
    """Return how a target moved, and the fewest views on one side of it.

    That split of its photographs is taken that explains its misfits best.
    """
    order = np.asarray(rows)[np.argsort(views.photo[rows], kind="stable")].astype(np.int64)

    def pose(part: Ints) -> tuple[Floats, float]:
        found = pose_by_views(
            views, part, size=one.size * (1 + state.stretch), poses=state.poses,
            shifts=state.shifts, cameras=state.cameras,
        )  # fmt: skip
        return found.middle, found.square_sum

    whole = pose(order)[1]
    best, split = np.inf, 0
    for k in range(1, len(order)):
        total = pose(order[:k])[1] + pose(order[k:])[1]
        if total < best:
            best, split = total, k
    if not split or best > TOLD * whole:
        return Moved(number=one.number, mark=one.mark, by=None, before=None, after=None), 0
    by = float(np.linalg.norm(pose(order[:split])[0] - pose(order[split:])[0]))
    before, after = (files[int(views.photo[order[k]])] for k in (split - 1, split))
    told = Moved(number=one.number, mark=one.mark, by=by, before=before, after=after)
    return told, min(split, len(order) - split)

"""Write every reading as an equation in the unknown coordinates, tilts, planes and tubes.

Computes: what each reading should have been at given unknowns, and its exact slope there.
Units: metres, boat frame; tilts as components of a unit vector.
Source: distance and height equations as in any text on adjustment; slopes by the complex step (W. Squire and G. Trapp,
    SIAM Review 40, 1998, 110-112), exact to rounding.
Limits: a plane or tube is written over its two flattest axes, chosen at the start values; it may then turn by less than
    a right angle.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, TypeAlias

import numpy as np

from canvas.survey.marks import Floats, Ints
from canvas.survey.readings import (
    Height,
    Offset,
    OnPlane,
    OnTube,
    Plumb,
    Precision,
    Reading,
    Session,
    Tape,
    standard_deviation,
)

Values: TypeAlias = Any  # arrays of numbers, real or complex

STEP = 1e-30


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Block:
    """Rows of one kind: which unknowns each takes, in which order, and the function of them.

    Attributes
    ----------
    rows : (k,) ndarray of int
        Rows of the system it adds to.
    columns : (k, p) ndarray of int
        Unknowns it takes.
    function : callable
        From (k, p) to (k,), built from operations that a complex argument passes through.
    """

    rows: Ints
    columns: Ints
    function: Callable[[Values], Values]


def _distance(v: Values) -> Values:
    return np.sqrt((v[:, 0] - v[:, 3]) ** 2 + (v[:, 1] - v[:, 4]) ** 2 + (v[:, 2] - v[:, 5]) ** 2)


def _height(v: Values) -> Values:
    up = np.sqrt(1 - v[:, 3] ** 2 - v[:, 4] ** 2)
    return v[:, 0] * v[:, 3] + v[:, 1] * v[:, 4] + v[:, 2] * up - v[:, 5]


def _offset(v: Values) -> Values:
    return v[:, 0]


def _offset_between(v: Values) -> Values:
    return v[:, 0] - v[:, 1]


def _plumb_along(v: Values, axis: int) -> Values:
    """Return the level distance aft (0) or to starboard (1) from the line at the first mark to the second."""
    up = np.sqrt(1 - v[:, 6] ** 2 - v[:, 7] ** 2)
    tilt = v[:, 6 + axis]
    return (up * (v[:, 3 + axis] - v[:, axis]) - tilt * (v[:, 5] - v[:, 2])) / np.sqrt(up**2 + tilt**2)


def _plumb_aft(v: Values) -> Values:
    return _plumb_along(v, 0)


def _plumb_starboard(v: Values) -> Values:
    return _plumb_along(v, 1)


def _plumb_level(v: Values) -> Values:
    return np.sqrt(_plumb_along(v, 0) ** 2 + _plumb_along(v, 1) ** 2)


def _plane(v: Values) -> Values:
    return (v[:, 0] - v[:, 3] - v[:, 4] * v[:, 1] - v[:, 5] * v[:, 2]) / np.sqrt(1 + v[:, 4] ** 2 + v[:, 5] ** 2)


def _tube(v: Values) -> Values:
    return (v[:, 0] - v[:, 2] - v[:, 3] * v[:, 1]) / np.sqrt(1 + v[:, 3] ** 2)


class Equations:
    """The system of one survey: rows, unknowns and how they hang together.

    Unknowns are the 3n coordinates, then three a levelling session (two tilts, height of its plane), three a plane,
    four a tube.

    Parameters
    ----------
    names : sequence of str
        The marks, in the order of the unknowns.
    readings : sequence of Reading
    precision : Precision
    sessions : sequence of Session
        Those that are known to be level; others are taken as tilted.
    xyz : (n, 3) ndarray
        [m] Start values; they choose the axes a plane or tube is written over.
    """

    def __init__(
        self,
        names: Sequence[str],
        readings: Sequence[Reading],
        *,
        precision: Precision,
        sessions: Sequence[Session],
        xyz: Floats,
    ) -> None:
        self._index = {name: 3 * k for k, name in enumerate(names)}
        self.readings = tuple(readings)
        self.coordinates = 3 * len(names)
        self.sessions = tuple(dict.fromkeys(r.session for r in readings if isinstance(r, Height | Plumb)))
        level = {session.name for session in sessions if session.level}
        self._session_at = {name: self.coordinates + 3 * k for k, name in enumerate(self.sessions)}
        self._next = self.coordinates + 3 * len(self.sessions)
        self.held_tilts = [at + k for name, at in self._session_at.items() if name in level for k in (0, 1)]
        height_sessions = {r.session for r in readings if isinstance(r, Height)}
        self.held_tilts += [at + 2 for name, at in self._session_at.items() if name not in height_sessions]
        self._observed: list[float] = []
        self._sigma: list[float] = []
        self._reading: list[int] = []
        self._slack: list[bool] = []
        self._parts: dict[Callable[[Values], Values], list[tuple[int, list[int]]]] = {}
        self._flat: dict[str, tuple[int, tuple[int, int, int]]] = {}
        for number, reading in enumerate(readings):
            self._add(number, reading, standard_deviation(reading, precision=precision), xyz)
        self.size = self._next
        self.tilt_columns = np.array([3 * k + j for k in range(len(self.sessions)) for j in (0, 1)], dtype=np.int64)
        self.observed = np.array(self._observed)
        self.sigma = np.array(self._sigma)
        self.row_reading = np.array(self._reading, dtype=np.int64)
        self.slack = np.array(self._slack, dtype=np.bool_)
        self.blocks = tuple(
            Block(
                rows=np.array([row for row, _ in part], dtype=np.int64),
                columns=np.array([columns for _, columns in part], dtype=np.int64),
                function=function,
            )
            for function, part in self._parts.items()
        )

    def _row(self, number: int, observed: float, sigma: float, *, slack: bool = False) -> int:
        self._reading.append(number)
        self._observed.append(observed)
        self._sigma.append(sigma)
        self._slack.append(slack)
        return len(self._observed) - 1

    def _put(self, function: Callable[[Values], Values], row: int, columns: Sequence[int]) -> None:
        self._parts.setdefault(function, []).append((row, list(columns)))

    def _point(self, mark: str) -> list[int]:
        at = self._index[mark]
        return [at, at + 1, at + 2]

    def _add(self, number: int, reading: Reading, sigma: float, xyz: Floats) -> None:
        match reading:
            case Tape():
                row = self._row(number, reading.length, sigma, slack=reading.slack)
                for a, b in zip(reading.marks[:-1], reading.marks[1:], strict=True):
                    self._put(_distance, row, self._point(a) + self._point(b))
            case Height():
                at = self._session_at[reading.session]
                row = self._row(number, reading.height, sigma)
                self._put(_height, row, [*self._point(reading.mark), at, at + 1, at + 2])
            case Offset():
                row = self._row(number, reading.offset, sigma)
                columns = [self._index[mark] + "xyz".index(reading.axis) for mark in reading.marks]
                self._put(_offset if reading.of is None else _offset_between, row, columns)
            case Plumb():
                self._add_plumb(number, reading, sigma)
            case OnPlane():
                at, (up, u, v) = self._axes(f"plane {reading.plane}", xyz, count=3, flat=True)
                p = self._point(reading.mark)
                self._put(_plane, self._row(number, 0.0, sigma), [p[up], p[u], p[v], at, at + 1, at + 2])
            case OnTube():
                at, (run, u, v) = self._axes(f"tube {reading.tube}", xyz, count=4, flat=False)
                p = self._point(reading.mark)
                for k, across in enumerate((u, v)):
                    self._put(_tube, self._row(number, 0.0, sigma), [p[across], p[run], at + 2 * k, at + 2 * k + 1])

    def _add_plumb(self, number: int, reading: Plumb, sigma: float) -> None:
        at = self._session_at[reading.session]
        columns = [*self._point(reading.a), *self._point(reading.b), at, at + 1]
        if reading.along is None and reading.offset != 0:
            self._put(_plumb_level, self._row(number, reading.offset, sigma), columns)
            return
        if reading.along != "starboard":
            self._put(_plumb_aft, self._row(number, reading.offset, sigma), columns)
        if reading.along != "aft":
            self._put(_plumb_starboard, self._row(number, reading.offset, sigma), columns)

    def _axes(self, key: str, xyz: Floats, *, count: int, flat: bool) -> tuple[int, tuple[int, int, int]]:
        """Return where the unknowns of a plane or tube start, and its axis order: across (or along) first."""
        if key not in self._flat:
            members = xyz[self._members(key)]
            points = members - members.mean(axis=0)
            axes = np.linalg.svd(points, full_matrices=True)[2]
            first = int(np.argmax(np.abs(axes[-1] if flat else axes[0])))
            self._flat[key] = (self._next, (first, (first + 1) % 3, (first + 2) % 3))
            self._next += count
        return self._flat[key]

    def _members(self, key: str) -> list[int]:
        """Return the marks said to lie on a plane or tube."""
        return [
            self._index[r.mark] // 3
            for r in self.readings
            if (isinstance(r, OnPlane) and f"plane {r.plane}" == key)
            or (isinstance(r, OnTube) and f"tube {r.tube}" == key)
        ]

    def computed(self, unknowns: Floats) -> Floats:
        """Return what each row should have read at `unknowns`, shape (m,) [m]."""
        total = np.zeros(len(self.observed))
        for block in self.blocks:
            np.add.at(total, block.rows, block.function(unknowns[block.columns]))
        return total

    def slopes(self, unknowns: Floats) -> Floats:
        """Return the derivative of each row by each unknown, shape (m, u), at `unknowns`, (u,)."""
        matrix = np.zeros((len(self.observed), self.size))
        for block in self.blocks:
            values = unknowns[block.columns].astype(np.complex128)
            for p in range(block.columns.shape[1]):
                values[:, p] += 1j * STEP
                np.add.at(matrix, (block.rows, block.columns[:, p]), block.function(values).imag / STEP)
                values[:, p] -= 1j * STEP
        return matrix

    def complete(self, xyz: Floats) -> Floats:
        """Return start values of all unknowns: the coordinates, and tilts, planes and tubes fitted to them.

        Parameters
        ----------
        xyz : (n, 3) ndarray
            [m]
        """
        unknowns = np.zeros(self.size)
        unknowns[: self.coordinates] = xyz.ravel()
        for name, at in self._session_at.items():
            heights = [r for r in self.readings if isinstance(r, Height) and r.session == name]
            if heights:
                unknowns[at : at + 3] = self._fit_session(heights, xyz, held=at in self.held_tilts)
        for key, (at, (first, u, v)) in self._flat.items():
            points = xyz[self._members(key)]
            if key.startswith("plane "):
                flat = np.column_stack([np.ones(len(points)), points[:, u], points[:, v]])
                unknowns[at : at + 3] = np.linalg.lstsq(flat, points[:, first], rcond=None)[0]
            else:
                along = np.column_stack([np.ones(len(points)), points[:, first]])
                unknowns[at : at + 2] = np.linalg.lstsq(along, points[:, u], rcond=None)[0]
                unknowns[at + 2 : at + 4] = np.linalg.lstsq(along, points[:, v], rcond=None)[0]
        return unknowns

    def _fit_session(self, heights: Sequence[Height], xyz: Floats, *, held: bool) -> Floats:
        points = np.array([xyz[self._index[r.mark] // 3] for r in heights])
        rest = points[:, 2] - np.array([r.height for r in heights])
        if held or len(heights) < 3:
            return np.array([0.0, 0.0, float(np.median(rest))])
        matrix = np.column_stack([points[:, 0], points[:, 1], -np.ones(len(points))])
        fit = np.linalg.lstsq(matrix, -rest, rcond=1e-3)[0]
        lean = float(np.hypot(fit[0], fit[1]))
        if lean > 0.3:
            fit[:2] *= 0.3 / lean
        return np.array([fit[0], fit[1], float(np.median(points @ [fit[0], fit[1], 1.0] - (points[:, 2] - rest)))])

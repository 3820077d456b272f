"""Lay a shape into the boat's axes: by held marks, by rough coordinates, or by statements about a few marks.

Computes: the moves, turns and mirrors that bring a free shape into the datum.
Units: metres, boat frame (x aft, y starboard, z up).
Source: best rigid fit after P. H. Schoenemann (1966); inner constraints after P. Meissl (1969), as in Strang and Borre,
    Linear Algebra, Geodesy, and GPS (1997), chapter 12.
Limits: a condition is linear in coordinates; a length is a reading, not a condition.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import permutations, product
from typing import Literal

import numpy as np
from scipy.spatial.transform import Rotation

from canvas.survey.marks import Floats
from canvas.survey.readings import NOWHERE, Axis, Side, Where

SAME = 1e-3  # [m] two ways of laying a shape are one when no mark differs by more
LAY_STEPS = 40
LAID = 1e-9  # [m, rad] a step below this ends the laying
MET = 0.05  # [m] a condition is met within this before the adjustment


@dataclass(frozen=True, slots=True, kw_only=True)
class Condition:
    """A weighted sum of coordinates that has a known value, exactly.

    Attributes
    ----------
    terms : tuple of (mark, axis, factor)
        Such as ``(("stem_port", "y", 0.5), ("stem_stbd", "y", 0.5))``: the pair stands evenly about the centreline.
    value : float
        [m]
    where : Where
    """

    terms: tuple[tuple[str, Axis, float], ...]
    value: float = 0.0
    where: Where = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Datum:
    """What ties the survey to the boat's axes.

    Attributes
    ----------
    held : mapping of str to (3,) sequence
        [m] Marks whose coordinates are taken as exact.
    rough : mapping of str to (3,) sequence
        [m] Coordinates to start from.
    inner : tuple of str or None
        Marks whose rough coordinates the result should keep to on the whole (least sum of squares of moves), where held
        marks and conditions leave the datum free; None takes all in `rough`.
    conditions : tuple of Condition
    sides : tuple of Side
        Statements that pick one of the mirror images which conditions leave.
    """

    held: Mapping[str, Sequence[float]] = field(default_factory=dict)
    rough: Mapping[str, Sequence[float]] = field(default_factory=dict)
    inner: tuple[str, ...] | None = None
    conditions: tuple[Condition, ...] = ()
    sides: tuple[Side, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ConditionRows:
    """Linear conditions on the unknowns that hold exactly: rows of ``matrix @ unknowns = values``."""

    matrix: Floats
    values: Floats


def axes_datum(
    *,
    origin: str,
    centreline: str,
    level: str,
    level_side: Literal["port", "starboard"],
    rough: Mapping[str, Sequence[float]] | None = None,
) -> Datum:
    """Return the datum of three marks: one at the origin, one aft of it on the centreline, one level with both.

    Parameters
    ----------
    origin : str
        At x = y = z = 0.
    centreline : str
        At y = z = 0, aft of the origin.
    level : str
        At z = 0.
    level_side : {"port", "starboard"}
        Where the level mark lies.
    rough : mapping, optional
        [m] Coordinates to start from; no result depends on them.
    """
    terms: list[tuple[str, Axis]] = [
        (origin, "x"), (origin, "y"), (origin, "z"), (centreline, "y"), (centreline, "z"), (level, "z"),
    ]  # fmt: skip
    return Datum(
        rough=rough or {},
        conditions=tuple(Condition(terms=((mark, axis, 1.0),)) for mark, axis in terms),
        sides=(Side(mark=centreline, of=origin, side="aft"), Side(mark=level, of=origin, side=level_side)),
    )


def condition_rows(conditions: Sequence[Condition], names: Sequence[str], *, size: int) -> ConditionRows:
    """Return `conditions` as rows on unknowns that start with the marks' coordinates.

    Parameters
    ----------
    conditions : sequence of Condition
        Those on marks that are not surveyed are left out.
    names : sequence of str
        The surveyed marks.
    size : int
        Number of unknowns.
    """
    index = {name: 3 * k for k, name in enumerate(names)}
    held = [c for c in conditions if all(mark in index for mark, _, _ in c.terms)]
    matrix, values = np.zeros((len(held), size)), np.array([condition.value for condition in held])
    for row, condition in enumerate(held):
        for mark, axis, factor in condition.terms:
            matrix[row, index[mark] + "xyz".index(axis)] += factor
    return ConditionRows(matrix=matrix, values=values)


def rigid_fit(shape: Floats, target: Floats, *, mirrored: bool, dimension: int) -> tuple[Floats, Floats]:
    """Return rotation (3, 3) and shift (3,) with ``shape @ rotation + shift`` nearest to `target`.

    Parameters
    ----------
    shape, target : (k, 3) ndarray
        [m]
    mirrored : bool
        Whether the rotation shall also mirror.
    dimension : {2, 3}
        In two dimensions z stays as it is.
    """
    centre, goal = shape.mean(axis=0), target.mean(axis=0)
    left, _, right = np.linalg.svd((shape - centre)[:, :dimension].T @ (target - goal)[:, :dimension])
    turn = np.eye(dimension)
    turn[-1, -1] = np.sign(np.linalg.det(left @ right)) * (-1.0 if mirrored else 1.0)
    rotation = np.eye(3)
    rotation[:dimension, :dimension] = left @ turn @ right
    return rotation, goal - centre @ rotation


def laid_on(shape: Floats, rows: Sequence[int], target: Floats, *, dimension: int) -> list[Floats]:
    """Return the shape and its mirror image, each laid best on known coordinates of some of its marks.

    Parameters
    ----------
    shape : (n, 3) ndarray
        [m]
    rows : sequence of int
        Marks that are known.
    target : (k, 3) ndarray
        [m]
    dimension : {2, 3}
    """
    laid = []
    for mirrored in (False, True):
        rotation, shift = rigid_fit(shape[list(rows)], target, mirrored=mirrored, dimension=dimension)
        laid.append(shape @ rotation + shift)
    return distinct(laid)


def laid_by(shape: Floats, matrix: Floats, values: Floats, *, dimension: int) -> list[Floats]:
    """Return every way of laying the shape, or its mirror image, so that the conditions are met.

    Parameters
    ----------
    shape : (n, 3) ndarray
        [m]
    matrix : (c, 3n) ndarray
    values : (c,) ndarray
        [m]
    dimension : {2, 3}
    """
    centred = shape - shape.mean(axis=0)
    ways = []
    for start in _quarter_turns(dimension):
        places = centred @ start
        for _ in range(LAY_STEPS):
            off = matrix @ places.ravel() - values
            step = np.linalg.lstsq(matrix @ rigid_motions(places, dimension=dimension), -off, rcond=1e-9)[0]
            places = _moved(places, step, dimension=dimension)
            if np.abs(step).max() < LAID:
                break
        if np.abs(matrix @ places.ravel() - values).max(initial=0.0) < MET:
            ways.append(places)
    return distinct(ways)


def distinct(shapes: Sequence[Floats], *, apart: float = SAME) -> list[Floats]:
    """Return `shapes` without those that repeat an earlier one to within `apart` [m]."""
    kept: list[Floats] = []
    for shape in shapes:
        if all(np.abs(shape - other).max() > apart for other in kept):
            kept.append(shape)
    return kept


def _quarter_turns(dimension: int) -> list[Floats]:
    """Return all turns by right angles, mirrored ones included."""
    turns = []
    for order in permutations(range(dimension)):
        for signs in product((1.0, -1.0), repeat=dimension):
            turn = np.eye(3)
            turn[:dimension, :dimension] = np.eye(dimension)[list(order)] * np.array(signs)
            turns.append(turn)
    return turns


def _moved(places: Floats, step: Floats, *, dimension: int) -> Floats:
    """Return places moved as one body by a combination of `rigid_motions`, no more than a radian at once."""
    shift, turn = np.zeros(3), np.zeros(3)
    shift[:dimension] = step[:dimension]
    turn[[2, 0, 1][: len(step) - dimension]] = step[dimension:]
    turn /= max(1.0, float(np.linalg.norm(turn)))
    middle = places.mean(axis=0)
    moved: Floats = (places - middle) @ Rotation.from_rotvec(turn).as_matrix().T + middle + shift
    return moved


def rigid_motions(xyz: Floats, *, dimension: int) -> Floats:
    """Return small moves of marks at `xyz`, (n, 3) [m], and turns about their middle as columns, (3n, 3) or (3n, 6)."""
    centred = xyz - xyz.mean(axis=0)
    count = len(xyz)
    x, y, z = centred.T
    zero = np.zeros(count)
    motions = [np.tile(axis, (count, 1)) for axis in np.eye(3)[:dimension]]
    motions.append(np.column_stack([-y, x, zero]))
    if dimension == 3:
        motions += [np.column_stack([zero, -z, y]), np.column_stack([z, zero, -x])]
    return np.column_stack([motion.ravel() for motion in motions])

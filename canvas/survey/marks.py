"""Hold the marks of a boat: where they are, how well that is known, and what each reading says about it.

Computes: lengths, directions and their standard deviations from the joint covariance; nothing is adjusted here.
Units: metres, boat frame (x aft, y starboard, z up); covariance in square metres.
Source: law of propagation of covariance, for instance C. D. Ghilani, Adjustment Computations, chapter 6.
Limits: propagation is to first order; a length shorter than about five of its standard deviations is skewed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from canvas.arrays import Bools, Floats, Ints, locked
from canvas.design.problems import DesignError, Problem, nearest
from canvas.survey.readings import Reading

__all__ = ["Bools", "Floats", "Ints", "Marks", "Tilt", "given_marks", "joined", "locked"]


def _none() -> Floats:
    return np.zeros(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tilt:
    """How one levelling session's vertical leaned against the boat's z axis.

    Attributes
    ----------
    session : str
        Its name.
    heel : float
        [rad] Starboard side down.
    trim : float
        [rad] Bow up.
    heel_sd, trim_sd : float
        [rad]
    """

    session: str
    heel: float
    trim: float
    heel_sd: float
    trim_sd: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Marks:
    """Named points with their joint covariance, and the adjustment they came from.

    Marks that were only given coordinates have zero covariance. The row arrays are empty where nothing was adjusted;
    a reading that says two things (a plumb line: aft and to starboard) has two rows.

    Attributes
    ----------
    names : tuple of str
        n names.
    xyz : (n, 3) ndarray
        [m]
    covariance : (3n, 3n) ndarray
        [m2] Of x, y, z of the first mark, then of the second, and so on, with the standard deviations stated for the
        readings (not scaled by `sigma0`).
    readings : tuple of Reading
        What was adjusted.
    row_reading : (m,) ndarray of int
        Index into `readings` of each row.
    observed, residual : (m,) ndarray
        [m] What was read; adjusted minus read.
    sigma : (m,) ndarray
        [m] Standard deviation stated for the row.
    active : (m,) ndarray of bool
        False for a slack path that is longer than the straight line, which then says nothing.
    redundancy : (m,) ndarray
        Share of an error in this row that shows in its own residual, 0..1.
    standardised : (m,) ndarray
        Residual over its own standard deviation; 0 where the redundancy is 0.
    reliability : (m, m) ndarray
        Projector from errors in units of their sigma to residuals in units of their sigma, taken at the robust
        solution, which a blunder hardly moves.
    first_residual : (m,) ndarray
        [m] Residuals of the least-squares step from there; those that `canvas.survey.suspects` judges by.
    sigma0 : float or None
        Root mean square of residual over sigma per degree of freedom; None without redundancy.
    degrees_of_freedom : int
        Rows less unknowns plus conditions.
    tilts : tuple of Tilt
        One a levelling session.
    """

    names: tuple[str, ...]
    xyz: Floats
    covariance: Floats
    readings: tuple[Reading, ...] = ()
    row_reading: Ints = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    observed: Floats = field(default_factory=_none)
    residual: Floats = field(default_factory=_none)
    sigma: Floats = field(default_factory=_none)
    active: Bools = field(default_factory=lambda: np.zeros(0, dtype=np.bool_))
    redundancy: Floats = field(default_factory=_none)
    standardised: Floats = field(default_factory=_none)
    reliability: Floats = field(default_factory=lambda: np.zeros((0, 0)))
    first_residual: Floats = field(default_factory=_none)
    sigma0: float | None = None
    degrees_of_freedom: int = 0
    tilts: tuple[Tilt, ...] = ()

    def __post_init__(self) -> None:
        for name in (
            "xyz",
            "covariance",
            "observed",
            "residual",
            "sigma",
            "redundancy",
            "standardised",
            "reliability",
            "first_residual",
        ):
            object.__setattr__(self, name, locked(getattr(self, name)))
        object.__setattr__(self, "row_reading", locked(self.row_reading, dtype=np.int64))
        object.__setattr__(self, "active", locked(self.active, dtype=np.bool_))

    def index(self, name: str) -> int:
        """Return the row of the mark `name` in `xyz`.

        Raises
        ------
        DesignError
            When there is no such mark.
        """
        if name not in self.names:
            raise DesignError(
                [Problem(code="unknown-mark", key="marks", found=f'"{name}"', wanted=nearest(name, self.names))]
            )
        return self.names.index(name)

    def at(self, name: str) -> Floats:
        """Return the place of the mark `name`, shape (3,) [m]."""
        place: Floats = self.xyz[self.index(name)]
        return place

    def joint(self, names: Sequence[str]) -> Floats:
        """Return the joint covariance of `names`, shape (3k, 3k) [m2]."""
        rows = np.concatenate([np.arange(3) + 3 * self.index(name) for name in names])
        block: Floats = self.covariance[np.ix_(rows, rows)]
        return block

    def largest_sd(self) -> Floats:
        """Return each mark's standard deviation along the longest axis of its ellipsoid, shape (n,) [m]."""
        count = len(self.names)
        blocks = self.covariance.reshape(count, 3, count, 3)[np.arange(count), :, np.arange(count), :]
        return np.sqrt(np.maximum(np.linalg.eigvalsh(blocks)[:, -1], 0.0)) if count else _none()


def given_marks(coordinates: Mapping[str, Sequence[float]]) -> Marks:
    """Return marks that were only given coordinates: zero covariance, no readings.

    Parameters
    ----------
    coordinates : mapping of str to (3,) sequence
        [m]
    """
    names = tuple(coordinates)
    xyz = np.array([coordinates[name] for name in names], dtype=np.float64).reshape(-1, 3)
    return Marks(names=names, xyz=xyz, covariance=np.zeros((xyz.size, xyz.size)))


def joined(adjusted: Marks, coordinates: Mapping[str, Sequence[float]], *, order: Sequence[str]) -> Marks:
    """Return adjusted marks together with those that were only given coordinates, in a chosen order.

    Parameters
    ----------
    adjusted : Marks
    coordinates : mapping of str to (3,) sequence
        [m] Those that `adjusted` has already are not looked at.
    order : sequence of str
        All names.
    """
    extra = given_marks({name: place for name, place in coordinates.items() if name not in adjusted.names})
    names = (*adjusted.names, *extra.names)
    rows = [names.index(name) for name in order]
    count = len(adjusted.names) * 3
    covariance = np.zeros((3 * len(names), 3 * len(names)))
    covariance[:count, :count] = adjusted.covariance
    axes = (3 * np.array(rows)[:, None] + np.arange(3)).ravel()
    return replace(
        adjusted,
        names=tuple(order),
        xyz=np.vstack([adjusted.xyz, extra.xyz])[rows],
        covariance=covariance[np.ix_(axes, axes)],
    )

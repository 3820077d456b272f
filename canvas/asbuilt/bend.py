"""Bend a panel to readings taken on it: the closest cloth that honours them within their errors.

Computes: places of the panel's vertices; how far each reading is then missed; how well each measured spot is known.
Units: metres, boat frame.
Source: least change of shape (`canvas.asbuilt.stiffness`) under readings with errors, solved as a Gaussian process over
    the cloth; the weight of the change is that under which the readings are most likely (C. E. Rasmussen and
    C. K. I. Williams, Gaussian Processes for Machine Learning, 2006, chapter 5).
Limits: the change is small against the panel; vertices on tubes and other canvas stay where they are.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
import numpy.typing as npt
from scipy.optimize import minimize_scalar
from scipy.sparse.linalg import splu

from canvas.asbuilt.stiffness import shape_stiffness
from canvas.cloth.domain import closest
from canvas.geometry.surface import Bools, Floats, Ints, locked
from canvas.jobs.failure import CouldNot
from canvas.survey.equations import Equations
from canvas.survey.marks import Marks
from canvas.survey.readings import Precision, Reading, Session
from canvas.survey.solve import active_rows

TILT = 0.1  # [rad] how far a levelling session may have leaned
PLANE = 10.0  # [m] how high its plane may have been
STEPS = 30
CLOSE = 1e-6  # [m]
LIGHT, HEAVY = 1e-2, 1e8  # [1/m2] range of the weight of a change of shape
WRONG = 3.5  # standard deviations beyond which a reading is not believed to be honoured


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PanelToBend:
    """A panel as designed.

    Attributes
    ----------
    vertices : (n, 3) ndarray
        [m]
    faces : (m, 3) ndarray of int
    stays : (n,) ndarray of bool
        Vertices that do not move: on tubes, on other canvas, on fittings of the boat.
    lines : tuple of (k,) ndarray of int
        Edges with webbing, rope, wire or batten.
    forces : tuple of float
        [m] Force in each over the cloth's tension.
    """

    vertices: Floats
    faces: Ints
    stays: Bools
    lines: tuple[Ints, ...] = ()
    forces: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bent:
    """A panel bent to its readings.

    Attributes
    ----------
    vertices : (n, 3) ndarray
        [m] In the order of the panel's.
    spots : tuple of str
        Marks on the panel that readings touch.
    designed, measured : (s, 3) ndarray
        [m] Where each spot was to be, and is.
    spot_sd : (s,) ndarray
        [m] Largest axis of each.
    readings : tuple of Reading
    row_reading : (m,) ndarray of int
    observed, expected : (m,) ndarray
        [m] What was read; what each row would read on the panel as designed; levelling planes fitted to it.
    residual, standardised : (m,) ndarray
        Bent less read [m]; the same over the reading's standard deviation.
    honoured : bool
        Whether every reading is met within its error as a whole; False where they contradict each other.
    """

    vertices: Floats
    spots: tuple[str, ...]
    designed: Floats
    measured: Floats
    spot_sd: Floats
    readings: tuple[Reading, ...]
    row_reading: Ints
    observed: Floats
    expected: Floats
    residual: Floats
    standardised: Floats
    honoured: bool

    def __post_init__(self) -> None:
        for name in ("vertices", "designed", "measured", "spot_sd", "observed", "expected", "residual", "standardised"):
            object.__setattr__(self, name, locked(getattr(self, name)))
        object.__setattr__(self, "row_reading", locked(self.row_reading, dtype=np.int64))


def bend(
    panel: PanelToBend,
    readings: Sequence[Reading],
    *,
    spots: Mapping[str, npt.ArrayLike],
    marks: Marks,
    sessions: Sequence[Session] = (),
    precision: Precision | None = None,
) -> Bent:
    """Return the panel with the least change of shape that meets the readings within their errors.

    Parameters
    ----------
    panel : PanelToBend
    readings : sequence of Reading
        On the panel, and heights of boat marks in the same levelling sessions.
    spots : mapping of str to (3,) array
        [m] Where the marks on the panel are by design.
    marks : Marks
        The boat's, with covariance.
    sessions : sequence of Session
        As in `canvas.survey.adjust.adjust`.
    precision : Precision, optional

    Raises
    ------
    CouldNot
        When the readings do not settle on one shape.
    """
    equations_of = partial(Equations, precision=precision or Precision(), sessions=sessions)
    return _Bending(panel, readings, spots=spots, marks=marks, equations_of=equations_of).result()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Found:
    """One solution: unknowns, pulls at the spots (s, 3), the spots' covariance, -2 log likelihood of the readings."""

    unknowns: Floats
    pulls: Floats
    covariance: Floats
    unlikely: float


class _Bending:
    """The least-squares problem: cloth against readings, boat marks and levelling planes known with errors."""

    def __init__(
        self,
        panel: PanelToBend,
        readings: Sequence[Reading],
        *,
        spots: Mapping[str, npt.ArrayLike],
        marks: Marks,
        equations_of: Callable[..., Equations],
    ) -> None:
        self.panel = panel
        touched = tuple(dict.fromkeys(mark for reading in readings for mark in reading.marks))
        self.spots = tuple(name for name in touched if name in spots)
        self.boat = tuple(name for name in touched if name not in spots)
        self.designed = np.array([spots[name] for name in self.spots], dtype=np.float64).reshape(-1, 3)
        fixed = np.array([marks.at(name) for name in self.boat]).reshape(-1, 3)
        start = np.vstack([self.designed, fixed])
        self.equations = equations_of((*self.spots, *self.boat), readings, xyz=start)
        self.start = self.equations.complete(start)
        self.known = self._other_covariance(marks)
        self.reach = self._reach()

    def _other_covariance(self, marks: Marks) -> Floats:
        """Return the prior covariance of what is not cloth: boat marks, then tilts and planes of sessions."""
        rest = self.equations.size - 3 * len(self.spots)
        covariance = np.zeros((rest, rest))
        count = 3 * len(self.boat)
        covariance[:count, :count] = marks.joint(self.boat) if self.boat else 0.0
        for k in range(count, rest):
            at = 3 * len(self.spots) + k
            tilt = (at - self.equations.coordinates) in self.equations.tilt_columns
            covariance[k, k] = 0.0 if at in self.equations.held_tilts else (TILT if tilt else PLANE) ** 2
        return covariance

    def _reach(self) -> Floats:
        """Return how far each vertex moves for a unit pull at each spot, shape (n, s)."""
        panel = self.panel
        face, share, _ = closest(self.designed, panel.vertices, panel.faces)
        self.weights = np.zeros((len(self.spots), len(panel.vertices)))
        for row, (number, shares) in enumerate(zip(face, share, strict=True)):
            np.add.at(self.weights[row], panel.faces[number], shares)
        free = ~panel.stays
        stiffness = shape_stiffness(panel.vertices, panel.faces, lines=panel.lines, forces=panel.forces)
        reach = np.zeros((len(panel.vertices), len(self.spots)))
        if free.any():
            reach[free] = splu(stiffness[free][:, free].tocsc()).solve(self.weights[:, free].T)
        return reach

    def bent(self, weight: float) -> _Found:
        """Return what a weight of change gives."""
        equations, count = self.equations, 3 * len(self.spots)
        flexible = np.kron(self.weights @ self.reach, np.eye(3)) / weight
        prior = np.zeros((equations.size, equations.size))
        prior[:count, :count], prior[count:, count:] = flexible, self.known
        unknowns = self.start.copy()
        for _ in range(STEPS):
            off = equations.computed(unknowns) - equations.observed
            root = np.where(active_rows(equations, off), 1 / equations.sigma, 0.0)
            slopes = equations.slopes(unknowns) * root[:, None]
            system = slopes @ prior @ slopes.T + np.eye(len(root))
            pull = np.linalg.solve(system, root * off - slopes @ (unknowns - self.start))
            moved = self.start - prior @ slopes.T @ pull
            still = float(np.abs(moved - unknowns)[:count].max(initial=0.0)) < CLOSE
            unknowns = moved
            if still:
                break
        else:
            raise CouldNot(
                "The readings on the panel did not settle on one shape.",
                "Check them for a wrong mark or unit; the change must be small against the panel.",
            )
        gain = prior @ slopes.T
        after = prior - gain @ np.linalg.solve(system, gain.T)
        against = root * off - slopes @ (unknowns - self.start)
        return _Found(
            unknowns=unknowns,
            pulls=-(slopes.T @ pull)[:count].reshape(-1, 3) / weight,
            covariance=after[:count, :count],
            unlikely=float(against @ pull + np.linalg.slogdet(system)[1]),
        )

    def _misfit(self, unknowns: Floats) -> Floats:
        off = self.equations.computed(unknowns) - self.equations.observed
        return np.where(active_rows(self.equations, off), off, 0.0)

    def _weight(self) -> float:
        """Return the weight of change under which the readings are most likely."""
        least = minimize_scalar(
            lambda log: self.bent(float(np.exp(log))).unlikely, bounds=(np.log(LIGHT), np.log(HEAVY)), method="bounded"
        )
        return float(np.exp(least.x))

    def result(self) -> Bent:
        """Return the bent panel."""
        found = self.bent(self._weight())
        count = len(self.spots)
        unknowns, covariance = found.unknowns, found.covariance
        blocks = covariance.reshape(count, 3, count, 3)[np.arange(count), :, np.arange(count), :]
        residual = self._misfit(unknowns)
        standardised = residual / self.equations.sigma
        return Bent(
            vertices=self.panel.vertices + self.reach @ found.pulls,
            spots=self.spots,
            designed=self.designed,
            measured=unknowns[: 3 * count].reshape(-1, 3),
            spot_sd=np.sqrt(np.maximum(np.linalg.eigvalsh(blocks)[:, -1], 0.0)),
            readings=self.equations.readings,
            row_reading=self.equations.row_reading,
            observed=self.equations.observed,
            expected=self.equations.computed(self.start),
            residual=residual,
            standardised=standardised,
            honoured=bool(np.all(np.abs(standardised) < WRONG)),
        )

"""Adjust photographs and the crew's other readings together: one set of equations, one covariance.

Computes: marks, how each target is turned, where each photograph was taken, the cameras and the printed size, by
    weighted least squares; the covariance of the marks; how well each view and reading fits.
Units: metres, boat frame; pixels.
Source: bundle adjustment after D. C. Brown (1976), as in T. Luhmann and others, Close-Range Photogrammetry and 3D
    Imaging, chapter 4.4; robust steps after P. J. Huber (1964); readings as in `canvas.survey.equations`.
Limits: dense in marks, photographs and cameras: some 150 targets in 60 photographs. Corners are taken to err each by
    itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.sparse import csr_array
from scipy.spatial.transform import Rotation

from canvas.asbuilt.camera import PARAMETERS, project
from canvas.asbuilt.views import CORNER, Sheet, State, Views
from canvas.design.problems import DesignError, Problem
from canvas.geometry.surface import Bools, Floats, Ints
from canvas.jobs.failure import CouldNot
from canvas.survey.datum import rigid_fit
from canvas.survey.equations import Equations
from canvas.survey.readings import Tape

HUBER = 2.5
STEPS = 60
FINAL = 4
NOTHING = 1e-9  # of the largest scaled eigenvalue, below which a direction is free
CAMERA_SD = np.array([0.3, 0.03, 0.03, 0.5, 0.5, 0.01, 0.01])  # what is known of a phone's camera beforehand; no source


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bundle:
    """The adjusted whole.

    Attributes
    ----------
    state : State
    covariance : (s, s) ndarray
        Of the survey's unknowns.
    pixel_sd : float
        Of one coordinate of a corner, found from the misfits [px].
    misfit : (v, 4, 2) ndarray
        Of each view, seen less computed [px].
    reading_residual, reading_standardised : (m,) ndarray
        Of the readings, adjusted less read [m]; over its own standard deviation.
    reading_redundancy : (m,) ndarray
    """

    state: State
    covariance: Floats
    pixel_sd: float
    misfit: Floats
    reading_residual: Floats
    reading_standardised: Floats
    reading_redundancy: Floats


class Adjustment:
    """The equations of photographs and readings.

    Parameters
    ----------
    views : Views
    sheet : Sheet
    names : sequence of str
        All marks, those of targets among them.
    equations : Equations
        Of the readings on these marks.
    photos : int
        How many, those no longer counted among them.
    held : (n,) ndarray of bool
        Marks whose coordinates are exact.
    rough : (n, 3) ndarray
        Coordinates that lay the whole where nothing else does, not a number where there are none [m].
    """

    def __init__(
        self,
        views: Views,
        sheet: Sheet,
        *,
        names: Sequence[str],
        equations: Equations,
        photos: int,
        held: Bools,
        rough: Floats,
    ) -> None:
        self.views, self.sheet, self.equations, self.names = views, sheet, equations, tuple(names)
        self.held, self.rough = held, rough
        self.photos = photos
        self._turns = equations.size
        self._poses = self._turns + 3 * len(sheet.mark)
        self._cameras = self._poses + 6 * self.photos
        self.size = self._cameras + PARAMETERS * len(views.focal) + 1
        self.free: Bools = np.ones(self.size, dtype=np.bool_)
        self.free[: 3 * len(held)] = np.repeat(~held, 3)
        self.free[equations.held_tilts] = False
        local = CORNER[None] * sheet.size[views.target][:, None, None]
        self._local = np.concatenate(
            [local, np.broadcast_to(sheet.behind[views.target][:, None, None], (*local.shape[:2], 1))], axis=2
        ).reshape(-1, 3)
        repeat = [np.repeat(one, 4) for one in (views.photo, views.target, views.camera)]
        self._photo, self._target, self._camera = repeat
        self._columns = self._columns_of()

    def hold(self, loose: Bools) -> None:
        """Keep marks that nothing is said of (`loose`, (n,)), and what is no longer seen, where they are."""
        self.free[: 3 * len(loose)] &= ~np.repeat(loose, 3)
        for start, width, count, seen in (
            (self._turns, 3, len(self.sheet.mark), self.views.target), (self._poses, 6, self.photos, self.views.photo),
        ):  # fmt: skip
            gone = np.setdiff1d(np.arange(count), seen)
            self.free[(start + width * gone[:, None] + np.arange(width)).ravel()] = False

    def _columns_of(self) -> Ints:
        mark = 3 * self.sheet.mark[self._target]
        starts = [(mark, 3), (self._turns + 3 * self._target, 3), (self._poses + 6 * self._photo, 6)]
        starts += [(self._cameras + PARAMETERS * self._camera, PARAMETERS)]
        columns = [start[:, None] + np.arange(width) for start, width in starts]
        last = np.full((len(mark), 1), self.size - 1)
        return np.hstack([*columns, last])

    def image(self, state: State, *, slopes: bool = True) -> tuple[Floats, csr_array | None]:
        """Return what is computed less seen of every corner, (8v,) [px], and its slopes."""
        flat = self._local * [1 + state.stretch, 1 + state.stretch, 1.0]
        arm = np.einsum("nij,nj->ni", state.turns[self._target], flat)
        places = state.unknowns[: 3 * len(self.held)].reshape(-1, 3)[self.sheet.mark[self._target]]
        pose = state.poses[self._photo]
        turned = np.einsum("nij,nj->ni", pose, places + arm)
        seen = project(turned + state.shifts[self._photo], state.cameras[self._camera])
        misfit = (seen.spots - self.views.corners.reshape(-1, 2)).ravel()
        if not slopes:
            return misfit, None
        by_place = seen.by_point @ pose
        plane = self._local * [1.0, 1.0, 0.0]
        stretch = by_place @ np.einsum("nij,nj->ni", state.turns[self._target], plane)[:, :, None]
        by_pose = np.concatenate([-seen.by_point @ _cross(turned), seen.by_point], axis=2)
        rows = np.concatenate([by_place, -by_place @ _cross(arm), by_pose, seen.by_camera, stretch], axis=2)
        count = 2 * len(self._photo)
        width = rows.shape[2]
        columns = np.repeat(self._columns, 2, axis=0)
        matrix = csr_array(
            (rows.reshape(-1), columns.ravel(), np.arange(0, count * width + 1, width)), shape=(count, self.size)
        )
        return misfit, matrix

    def prior(self, state: State) -> tuple[Floats, Floats]:
        """Return what is known of cameras and printed size: misfits over their sd, and 1/sd by unknown, (k,) each."""
        focal = np.log(state.cameras[:, 0] / self.views.focal)
        middle = (state.cameras[:, 1:3] - self.views.middle) / self.views.focal[:, None]
        off = np.column_stack([focal, middle, state.cameras[:, 3:]]) / CAMERA_SD
        unit = np.column_stack([
            1 / state.cameras[:, 0], *(2 * [1 / self.views.focal]), *(4 * [np.ones(len(focal))])
        ]) / CAMERA_SD  # fmt: skip
        return (
            np.append(off.ravel(), state.stretch / self.sheet.size_sd),
            np.append(unit.ravel(), 1 / self.sheet.size_sd),
        )

    def moved(self, state: State, step: Floats) -> State:
        """Return the state after a step of all unknowns."""
        turn = step[self._turns : self._poses].reshape(-1, 3)
        pose = step[self._poses : self._cameras].reshape(-1, 6)
        return State(
            unknowns=state.unknowns + step[: self._turns],
            turns=Rotation.from_rotvec(turn).as_matrix() @ state.turns,
            poses=Rotation.from_rotvec(pose[:, :3]).as_matrix() @ state.poses,
            shifts=state.shifts + pose[:, 3:],
            cameras=state.cameras + step[self._cameras : -1].reshape(-1, PARAMETERS),
            stretch=state.stretch + float(step[-1]),
        )

    def cost(self, state: State, pixel_sd: float) -> float:
        """Return the robust sum of squares of misfits over `pixel_sd` [px]."""
        misfit = self.image(state, slopes=False)[0] / pixel_sd
        size = np.sqrt((misfit.reshape(-1, 2) ** 2).sum(axis=1))
        image = np.where(size < HUBER, size**2, HUBER * (2 * size - HUBER)).sum()
        residual, _, active = self._readings(state)
        known = self.prior(state)[0]
        return float(image + (np.where(active, residual, 0.0) ** 2).sum() + (known**2).sum())

    def _readings(self, state: State) -> tuple[Floats, Floats, Bools]:
        own = self.equations
        residual = own.computed(state.unknowns) - own.observed
        return residual / own.sigma, residual, ~own.slack | (residual > 0)

    def normal(self, state: State, pixel_sd: float, *, robust: bool) -> tuple[Floats, Floats]:
        """Return the normal equations (u, u) of all unknowns and their right side (u,).

        Parameters
        ----------
        state : State
            Where it is linearised.
        pixel_sd : float
            Spread of a target's centre in a picture [pixel].
        robust : bool
            Whether images far off weigh less, by Huber's rule.

        Raises
        ------
        CouldNot
            When the photographs gave no equations.
        """
        misfit, slopes = self.image(state)
        weight = np.full(len(misfit), 1 / pixel_sd**2)
        if robust:
            size = np.sqrt((misfit.reshape(-1, 2) ** 2).sum(axis=1)) / pixel_sd
            weight *= np.repeat(np.minimum(1.0, HUBER / np.maximum(size, 1e-9)), 2)
        if slopes is None:
            raise CouldNot("The photographs gave no equations.", "Take more.")
        matrix = (slopes.T @ (slopes * weight[:, None])).toarray()
        right = slopes.T @ (weight * misfit)
        residual, _, active = self._readings(state)
        own = self.equations.slopes(state.unknowns) / self.equations.sigma[:, None]
        own[~active] = 0.0
        matrix[: self._turns, : self._turns] += own.T @ own
        right[: self._turns] += own.T @ np.where(active, residual, 0.0)
        known, unit = self.prior(state)
        rows = np.arange(self._cameras, self.size)
        matrix[rows, rows] += unit**2
        right[rows] += unit * known
        return matrix, right

    def settle(self, state: State, pixel_sd: float, *, robust: bool = True, steps: int = STEPS) -> State:
        """Return the state of least cost near a start.

        Parameters
        ----------
        state : State
            Start.
        pixel_sd : float
            Spread of a target's centre in a picture [pixel].
        robust : bool
            Whether images far off weigh less, by Huber's rule.
        steps : int
            At most.

        Raises
        ------
        CouldNot
            When the photographs gave no equations.
        """
        damping, cost = 1e-4, self.cost(state, pixel_sd)
        free = self.free
        for _ in range(steps):
            matrix, right = self.normal(state, pixel_sd, robust=robust)
            matrix, right = matrix[np.ix_(free, free)], right[free]
            scale = np.diag(matrix).copy()
            before = cost
            for _ in range(10):
                step = np.zeros(self.size)
                step[free] = -np.linalg.solve(matrix + np.diag(damping * scale + 1e-9), right)
                trial = self.moved(state, _tempered(step, self._turns, self._cameras))
                trial_cost = self.cost(trial, pixel_sd)
                if trial_cost < cost:
                    state, cost, damping = trial, trial_cost, max(damping / 8, 1e-10)
                    break
                damping *= 8
            if before - cost <= 1e-7 * (1 + cost):
                break
        return state

    def solve(self, state: State, pixel_sd: float, *, settled: bool = False) -> Bundle:
        """Return the whole, adjusted: robustly first, then by least squares with the spread the corners show.

        Parameters
        ----------
        state : State
            Start.
        pixel_sd : float
            Spread of a target's centre in a picture to begin with; the corners' own takes its place [pixel].
        settled : bool
            Whether the start is a low point of the robust cost already.

        Raises
        ------
        CouldNot
            When the photographs gave no equations.
        DesignError
            When some targets can move without any picture noticing.
        """
        state = self.laid(state if settled else self.settle(state, pixel_sd))
        for _ in range(FINAL):
            matrix, right = self.normal(state, pixel_sd, robust=False)
            inverse, off = self._inverse(matrix, state)
            step = np.zeros(self.size)
            step[self.free] = (inverse @ np.append(-right[self.free], off))[: int(self.free.sum())]
            state = self.moved(state, step)
            misfit = self.image(state, slopes=False)[0]
            freedom = max(len(misfit) - self._spent(), 1)
            pixel_sd = float(np.sqrt(misfit @ misfit / freedom))
        matrix, _ = self.normal(state, pixel_sd, robust=False)
        inverse, _ = self._inverse(matrix, state)
        count = int(self.free.sum())
        covariance = np.zeros((self.size, self.size))
        covariance[np.ix_(self.free, self.free)] = inverse[:count, :count]
        return self._bundle(state, covariance[: self._turns, : self._turns], pixel_sd)

    def _spent(self) -> int:
        """Return how many unknowns photographs determine: all but marks without a target, and six of the frame."""
        seen = np.unique(self.sheet.mark[self._target])
        own = int(self.free[self._turns :].sum())
        return 3 * int((~self.held[seen]).sum()) + own - 6 * int(not self.held.any())

    def _bundle(self, state: State, covariance: Floats, pixel_sd: float) -> Bundle:
        residual, metres, active = self._readings(state)
        own = self.equations.slopes(state.unknowns) / self.equations.sigma[:, None]
        redundancy = np.where(active, 1 - np.einsum("ij,jk,ik->i", own, covariance, own), 0.0)
        seen = redundancy > 1e-6
        return Bundle(
            state=state, covariance=covariance, pixel_sd=pixel_sd,
            misfit=-self.image(state, slopes=False)[0].reshape(-1, 4, 2), reading_residual=metres,
            reading_standardised=np.where(seen & active, residual / np.sqrt(np.where(seen, redundancy, 1.0)), 0.0),
            reading_redundancy=redundancy,
        )  # fmt: skip

    def _inverse(self, matrix: Floats, state: State) -> tuple[Floats, Floats]:
        """Return the inverse of the normal equations, bordered where the whole is free, and how far off it is there.

        The border holds the mean place of marks with rough coordinates along the directions that nothing else fixes.
        """
        free = self.free
        own = matrix[np.ix_(free, free)]
        size = np.sqrt(np.maximum(np.diag(own), 1e-30))
        values, vectors = np.linalg.eigh(own / np.outer(size, size))
        loose = vectors[:, values < NOTHING * values[-1]] / size[:, None]
        if not loose.shape[1]:
            return (vectors / values) @ vectors.T / np.outer(size, size), np.zeros(0)
        border, off = self._border(loose, state)
        count, rows = len(own), len(border)
        scale = np.concatenate([1 / size, np.ones(rows)])
        length = np.linalg.norm(border / size, axis=1)
        whole = np.zeros((count + rows, count + rows))
        whole[:count, :count] = own
        whole[count:, :count] = border / length[:, None]
        whole[:count, count:] = whole[count:, :count].T
        inverse: Floats = scale[:, None] * np.linalg.inv(scale[:, None] * whole * scale) * scale
        return inverse, off / length

    def _border(self, loose: Floats, state: State) -> tuple[Floats, Floats]:
        directions = np.zeros((self.size, loose.shape[1]))
        directions[self.free] = loose
        marks = directions[: 3 * len(self.held)].reshape(len(self.held), 3, -1)
        chosen = np.zeros((loose.shape[1], self.size))
        off = np.zeros(loose.shape[1])
        for k in np.flatnonzero(np.isfinite(self.rough).all(axis=1)):
            chosen[:, 3 * k : 3 * k + 3] = marks[k].T
            off += marks[k].T @ (self.rough[k] - state.unknowns[3 * k : 3 * k + 3])
        values = np.linalg.svd(chosen, compute_uv=False)
        if loose.shape[1] > 6 or values[-1] < 1e-5 * max(values[0], 1e-30):
            raise self._undetermined(marks)
        return chosen[:, self.free], off

    def _undetermined(self, marks: Floats) -> DesignError:
        size = np.linalg.norm(marks.reshape(len(marks), -1), axis=1)
        loose = [self.names[k] for k in np.argsort(-size)[:3] if size[k] > 10 * np.median(size)]
        if loose:
            found = f"too little that says where {', '.join(loose)} lie{'s' if len(loose) == 1 else ''}"
            wanted = "Photograph their targets from more sides, or take more readings to them."
        else:
            found = "too few marks that tie the photographs to the boat's axes"
            wanted = "Put targets on three or more marks with coordinates that are not in one line."
        return DesignError([Problem(code="photo-not-laid", key="marks", found=found, wanted=wanted)])

    def laid(self, state: State) -> State:
        """Return the state moved as one body onto the rough coordinates, where nothing but tape holds it."""
        known = np.isfinite(self.rough).all(axis=1)
        bound = self.held.any() or any(not isinstance(one, Tape) for one in self.equations.readings)
        if bound or known.sum() < 3:
            return state
        count = 3 * len(self.held)
        marks = state.unknowns[:count].reshape(-1, 3)
        turn, shift = rigid_fit(marks[known], self.rough[known], mirrored=False, dimension=3)
        unknowns = state.unknowns.copy()
        unknowns[:count] = (marks @ turn + shift).ravel()
        return replace(
            state, unknowns=unknowns, turns=turn.T @ state.turns, poses=state.poses @ turn,
            shifts=state.shifts - np.einsum("pij,j->pi", state.poses @ turn, shift),
        )  # fmt: skip


def _tempered(step: Floats, turns: int, cameras: int) -> Floats:
    """Return a step with no turn over half a radian."""
    largest = float(np.abs(step[turns:cameras]).max(initial=0.0))
    return step if largest < 0.5 else step * (0.5 / largest)


def _cross(vectors: Floats) -> Floats:
    """Return the matrices that multiply as the cross product with vectors, (n, 3, 3)."""
    x, y, z = vectors.T
    zero = np.zeros(len(vectors))
    matrices: Floats = np.stack([zero, -z, y, z, zero, -x, -y, x, zero], axis=1).reshape(-1, 3, 3)
    return matrices

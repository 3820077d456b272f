"""Place targets and photographs roughly, one photograph after another, to begin the adjustment from.

Computes: a first pose of every photograph and target in the axes of the photograph that sees most; the pose of one
    target from some of its views, the cameras being known.
Units: metres; pixels.
Source: each square gives two poses (T. Collins and A. Bartoli, Int. J. Computer Vision 109 (2014) 252); that which
    other photographs bear out is kept. Photographs are placed by points known already (RANSAC and SQPnP, OpenCV).
Limits: a photograph that sees fewer than three placed targets is left out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial.transform import Rotation

from canvas.asbuilt.camera import PARAMETERS, project, spots_of
from canvas.asbuilt.targets import camera_pose, square_poses
from canvas.asbuilt.views import CORNER, Views
from canvas.geometry.surface import Bools, Floats, Ints

LEAST_TARGETS = 3
FAR_OFF = 12.0  # [px] beyond which a misfit counts no further


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Placed:
    """First poses in the axes of one photograph.

    Attributes
    ----------
    turns, middles : (t, 3, 3) and (t, 3) ndarray
        Of the targets [m].
    poses, shifts : (p, 3, 3) and (p, 3) ndarray
        Of the photographs [m].
    targets, photos : ndarray of bool
        Which were placed.
    """

    turns: Floats
    middles: Floats
    poses: Floats
    shifts: Floats
    targets: Bools
    photos: Bools


class Placing:
    """The work of placing.

    Parameters
    ----------
    views : Views
    size : (t,) ndarray
        Of each target's black square [m].
    """

    def __init__(self, views: Views, size: Floats) -> None:
        self.views, self.size = views, size
        self.cameras = np.zeros((len(views.focal), PARAMETERS))
        self.cameras[:, 0] = views.focal
        self.cameras[:, 1:3] = views.middle
        photos, targets = int(views.photo.max()) + 1, len(size)
        self.turns, self.middles = np.tile(np.eye(3), (targets, 1, 1)), np.zeros((targets, 3))
        self.poses, self.shifts = np.tile(np.eye(3), (photos, 1, 1)), np.zeros((photos, 3))
        self.got_target, self.got_photo = np.zeros(targets, dtype=bool), np.zeros(photos, dtype=bool)
        self._square = [
            square_poses(
                views.corners[v], size=float(size[views.target[v]]), focal=float(views.focal[views.camera[v]]),
                middle=views.middle[views.camera[v]],
            )
            for v in range(len(views.photo))
        ]  # fmt: skip
        self._of_photo = [np.flatnonzero(views.photo == p) for p in range(photos)]
        self._of_target = [np.flatnonzero(views.target == t) for t in range(targets)]

    def place(self) -> Placed:
        """Return first poses of all photographs and targets that hang together with the one that sees most."""
        seen = [len(rows) for rows in self._of_photo]
        first = int(np.argmax(seen))
        self.got_photo[first] = True
        self._place_targets(first)
        tried: set[int] = set()
        while True:
            count = [
                0 if self.got_photo[p] or p in tried else int(self.got_target[self.views.target[rows]].sum())
                for p, rows in enumerate(self._of_photo)
            ]
            best = int(np.argmax(count))
            if count[best] < LEAST_TARGETS:
                break
            if self._place_photo(best):
                self._place_targets(best)
                tried.clear()
            else:
                tried.add(best)
        return Placed(
            turns=self.turns, middles=self.middles, poses=self.poses, shifts=self.shifts, targets=self.got_target,
            photos=self.got_photo,
        )  # fmt: skip

    def _place_photo(self, photo: int) -> bool:
        rows = [v for v in self._of_photo[photo] if self.got_target[self.views.target[v]]]
        points = np.vstack([self._corners(int(self.views.target[v])) for v in rows])
        camera = self.views.camera[rows[0]]
        found = camera_pose(
            points, self.views.corners[rows].reshape(-1, 2), focal=float(self.views.focal[camera]),
            middle=self.views.middle[camera],
        )  # fmt: skip
        if found is None:
            return False
        self.poses[photo], self.shifts[photo] = found
        self.got_photo[photo] = True
        return True

    def _place_targets(self, photo: int) -> None:
        """Place, or place again, each target of a photograph where the photographs placed so far see it best."""
        for view in self._of_photo[photo]:
            target = int(self.views.target[view])
            rows = [int(v) for v in self._of_target[target] if self.got_photo[self.views.photo[v]]]
            choices = [(self.turns[target], self.middles[target])] if self.got_target[target] else []
            for v in rows:
                pose, shift = self.poses[self.views.photo[v]], self.shifts[self.views.photo[v]]
                choices += [(pose.T @ turn, pose.T @ (place - shift)) for turn, place in self._square[v]]
            costs = self._costs(rows, target, choices)
            self.turns[target], self.middles[target] = choices[int(np.argmin(costs))]
            self.got_target[target] = True

    def _corners(self, target: int) -> Floats:
        flat = np.c_[CORNER * self.size[target], np.zeros(4)]
        corners: Floats = flat @ self.turns[target].T + self.middles[target]
        return corners

    def _costs(self, rows: list[int], target: int, choices: list[tuple[Floats, Floats]]) -> Floats:
        """Return how badly each choice of a target's pose fits its views."""
        flat = np.c_[CORNER * self.size[target], np.zeros(4)]
        corners = np.array([flat @ turn.T + middle for turn, middle in choices])
        photo = self.views.photo[rows]
        before = np.einsum("vij,kcj->kvci", self.poses[photo], corners) + self.shifts[photo][:, None, :]
        values = self.cameras[self.views.camera[rows]][:, None, :]
        off = np.linalg.norm(spots_of(before, values) - self.views.corners[rows], axis=-1)
        behind = (before[..., 2] <= 0).any(axis=2)
        costs: Floats = np.minimum(off, FAR_OFF).sum(axis=(1, 2)) + 1e3 * behind.sum(axis=1)
        return costs


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pose:
    """Where one target lies, by some of its views.

    Attributes
    ----------
    turn : (3, 3) ndarray
    middle : (3,) ndarray
        [m]
    square_sum : float
        Of the misfits [px2].
    """

    turn: Floats
    middle: Floats
    square_sum: float


def pose_by_views(views: Views, rows: Ints, *, size: float, poses: Floats, shifts: Floats, cameras: Floats) -> Pose:
    """Return where a target lies by some of its views, photographs and cameras being known.

    Parameters
    ----------
    views : Views
    rows : (k,) ndarray of int
        Views of the one target.
    size : float
        Of its black square [m].
    poses, shifts, cameras : ndarray
        As in `canvas.asbuilt.views.State`.

    Raises
    ------
    ValueError
        Where there is no view.
    """
    flat = np.c_[CORNER * size, np.zeros(4)]
    best: Pose | None = None
    for row in rows:
        camera = cameras[views.camera[row]]
        pose, shift = poses[views.photo[row]], shifts[views.photo[row]]
        for turn, place in square_poses(views.corners[row], size=size, focal=float(camera[0]), middle=camera[1:3]):
            found = _refined(views, rows, flat, pose.T @ turn, pose.T @ (place - shift), poses, shifts, cameras)
            if best is None or found.square_sum < best.square_sum:
                best = found
        if len(rows) > 3 and best is not None and row == rows[1]:
            break
    if best is None:
        raise ValueError("no views")
    return best


def _refined(  # noqa: PLR0917 - one inner step of `pose_by_views`
    views: Views, rows: Ints, flat: Floats, turn: Floats, middle: Floats, poses: Floats, shifts: Floats, cameras: Floats
) -> Pose:
    photo = np.repeat(views.photo[rows], 4)
    values = cameras[np.repeat(views.camera[rows], 4)]
    seen = views.corners[rows].reshape(-1, 2)
    total = np.inf
    for _ in range(12):
        arm = np.tile(flat @ turn.T, (len(rows), 1))
        got = project(np.einsum("nij,nj->ni", poses[photo], arm + middle) + shifts[photo], values)
        misfit = (got.spots - seen).ravel()
        by_place = got.by_point @ poses[photo]
        by_turn = np.cross(arm[:, None, :], by_place)
        slopes = np.concatenate([by_place, by_turn], axis=2).reshape(-1, 6)
        now = float(misfit @ misfit)
        if total - now < 1e-6 * (1 + now):
            break
        total = now
        step = np.linalg.lstsq(slopes, -misfit, rcond=1e-10)[0]
        middle = middle + step[:3]
        turn = Rotation.from_rotvec(step[3:]).as_matrix() @ turn
    return Pose(turn=turn, middle=middle, square_sum=min(total, now))

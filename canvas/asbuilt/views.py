"""Hold what was seen of targets in photographs, how they are printed and stuck, and all that is to be found.

Computes: nothing; picks and joins views.
Units: metres, boat frame; pixels.
Source: none.
Limits: none.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from canvas.geometry.surface import Bools, Floats, Ints

CORNER = np.array([[-0.5, 0.5], [0.5, 0.5], [0.5, -0.5], [-0.5, -0.5]])  # of a target's square, as read


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Views:
    """What was seen in photographs.

    Attributes
    ----------
    photo, target, camera : (v,) ndarray of int
        Of each view of a target.
    corners : (v, 4, 2) ndarray
        [px]
    focal : (cameras,) ndarray
        First focal lengths [px].
    middle : (cameras, 2) ndarray
        Of the pictures [px].
    """

    photo: Ints
    target: Ints
    camera: Ints
    corners: Floats
    focal: Floats
    middle: Floats

    def only(self, rows: Bools) -> Views:
        """Return some of the views: those where `rows`, (k,), is true."""
        return replace(
            self, photo=self.photo[rows], target=self.target[rows], camera=self.camera[rows], corners=self.corners[rows]
        )

    def with_more(self, more: Views) -> Views:
        """Return these views and more, in the order of the photographs."""
        photo = np.concatenate([self.photo, more.photo])
        order = np.argsort(photo, kind="stable")
        return replace(
            self, photo=photo[order], target=np.concatenate([self.target, more.target])[order],
            camera=np.concatenate([self.camera, more.camera])[order],
            corners=np.concatenate([self.corners, more.corners])[order],
        )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class State:
    """All unknowns.

    Attributes
    ----------
    unknowns : (s,) ndarray
        Of the survey: marks first, then tilts, planes and tubes.
    turns : (t, 3, 3) ndarray
        Of each target; its third column looks out of the paper.
    poses : (p, 3, 3) ndarray
        From the boat's axes to the camera's.
    shifts : (p, 3) ndarray
        [m]
    cameras : (c, 7) ndarray
    stretch : float
        Printed size over what was asked, less one.
    """

    unknowns: Floats
    turns: Floats
    poses: Floats
    shifts: Floats
    cameras: Floats
    stretch: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sheet:
    """The targets as printed and stuck.

    Attributes
    ----------
    mark : (t,) ndarray of int
        Row of each target's mark among the survey's names.
    size : (t,) ndarray
        Of the black square [m].
    behind : (t,) ndarray
        How far behind the paper the mark lies [m].
    size_sd : float
        How well the printed size is known, all targets alike, as a share of it.
    """

    mark: Ints
    size: Floats
    behind: Floats
    size_sd: float

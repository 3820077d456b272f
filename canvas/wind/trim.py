"""Ease sails and booms on reaches and runs, and lay them on the side away from the wind.

Computes: a scene whose sails, and booms with them, stand as they are sheeted close-hauled or further out, by the
apparent wind angle.
Units: metres; radians.
Source: common practice, no source: a boom close-hauled as the design sheets it, 40 deg out with the wind abeam, 80 deg
on a run; headsails half as far.
Limits: one rule for every boat; each sail turns whole about its luff, with no twist or camber added; sails within 20
deg of the bow are down (see `canvas.wind.flow.domain`).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt

from canvas.geometry.scene import Scene
from canvas.geometry.surface import Surface
from canvas.wind.flow.domain import SAILS_FROM

Floats = npt.NDArray[np.float64]
CLOSE = float(np.radians(32.0))  # up to this apparent wind angle sails stand as the design sheets them
ANGLES = np.radians([32.0, 90.0, 150.0, 180.0])
BOOM = np.radians([0.0, 40.0, 75.0, 80.0])  # of a boom off the middle line
HEADSAIL = 0.5  # of what a boom is eased by
ABAFT_MAST = 0.25  # a sail whose tack lies no further than this ahead of a mast is set on its boom [m]


def boom_angle(awa: float, *, sheeted: float) -> float:
    """Return how far a boom stands off the middle line [rad].

    Parameters
    ----------
    awa : float
        Apparent wind angle, either side [rad].
    sheeted : float
        Close-hauled, as the design has it [rad].
    """
    return float(max(sheeted, np.interp(abs(awa), ANGLES, BOOM)))


def eased(scene: Scene, awa: float) -> Scene:
    """Return a scene with its sails and booms trimmed for a wind.

    Parameters
    ----------
    scene : Scene
    awa : float
        From the bow, positive to starboard [rad].
    """
    sails = [s for s in scene.surfaces if s.kind == "sail"]
    if not sails or abs(awa) < SAILS_FROM:
        return scene
    lee = -1.0 if awa >= 0.0 else 1.0
    masts = [_axis(s)[0] for s in scene.surfaces if "mast" in s.name]
    surfaces = tuple(_trimmed(s, awa, lee=lee, masts=masts) for s in scene.surfaces)
    return replace(scene, surfaces=surfaces)


def _trimmed(surface: Surface, awa: float, *, lee: float, masts: list[Floats]) -> Surface:
    if surface.kind == "sail":
        vertices = surface.vertices * np.array([1.0, 1.0 if surface.vertices[:, 1].mean() * lee >= 0 else -1.0, 1.0])
        tack, head = _luff(vertices)
        on_boom = any(tack[0] > mast[0] - ABAFT_MAST for mast in masts)
        share = 1.0 if on_boom else HEADSAIL
    elif surface.name.endswith("boom"):
        tack, aft = _axis(surface)
        vertices = surface.vertices * np.array([1.0, 1.0 if (aft[1] - tack[1]) * lee >= 0 else -1.0, 1.0])
        head, share = tack + np.array([0.0, 0.0, 1.0]), 1.0
    else:
        return surface
    far = vertices[int(np.argmax(vertices[:, 0]))]
    sheeted = abs(float(np.arctan2(far[1] - tack[1], far[0] - tack[0])))
    more = share * (boom_angle(awa, sheeted=sheeted) - sheeted)
    if more <= 0.0 and vertices is surface.vertices:
        return surface
    faces = surface.faces if np.allclose(vertices, surface.vertices) else surface.faces[:, ::-1]
    return replace(surface, vertices=_turned(vertices, tack, head, lee * more), faces=faces)


def _axis(surface: Surface) -> tuple[Floats, Floats]:
    """Return the forward and the aft end of a bar's middle line."""
    x = surface.vertices[:, 0]
    room = 0.02 * max(float(np.ptp(x)), 1e-6)
    return surface.vertices[x <= x.min() + room].mean(axis=0), surface.vertices[x >= x.max() - room].mean(axis=0)


def _luff(vertices: Floats) -> tuple[Floats, Floats]:
    """Return tack and upper end of the luff: the foremost of the lowest, and of the highest, part of a sail."""
    z, high = vertices[:, 2], np.ptp(vertices[:, 2])
    low, top = vertices[z <= z.min() + 0.12 * high], vertices[z >= z.max() - 0.02 * high]
    return low[int(np.argmin(low[:, 0]))], top[int(np.argmin(top[:, 0]))]


def _turned(vertices: Floats, start: Floats, end: Floats, angle: float) -> Floats:
    """Return points turned about a line; a positive angle takes what lies aft to starboard (Rodrigues)."""
    k = (end - start) / np.linalg.norm(end - start)
    arm = vertices - start
    c, s = np.cos(angle), np.sin(angle)
    return np.asarray(start + arm * c + np.cross(k, arm) * s + k * (arm @ k)[:, None] * (1.0 - c))

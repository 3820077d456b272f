"""Estimate in milliseconds how much of the wind at the blade the things upwind of it take: a wake sum, rough.

Computes: the momentum that each piece of surface facing the wind takes, spread downwind as a widening bell; what is
left at the blade; a word for it.
Units: metres; ratios without unit; radians.
Source: a far wake keeps its momentum deficit, integral of deficit over area = c_D A / 2, and widens linearly close in
(Schlichting, Boundary-Layer Theory, ch. XXIV); drag of a porous sheet: Steiros & Hultmark, J. Fluid Mech. 853 (2018)
R3, eqs 2.5 and 2.12b; start and rate of widening chosen on flow runs of the example boats, whose speeds it ranks with a
correlation of only 0.6 (107 pairs of set and angle at 4 and 3 cm, tests/benchmarks/flow/cases.csv).
Limits: such laws hold from about five heights behind a thing and the blade is often nearer; no wind is ever sped up or
led to the blade; sails as for the flow. Rough: it cannot show gains.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from canvas.geometry.scene import Scene
from canvas.geometry.surface import Surface
from canvas.wind.flow.domain import Pose, stands

Floats = npt.NDArray[np.float64]
Word = Literal["clear", "edge of wake", "in wake"]
LABEL = "rough, cannot show gains"
DRAG = 1.17  # of a solid piece on its frontal area: square plate, handbook
START, WIDENING = 0.15, 0.08  # half-width of a wake where it begins [m], and its growth a metre
EDGE, INSIDE = 0.12, 0.35  # shares of speed lost at which the words change
POINTS = 20


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Wake:
    """What the wake sum gives round the rose.

    Attributes
    ----------
    awa : (m,) ndarray
        [rad]
    speed_ratio_free : (m,) ndarray
        Speed left at the blade over the undisturbed.
    words : tuple of str
        ``clear``, ``edge of wake`` or ``in wake``.
    """

    awa: Floats
    speed_ratio_free: Floats
    words: tuple[Word, ...]


def drag_of_loss(loss: float) -> float:
    """Return the drag coefficient of a sheet by its pressure loss coefficient; solid sheets the handbook's plate.

    Source: Steiros & Hultmark 2018, eqs 2.5 and 2.12b, solved for the speed through the sheet.
    """
    if not loss < 40.0:
        return DRAG
    low, high = 0.0, 1.0
    for _ in range(60):
        u = 0.5 * (low + high)
        wake_side = (4.0 / 3.0) * (1.0 - u) * (2.0 + u) / (2.0 - u)
        sheet_side = u * u * loss - (4.0 / 3.0) * (1.0 - u) ** 3 / (2.0 - u) ** 2
        low, high = (u, high) if sheet_side < wake_side else (low, u)
    return float((4.0 / 3.0) * (1.0 - low) * (2.0 + low) / (2.0 - low))


def _facing(surfaces: Sequence[Surface], pose: Pose) -> tuple[Floats, Floats]:
    """Return the middle of each face that looks at the wind, and its drag area."""
    offsets = np.cumsum([0, *(len(one.vertices) for one in surfaces)])
    faces = np.vstack([one.faces + offset for one, offset in zip(surfaces, offsets, strict=False)])
    corners = pose.place(np.vstack([_sheeted(one, pose) for one in surfaces]))[faces]
    a, b = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    along = 0.5 * (a[:, 1] * b[:, 2] - a[:, 2] * b[:, 1])  # of the normal, downwind
    counts = [len(one.faces) for one in surfaces]
    closed = np.repeat([one.closed for one in surfaces], counts)
    drag = np.repeat([drag_of_loss(one.wind_loss) for one in surfaces], counts)
    frontal = np.where(closed, np.maximum(-along, 0.0), np.abs(along))
    centre = corners.mean(axis=1)
    keep = (frontal > 1e-7) & (centre[:, 2] > 0.0)
    return centre[keep], (frontal * drag)[keep]


def _sheeted(surface: Surface, pose: Pose) -> Floats:
    vertices = surface.vertices
    if surface.kind == "sail" and vertices[:, 1].mean() * pose.awa > 0:
        return np.asarray(vertices * np.array([1.0, -1.0, 1.0]))
    return vertices


def _left(scene: Scene, pose: Pose) -> float:
    points = pose.place(scene.blade.points[:: max(len(scene.blade.points) // POINTS, 1)])
    centre, drag = _facing([one for one in scene.surfaces if stands(one, pose.awa)], pose)
    upwind = centre[:, 0] < points[:, 0].max()  # what stands behind all of the blade takes nothing from it
    centre, drag = centre[upwind], drag[upwind]
    apart = points[:, None, :] - centre[None]
    behind = apart[..., 0] > 0.0
    width2 = (START + WIDENING * np.where(behind, apart[..., 0], 0.0)) ** 2
    bell = np.exp(-0.5 * (apart[..., 1] ** 2 + apart[..., 2] ** 2) / width2) / (2.0 * np.pi * width2)
    return float(np.exp(-0.5 * (np.where(behind, bell, 0.0) @ drag)).mean())


def wake(scene: Scene, *, awa: npt.ArrayLike, heel: float = 0.0, trim: float = 0.0) -> Wake:
    """Return the wake sum at the blade round the rose.

    Parameters
    ----------
    scene : Scene
        Boat and canvas.
    awa : (m,) array_like
        Undisturbed wind angles at the blade [rad].
    heel, trim : float
        [rad]
    """
    angles = np.atleast_1d(np.asarray(awa, dtype=float))
    left = np.array(
        [_left(scene, Pose(awa=float(a), heel=heel, trim=trim, water_z=scene.water_z)) for a in angles]
    )
    return Wake(awa=angles, speed_ratio_free=left, words=tuple(word(value) for value in left))


def word(left: float) -> Word:
    """Return the word for a share of speed that is left."""
    if left > 1.0 - EDGE:
        return "clear"
    return "edge of wake" if left > 1.0 - INSIDE else "in wake"

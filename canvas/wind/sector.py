"""Say from which wind angles the vane's air blade sees upwind past everything: line of sight.

Computes: by apparent wind angle, the share of the blade's points from which a straight level line upwind meets nothing;
    what each surface covers by itself, and what it covers that nothing else does.
Units: radians; metres, boat frame; shares 0..1.
Source: geometry.
Limits: a fact about sight, not a verdict about wind: air bends round things, leaves a wake behind them and is sped up
    beside them. Mesh counts as closed. The vane itself is left out; crew, sails and the whole boat count.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from canvas.air.attitude import to_boat
from canvas.air.wind import wind_from
from canvas.geometry.rays import tracer_of
from canvas.geometry.scene import Scene
from canvas.geometry.surface import Floats, locked

LABEL = "line of sight"
STEP_DEG = 5


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sector:
    """Line of sight upwind from the blade.

    Attributes
    ----------
    awa : (m,) ndarray
        Apparent wind angles, from the bow, positive to starboard [rad].
    clear_share : (m,) ndarray
        Share of the blade that sees upwind.
    surfaces : tuple of str
        Those that cover some of the blade at some angle, in the scene's order.
    panels : tuple of str or None
        The panel of each; None for what is not canvas.
    covers : (s, m) ndarray
        Share of the blade that each would cover if it stood by itself.
    covers_alone : (s, m) ndarray
        Share that each covers and nothing else does: what taking it away would clear.
    """

    awa: Floats
    clear_share: Floats
    surfaces: tuple[str, ...]
    panels: tuple[str | None, ...]
    covers: Floats
    covers_alone: Floats


def rose_angles() -> Floats:
    """Return the apparent wind angles of the rose, every 5 deg from -175 to 180 [rad]."""
    return np.asarray(np.radians(np.arange(-180 + STEP_DEG, 181, STEP_DEG, dtype=float)))


def sector(scene: Scene, *, awa: npt.ArrayLike | None = None, heel: float = 0.0, trim: float = 0.0) -> Sector:
    """Return what the air blade sees upwind.

    Parameters
    ----------
    scene : Scene
    awa : array_like or None, shape (m,)
        Apparent wind angles [rad]; None for every 5 deg round.
    heel, trim : float
        The boat turns under a level wind; positive starboard side down, positive stern down [rad].

    Returns
    -------
    Sector
    """
    angles = rose_angles() if awa is None else np.atleast_1d(np.asarray(awa, dtype=float))
    upwind = to_boat(wind_from(angles), heel=heel, trim=trim)
    points = scene.blade.points
    stands = [surface for surface in scene.surfaces if surface.kind != "vane"]
    ask = np.ones((len(points), len(angles)), dtype=bool)
    met = np.zeros((len(stands), len(points), len(angles)), dtype=bool)
    for k, surface in enumerate(stands):
        met[k] = tracer_of(surface).occluded_grid(points, upwind, ask=ask)
    in_the_way = met.sum(axis=0)
    covers = met.mean(axis=1)
    alone = (met & (in_the_way == 1)).mean(axis=1)
    seen = np.flatnonzero(covers.any(axis=1))
    return Sector(
        awa=locked(angles),
        clear_share=locked((in_the_way == 0).mean(axis=0)),
        surfaces=tuple(stands[k].name for k in seen),
        panels=tuple(stands[k].panel for k in seen),
        covers=locked(covers[seen]),
        covers_alone=locked(alone[seen]),
    )

"""Find what would give the vane more wind: each panel down in turn, what stands behind, one number swept.

Computes: the speed ratio with each panel, or each thing that is no canvas, taken away, at one wind angle.
Units: ratios without unit; radians; metres.
Source: see `canvas.wind.flow.run`.
Limits: the band of the flow; things taken away singly, not in pairs; a difference within the band is said to be none.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from canvas.geometry.scene import Scene
from canvas.jobs.progress import SILENT, Progress
from canvas.wind.blade import BladeWind, compare
from canvas.wind.flow.backend import Device
from canvas.wind.flow.run import FINE, Conditions, Runner

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cures:
    """What taking things away does at one wind angle.

    Attributes
    ----------
    awa : float
        [rad]
    as_is : BladeWind
        The set as it stands, against the bare boat.
    names : tuple of str
        Panels first, then things that are no canvas.
    is_canvas : (n,) ndarray of bool
    gained : (n,) ndarray
        Speed ratio to free air won by taking each away; negative where it led wind to the blade.
    error : (n,) ndarray
        Two standard errors of each from averaging.
    """

    awa: float
    as_is: BladeWind
    names: tuple[str, ...]
    is_canvas: npt.NDArray[np.bool_]
    gained: Floats
    error: Floats

    @property
    def costliest(self) -> str | None:
        """Return what costs the blade most wind; None where nothing costs more than its error."""
        sure = self.gained - self.error
        if not len(sure) or sure.max() <= 0:
            return None
        return self.names[int(np.argmax(np.where(sure > 0, self.gained, -np.inf)))]


def without(scene: Scene, name: str) -> Scene:
    """Return the scene without one surface that is no canvas."""
    return Scene(
        set_name=f"{scene.set_name} without {name}",
        surfaces=tuple(surface for surface in scene.surfaces if surface.name != name),
        places=scene.places,
        blade=scene.blade,
        water_z=scene.water_z,
    )


def cures(
    bare: Scene,
    scene: Scene,
    conditions: Conditions,
    *,
    awa: float,
    things: Sequence[str] = (),
    cell: float = FINE,
    device: Device = "auto",
    folder: Path | None = None,
    progress: Progress = SILENT,
    settle: float | None = None,
    average: float | None = None,
) -> Cures:
    """Take each panel of a set down in turn, then each thing named, and say what the blade gains.

    Parameters
    ----------
    bare, scene : Scene
        Without canvas, and with the set.
    conditions : Conditions
    awa : float
        Apparent wind angle at the instrument [rad].
    things : sequence of str
        Surfaces that are no canvas to take away too, such as a mizzen or a dinghy in davits.
    cell : float
        Finest cell [m].
    device : str
    folder : Path, optional
    progress : Progress
    settle, average : float, optional
        Flow-throughs; the run's own where absent.
    """
    lengths = {key: value for key, value in (("settle", settle), ("average", average)) if value is not None}
    runner = Runner([bare, scene], conditions, device=device, folder=folder, **lengths)
    panels = tuple(dict.fromkeys(s.panel for s in scene.surfaces if s.panel is not None))
    cases = [scene.without([panel]) for panel in panels] + [without(scene, name) for name in things]
    whole, empty = runner.felt(scene, awa, cell), runner.felt(bare, awa, cell)
    gained, error = [], []
    for number, case in enumerate(cases):
        progress.step("cures", number, len(cases))
        got = runner.felt(case, awa, cell)
        gained.append(float(got.speed.mean() - whole.speed.mean()))
        error.append(2.0 * float(np.hypot(got.error(got.speed), whole.error(whole.speed))))
    return Cures(
        awa=awa,
        as_is=compare(whole, empty, cell=cell),
        names=(*panels, *things),
        is_canvas=np.array([True] * len(panels) + [False] * len(things)),
        gained=np.array(gained),
        error=np.array(error),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sweep:
    """Speed ratio against one number of the design.

    Attributes
    ----------
    values : (n,) ndarray
    wind : tuple of BladeWind
    """

    values: Floats
    wind: tuple[BladeWind, ...]


def sweep(
    bare: Scene,
    build: Callable[[float], Scene],
    values: Sequence[float],
    conditions: Conditions,
    *,
    awa: float,
    cell: float = FINE,
    device: Device = "auto",
    folder: Path | None = None,
    progress: Progress = SILENT,
) -> Sweep:
    """Run one set for several values of a number, such as the height of the leech.

    Parameters
    ----------
    bare : Scene
    build : callable
        From a value to the set's scene.
    values : sequence of float
    conditions : Conditions
    awa : float
        [rad]
    cell : float
        [m]
    device : str
    folder : Path, optional
    progress : Progress
    """
    scenes = [build(value) for value in values]
    runner = Runner([bare, *scenes], conditions, device=device, folder=folder)
    empty = runner.felt(bare, awa, cell)
    found = []
    for number, scene in enumerate(scenes):
        progress.step("sweep", number, len(scenes))
        found.append(compare(runner.felt(scene, awa, cell), empty, cell=cell))
    return Sweep(values=np.asarray(values, dtype=float), wind=tuple(found))

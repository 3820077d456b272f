"""Find what would give the vane more wind: each panel down in turn, what stands behind, the blade, the course.

Computes: speed over free air at the blade with each panel, or each thing that is no canvas, taken away; with a blade
made taller or set higher; bearing away; and against one number of the design, all at one wind angle.
Units: ratios without unit; radians; metres.
Source: see `canvas.wind.flow.runner`.
Limits: the band of the flow; things taken away singly, not in pairs; a difference within the band is said to be none.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal

import numpy as np
import numpy.typing as npt

from canvas.geometry.scene import Scene
from canvas.jobs.progress import SILENT, Progress
from canvas.wind.blade import BladeWind, Felt, compare
from canvas.wind.flow.backend import Device
from canvas.wind.flow.run import FINE
from canvas.wind.flow.runner import Conditions, Runner

Floats = npt.NDArray[np.float64]
Kind = Literal["panel", "thing", "blade", "course"]
TALLER = 0.3  # by how much a blade is made taller, or set higher [m]
AWAY = float(np.radians(15.0))  # by how much the boat bears away


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
        Panels first, then things that are no canvas, then what may be done to the blade, then bearing away.
    kinds : tuple of str
        ``panel``, ``thing``, ``blade`` or ``course``.
    gained : (n,) ndarray
        Speed ratio to free air won by each; negative where a thing led wind to the blade.
    error : (n,) ndarray
        Two standard errors of each from averaging.
    """

    awa: float
    as_is: BladeWind
    names: tuple[str, ...]
    kinds: tuple[Kind, ...]
    gained: Floats
    error: Floats

    @property
    def costliest(self) -> str | None:
        """Return the panel or thing that costs the blade most wind; None where nothing costs more than its error."""
        return self._best("panel", "thing")

    @property
    def best(self) -> str | None:
        """Return what wins the blade most wind, of all that was tried; None where nothing wins more than its error."""
        return self._best("panel", "thing", "blade", "course")

    def _best(self, *kinds: Kind) -> str | None:
        sure = (self.gained > self.error) & np.isin(self.kinds, kinds)
        return self.names[int(np.argmax(np.where(sure, self.gained, -np.inf)))] if sure.any() else None


def without(scene: Scene, name: str) -> Scene:
    """Return the scene without one surface that is no canvas."""
    return Scene(
        set_name=f"{scene.set_name} without {name}",
        surfaces=tuple(surface for surface in scene.surfaces if surface.name != name),
        places=scene.places,
        blade=scene.blade,
        water_z=scene.water_z,
    )


def behind(scene: Scene) -> tuple[str, ...]:
    """Return what is no canvas, nor the boat herself, and stands no further forward than the foremost canvas."""
    cloth = [s.vertices[:, 0].min() for s in scene.surfaces if s.kind == "cloth"]
    if not cloth:
        return ()
    names = [
        s.name
        for s in scene.surfaces
        if s.kind in {"solid", "tube"} and s.vertices[:, 0].mean() > min(cloth) and "boom" not in s.name
    ]
    return tuple(name for name in dict.fromkeys(names) if name != "vane gear")


def reached_higher(scene: Scene, *, taller: float = 0.0, higher: float = 0.0) -> Scene:
    """Return the scene with the blade's points stretched up from its foot, or lifted whole [m]."""
    blade, foot = scene.blade, scene.blade.foot[2]
    points = blade.points.copy()
    points[:, 2] = foot + (points[:, 2] - foot) * (1.0 + taller / blade.height) + higher
    changed = replace(
        blade, points=points, foot=blade.foot + np.array([0.0, 0.0, higher]), height=blade.height + taller
    )
    return replace(scene, set_name=f"{scene.set_name}, blade up", blade=changed)


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
    """Take each panel of a set down, then each thing named, raise the blade, bear away: say what the blade gains.

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
    given = (("settle", settle), ("average", average))
    lengths: dict[str, Any] = {key: value for key, value in given if value is not None}

    def run(case: Scene, at: float, part: Progress) -> Felt:
        first = replace(bare, blade=case.blade)  # where the blade is read
        runner = Runner([first, case], conditions, device=device, folder=folder, **lengths)
        return runner.felt(case, at, cell, progress=part)

    cases = _tried(scene, awa, things)
    runner = Runner([bare, scene], conditions, device=device, folder=folder, **lengths)
    whole, empty = (runner.felt(one, awa, cell, progress=progress) for one in (scene, bare))
    gained, error = [], []
    for number, (name, kind, case, at) in enumerate(cases):
        what = f"without {name}" if kind in ("panel", "thing") else name
        got = run(case, at, progress.within(what, number, len(cases)))
        gained.append(float(got.speed.mean() - whole.speed.mean()))
        error.append(2.0 * float(np.hypot(got.error(got.speed), whole.error(whole.speed))))
    return Cures(
        awa=awa,
        as_is=compare(whole, empty, cell=cell),
        names=tuple(name for name, *_ in cases),
        kinds=tuple(kind for _, kind, *_ in cases),
        gained=np.array(gained),
        error=np.array(error),
    )


def _tried(scene: Scene, awa: float, things: Sequence[str]) -> list[tuple[str, Kind, Scene, float]]:
    """Return all that is tried: its name and kind, and the scene and the wind angle to run."""
    panels = tuple(dict.fromkeys(s.panel for s in scene.surfaces if s.panel is not None))
    away = awa + (AWAY if awa >= 0 else -AWAY)
    cases: list[tuple[str, Kind, Scene, float]] = [
        *((panel, "panel", scene.without([panel]), awa) for panel in panels),
        *((name, "thing", without(scene, name), awa) for name in things),
        (f"blade {TALLER:.1f} m taller", "blade", reached_higher(scene, taller=TALLER), awa),
        (f"blade {TALLER:.1f} m higher", "blade", reached_higher(scene, higher=TALLER), awa),
    ]
    if abs(away) <= np.pi:
        cases.append((f"bearing away {np.degrees(AWAY):.0f} deg", "course", scene, away))
    return cases


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
    empty = runner.felt(bare, awa, cell, progress=progress)
    found = []
    for number, scene in enumerate(scenes):
        blade = runner.felt(scene, awa, cell, progress=progress.within("value", number, len(scenes)))
        found.append(compare(blade, empty, cell=cell))
    return Sweep(values=np.asarray(values, dtype=float), wind=tuple(found))

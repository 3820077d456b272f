"""Keep the mean pressure difference across each panel from the flow's runs, for what the canvas has to carry.

Computes: nothing; one file a scene, a row a run.
Units: radians, metres; net pressure coefficients on the undisturbed dynamic pressure at the blade, along the panel's
    outward normal: positive where the air pulls it out.
Source: forces on surfaces by `canvas.wind.flow.march`.
Limits: means over a run: gusts and the panel's own local peaks are not in them. Runs by another solver are not found.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from canvas.geometry.scene import Scene
from canvas.geometry.surface import Floats, locked
from canvas.jobs.cache import flow_folder, key_of, load, placed, save
from canvas.wind.flow.march import Record
from canvas.wind.flow.outcome import panel_pressure
from canvas.wind.flow.solver_hash import solver_hash


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class KeptPressures:
    """Mean net pressure coefficients of the panels of a scene.

    Attributes
    ----------
    panels : tuple of str
    awa, cell : (r,) ndarray
        Apparent wind angle [rad] and finest cell [m] of each run.
    coefficient : (r, panels) ndarray
    """

    panels: tuple[str, ...]
    awa: Floats
    cell: Floats
    coefficient: Floats


def keep_pressures(scene: Scene, record: Record, *, awa: float, cell: float, folder: Path) -> None:
    """Add a run's mean pressures to those kept of a scene; nothing is kept of a scene without canvas."""
    panels, values = panel_pressure(scene, record)
    if not panels:
        return
    before = kept_pressures(scene, folder=folder)
    rows = [(awa, cell, values)]
    if before is not None:
        again = (np.abs(before.awa - awa) < 1e-9) & (before.cell == cell)
        rows = [
            *((a, c, v) for a, c, v, old in zip(before.awa, before.cell, before.coefficient, again, strict=True)
              if not old),
            *rows,
        ]  # fmt: skip
    angles, cells, coefficients = zip(*sorted(rows, key=lambda row: row[:2]), strict=True)
    kept: dict[str, Any] = {"panels": np.array(panels), "awa": angles, "cell": cells, "coefficient": coefficients}
    save(folder, _key(scene), kept)


def kept_pressures(scene: Scene, *, folder: Path | None = None) -> KeptPressures | None:
    """Return the mean pressures kept of a scene; None where it was never run.

    Parameters
    ----------
    scene : Scene
    folder : Path, optional
        The flow's folder of saved results where absent.
    """
    folder = flow_folder() if folder is None else folder
    held = load(folder, _key(scene)) if folder.is_dir() else None
    if held is None:
        return None
    return KeptPressures(
        panels=tuple(str(name) for name in held["panels"]),
        awa=locked(held["awa"]),
        cell=locked(held["cell"]),
        coefficient=locked(held["coefficient"]),
    )


def _key(scene: Scene) -> str:
    parts: list[Any] = ["mean pressures", solver_hash(), placed(scene.water_z)]
    for surface in scene.surfaces:
        parts += [surface.kind, placed(surface.vertices), surface.faces, surface.wind_loss, surface.closed]
    return key_of(*parts)

"""Write a boat and her canvas as a ready OpenFOAM case for each set and wind angle, and read what came of it.

Computes: the parts as STL in the wind's axes, mesh settings, wind by height, probes at the blade; from their histories
    what the blade feels, as `canvas.wind.blade` has it.
Units: metres and metres a second in the wind's axes: x downwind, z up from the water.
Source: `canvas.wind.flow.domain` for how she lies; OpenFOAM's own formats.
Limits: steady flow (RANS) by k-omega SST. It averages the wake's shedding away, so that unsteadiness and wander are not
    told; its band is that of the program's own flow at the same cell, uncalibrated. Mesh cloth is taken as closed.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from canvas.design.problems import DesignError, Problem
from canvas.geometry.scene import Scene
from canvas.geometry.surface import Floats, Surface
from canvas.geometry.triangles import area_vectors
from canvas.jobs.failure import CouldNot
from canvas.study import foamtext
from canvas.study.foamtext import Boxes
from canvas.wind.blade import BladeWind, Felt, compare, felt
from canvas.wind.flow.domain import Pose
from canvas.wind.flow.runner import Conditions, Runner

ABOUT = "canvas.json"
PROBES = 30
STEPS = 800
KEPT = 0.4  # share of the steps at the end that is averaged
BASE = 0.48  # [m] outermost cells are at most this
SETTLED = 0.05  # change of the blade's speed over the kept steps, as a share, beyond which it has not settled


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ReadAngle:
    """What the blade feels at one angle.

    Attributes
    ----------
    awa, cell, heel : float
        [rad], finest cell [m], [rad].
    wind : mapping of str to BladeWind
        By set, those that were run, bare boat first.
    """

    awa: float
    cell: float
    heel: float
    wind: Mapping[str, BladeWind]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Read:
    """A case read back.

    Attributes
    ----------
    angles : tuple of ReadAngle
    problems : tuple of Problem
        Cases that were not run, or have not settled.
    """

    angles: tuple[ReadAngle, ...]
    problems: tuple[Problem, ...]


def case_name(set_name: str, awa: float) -> str:
    """Return the folder of one set at the apparent wind angle `awa` [rad]."""
    return f"{re.sub(r'[^A-Za-z0-9]+', '-', set_name).strip('-')}-{round(np.degrees(awa)):+04d}"


def as_exported(scene: Scene) -> Scene:
    """Return what of a scene goes into a case: solids that are closed, and cloth, mesh taken as closed."""
    kept = [
        replace(s, wind_loss=float("inf")) if s.kind == "cloth" else s
        for s in scene.surfaces
        if s.kind == "vane" or _is_solid(s) or _is_sheet(s)
    ]
    return replace(scene, surfaces=tuple(kept))


def _is_solid(surface: Surface) -> bool:
    return surface.closed and surface.kind not in ("vane", "cloth", "sail", "tube")


def _is_sheet(surface: Surface) -> bool:
    return not surface.closed and surface.kind == "cloth"


def write_cases(
    scenes: Sequence[Scene], conditions: Conditions, *, angles: Sequence[float], cell: float, sha256: str,
    steps: int = STEPS,
) -> dict[str, bytes]:  # fmt: skip
    """Return the files of a case for each set and angle, by path.

    Parameters
    ----------
    scenes : sequence of Scene
        Bare boat first.
    conditions : Conditions
    angles : sequence of float
        Apparent wind angles at the instrument [rad].
    cell : float
        Finest cell [m].
    sha256 : str
        Of the design.
    steps : int
        Of the steady solver.
    """
    runner = Runner(scenes, conditions, device="cpu")
    files: dict[str, bytes] = {}
    listed = []
    for awa in angles:
        here, velocity = runner.wind_at(awa)
        pose = Pose(awa=here, heel=conditions.heel, trim=conditions.trim, water_z=scenes[0].water_z)
        boxes = _boxes(scenes, pose, cell)
        for scene in scenes:
            folder = case_name(scene.set_name, awa)
            case = _one(scene, pose, boxes, velocity(_heights(boxes)), steps=steps)
            files |= {f"{folder}/{name}": content.encode("utf-8") for name, content in case.items()}
            probes = pose.place(_probes(scene))
            listed.append({
                "folder": folder, "set": scene.set_name, "awa": awa, "here": here, "heel": conditions.heel,
                "trim": conditions.trim, "water_z": scene.water_z, "cell": cell, "steps": steps,
                "free": velocity(probes[:, 2]).tolist(),
            })  # fmt: skip
    files[ABOUT] = json.dumps({"design_sha256": sha256, "cases": listed}, indent=1).encode("utf-8")
    files["README.txt"] = _readme(listed).encode("utf-8")
    run = "".join(f'sh {one["folder"]}/Allrun "$@"\n' for one in listed)
    files["Allrun"] = f'#!/bin/sh\n# Every case, one after another.\ncd "$(dirname "$0")" || exit 1\n{run}'.encode()
    return files


def _probes(scene: Scene) -> Floats:
    points = scene.blade.points
    rows = np.unique(np.linspace(0, len(points) - 1, PROBES).round().astype(int))
    return np.asarray(points[rows])


def _heights(boxes: Boxes) -> Floats:
    high = float(boxes.high[2])
    return np.unique(np.concatenate([np.linspace(0.1, 4.0, 20), np.linspace(4.0, max(high, 5.0), 15)]))


def _boxes(scenes: Sequence[Scene], pose: Pose, cell: float) -> Boxes:
    first = scenes[0]
    everything = np.vstack([pose.place(s.vertices) for s in first.surfaces if s.kind != "sail" and s.name != "mast"])
    canvas = [s.vertices for scene in scenes for s in scene.surfaces if s.kind == "cloth"]
    near = np.vstack([pose.place(first.blade.points), *(pose.place(one) for one in canvas)])
    level = max(0, int(np.ceil(np.log2(BASE / cell) - 1e-9)))
    base = cell * 2**level

    def around(points: Floats, *, ahead: float, behind: float, side: float, above: float) -> Floats:
        low, high = points.min(axis=0), points.max(axis=0)
        box = np.array([low - np.array([ahead, side, 0.6]), high + np.array([behind, side, above])])
        box[0, 2] = max(box[0, 2], 0.0)
        return box

    whole = around(everything, ahead=9.0, behind=16.0, side=8.0, above=9.0)
    low = np.append(whole[0, :2], 0.0)
    count = np.ceil((whole[1] - low) / base)
    return Boxes(
        low=low, high=low + count * base, base=base, level=level,
        fine=around(near, ahead=0.6, behind=1.0, side=0.6, above=0.6),
        boat=around(everything, ahead=0.8, behind=2.0, side=0.8, above=0.9),
        wake=around(everything, ahead=2.0, behind=6.0, side=2.0, above=2.0),
    )  # fmt: skip


def _one(scene: Scene, pose: Pose, boxes: Boxes, wind: Floats, *, steps: int) -> dict[str, str]:
    solid = [s for s in scene.surfaces if _is_solid(s)]
    sheets = [s for s in scene.surfaces if _is_sheet(s)]
    stl: dict[str, str] = {}
    for surfaces, kind in ((solid, "solid"), (sheets, "cloth")):
        for number, surface in enumerate(surfaces):
            name = f"{kind}{number:02d}_" + re.sub(r"[^A-Za-z0-9]+", "_", surface.name).strip("_")
            stl[name] = _stl(surface, pose, name)
    solids = [name for name in stl if name.startswith("solid")]
    cloth = [name for name in stl if name.startswith("cloth")]
    blade = pose.place(scene.blade.points)
    heights = _heights(boxes)
    speed = float(np.interp(blade[:, 2].mean(), heights, wind[:, 0]))
    start = foamtext.fields(heights=heights, wind=wind, speed=speed, walls=(*solids, *cloth))
    inside = boxes.low + np.array([0.53, 0.51, 0.47]) * boxes.base + [0.0, 0.0, boxes.high[2] - 2 * boxes.base]
    return {
        **{f"constant/triSurface/{name}.stl": text for name, text in stl.items()},
        **{f"0.orig/{name}": text for name, text in start.items()},
        "constant/transportProperties": foamtext.TRANSPORT,
        "constant/turbulenceProperties": foamtext.MODEL,
        "system/blockMeshDict": foamtext.block_mesh(boxes),
        "system/snappyHexMeshDict": foamtext.snappy(boxes, solids=solids, sheets=cloth, inside=inside),
        "system/controlDict": foamtext.control(steps=steps, probes=pose.place(_probes(scene))),
        "system/fvSchemes": foamtext.SCHEMES,
        "system/fvSolution": foamtext.SOLUTION,
        "system/decomposeParDict": foamtext.PARALLEL,
        "Allrun": foamtext.RUN,
    }


def _stl(surface: Surface, pose: Pose, name: str) -> str:
    """Return a surface as an STL file in the wind's axes."""
    corners = pose.place(surface.vertices)[surface.faces]
    normal = area_vectors(corners)
    normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-30)
    lines = [f"solid {name}"]
    for way, triangle in zip(normal, corners, strict=True):
        lines.append("facet normal {:.6g} {:.6g} {:.6g}\nouter loop".format(*way))
        lines += ["vertex {:.6f} {:.6f} {:.6f}".format(*corner) for corner in triangle]
        lines.append("endloop\nendfacet")
    return "\n".join([*lines, f"endsolid {name}\n"])


def _readme(listed: Sequence[Mapping[str, Any]]) -> str:
    names = "\n".join(f"  {one['folder']}" for one in listed)
    return f"""OpenFOAM cases, one a set of canvas and wind angle:
{names}

Run all with `sh Allrun`, or one with `sh FOLDER/Allrun`; a number after it is how many processors to use. OpenFOAM
(v1912 or later, openfoam.com's line; Debian's package openfoam) must be on the path. Then read the result back with
`canvas case DESIGN --read THIS_FOLDER`.

Axes: x with the wind at the blade, z up from the water, metres. The boat is turned and heeled into them. Solids are cut
out of the air, cloth is a baffle of no thickness, mesh cloth taken as closed; sails, tubes and the vane itself are left
out. The inlet carries the apparent wind by height; the sea is a flat face without friction. Steady k-omega SST.
Probes of U at points of the air blade are written every step to postProcessing/blade.
"""


def read_cases(folder: Path, *, sha256: str) -> Read:
    """Return what the blade feels in cases that were run.

    Parameters
    ----------
    folder : Path
        As written by `write_cases`.
    sha256 : str
        Of the design now.

    Raises
    ------
    DesignError
        When this is no such folder.
    CouldNot
        When no case in it was run with its bare boat.
    """
    about = _about(folder)
    problems: list[Problem] = []
    if about["design_sha256"] != sha256:
        problems.append(Problem(code="case-of-another-design", severity="warning", file=str(folder),
                                found="cases that were written for an earlier state of the design",
                                wanted="Write and run them again if the canvas or the boat changed."))  # fmt: skip
    felts: dict[float, dict[str, Felt]] = {}
    lies: dict[float, tuple[float, float]] = {}
    for one in about["cases"]:
        history = _history(folder / one["folder"])
        if history is None:
            problems.append(_not_run(folder / one["folder"]))
            continue
        found, settled = _felt(history, one)
        if not settled:
            problems.append(Problem(code="case-not-settled", severity="warning", file=str(folder / one["folder"]),
                                    found="a blade's wind that still changes",
                                    wanted="Run more steps: raise endTime in system/controlDict."))  # fmt: skip
        felts.setdefault(one["awa"], {})[one["set"]] = found
        lies[one["awa"]] = one["cell"], one["heel"]
    first = about["cases"][0]["set"]
    angles = []
    for awa, by_set in felts.items():
        if first in by_set:
            cell, heel = lies[awa]
            wind = {
                name: compare(blade, by_set[first], cell=cell, same=name == first) for name, blade in by_set.items()
            }
            angles.append(ReadAngle(awa=awa, cell=cell, heel=heel, wind=wind))
    if not angles:
        raise CouldNot(f"No case in {folder} was run for the boat without canvas.", "Run them first: sh Allrun.")
    return Read(angles=tuple(angles), problems=tuple(problems))


def _not_run(case: Path) -> Problem:
    return Problem(code="case-not-run", severity="warning", file=str(case), found="a case without probes",
                   wanted="Run it: sh Allrun. Its log files say where it stopped.")  # fmt: skip


def _about(folder: Path) -> dict[str, Any]:
    try:
        about: dict[str, Any] = json.loads((folder / ABOUT).read_text(encoding="utf-8"))
        return about
    except (OSError, ValueError) as error:
        problem = Problem(code="no-case", file=str(folder), found=f"no {ABOUT} that can be read",
                          wanted="Name a folder that canvas case wrote.")  # fmt: skip
        raise DesignError([problem]) from error


def _history(case: Path) -> Floats | None:
    """Return velocity at the probes by step, (t, n, 3) [m/s], None where there is none."""
    parts = []
    for path in sorted((case / "postProcessing" / "blade").glob("*/U"), key=lambda one: float(one.parent.name)):
        for line in path.read_text(encoding="ascii").splitlines():
            if line.strip() and not line.lstrip().startswith("#"):
                numbers = [float(part) for part in re.sub(r"[()]", " ", line).split()]
                parts.append(numbers[1:])
    if len(parts) < 3 or len({len(part) for part in parts}) != 1:
        return None
    history: Floats = np.array(parts).reshape(len(parts), -1, 3)
    good = (np.abs(history) < 1e3).all(axis=(0, 2))  # a probe inside a solid reads a huge number
    return history[:, good] if good.any() else None


def _felt(history: Floats, one: Mapping[str, Any]) -> tuple[Felt, bool]:
    pose = Pose(awa=one["here"], heel=one["heel"], trim=one["trim"], water_z=one["water_z"])
    free = np.array(one["free"])
    speed = float(np.hypot(*free.mean(axis=0)))
    kept = history[-max(3, int(KEPT * len(history))) :] / speed
    half = len(kept) // 2
    early, late = (float(np.hypot(part[..., 0], part[..., 1]).mean()) for part in (kept[:half], kept[half:]))
    level = pose.level(kept)
    undisturbed = pose.level(np.column_stack([free, np.zeros(len(free))]) / speed)
    found = felt(time=np.arange(len(kept), dtype=float), velocity=level, free=undisturbed)
    return found, abs(late - early) < SETTLED * max(late, 0.1)

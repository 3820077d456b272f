"""Read a 3D scan from a file, within limits, and say what is wrong with one that cannot be used.

Computes: triangles as they stand in the file; how many of them had to be left out and why.
Units: the file's own, unknown until a length is given; axes the file's own.
Source: the reader of mesh files, `canvas.geometry.meshfile`. glTF has y up; the others say nothing.
Limits: 20 million triangles.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from canvas.design.problems import Problem
from canvas.geometry.meshfile import read_triangles, wrong
from canvas.geometry.surface import Bools, Floats, Ints

MOST_FACES = 20_000_000
LEAST_FACES = 100
BAD_SHARE = 0.05  # of the vertices; more of them not numbers is a broken file


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scan:
    """Triangles of a scan as they stand in its file.

    Attributes
    ----------
    file : str
    vertices : (n, 3) ndarray
        In the file's own unit and axes.
    faces : (m, 3) ndarray of int
    up : {"x", "y", "z"} or None
        The axis that the format says is up; None where it says nothing.
    problems : tuple of Problem
        Notes: what was left out.
    """

    file: str
    vertices: Floats
    faces: Ints
    up: str | None
    problems: tuple[Problem, ...] = ()


def read_scan(path: Path) -> Scan:
    """Return the triangles of a scan.

    Parameters
    ----------
    path : Path
        A PLY, OBJ, GLB or STL file.

    Raises
    ------
    DesignError
        When there is no such file, or it is empty, too large, packed, of another type, broken or without triangles.
    """
    vertices, faces = read_triangles(path, most_faces=MOST_FACES)
    good: Bools = np.asarray(np.isfinite(vertices).all(axis=1))
    problems: tuple[Problem, ...] = ()
    if not good.all():
        lost = int((~good).sum())
        said = f"{lost} of {len(good)} points that are not numbers"
        if lost > BAD_SHARE * len(good):
            raise wrong(path, "scan-not-numbers", said, "Export the scan again; this file is broken.")
        faces = faces[good[faces].all(axis=1)]
        vertices = np.where(good[:, None], vertices, 0.0)
        problems = (
            Problem(code="scan-not-numbers", severity="warning", file=str(path), found=said,
                    wanted="Their triangles were left out. Export the scan again if they matter."),
        )  # fmt: skip
    used = vertices[faces[:: max(1, len(faces) // 1000)]].reshape(-1, 3)
    if len(faces) < LEAST_FACES or not np.ptp(used, axis=0).max() > 0:
        said = f"{len(faces)} triangles" if len(faces) < LEAST_FACES else "triangles all in one spot"
        raise wrong(path, "scan-empty", said, f"A scan has at least {LEAST_FACES}; export it again.")
    return Scan(
        file=str(path), vertices=vertices, faces=faces, up="y" if path.suffix.lower() == ".glb" else None,
        problems=problems,
    )  # fmt: skip

"""Take what a scan or photographs measured into a design.

Computes: marks with how well they are known, differences from tape and design, a solid of the scanned boat; the design
    with all of it written in, comments kept.
Units: SI and radians in and out; records carry their units in their keys.
Source: the layers below.
Limits: nothing is written over: the files stay in the answer until saved, the design under a new name.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from canvas.asbuilt.frame import Distance
from canvas.asbuilt.picked import read_picked
from canvas.asbuilt.scanfile import read_scan
from canvas.asbuilt.scanned import Scanned, take_scan
from canvas.brief.answer import Answer
from canvas.brief.records import capture as capture_records
from canvas.cloth.rigging import Rigging
from canvas.design.editing import Draft
from canvas.design.problems import DesignError, Problem
from canvas.design.units import length_text
from canvas.geometry.closed import surface_of
from canvas.geometry.surface import Floats
from canvas.survey.marks import Marks
from canvas.verbs.asking import DesignLike, rigging_of

LEAST_SD = 0.0005  # [m] written into a design


def scan(
    design: DesignLike,
    file: Path,
    *,
    points: Path,
    distances: Sequence[Distance] = (),
    hold: Sequence[str] | None = None,
    up: Floats | None = None,
    cell: float | None = 0.02,
) -> Answer:
    """Lay a 3D scan into the boat's axes and take marks and a solid from it.

    Parameters
    ----------
    design : path, Source or Rigging
    file : Path
        PLY, OBJ, GLB or STL.
    points : Path
        List of picked points, CSV or TOML.
    distances : sequence of Distance
        Taped between picked points.
    hold : sequence of str, optional
        Marks whose coordinates lay the scan.
    up : (3,) ndarray, optional
        Direction in the scan that is up while the boat lies at rest.
    cell : float or None
        Of the solid's grid [m]; None makes no solid.

    Raises
    ------
    DesignError
        When the scan, the list or the names are wrong.
    CouldNot
        When no solid comes of the scan.
    """
    rigging = rigging_of(design)
    picked = read_picked(points)
    found = take_scan(rigging, read_scan(file), picked, distances=distances, hold=hold, up=up, cell=cell)
    stem = rigging.model.source.folder / f"{Path(rigging.model.source.file).stem}"
    files: dict[str, bytes] = {}
    solid = None
    if found.solid is not None:
        solid = f"{stem.name}-scan.ply"
        files[solid] = _ply(found)
    files[f"{stem.name}-scanned.toml"] = _with_places(
        rigging, found.marks, comment=f"places of marks from the scan {file.name}", solid=solid
    )
    return Answer(
        verb="scan", rigging=rigging, results={}, top=found, files=files, problems=found.problems,
        writer=capture_records.scan_record,
    )  # fmt: skip


def distance_asked(text: str, *, sd: float = 0.003) -> Distance:
    """Return a distance from text such as ``winch_port winch_stbd 1.85 m``.

    Raises
    ------
    ValueError
        When it is not two names and a length.
    """
    from canvas.design import units

    words = text.split(maxsplit=2)
    if len(words) != 3:
        raise ValueError('Write two picked points and a length, such as "winch_port winch_stbd 1.85 m".')
    return Distance(a=words[0], b=words[1], length=units.length(words[2]), sd=sd)


def direction_asked(text: str) -> Floats:
    """Return a direction from text such as ``z``, ``-y`` or ``0.02, 0.99, 0.1``.

    Raises
    ------
    ValueError
        When it is neither an axis nor three numbers.
    """
    wanted = 'Write an axis of the scan, such as "y" or "-z", or three numbers.'
    word = text.strip().lower()
    if word.lstrip("+-") in ("x", "y", "z"):
        axis: Floats = np.eye(3)["xyz".index(word[-1])] * (-1.0 if word.startswith("-") else 1.0)
        return axis
    try:
        numbers = np.array([float(part) for part in word.split(",")])
    except ValueError:
        raise ValueError(wanted) from None
    if numbers.shape != (3,) or not np.isfinite(numbers).all() or not np.linalg.norm(numbers) > 0:
        raise ValueError(wanted)
    return numbers


def _ply(found: Scanned) -> bytes:
    """Return the solid as a binary PLY file, in metres and the boat's axes."""
    import trimesh

    if found.solid is None:
        raise DesignError([Problem(code="no-solid", found="no solid", wanted="Ask for one.")])
    surface = surface_of(found.solid, name="scan", kind="solid")
    mesh = trimesh.Trimesh(surface.vertices, surface.faces, process=False)
    content: Any = mesh.export(file_type="ply", vertex_normal=False)
    return bytes(content)


def _with_places(rigging: Rigging, marks: Marks, *, comment: str, solid: str | None = None) -> bytes:
    """Return the design's text with the places of marks as readings, and the solid where there is one."""
    source = rigging.model.source
    unit = source.design.units
    draft = Draft(source.text, path=source.folder / "design.toml")
    spread = marks.largest_sd()
    readings = [
        {
            "kind": "place",
            "at": name,
            "point": [length_text(float(part), unit) for part in place],
            "sd": length_text(max(float(sd), LEAST_SD), unit),
        }
        for name, place, sd in zip(marks.names, marks.xyz, spread, strict=True)
    ]
    if readings:
        draft.extend(("reading",), readings, comment=comment)
    if solid is not None:
        draft.append(
            ("solid",),
            {"name": "scanned boat", "kind": "mesh", "file": solid, "scale": "1 m", "in_place_of_boat": True},
        )
    return draft.text.encode("utf-8")

"""Take what a scan or photographs measured into a design.

Computes: marks with how well they are known, differences from tape and design, a solid of the scanned boat; the design
    with all of it written in, comments kept.
Units: SI and radians in and out; records carry their units in their keys.
Source: the layers below.
Limits: nothing is written over: the files stay in the answer until saved, the design under a new name.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from canvas.asbuilt.frame import Distance
from canvas.asbuilt.photographed import Stuck
from canvas.asbuilt.photographs import take_photographs
from canvas.asbuilt.picked import read_picked
from canvas.asbuilt.scanfile import read_scan
from canvas.asbuilt.scanned import Scanned, take_scan
from canvas.asbuilt.snapping import tube_at
from canvas.asbuilt.stuck import list_of, read_list, targets_for
from canvas.asbuilt.targets import ENDINGS, Seen, look
from canvas.brief.answer import Answer
from canvas.brief.paper import paper_of, pdf_of
from canvas.brief.records import capture as capture_records
from canvas.brief.targetsheet import target_sheet as target_sheet_document
from canvas.cloth.rigging import Rigging
from canvas.design.editing import Draft
from canvas.design.problems import DesignError, Problem
from canvas.design.units import length_text
from canvas.geometry.closed import surface_of
from canvas.geometry.surface import Floats
from canvas.survey.from_design import survey_of
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


def target_sheet(
    design: DesignLike, *, paper: str | None = None, size: float = 0.06, ties: int = 12, name: str = "targets.pdf"
) -> Answer:
    """Lay out coded targets for the marks of a design, with how to stick and photograph them, and their list.

    Parameters
    ----------
    design : path, Source or Rigging
    paper : str, optional
        ``A4`` or ``Letter``; the shop's own where absent.
    size : float
        Of the black squares [m].
    ties : int
        Targets that only tie photographs together.
    name : str
        Of the file; the list goes beside it as CSV.

    Raises
    ------
    CouldNot
        When the extra ``photo`` is not installed.
    """
    rigging = rigging_of(design)
    stuck = _own_targets(rigging, size=size, ties=ties)
    on = paper_of(rigging.model.design.shop, paper)
    document = target_sheet_document(rigging, stuck, paper=on)
    files = {name: pdf_of(document, paper=on), f"{Path(name).stem}.csv": list_of(stuck).encode("utf-8")}
    return Answer(
        verb="photo", rigging=rigging, results={}, top=stuck, files=files, writer=capture_records.target_record
    )


def photo(design: DesignLike, photos: Sequence[Path], *, targets: Path | None = None, size_sd: float = 0.002) -> Answer:
    """Take marks from photographs of coded targets, together with the readings of the design, in one adjustment.

    Parameters
    ----------
    design : path, Source or Rigging
    photos : sequence of Path
        Files, or folders of them, in the order in which they were taken.
    targets : Path, optional
        The list printed with the targets; that of the design's marks in their order where absent.
    size_sd : float
        How well the printed size is known, as a share of it.

    Raises
    ------
    DesignError
        When photographs or list are wrong, or nothing ties them to the boat.
    CouldNot
        When the extra ``photo`` is not installed.
    """
    rigging = rigging_of(design)
    stuck = _own_targets(rigging, size=0.06, ties=12) if targets is None else read_list(targets)
    seen, problems = _looked_at(photos)
    found = take_photographs(seen, stuck, survey=survey_of(rigging.model.source), size_sd=size_sd)
    kept = [k for k, name in enumerate(found.marks.names) if name in rigging.model.design.marks and found.views[k] > 1]
    stem = Path(rigging.model.source.file).stem
    text = _with_places(rigging, _some(found.marks, kept), comment=f"places of marks from {len(seen)} photographs")
    return Answer(
        verb="photo", rigging=rigging, results={}, top=found, files={f"{stem}-photographed.toml": text},
        problems=(*problems, *found.problems), writer=capture_records.photo_record,
    )  # fmt: skip


def _own_targets(rigging: Rigging, *, size: float, ties: int) -> tuple[Stuck, ...]:
    model = rigging.model
    behind = {name: tube[0] for name in model.marks.names if (tube := tube_at(model, name)) is not None}
    return targets_for(model.marks.names, ties=ties, size=size, behind=behind)


def _looked_at(photos: Sequence[Path]) -> tuple[list[Seen], list[Problem]]:
    """Return what each photograph shows, and which files are none; where none can be read that is an error."""
    files: list[Path] = []
    for one in photos:
        inside = sorted(p for p in one.iterdir() if p.suffix.lower() in ENDINGS) if one.is_dir() else [one]
        files += inside
    seen: list[Seen] = []
    problems: list[Problem] = []
    for file in files:
        try:
            seen.append(look(file))
        except DesignError as error:
            problems += error.problems
    if not seen:
        wanted = "Name ten to forty JPEG or PNG photographs, or a folder of them."
        raise DesignError(problems or [Problem(code="no-photos", found="no photographs", wanted=wanted)])
    return seen, [replace(problem, severity="warning") for problem in problems]


def _some(marks: Marks, rows: Sequence[int]) -> Marks:
    names = tuple(marks.names[k] for k in rows)
    return Marks(names=names, xyz=marks.xyz[list(rows)], covariance=marks.joint(names) if names else np.zeros((0, 0)))


def distance_asked(text: str, *, sd: float = 0.003) -> Distance:
    """Return a distance, known to `sd` [m], from text such as ``winch_port winch_stbd 1.85 m``.

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
    """Return a direction (3,) from text such as ``z``, ``-y`` or ``0.02, 0.99, 0.1``.

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

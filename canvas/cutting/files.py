"""Write everything a maker cuts from: DXF by cloth, the nest, the net, SVG, and pages at 1:1.

Computes: the sheets of a `CutResult`, and from them every file's bytes; all are made before the first is written.
Units: metres inside; DXF in millimetres or metres.
Source: see dxf.py, svg.py, tiles.py.
Limits: parts of one cloth are laid side by side in its own file, as they lie on the roll in the nest.
"""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from canvas.cutting.arcs import with_arcs
from canvas.cutting.changes import RECORD, changes_sheet, changes_since, record_text
from canvas.cutting.dxf import DxfUnit, dxf_bytes
from canvas.cutting.finish import Finish
from canvas.cutting.order import sewing_order
from canvas.cutting.part import FlatPart
from canvas.cutting.result import CutResult, RollLayout
from canvas.cutting.seamkinds import UNDER
from canvas.cutting.sections import section_sheet
from canvas.cutting.sheet import CURVE_TOLERANCE, Item, Layer, Line, Sheet, Text, placed
from canvas.cutting.strain import strain_svg
from canvas.cutting.svg import svg_text
from canvas.cutting.tiles import tiles_pdf
from canvas.jobs.files import distinct, slug, write_whole

NET = "net"  # its file, whatever a cloth is called
GAP = 0.05  # [m] between parts laid side by side
SECTION_LETTERS = 70  # to a line under a section
ROW = 4.0  # [m] a row of parts laid side by side is broken at


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CutFile:
    """One file to be written: its name in the folder, what it is, its bytes."""

    name: str
    what: str
    content: bytes


def cloth_sheet(result: CutResult, roll: RollLayout) -> Sheet:
    """Return the parts of one cloth side by side."""
    items: list[Item] = []
    x = y = deep = 0.0
    for part in (result.parts[k] for k in roll.parts):
        low, high = part.cut.min(axis=0), part.cut.max(axis=0)
        if x > 0 and x + high[0] - low[0] > ROW:
            x, y, deep = 0.0, y + deep + GAP, 0.0
        items.extend(placed(part.items, shift=(x - float(low[0]), y - float(low[1]))))
        x += float(high[0] - low[0]) + GAP
        deep = max(deep, float(high[1] - low[1]))
    return Sheet(title=f"{roll.cloth}, parts", items=tuple(items), notes=_notes(result))


def nest_sheet(result: CutResult, roll: RollLayout) -> Sheet:
    """Return the parts of one cloth as they lie on the roll, the roll's outline round them."""
    items: list[Item] = []
    for k, index in enumerate(roll.parts):
        shift = (float(roll.layout.x[k]), float(roll.layout.y[k]))
        items.extend(placed(result.parts[index].items, shift=shift, turned=bool(roll.layout.turned[k])))
    length, width = roll.layout.length, roll.layout.width
    outline = np.array([[0, 0], [length, 0], [length, width], [0, width]])
    items.append(Line(layer=Layer.FOLD, points=outline, closed=True))
    said = f"{roll.cloth}: {length:.2f} m of a roll {width:.2f} m wide, {roll.layout.used * 100:.0f} % used"
    return Sheet(title=f"{roll.cloth}, nest", items=tuple(items), notes=(said, *_notes(result)))


def net_sheet(result: CutResult) -> Sheet:
    """Return the finished outline of every part without allowances, each with its name."""
    items: list[Item] = []
    x = y = deep = 0.0
    for part in result.parts:
        low, high = part.finished.min(axis=0), part.finished.max(axis=0)
        named = Text(at=(low + high) / 2, text=part.name, height=0.01)
        width = max(float(high[0] - low[0]), named.width)
        if x > 0 and x + width > ROW:
            x, y, deep = 0.0, y + deep + GAP, 0.0
        shift = np.array([x + width / 2, y]) - np.array([named.at[0], low[1]])
        outline = Line(layer=Layer.SEW, points=part.finished, closed=True)
        items.extend(placed([outline, named], shift=(float(shift[0]), float(shift[1]))))
        x += width + GAP
        deep = max(deep, float(high[1] - low[1]))
    return Sheet(title="net, finished edges", items=tuple(items), notes=_notes(result))


def part_sheet(result: CutResult, part: FlatPart) -> Sheet:
    """Return one part by itself."""
    return Sheet(title=part.name, items=part.items, notes=_notes(result))


def _with_arcs(part: FlatPart) -> FlatPart:
    """Return the part with its lines as arcs where they are arcs."""
    return replace(part, items=tuple(with_arcs(item) if isinstance(item, Line) else item for item in part.items))


def _notes(result: CutResult) -> tuple[str, ...]:
    curves = f"curves within {CURVE_TOLERANCE * 1000:.1f} mm"
    trial = ("trial piece: trim to the lines on board",) if result.trial else ()
    return (*filter(None, (result.boat,)), f"revision {result.revision}", curves, *trial)


def file_stem(name: str) -> str:
    """Return a cloth's name as it stands in a file name, with its points, as in “clear sheet 0.75”."""
    return slug(name, keep=".") or "cloth"


def cut_files(
    result: CutResult,
    *,
    unit: DxfUnit = "mm",
    papers: Sequence[str] = ("A4",),
    finishes: Mapping[str, Finish] | None = None,
    earlier: Path | None = None,
) -> tuple[CutFile, ...]:
    """Return every file of a cut, in order.

    Parameters
    ----------
    result : CutResult
    unit : str
        Of the DXF files, ``mm`` or ``m``.
    papers : sequence of str
        Papers to print on: ``A4``, ``Letter``, ``A3``, ``A1``, ``roll``.
    finishes : mapping of str to Finish, optional
        Where given, the sewing order and a section of each finish used are written too.
    earlier : Path, optional
        Folder of an earlier cut: what changed since is written too.

    Raises
    ------
    DesignError
        When `earlier` holds no cut.
    """
    files: list[CutFile] = []
    sheets = [part_sheet(result, part) for part in result.parts]
    result = replace(result, parts=tuple(_with_arcs(part) for part in result.parts))
    stems = distinct((file_stem(roll.cloth) for roll in result.rolls), taken=[NET])
    for roll, stem in zip(result.rolls, stems, strict=True):
        files += _roll_files(result, roll, [sheets[k] for k in roll.parts], stem=stem, unit=unit, papers=papers)
    if result.parts:
        net = dxf_bytes(net_sheet(result), unit=unit)
        files.append(CutFile(name=f"{NET}.dxf", what="finished edges without allowances", content=net))
    if result.strains:
        drawn = strain_svg(result).encode("utf-8")
        files.append(CutFile(name="strain.svg", what="strain left, by part", content=drawn))
    if finishes is not None:
        files += [
            CutFile(
                name="sewing-order.txt", what="sewing order", content=_order_text(result, finishes).encode("utf-8")
            ),
            CutFile(name="sections.svg", what="section of each finish", content=_sections(result, finishes)),
        ]
    if earlier is not None:
        drawn = svg_text(changes_sheet(changes_since(result, earlier), units=result.units)).encode("utf-8")
        files.append(CutFile(name="changes.svg", what="old over new", content=drawn))
    record = record_text(result).encode("utf-8")
    files.append(CutFile(name=RECORD, what="outlines, for a later cut to compare with", content=record))
    return tuple(files)


def _roll_files(
    result: CutResult, roll: RollLayout, sheets: Sequence[Sheet], *, stem: str, unit: DxfUnit, papers: Sequence[str]
) -> list[CutFile]:
    """Return the files of one cloth: its parts by plain and by numbered layers, its nest, its pages at 1:1."""
    cloth = roll.cloth
    parts, nested = cloth_sheet(result, roll), nest_sheet(result, roll)
    numbered = dxf_bytes(parts, unit=unit, layers="number")
    files = [
        CutFile(name=f"{stem}.dxf", what=f"{cloth}, parts", content=dxf_bytes(parts, unit=unit)),
        CutFile(name=f"{stem}-numbered.dxf", what=f"{cloth}, parts, layers by ASTM D6673 number", content=numbered),
        CutFile(name=f"{stem}-nest.dxf", what=f"{cloth}, nest", content=dxf_bytes(nested, unit=unit)),
        CutFile(name=f"{stem}-nest.svg", what=f"{cloth}, nest", content=svg_text(nested).encode("utf-8")),
    ]
    for paper in papers:
        pages = tiles_pdf(sheets, paper=paper, title=f"{cloth}, pages at 1:1")
        files.append(CutFile(name=f"{stem}-{paper.lower()}.pdf", what=f"{cloth}, pages on {paper}", content=pages))
    return files


def _order_text(result: CutResult, finishes: Mapping[str, Finish]) -> str:
    """Return the sewing order as plain text, a heading a panel."""
    rows: list[str] = []
    panel = ""
    for step in sewing_order(result, finishes=finishes):
        if step.panel != panel:
            panel = step.panel
            rows += ["", panel] if rows else [panel]
        rows.append(f"{step.number:3d}. {step.does}")
    return "\n".join(rows) + "\n"


def _sections(result: CutResult, finishes: Mapping[str, Finish]) -> bytes:
    """Return one SVG with the section of each finish that is used."""
    used = {edge.finish for edge in result.edges} | {seam.finish for seam in result.seams}
    used |= {over for over, under in UNDER.items() if under in used}
    items: list[Item] = []
    for k, name in enumerate(name for name in finishes if name in used and name not in UNDER.values()):
        sheet = section_sheet(finishes[name], under=finishes.get(UNDER.get(name, "")), units=result.units)
        shift = (0.22 * (k % 3), -0.10 * (k // 3))
        said = textwrap.wrap(finishes[name].section, SECTION_LETTERS)
        items += [
            *placed(sheet.items, shift=shift),
            Text(at=np.array([shift[0] - 0.02, shift[1] + 0.04]), text=name, height=0.005),
            *(
                Text(at=np.array([shift[0] - 0.02, shift[1] - 0.040 - 0.005 * row]), text=line, height=0.003)
                for row, line in enumerate(said)
            ),
        ]
    return svg_text(Sheet(title="sections of the finishes", items=tuple(items))).encode("utf-8")


def write_files(files: Sequence[CutFile], folder: Path) -> tuple[Path, ...]:
    """Write files into a folder, each whole or not at all, and return where they went.

    Raises
    ------
    CouldNot
        When the folder cannot be written.
    """
    return tuple(write_whole(folder / file.name, file.content) for file in files)

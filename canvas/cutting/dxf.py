"""Write cutting sheets as DXF for plotters and cutters, and read them back strictly.

Computes: lightweight polylines with arcs where the outline runs in arcs, points, circles and text on named layers;
    on reading, closed outlines, points and texts by layer, with areas and lengths.
Units: metres inside; the file is in metres or millimetres, said in $INSUNITS and in a line of text.
Source: DXF R2010 by ezdxf; layer numbers of ASTM D6673.
Limits: the one door to ezdxf. Arcs are put in where points lie on one within `CURVE_TOLERANCE`. No date, no random
    identity: same sheet, same bytes.
"""

from __future__ import annotations

import io
import math
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np
from ezdxf._options import options
from ezdxf.document import Drawing
from ezdxf.entities.lwpolyline import LWPolyline
from ezdxf.entities.point import Point as PointEntity
from ezdxf.entities.text import Text as TextEntity
from ezdxf.enums import TextEntityAlignment
from ezdxf.filemanagement import new, readfile
from ezdxf.lldxf.const import DXFError
from ezdxf.path import make_path

from canvas.cutting.arcs import with_arcs
from canvas.cutting.sheet import CURVE_TOLERANCE, Layer, Line, Point, Sheet, Text
from canvas.design.problems import DesignError, Problem
from canvas.geometry.surface import Floats, locked
from canvas.jobs.failure import CouldNot

DxfUnit = Literal["m", "mm"]
LayerStyle = Literal["name", "number"]
INSUNITS = {"m": 6, "mm": 4}
FACTOR = {"m": 1.0, "mm": 1000.0}
COLOURS = {
    Layer.CUT: 1, Layer.TURN_POINTS: 8, Layer.NOTCHES: 6, Layer.GRAIN: 3, Layer.FOLD: 4, Layer.CUT_OUT: 1,
    Layer.DRILL: 2, Layer.SEW: 5, Layer.TEXT: 7,
}  # fmt: skip


@contextmanager
def _fixed_identity() -> Iterator[None]:
    """Keep ezdxf from writing the time and random identities."""
    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        options.write_fixed_meta_data_for_testing = before


def dxf_bytes(sheet: Sheet, *, unit: DxfUnit = "mm", layers: LayerStyle = "name") -> bytes:
    """Return a sheet as a DXF file.

    Parameters
    ----------
    sheet : Sheet
    unit : str
        ``m`` or ``mm``.
    layers : str
        ``name`` names layers in plain words, ``number`` by the numbers of ASTM D6673.

    Raises
    ------
    CouldNot
        When the file does not pass its own audit.
    """
    with _fixed_identity():
        document = new("R2010", units=INSUNITS[unit])
        document.header["$MEASUREMENT"] = 1
        document.header["$LTSCALE"] = 0.01 * FACTOR[unit]
        if "DASHED" not in document.linetypes:
            document.linetypes.add("DASHED", [0.75, 0.5, -0.25], description="dashes")
        for layer in Layer:
            entry = document.layers.add(layer_name(layer, layers), color=COLOURS[layer])
            entry.description = f"{layer.plain_name}, ASTM D6673 layer {layer.number}: {layer.meaning}"
        _draw(document, sheet, factor=FACTOR[unit], layers=layers, unit=unit)
        auditor = document.audit()
        if auditor.has_issues or auditor.has_fixes:
            raise CouldNot(f'The drawing "{sheet.title}" does not pass the DXF audit.', "Report this with the design.")
        for kind in sorted(document.entitydb.dxf_types_in_use()):  # ezdxf would take them in no fixed order
            document.classes.add_class(kind)
        stream = io.StringIO()
        document.write(stream)
    return document.encode(stream.getvalue())


def layer_name(layer: Layer, style: LayerStyle) -> str:
    """Return a layer's name in the file."""
    if style == "name":
        return layer.plain_name
    return str(layer.number) if layer is not Layer.FOLD else "8"


def _draw(document: Drawing, sheet: Sheet, *, factor: float, layers: LayerStyle, unit: DxfUnit) -> None:
    space = document.modelspace()
    for item in sheet.items:
        attributes: dict[str, object] = {"layer": layer_name(item.layer, layers)}
        if isinstance(item, Line):
            if item.dashed:
                attributes["linetype"] = "DASHED"
            drawn = with_arcs(item)
            bulge = np.zeros(len(drawn.points)) if drawn.bulge is None else drawn.bulge
            rows = [
                (float(x) * factor, float(y) * factor, float(b)) for (x, y), b in zip(drawn.points, bulge, strict=True)
            ]
            space.add_lwpolyline(rows, format="xyb", close=item.closed, dxfattribs=attributes)
        elif isinstance(item, Point):
            at = (float(item.at[0]) * factor, float(item.at[1]) * factor)
            space.add_point(at, dxfattribs=attributes)
            if item.diameter is not None:
                space.add_circle(at, item.diameter / 2 * factor, dxfattribs=attributes)
        else:
            _text(document, item, factor=factor, attributes=attributes)
    low_x, low_y, high_x, high_y = sheet.bounds
    notes = (
        sheet.title,
        f"units: {'metres' if unit == 'm' else 'millimetres'}, scale 1:1",
        *sheet.notes,
    )
    for k, note in enumerate(notes):
        entity = space.add_text(note, height=0.01 * factor, dxfattribs={"layer": layer_name(Layer.TEXT, layers)})
        entity.set_placement((low_x * factor, (low_y - 0.03 - 0.02 * k) * factor))
    low, high = np.array([low_x, low_y - 0.03 - 0.02 * len(notes)]) * factor, np.array([high_x, high_y]) * factor
    space.reset_extents((*low.tolist(), 0.0), (*high.tolist(), 0.0))
    across, up = (high - low).tolist()
    document.set_modelspace_vport(max(up, across / 2), center=((low + high) / 2).tolist())  # screens are wide


def _text(document: Drawing, item: Text, *, factor: float, attributes: dict[str, object]) -> None:
    entity = document.modelspace().add_text(
        item.text, height=item.height * factor, rotation=math.degrees(item.angle), dxfattribs=attributes
    )
    entity.set_placement(
        (float(item.at[0]) * factor, float(item.at[1]) * factor), align=TextEntityAlignment.MIDDLE_CENTER
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ReadLine:
    """A polyline as read back, arcs broken into short steps."""

    layer: str
    points: Floats
    closed: bool

    def __post_init__(self) -> None:
        object.__setattr__(self, "points", locked(self.points))

    @property
    def length(self) -> float:
        """Length, the closing step included. [m]."""
        points = np.vstack([self.points, self.points[:1]]) if self.closed else self.points
        return float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())

    @property
    def area(self) -> float:
        """Enclosed area. [m2]."""
        x, y = self.points.T
        return 0.5 * abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ReadText:
    """A text as read back."""

    layer: str
    text: str
    at: Floats
    height: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ReadSheet:
    """What stands in a DXF file. Lengths in metres, whatever the file's unit."""

    unit: DxfUnit
    lines: tuple[ReadLine, ...]
    points: tuple[tuple[str, Floats], ...]
    texts: tuple[ReadText, ...]

    def on(self, layer: str) -> tuple[ReadLine, ...]:
        """Return the lines on a layer."""
        return tuple(line for line in self.lines if line.layer == layer)


def read_dxf(path: Path) -> ReadSheet:
    """Return what stands in a DXF file, read strictly.

    Parameters
    ----------
    path : Path

    Raises
    ------
    DesignError
        When the file is no DXF, has faults, or does not say metres or millimetres.
    """
    try:
        document = readfile(path)
    except (OSError, DXFError, UnicodeDecodeError, StopIteration) as error:
        raise DesignError([_fault(path, str(error) or "a file that ends early")]) from error
    auditor = document.audit()
    if auditor.has_issues or auditor.has_fixes:
        raise DesignError([_fault(path, f"{len(auditor.errors) + len(auditor.fixes)} faults")])
    unit = {6: "m", 4: "mm"}.get(int(document.header.get("$INSUNITS", 0)))
    if unit is None:
        raise DesignError([_fault(path, "no unit of length in $INSUNITS")])
    return _contents(document, unit="m" if unit == "m" else "mm")


def _fault(path: Path, found: str) -> Problem:
    return Problem(code="dxf", file=str(path), found=found, wanted="Write the file again with canvas cut.")


def _contents(document: Drawing, *, unit: DxfUnit) -> ReadSheet:
    factor = FACTOR[unit]
    lines: list[ReadLine] = []
    points: list[tuple[str, Floats]] = []
    texts: list[ReadText] = []
    for entity in document.modelspace():
        layer = entity.dxf.layer
        if isinstance(entity, LWPolyline):
            path = make_path(entity)
            flat = np.array([[p.x, p.y] for p in path.flattening(CURVE_TOLERANCE / 4 * factor)]) / factor
            closed = bool(entity.closed)
            if closed and len(flat) > 1 and np.allclose(flat[0], flat[-1], atol=1e-9):
                flat = flat[:-1]
            lines.append(ReadLine(layer=layer, points=flat, closed=closed))
        elif isinstance(entity, PointEntity):
            points.append((layer, np.array([entity.dxf.location.x, entity.dxf.location.y]) / factor))
        elif isinstance(entity, TextEntity):
            at = entity.get_placement()[1]
            texts.append(
                ReadText(
                    layer=layer,
                    text=entity.dxf.text,
                    at=np.array([at.x, at.y]) / factor,
                    height=float(entity.dxf.height) / factor,
                )
            )
    return ReadSheet(unit=unit, lines=tuple(lines), points=tuple(points), texts=tuple(texts))

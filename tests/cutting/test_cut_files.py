import dataclasses
import itertools
import json
import os
import shutil
import subprocess
import sys

import ezdxf
import ezdxf.bbox
import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, Polygon, box

from canvas.cutting.cut import cut_panels
from canvas.cutting.dxf import dxf_bytes, read_dxf
from canvas.cutting.files import cut_files, file_stem, net_sheet, write_files
from canvas.cutting.finish import read_finishes
from canvas.cutting.label import EDGE_HEIGHT
from canvas.cutting.piece import Insert, Joint, Piercing
from canvas.cutting.sheet import Layer, Line, Point, Sheet, Text, text_box
from canvas.design.problems import DesignError
from canvas.jobs.failure import CouldNot
from tests.cutting import cut_shapes as shapes

FINISHES = read_finishes()


@pytest.fixture(scope="module")
def result():
    """Cut two roofs joined by a zip, one with a window and a backstay through it."""
    fore = shapes.roof("fore", 0.0, 1.2, width=1.0, finishes=("webbing hem", "zip", "webbing hem", "tube pocket"))
    aft = shapes.roof(
        "aft", 1.2, 2.2, width=1.0, crown=(0.1, 0.1), finishes=("press studs", "batten pocket", "hem", "zip with flap")
    )
    zone = shapes.zone_of(aft, lambda x, y: (np.abs(x - 1.6) < 0.2) & (np.abs(y) < 0.25))
    aft = dataclasses.replace(
        aft,
        zone=zone,
        inserts=(Insert(name="look-out", zone=1, cloth=shapes.SHEET),),
        piercings=(Piercing(name="backstay", at=np.array([2.05, 0.0, 1.9]), diameter=0.008),),
    )
    joint = Joint(name="fore to aft", kind="zip", panel_a="aft", edge_a="near", panel_b="fore", edge_b="far")
    return cut_panels([fore, aft], [joint], finishes=FINISHES)


@pytest.fixture(scope="module")
def folder(result, tmp_path_factory):
    where = tmp_path_factory.mktemp("cut")
    write_files(cut_files(result, papers=()), where)
    return where


def parts_on(result, cloth):
    return [part for part in result.parts if part.cloth == cloth]


@pytest.mark.property
def test_areas_and_lengths_come_back_from_the_dxf(result, folder):
    for cloth in {part.cloth for part in result.parts}:
        sheet = read_dxf(folder / f"{file_stem(cloth)}.dxf")
        assert sheet.unit == "mm"
        parts = parts_on(result, cloth)
        cut = sheet.on("cut")
        assert all(line.closed for line in cut)
        assert sorted(line.area for line in cut) == pytest.approx(
            sorted(shapes.area_of(p.cut) for p in parts), rel=1e-3
        )
        finished = [line for line in sheet.on("sew lines") if line.closed]
        for part in parts:
            ring = shapes.polyline_length(np.vstack([part.finished, part.finished[:1]]))
            assert min(abs(line.length - ring) for line in finished) < 1e-3 * ring


@pytest.mark.property
def test_every_part_is_labelled(result, folder):
    words = {t.text for f in folder.glob("*.dxf") if "-nest" not in f.name for t in read_dxf(f).texts}
    for part in result.parts:
        assert any(part.name in text or part.name.split(": ")[-1] in text for text in words)
    assert any("this side out" in text for text in words)
    assert any("revision A" in text for text in words)
    assert any("millimetres, scale 1:1" in text for text in words)
    for drawing in folder.glob("*.dxf"):
        assert sum("within 0.1 mm" in text.text for text in read_dxf(drawing).texts) == 1


@pytest.mark.property
def test_windows_and_flaps_say_which_side_is_out_and_where_forward_is(result):
    for name, one_way in (("look-out", True), ("flap near", True), ("collar backstay", False)):
        part = next(part for part in result.parts if part.name == f"aft: {name}")
        said = " ".join(item.text for item in part.items if isinstance(item, Text))
        arrows = [item.points for item in part.items if isinstance(item, Line) and item.layer is Layer.TEXT]
        assert ("this side out; arrow forward" in said) == one_way
        assert len(arrows) == 2 * one_way
        for shaft in arrows[:1]:  # laid with the warp, which runs aft
            assert (shaft[-1] - shaft[0]) / np.hypot(*(shaft[-1] - shaft[0])) == pytest.approx([-1, 0], abs=0.02)


@pytest.mark.property
def test_names_of_edges_stand_off_the_rows_of_stitching(result):
    aft = next(part for part in result.parts if part.name == "aft")
    rows = shapely.union_all([LineString(item.points) for item in aft.items if isinstance(item, Line) and item.dashed])
    names = [item for item in aft.items if isinstance(item, Text) and item.height == EDGE_HEIGHT]
    assert {text.text.split(":")[0] for text in names} >= {edge.name for edge in aft.edges}
    for text in names:
        assert Polygon(text_box(text)).distance(rows) > 2e-3, text.text


@pytest.mark.property
def test_numbered_layers_carry_the_same_lines(result, folder):
    for cloth in {part.cloth for part in result.parts}:
        named = read_dxf(folder / f"{file_stem(cloth)}.dxf")
        numbered = read_dxf(folder / f"{file_stem(cloth)}-numbered.dxf")
        for layer in Layer:
            ours = sorted(line.length for line in named.on(layer.plain_name))
            theirs = sorted(line.length for line in numbered.on(str(layer.number)))
            assert theirs == pytest.approx(ours)


@pytest.mark.property
def test_same_result_gives_the_same_bytes(result):
    one, two = cut_files(result, papers=("A4",)), cut_files(result, papers=("A4",))
    assert [f.name for f in one] == [f.name for f in two]
    assert [f.content for f in one] == [f.content for f in two]
    moved = Sheet(title="t", items=(Point(layer=Layer.DRILL, at=np.array([0.0, 1.0])),))
    still = Sheet(title="t", items=(Point(layer=Layer.DRILL, at=np.array([0.0, 1.001])),))
    assert dxf_bytes(moved) != dxf_bytes(still)


@pytest.mark.property
def test_metres_and_millimetres_say_the_same(tmp_path):
    items = (Line(layer=Layer.CUT, points=np.array([[0, 0], [1.2, 0], [1.2, 0.7]]), closed=True),)
    for unit in ("m", "mm"):
        path = tmp_path / f"{unit}.dxf"
        path.write_bytes(dxf_bytes(Sheet(title="t", items=items), unit=unit))
        sheet = read_dxf(path)
        assert sheet.unit == unit
        assert sheet.lines[0].area == pytest.approx(0.42)


@pytest.mark.behaviour
def test_cloths_whose_names_come_out_alike_have_files_of_their_own(result):
    alike = {roll.cloth: name for roll, name in zip(result.rolls, ["Plane 9/4", "plane 9 4", "Net"], strict=False)}
    rolls = tuple(dataclasses.replace(roll, cloth=alike[roll.cloth]) for roll in result.rolls)
    names = [file.name for file in cut_files(dataclasses.replace(result, rolls=rolls))]
    assert len(names) == len(set(names))
    assert {"plane-9-4.dxf", "plane-9-4-2.dxf", "plane-9-4-a4.pdf", "plane-9-4-2-a4.pdf"} <= set(names)
    assert [file_stem(name) for name in ("Plane Ö_1", "clear sheet 0.75")] == ["plane-ö-1", "clear-sheet-0.75"]


@pytest.mark.property
def test_a_drawing_opens_with_all_of_it_in_sight(folder):
    for path in folder.glob("*.dxf"):
        document = ezdxf.readfile(path)
        drawn = ezdxf.bbox.extents(document.modelspace().query("LWPOLYLINE"))
        low, high = (np.array(document.header[key])[:2] for key in ("$EXTMIN", "$EXTMAX"))
        assert np.all(low <= np.array(drawn.extmin)[:2] + 0.5)
        assert np.all(np.array(drawn.extmax)[:2] - 0.5 <= high)
        (view,) = document.viewports.get("*Active")
        assert view.dxf.height >= high[1] - low[1]
        assert np.array(view.dxf.center)[:2] == pytest.approx((low + high) / 2)


@pytest.mark.property
def test_names_in_the_net_stay_in_their_own_place(result):
    name = "a name much longer than the part it stands on is wide, told once more: " * 2
    parts = [dataclasses.replace(part, name=name) if part.area < 0.5 else part for part in result.parts]
    items = net_sheet(dataclasses.replace(result, parts=tuple(parts))).items
    outlines = [Polygon(item.points) for item in items if isinstance(item, Line)]
    names = [Polygon(text_box(item)) for item in items if isinstance(item, Text)]
    taken = [shapely.box(*outline.union(said).bounds) for outline, said in zip(outlines, names, strict=True)]
    assert sum(not a.disjoint(b) for a, b in itertools.combinations(taken, 2)) == 0


@pytest.mark.property
def test_the_net_has_the_finished_edges_alone(result, folder):
    net = read_dxf(folder / "net.dxf")
    assert not net.on("cut")
    assert sorted(line.area for line in net.on("sew lines")) == pytest.approx(
        sorted(shapes.area_of(p.finished) for p in result.parts), rel=1e-3
    )


@pytest.mark.property
def test_the_nest_file_holds_parts_apart_inside_the_roll(result, folder):

    for roll in result.rolls:
        cut = [Polygon(line.points) for line in read_dxf(folder / f"{file_stem(roll.cloth)}-nest.dxf").on("cut")]
        assert len(cut) == len(roll.parts)
        length, width = roll.layout.length, roll.layout.width
        for k, part in enumerate(cut):
            assert box(-1e-4, 0, length + 1e-4, width).contains(part)
            assert all(part.distance(other) > 0.0095 for other in cut[:k])


@pytest.mark.property
def test_grain_runs_along_the_roll_within_a_degree(folder):
    for path in folder.glob("*-nest.dxf"):
        grain = [line for line in read_dxf(path).on("grain") if len(line.points) == 2]
        assert grain
        for line in grain:
            along = line.points[1] - line.points[0]
            assert abs(np.degrees(np.arctan2(along[1], abs(along[0])))) < 1.0


@pytest.mark.behaviour
def test_gdal_reads_the_same_areas_and_lengths(result, folder, tmp_path):
    tool = shutil.which("ogr2ogr")
    if tool is None:
        pytest.skip("GDAL is not installed")
    for cloth in {part.cloth for part in result.parts}:
        out = tmp_path / f"{file_stem(cloth)}.json"
        subprocess.run(
            [tool, "-f", "GeoJSON", str(out), str(folder / f"{file_stem(cloth)}.dxf"), "entities"],
            check=True, capture_output=True,
        )  # fmt: skip
        features = json.loads(out.read_text())["features"]
        rings = [
            np.array(ring_of(f["geometry"])) / 1000
            for f in features
            if f["properties"]["Layer"] == "cut" and f["geometry"]["type"] in ("LineString", "Polygon")
        ]
        parts = parts_on(result, cloth)
        shapes.hold_cut_lines(rings, parts)


def ring_of(geometry):
    points = geometry["coordinates"]
    return [p[:2] for p in (points[0] if geometry["type"] == "Polygon" else points)]


@pytest.mark.property
def test_svg_is_at_1_to_1(result):
    import xml.etree.ElementTree as xml

    for file in cut_files(result, papers=()):
        if file.name.endswith("nest.svg"):
            root = xml.fromstring(file.content)
            width = float(root.get("width").removesuffix("mm"))
            assert width == pytest.approx(float(root.get("viewBox").split()[2]))
            assert {g.get("id") for g in root} >= {"cut", "grain", "text"}


@pytest.mark.behaviour
@pytest.mark.parametrize("content", [b"", b"0\nSECTION\n", b"not a drawing", "0\nEOF\n\xff".encode("latin-1")])
def test_damaged_dxf_is_refused(tmp_path, content):
    path = tmp_path / "bad.dxf"
    path.write_bytes(content)
    with pytest.raises(DesignError, match=r"bad\.dxf"):
        read_dxf(path)


@pytest.mark.behaviour
def test_dxf_without_units_is_refused(tmp_path):
    path = tmp_path / "bare.dxf"
    content = dxf_bytes(Sheet(title="t", items=(Text(at=np.zeros(2), text="x", height=0.01),))).decode()
    path.write_text(content.replace("$INSUNITS\n 70\n4", "$INSUNITS\n 70\n0"))
    with pytest.raises(DesignError, match=r"no unit of length"):
        read_dxf(path)


@pytest.mark.behaviour
def test_a_folder_that_cannot_be_written_is_said(result, tmp_path):
    blocked = tmp_path / "file"
    blocked.write_text("x")
    with pytest.raises(CouldNot, match=r"could not be written"):
        write_files(cut_files(result, papers=())[:1], blocked / "inside")
    assert blocked.read_text() == "x"


DRAWN = """
import hashlib
from canvas.cutting.dxf import dxf_bytes
from canvas.cutting.sheet import Layer, Line, Sheet
line = Line(layer=Layer.CUT, points=[[0.0, 0.0], [1.0, 0.0], [1.0, 1.0]], closed=True)
print(hashlib.sha256(dxf_bytes(Sheet(title="t", items=(line,)))).hexdigest())
"""


@pytest.mark.behaviour
def test_drawing_has_the_same_bytes_whatever_the_order_of_sets():
    drawn = {
        subprocess.run(
            [sys.executable, "-c", DRAWN], capture_output=True, text=True, check=True,
            env={**os.environ, "PYTHONHASHSEED": str(seed)},
        ).stdout
        for seed in range(1, 7)
    }  # fmt: skip
    assert len(drawn) == 1

"""Every part of every example, measured in the files a maker would cut from."""

import dataclasses
import json
import shutil
import subprocess
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from shapely.geometry import LineString, Point, Polygon, box

from canvas.cutting.closer import closer_nest
from canvas.cutting.cut import cut_panels
from canvas.cutting.dxf import read_dxf
from canvas.cutting.files import cut_files, file_stem, write_files
from canvas.cutting.finish import read_finishes
from canvas.cutting.gather import gather
from canvas.cutting.nest import SELVEDGE, SPACING, shelf_length
from canvas.cutting.ordered import cut_result
from canvas.cutting.sheet import Layer, Text, text_box
from canvas.design.reading import parse_design
from canvas.verbs.asking import rigging_of
from tests.cutting import cut_shapes as shapes
from tests.cutting.sewn_back import read_parts

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*.toml"))
MM = 0.001


@cache
def gathered(path):
    return gather(rigging_of(path))


@pytest.fixture(scope="module", params=EXAMPLES, ids=lambda path: path.stem)
def example(request, tmp_path_factory):
    """Return what was gathered, what `canvas cut` makes of it, the folder with its files, its parts as read back."""
    found = gathered(request.param)
    result = cut_result(rigging_of(request.param))
    folder = tmp_path_factory.mktemp(request.param.stem)
    write_files(cut_files(result, papers=()), folder)
    parts = {}
    for roll in result.rolls:
        sheet = read_dxf(folder / f"{file_stem(roll.cloth)}.dxf")
        mine = [result.parts[k] for k in roll.parts]
        notches = [at for layer, at in sheet.points if layer == "notches"]
        for read in read_parts(sheet, [p for p in mine if p.edges]):
            parts[read.name] = (read, notches)
    return found, result, folder, parts


def read_edges(example, panel, name):
    """Return (part edge, read polyline, read notches) of every piece of an edge or seam of a panel."""
    _, result, _, parts = example
    for part in result.parts:
        if part.panel == panel and part.edges:
            read, notches = parts[part.name]
            for edge, line in zip(part.edges, read.edges, strict=True):
                if edge.name == name:
                    yield edge, line, [n for n in notches if LineString(line).distance(Point(n)) < 1e-4]


@pytest.mark.property
def test_both_sides_of_every_zip_and_seam_are_equal(example):
    found, result, _, _ = example
    joints = {joint.name: joint for joint in found.joints}
    new = {p.name for p in found.panels if not p.existing}
    measured = 0
    for seam in result.seams:
        joint = joints.get(seam.name)
        if joint is None:  # between pieces of one panel
            both = [shapes.polyline_length(line) for _, line, _ in read_edges(example, seam.panel_a, seam.name)]
            assert len(both) == 2
        else:
            both = [
                sum(shapes.polyline_length(line) for _, line, _ in read_edges(example, joint.panel_a, joint.edge_a))
            ]
            if joint.panel_b in new and sorted(joint.span_b) == [0.0, 1.0]:
                both.append(
                    sum(shapes.polyline_length(line) for _, line, _ in read_edges(example, joint.panel_b, joint.edge_b))
                )
            else:
                both.append(seam.length_b)
        assert abs(both[0] - both[1] - seam.ease) < (1 if seam.kind == "zip" else 2) * MM, seam.name
        measured += 1
    assert measured == len(result.seams)


@pytest.mark.property
def test_match_marks_of_both_sides_coincide(example):
    found, result, _, _ = example
    new = {p.name for p in found.panels if not p.existing}
    pairs = [
        (j.panel_a, j.edge_a, j.panel_b, j.edge_b)
        for j in found.joints
        if j.panel_b in new and sorted(j.span_b) == [0, 1]
    ]
    inner = {name for panel in result.parts for name in (e.name for e in panel.edges if e.seam)}
    pairs += [(s.panel_a, s.name, s.panel_b, s.name) for s in result.seams if s.name in inner]
    for panel_a, edge_a, panel_b, edge_b in pairs:
        if edge_a == edge_b and panel_a == panel_b:
            (one, two) = ([piece] for piece in read_edges(example, panel_a, edge_a))
        else:
            one, two = list(read_edges(example, panel_a, edge_a)), list(read_edges(example, panel_b, edge_b))
        here, there = marks(one), marks(two)
        whole = max(max(edge.span) for edge, _, _ in two)
        if edge_a != edge_b or panel_a != panel_b:
            there = sorted(whole - place for place in there)
        assert len(here) >= 1
        assert here == pytest.approx(there, abs=1 * MM)
        assert sorted(whole - place for place in here) != pytest.approx(there, abs=8 * MM)


def marks(pieces):
    """Return where match marks lie along a whole edge, from its first corner."""
    found = []
    for edge, line, notches in pieces:
        sign = 1.0 if edge.span[1] > edge.span[0] else -1.0
        found += [edge.span[0] + sign * LineString(line).project(Point(n)) for n in notches]
    return sorted(found)


@pytest.mark.property
def test_no_outline_crosses_itself_and_all_lie_apart_on_the_roll(example):
    _, result, folder, _ = example
    for roll in result.rolls:
        for name in (f"{file_stem(roll.cloth)}.dxf", f"{file_stem(roll.cloth)}-nest.dxf"):
            cut = read_dxf(folder / name).on("cut")
            assert len(cut) == len(roll.parts)
            assert all(line.closed and Polygon(line.points).is_valid for line in cut)
        laid = [Polygon(line.points) for line in cut]
        band = box(0, SELVEDGE - 1e-4, roll.layout.length, roll.layout.width - SELVEDGE + 1e-4)
        for k, part in enumerate(laid):
            assert band.buffer(1e-6).contains(part)
            assert all(part.distance(other) > SPACING - 2e-4 for other in laid[:k])


@pytest.mark.property
def test_seams_between_pieces_run_fair(example):
    """No step and no kink: within 1 mm of a smooth curve from end to end, and nowhere a turn of a degree."""
    _, result, _, parts = example
    for part in result.parts:
        for edge, line in zip(part.edges, parts[part.name][0].edges if part.edges else (), strict=True):
            if edge.seam:
                chord = (line[-1] - line[0]) / np.hypot(*(line[-1] - line[0]))
                along, off = (line - line[0]) @ chord, (line - line[0]) @ [-chord[1], chord[0]]
                smooth = np.polynomial.Polynomial.fit(along, off, 5)(along)
                steps = np.diff(line, axis=0)
                turns = np.diff(np.unwrap(np.arctan2(steps[:, 1], steps[:, 0])))
                assert np.abs(off - smooth).max() < 1 * MM
                assert np.degrees(np.abs(turns)).max() < 1.0


@pytest.mark.behaviour
def test_gdal_reads_the_same_areas_lengths_and_layers(example, tmp_path):
    tool = shutil.which("ogr2ogr")
    if tool is None:
        pytest.skip("GDAL is not installed")
    _, result, folder, _ = example
    for roll in result.rolls:
        features = read_by_gdal(tool, folder / f"{file_stem(roll.cloth)}.dxf", tmp_path / "plain.json")
        numbered = read_by_gdal(tool, folder / f"{file_stem(roll.cloth)}-numbered.dxf", tmp_path / "numbered.json")
        parts = [result.parts[k] for k in roll.parts]
        by_layer = [{f["properties"]["Layer"] for f in each} for each in (features, numbered)]
        plain = {layer.plain_name: str(layer.number) for layer in Layer}
        assert {"cut", "sew lines", "grain", "text"} <= by_layer[0] <= set(plain)
        assert by_layer[1] == {plain[name] for name in by_layer[0]}
        rings = [r for r in (ring_of(f) for f in features if f["properties"]["Layer"] == "cut") if r is not None]
        shapes.hold_cut_lines(rings, parts)
        grain = sum(f["properties"]["Layer"] == "grain" for f in features)
        assert grain >= len(parts)


def read_by_gdal(tool, path, out):
    subprocess.run([tool, "-f", "GeoJSON", str(out), str(path), "entities"], check=True, capture_output=True)
    return json.loads(out.read_text())["features"]


def ring_of(feature):
    """Return a closed line or polygon of GDAL's in metres, (k, 2); None for anything else."""
    points = feature["geometry"]["coordinates"]
    if feature["geometry"]["type"] == "Polygon":
        points = points[0]
    elif feature["geometry"]["type"] != "LineString":
        return None
    return np.array([p[:2] for p in points])[:-1] / 1000


@pytest.mark.property
def test_grain_runs_along_the_roll(example):
    _, result, folder, _ = example
    for roll in result.rolls:
        grain = [g for g in read_dxf(folder / f"{file_stem(roll.cloth)}-nest.dxf").on("grain") if len(g.points) == 2]
        assert len(grain) == len(roll.parts)
        for line in grain:
            along = line.points[1] - line.points[0]
            assert abs(np.degrees(np.arctan(along[1] / along[0]))) < 1.0


def least_length(outlines, *, width):
    """Return a length that no layout can beat: the longest part; the area; parts that all cross the roll's middle."""
    room = width - 2 * SELVEDGE
    across = 0.0
    for outline in outlines:
        part = outline - outline.min(axis=0)
        far, high = part.max(axis=0)
        if high > room / 2:  # wherever it lies, the roll's middle line cuts it between these heights of its own
            heights = np.concatenate([[high - room / 2, room / 2], part[:, 1] - 1e-7, part[:, 1] + 1e-7])
            heights = heights[(heights >= high - room / 2) & (heights <= room / 2)]
            shape = Polygon(part)
            chords = [shape.intersection(LineString([(-1, y), (far + 1, y)])).length for y in heights]
            across += min(chords) + SPACING
    longest = max(float(np.ptp(o[:, 0])) for o in outlines) + SPACING
    return max(across, longest, sum(Polygon(o).area for o in outlines) / room)


@pytest.mark.behaviour
def test_the_nests_are_shorter_than_shelves_wherever_parts_can_be(example):
    """By 8 %; where the least length any layout could have is no 8 % shorter, within 4 % of that."""
    _, result, _, _ = example
    for roll in result.rolls:
        outlines = [result.parts[k].cut for k in roll.parts]
        width, length = roll.layout.width, roll.layout.length
        shelves, least = shelf_length(outlines, width=width), least_length(outlines, width=width)
        assert least - 1e-6 <= length <= shelves + 0.001
        assert length <= 0.92 * shelves or (least > 0.92 * shelves and length <= 1.04 * least)


@pytest.mark.slow
@pytest.mark.behaviour
def test_a_packer_given_its_time_finds_little_shorter(example, tmp_path):
    """Within 5 % of what spyrrow finds in ten seconds a cloth."""
    _, result, _, _ = example
    for roll in result.rolls:
        if len(roll.parts) < 3:
            continue
        outlines = [result.parts[k].cut for k in roll.parts]
        turnable = [result.parts[k].turnable for k in roll.parts]
        packed = closer_nest(outlines, width=roll.layout.width, folder=tmp_path, seconds=10, turnable=turnable)
        assert roll.layout.length <= 1.05 * packed.length


@pytest.mark.property
def test_every_part_keeps_its_strain_under_the_cloths_limit(example):
    found, result, _, _ = example
    limits = {p.cloth.name: p.cloth for p in found.panels}
    for part in result.parts:
        if part.edges:
            assert part.strain_edge_max < 1e-4
            assert part.strain_inside_max < 4 * limits[part.cloth].strain_limit


@pytest.mark.property
@pytest.mark.parametrize(
    ("example", "panel"),
    [("marrowgrass", "watch tent roof"), ("marrowgrass", "tent back"), ("oddfellow", "watch tent roof")],
)
def test_tents_can_be_asked_to_be_flat_cloth(example, panel):
    """Cut from flat cloth they strain less than as formed, nearly everywhere under 0.2 %."""
    text = (EXAMPLES[0].parent / f"{example}.toml").read_text()
    head, name, tail = text.partition(f'name = "{panel}"')
    flat, formed = (
        strains_of(panel, text) for text in (head + name + tail.replace("edges = [", "flat = true\nedges = [", 1), text)
    )
    assert np.isfinite(flat).all()
    assert flat.max() < formed.max()
    assert np.percentile(flat, 95) < 0.002


def strains_of(panel, text):
    """Return the strain left in each triangle of a panel cut without compensation."""
    found = gather(rigging_of(parse_design(text, file="boat.toml", folder=EXAMPLES[0].parent)))
    own = next(p for p in found.panels if p.name == panel)
    cloth = dataclasses.replace(own.cloth, warp_compensation=0.0, weft_compensation=0.0)
    result = cut_panels([dataclasses.replace(own, cloth=cloth)], [], finishes=read_finishes())
    return np.concatenate([one.strain for one in result.strains])


@pytest.mark.behaviour
def test_small_parts_say_whose_they_are_and_their_places_are_named(example):
    """Patches, flaps and windows lie loose on the table: each names its part; a patch's name stands in its mark too."""
    _, result, _, _ = example
    for part in result.parts:
        if part.edges:
            continue
        said = " ".join(item.text for item in part.items if isinstance(item, Text))
        whose, name = part.name.rsplit(": ", 1)
        assert whose in said, part.name
        assert name in said, part.name
        if "patch" in name:
            texts = [item for item in result.part(whose).items if isinstance(item, Text) and item.text == name]
            assert len(texts) == 1, part.name


@pytest.mark.property
def test_no_two_lines_of_text_lie_over_each_other(example):
    _, result, _, _ = example
    for part in result.parts:
        boxes = [Polygon(text_box(item)) for item in part.items if isinstance(item, Text)]
        assert all(not one.intersects(other) for k, one in enumerate(boxes) for other in boxes[:k]), part.name

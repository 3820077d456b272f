import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Point

from canvas.cutting.choices import CutOptions
from canvas.cutting.cut import cut_panels
from canvas.cutting.dxf import read_dxf
from canvas.cutting.files import cut_files, write_files
from canvas.cutting.finish import read_finishes
from canvas.cutting.flatten import flatten
from canvas.cutting.nest import nest
from canvas.cutting.piece import EdgeToCut, Joint, Piece, whole_piece
from canvas.cutting.plan import plan_pieces
from canvas.cutting.sag import flat_sag
from canvas.cutting.seams import notch_places
from canvas.cutting.split import outline_loop, split_piece
from canvas.design.problems import DesignError
from tests.cutting import cut_shapes as shapes

FINISHES = read_finishes()
MM = 0.001


def zipped_roofs(**changes):
    fore = shapes.roof("fore", 0.0, 1.2, width=1.0, finishes=("webbing hem", "zip", "webbing hem", "tube pocket"))
    aft = shapes.roof(
        "aft", 1.2, 2.0, width=1.0, crown=(0.1, 0.03), finishes=("hem", "batten pocket", "hem", "zip"), warp=(0, 1, 0)
    )
    joint = Joint(
        name="fore to aft", kind="zip", panel_a="aft", edge_a="near", panel_b="fore", edge_b="far", **changes
    )  # fmt: skip
    return [fore, aft], [joint]


def notch_gaps(result, joint):
    """Return how far along their joint each pair of notches of one number lies apart on its two sides."""
    by_number = {}
    for part in result.parts:
        for notch in part.notches:
            if notch.joint == joint:
                by_number.setdefault(notch.number, []).append((part, notch))
    assert by_number
    assert all(len(pair) == 2 for pair in by_number.values())
    return by_number


@pytest.mark.property
def test_both_sides_of_a_zip_are_equally_long_whatever_the_grain():
    panels, joints = zipped_roofs()
    result = cut_panels(panels, joints, finishes=FINISHES)
    seam = result.seams[0]
    assert seam.length_a == pytest.approx(seam.length_b, abs=0.1 * MM)
    own = sorted(
        float(shapes.polyline_length(p.vertices[p.edge(e).vertices]))
        for p, e in zip(panels, ("far", "near"), strict=True)
    )
    assert own[0] * 0.996 < seam.length_a < own[1]  # compensated, and no more


@pytest.mark.property
def test_notches_lie_at_equal_lengths_on_both_sides():
    panels, joints = zipped_roofs()
    result = cut_panels(panels, joints, finishes=FINISHES)
    for pair in notch_gaps(result, "fore to aft").values():
        along = []
        for part, notch in pair:
            edge = next(e for e in part.edges if e.name == ("near" if part.panel == "aft" else "far"))
            line = LineString(edge.points)
            assert line.distance(Point(notch.at)) < 1e-6
            place = line.project(Point(notch.at))
            along.append(place if part.panel == "aft" else line.length - place)
        assert along[0] == pytest.approx(along[1], abs=0.5 * MM)
        assert along[0] == pytest.approx(pair[0][1].place, abs=0.5 * MM)


@pytest.mark.property
@given(st.floats(0.15, 9.0))
def test_notches_fit_one_way_round_only(length):
    places = notch_places(length)
    other_way = np.sort(length - places)
    assert np.max(np.abs(places - other_way)) > min(15 * MM, 0.04 * length)
    assert np.all(np.diff(np.concatenate([[0], places, [length]])) > 0)


@pytest.mark.behaviour
def test_existing_side_rules():
    panels, joints = zipped_roofs()
    panels[0] = dataclasses.replace(panels[0], existing=True)
    result = cut_panels(panels, joints, finishes=FINISHES)
    measured = shapes.polyline_length(panels[0].vertices[panels[0].edge("far").vertices])
    assert {part.panel for part in result.parts} == {"aft"}
    assert result.seams[0].length_a == pytest.approx(measured, abs=0.1 * MM)
    assert result.seams[0].length_b == pytest.approx(measured, abs=1e-9)


@pytest.mark.behaviour
def test_part_of_an_edge_can_be_joined():
    fore = shapes.plate("fore", 1.0, 1.2, finishes=("hem", "zip", "hem", "hem"))
    aft = shapes.plate("aft", 0.8, 0.6, at=1.0, finishes=("hem", "hem", "hem", "zip"))
    joint = Joint(name="z", kind="zip", panel_a="aft", edge_a="near", panel_b="fore", edge_b="far", span_b=(0.75, 0.25))
    result = cut_panels([fore, aft], [joint], finishes=FINISHES)
    assert result.seams[0].length_a == pytest.approx(0.6 * 0.997, abs=0.1 * MM)
    assert result.seams[0].length_b == pytest.approx(result.seams[0].length_a, abs=0.1 * MM)
    whole = next(e for e in result.edges if e.panel == "fore" and e.name == "far")
    assert whole.length == pytest.approx(1.2 * 0.997, abs=0.1 * MM)


@pytest.mark.behaviour
def test_ease_is_left_where_it_is_asked_for():
    panels, joints = zipped_roofs(ease=0.006)
    result = cut_panels(panels, joints, finishes=FINISHES)
    assert result.seams[0].length_a - result.seams[0].length_b == pytest.approx(6 * MM, abs=0.1 * MM)
    assert result.seams[0].ease == 0.006


@pytest.mark.behaviour
def test_sides_that_cannot_meet_are_refused():
    fore = shapes.plate("fore", 1.0, 1.2)
    aft = shapes.plate("aft", 0.8, 1.1, at=1.0)
    joint = Joint(name="z", kind="zip", panel_a="aft", edge_a="near", panel_b="fore", edge_b="far")
    with pytest.raises(
        DesignError, match=r'zip "z": found 1097 mm on "aft" and 1196 mm on "fore".*shorten.*"fore" by 100'
    ):
        cut_panels([fore, aft], [joint], finishes=FINISHES)


@pytest.mark.property
@settings(max_examples=20, deadline=None)
@given(
    st.floats(-0.55, 0.55), st.floats(-0.5, 0.5), st.floats(-0.25, 0.25)
)  # fmt: skip
def test_split_pieces_share_their_seam_and_lose_nothing(place, slope, twist):
    panel = shapes.panel(
        "p", lambda u, v: (u, v, twist * u * v), np.linspace(-1, 1, 15), np.linspace(-1, 1, 15), cloth=shapes.PLAIN
    )
    whole = whole_piece(panel)
    side = panel.vertices[:, 1] - place - slope * panel.vertices[:, 0]
    pieces = split_piece(whole, side, seam="s")
    assert len(pieces) == 2
    areas = [surface_area(p) for p in pieces]
    assert sum(areas) == pytest.approx(surface_area(whole), rel=1e-6)  # vertices near the seam move along the mesh
    both = []
    for piece in pieces:
        loop = np.concatenate([e.vertices[:-1] for e in piece.edges])
        assert sorted(loop.tolist()) == sorted(outline_loop(piece.faces).tolist())
        (seam,) = [e for e in piece.edges if e.seam]
        line = piece.vertices[seam.vertices]
        assert np.abs(line[:, 1] - place - slope * line[:, 0]).max() < 2 * MM  # mesh edges of 143 mm
        order = np.argsort(seam.arc)
        both.append((seam.arc[order], piece.vertices[seam.vertices[order]]))
    assert np.allclose(both[0][0], both[1][0], atol=1e-12)
    assert np.allclose(both[0][1], both[1][1], atol=1e-12)


def surface_area(piece):
    c = piece.vertices[piece.faces]
    return float(np.linalg.norm(np.cross(c[:, 1] - c[:, 0], c[:, 2] - c[:, 0]), axis=1).sum() / 2)


def gore_panel(count, cloth=shapes.COATED):
    vertices, faces = shapes.gore(1.0, count)
    cloth = dataclasses.replace(cloth, warp_compensation=0.0, weft_compensation=0.0)
    low, far, high, near = shapes.outline_of(61, 17)
    names = ("starboard", "foot", "port", "head")
    edges = tuple(
        EdgeToCut(name=name, finish="binding", vertices=along[::-1], sd=0.0)
        for name, along in zip(names, (high, near, low, far), strict=True)
    )
    panel = shapes.plate("gore", 1, 1)
    return dataclasses.replace(
        panel, vertices=vertices, faces=faces, warp=np.tile([0.0, 0, 1], (len(faces), 1)),
        zone=np.zeros(len(faces), dtype=int), edges=edges, cloth=cloth,
    )  # fmt: skip


@pytest.mark.behaviour
def test_eight_gores_of_a_sphere_are_divided_further_in_coated_cloth():
    plan = plan_pieces(gore_panel(8), usable=1.49, allowance=0.02)
    assert plan.strain_whole > 0.02
    assert len(plan.pieces) > 1
    assert plan.strain_left <= 0.01
    assert "strain" in plan.reason


@pytest.mark.behaviour
def test_eight_gores_are_refused_where_the_design_forbids_seams():
    with pytest.raises(DesignError, match=r"% strain in coated polyester 300, which takes 1.0 %.*Add a seam"):
        cut_panels([gore_panel(8)], [], finishes=FINISHES, options=CutOptions(seams={"gore": ()}))


@pytest.mark.analytic
def test_seam_lines_of_gores_keep_their_length():
    """Meridians stay within 3 mm a metre."""
    panel = gore_panel(16)
    flat = flatten(panel.vertices, panel.faces, warp=panel.warp)
    for edge in (panel.edge("port"), panel.edge("starboard")):
        formed = shapes.polyline_length(panel.vertices[edge.vertices])
        assert shapes.polyline_length(flat.uv[edge.vertices]) == pytest.approx(formed, rel=0.003)


@pytest.mark.published
def test_sag_between_gores_is_w2_over_8r(published):
    table = published("cutting/gore_sag")
    for row in table.rows:
        count = int(row["case"].removeprefix("umbrella"))
        if count < 8:
            continue  # far too wide for the first term
        vertices, faces = shapes.gore(1.0, count, low=-0.6, high=0.6, cells=(40, 16))
        piece = Piece(
            name="g", panel="g", vertices=vertices, faces=faces, warp=np.tile([0.0, 0, 1], (len(faces), 1)),
            zone=np.zeros(len(faces)),
        )  # fmt: skip
        flat = flatten(vertices, faces, warp=piece.warp)
        assert abs(flat_sag(piece, flat.uv) - row["value"]) <= table.tolerance("value") * abs(row["value"])


@pytest.mark.property
def test_seams_measured_in_the_files_agree(tmp_path):
    """Both sides of each seam and zip, read back from the DXF by their labels."""
    panels, joints = zipped_roofs()
    wide = shapes.roof("wide", 2.2, 3.4, width=2.6)
    result = cut_panels([*panels, wide], joints, finishes=FINISHES)
    write_files(cut_files(result, papers=()), tmp_path)
    lines = read_dxf(tmp_path / "coated-polyester-300.dxf").on("sew lines")
    for seam in result.seams:
        assert abs(seam.length_a - seam.length_b) < (1 if seam.kind == "zip" else 2) * MM
        assert any(line.closed and line.length > seam.length_a for line in lines)
    read = sorted(line.length for line in lines if line.closed)
    drawn = sorted(shapes.polyline_length(np.vstack([p.finished, p.finished[:1]])) for p in result.parts)
    assert read == pytest.approx(drawn, rel=1e-3)


@pytest.mark.behaviour
def test_three_strips_are_laid_out_so_that_two_lie_side_by_side():
    """Over a ridge, 2.78 m across on 1.52 m: a wide strip and two narrow ones take two lengths of roll, not three."""
    result = cut_panels([ridged(2.78)], [], finishes=FINISHES)
    strips = [part for part in result.parts if part.edges]
    assert len(strips) == 3
    assert nest(strips, width=1.52).length < 2 * 2.1
    widths = sorted(float(np.ptp(part.cut[:, 1])) for part in strips)
    assert widths[0] + widths[1] < 1.52 - 0.03 - 0.01
    assert widths[2] < 1.52 - 0.03


@pytest.mark.behaviour
def test_three_strips_stay_equal_where_two_cannot_lie_side_by_side():
    result = cut_panels([ridged(3.6)], [], finishes=FINISHES)
    widths = [float(np.ptp(part.finished[:, 1])) for part in result.parts if part.edges]
    assert widths == pytest.approx([1.2] * 3, abs=0.03)


def ridged(width):
    """Return a flat panel that lies on a boom along its middle, where no seam may run."""
    boom = np.array([[0.1, 0.0, 0.0], [1.0, 0.0, 0.0], [1.9, 0.0, 0.0]])
    plate = shapes.plate("wide", 2.0, width, cells=(20, 36), finishes=("hem",) * 4, cloth=shapes.PLAIN)
    return dataclasses.replace(plate, contacts=(boom,))

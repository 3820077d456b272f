import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, MultiPoint, Point, Polygon, box

from canvas.cutting.arcs import with_arcs
from canvas.cutting.cut import cut_panels
from canvas.cutting.finish import Finish, for_tube, read_finishes, with_allowance
from canvas.cutting.outline import OutlineEdge, cut_line
from canvas.cutting.part import points_along
from canvas.cutting.piece import Joint
from canvas.cutting.sheet import Layer, Line
from canvas.design.problems import DesignError
from tests.cutting import cut_shapes as shapes

FINISHES = read_finishes()
MM = 0.001


def edges_of(corners, finishes, *, seam=()):
    corners = np.asarray(corners, dtype=float)
    return [
        OutlineEdge(
            name=f"e{k}", finish=finish, points=np.stack([corners[k], corners[(k + 1) % len(corners)]]), seam=k in seam
        )
        for k, finish in enumerate(finishes)
    ]


def flat_finish(allowance, corner="mitre", **more):
    return Finish(name="test", allowance=allowance, tolerance=0.002, corner=corner, **more)


SQUARE = [(0, 0), (2, 0), (2, 1), (0, 1)]


@pytest.mark.analytic
def test_mitred_corners_make_a_larger_rectangle():
    line = cut_line(edges_of(SQUARE, [flat_finish(0.05)] * 4), part="p")
    assert shapes.area_of(line.cut) == pytest.approx(2.1 * 1.1, abs=1e-6)
    assert line.problems == ()


@pytest.mark.analytic
def test_square_corners_leave_the_corner_out():
    line = cut_line(edges_of(SQUARE, [flat_finish(0.05, "square")] * 4), part="p")
    assert shapes.area_of(line.cut) == pytest.approx(2 + 6 * 0.05, abs=1e-5)


@pytest.mark.analytic
def test_a_pocket_stops_short_of_its_corners():
    pocket = flat_finish(0.08, "tube end", stop=0.03)
    line = cut_line(edges_of(SQUARE, [pocket, *[flat_finish(0.0)] * 3]), part="p")
    assert shapes.area_of(line.cut) == pytest.approx(2 + 2 * 0.013 + (2 - 0.06) * (0.08 - 0.013), abs=1e-5)


@pytest.mark.analytic
def test_allowances_run_through_at_a_seam():
    """Where a seam ends, the hem goes on across the seam's own allowance, so that it can be turned after sewing."""
    hem, seam = FINISHES["hem"], FINISHES["seam"]
    line = cut_line(edges_of(SQUARE, [hem, seam, hem, hem], seam=(1,)), part="p")
    assert Polygon(line.cut).contains(Point(2 + 0.012, -0.037))


@pytest.mark.analytic
def test_a_sharp_hem_is_cut_back_along_the_mirror_of_its_neighbour():
    """Folded in, the hem of a 60 degree corner stays inside the part."""
    corners = [(0, 0), (1, 0), (0.5, math.sqrt(0.75))]
    line = cut_line(edges_of(corners, [FINISHES["hem"]] * 3), part="p")
    below = Polygon(line.cut).intersection(box(-1, -1, 2, -1e-9))
    assert below.area == pytest.approx(0.038 * (1 - 0.038 / math.tan(math.radians(60))), rel=1e-3)
    folded = np.asarray(below.exterior.coords) * [1, -1]
    assert Polygon(corners).buffer(1e-5).contains(MultiPoint(folded))


@pytest.mark.property
@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.floats(0.4, 1.2), st.floats(-0.08, 0.08)), min_size=4, max_size=8),
    st.lists(st.sampled_from(sorted(FINISHES)), min_size=8, max_size=8),
)
def test_cut_lines_never_cross_and_keep_their_distance(spokes, names):
    angle = np.linspace(0, 2 * np.pi, len(spokes), endpoint=False)
    radius = np.array([s[0] for s in spokes])
    corners = np.stack([radius * np.cos(angle), radius * np.sin(angle)], axis=1)
    edges = []
    for k, (_, bow) in enumerate(spokes):
        a, b = corners[k], corners[(k + 1) % len(corners)]
        t = np.linspace(0, 1, 12)[:, None]
        normal = np.array([b[1] - a[1], a[0] - b[0]])
        points = a + t * (b - a) + bow * 4 * t * (1 - t) * normal
        edges.append(OutlineEdge(name=f"e{k}", finish=FINISHES[names[k]], points=points))
    line = cut_line(edges, part="p")
    cut = Polygon(line.cut)
    assert cut.is_valid
    if any(p.severity == "error" for p in line.problems):
        return
    finished = Polygon(np.vstack([e.points[:-1] for e in edges]))
    assert finished.difference(cut).area < 1e-6
    for edge in edges:
        if edge.finish.allowance > 0:
            a, b = edge.points[5], edge.points[6]
            along = (b - a) / np.hypot(*(b - a))
            out = (a + b) / 2 + (edge.finish.allowance - 1e-4) * np.array([along[1], -along[0]])
            assert cut.contains(Point(out))


@pytest.mark.behaviour
@pytest.mark.parametrize("name", sorted(FINISHES))
def test_every_finish_draws_its_folds_and_rows_inside_the_part(name):
    plate = shapes.plate("p", 1.4, 1.0, finishes=(name, "binding", "binding", "binding"), cloth=shapes.PLAIN)
    result = cut_panels([plate], [], finishes=FINISHES)
    part, left_on = result.parts[0], {edge.finish: edge.long_by for edge in result.edges}[name]
    finish = FINISHES[name]
    cut = Polygon(part.cut).buffer(1e-6)
    assert cut.is_valid
    folds = [item for item in part.items if isinstance(item, Line) and item.layer is Layer.FOLD]
    rows = [item for item in part.items if isinstance(item, Line) and item.layer is Layer.SEW and item.dashed]
    assert len(folds) >= sum(fold > 0 for fold in finish.folds)
    assert len(rows) >= sum(row > 0 for row in finish.sews)
    for item in (*folds, *rows):
        assert cut.contains(LineString(item.points))
    bottom = part.cut[:, 1].min() - part.finished[:, 1].min()
    assert -bottom == pytest.approx(finish.allowance + left_on, abs=1e-5)


@pytest.mark.analytic
def test_pockets_are_made_for_their_tubes():
    """Girth of the tube plus 30 mm and a turning of 25 mm."""
    pocket = for_tube(FINISHES["tube pocket"], 0.032)
    assert pocket.allowance == pytest.approx(math.pi * 0.032 + 0.055)


@pytest.mark.analytic
def test_studs_are_evenly_spaced_at_most_their_spacing_apart():
    line = np.array([[0.0, 0.0], [1.0, 0.0]])
    places = points_along(line, spacing=0.15, inset=0.013)
    assert places[:, 1] == pytest.approx(0.013)
    gaps = np.diff(places[:, 0])
    assert gaps == pytest.approx(gaps[0])
    assert gaps[0] <= 0.15
    assert places[0, 0] == pytest.approx(0.03)
    assert places[-1, 0] == pytest.approx(0.97)


@pytest.mark.analytic
def test_runs_on_a_circle_become_arcs():
    t = np.linspace(0, np.pi / 2, 40)
    points = np.concatenate(
        [[[-1, 0]], np.stack([0.3 * np.sin(t), 0.3 - 0.3 * np.cos(t)], axis=1), [[0.3, 1], [-1, 1]]]
    )
    line = with_arcs(Line(layer=Layer.CUT, points=points, closed=True))
    assert len(line.points) == 5
    assert max(line.bulge) == pytest.approx(math.tan(math.pi / 8), abs=1e-6)


@pytest.mark.behaviour
def test_a_pocket_wider_than_its_panel_is_named():
    plate = shapes.plate("strip", 1.4, 0.1, finishes=("tube pocket", "binding", "binding", "binding"))
    with pytest.raises(DesignError, match=r'part "strip", edge "low".*125 mm of tube pocket.*Make the panel deeper'):
        cut_panels([plate], [], finishes=FINISHES)


@pytest.mark.behaviour
def test_a_corner_too_sharp_for_its_hem_is_named():
    vertices = [(0, 0), (2, 0), (2, 0.5)]
    line = cut_line(edges_of(vertices, [FINISHES["hem"]] * 3), part="wedge")
    assert any(p.code == "corner-too-sharp" and "14 deg" in p.found and "Blunt" in p.wanted for p in line.problems)


@pytest.mark.behaviour
def test_a_tight_inside_corner_is_named():
    corners = [(0, 0), (1, 0), (1, 1), (0.52, 1), (0.5, 0.3), (0.48, 1), (0, 1)]
    line = cut_line(edges_of(corners, [FINISHES["hem"]] * 7), part="slit")
    assert {"corner-too-sharp"} <= {p.code for p in line.problems if p.severity == "error"}
    assert any("inside corner" in p.found for p in line.problems)
    assert Polygon(line.cut).is_valid


@pytest.mark.behaviour
def test_text_that_does_not_fit_is_named():
    plate = shapes.plate("a long name for a very small piece of cloth", 0.06, 0.05, finishes=("binding",) * 4)
    with pytest.raises(DesignError, match=r"without room for its label.*shorter name"):
        cut_panels([plate], [], finishes=FINISHES)


@pytest.mark.behaviour
def test_a_seam_longer_than_its_zip_is_named():
    fore = shapes.plate("fore", 1.0, 1.2)
    aft = shapes.plate("aft", 0.8, 1.2, at=1.0)
    joint = Joint(name="z", kind="zip", panel_a="aft", edge_a="near", panel_b="fore", edge_b="far", tape=0.9)
    with pytest.raises(DesignError, match=r'zip "z": found an edge of 1196 mm and a zip of 900 mm.*longer zip'):
        cut_panels([fore, aft], [joint], finishes=FINISHES)


@pytest.mark.behaviour
def test_an_unknown_finish_offers_the_nearest():
    plate = shapes.plate("p", 1.0, 1.0, finishes=("webing hem", "hem", "hem", "hem"))
    with pytest.raises(DesignError, match=r'"webing hem".*Did you mean "webbing hem"'):
        cut_panels([plate], [], finishes=FINISHES)


@pytest.mark.behaviour
def test_a_shop_has_its_own_allowances(tmp_path):
    shop = tmp_path / "shop.toml"
    shop.write_text('[hem]\nallowance = "50 mm"\ncorner = "mitre"\n["press studs"]\nspacing = "120 mm"\n')
    known = read_finishes(shop)
    assert known["hem"].allowance == pytest.approx(0.05)
    assert known["hem"].folds == pytest.approx((0.0, 0.038))
    assert known["hem"].corner == "mitre"
    assert known["press studs"].spacing == pytest.approx(0.12)
    assert with_allowance(known["hem"], 0.03).folds == pytest.approx((0.0, 0.018))


@pytest.mark.behaviour
@pytest.mark.parametrize(
    ("text", "said"),
    [('[hemm]\nallowance = "5 mm"', r'Did you mean "hem"'), ('[hem]\nallowence = "5 mm"', r'Did you mean "allowance"'),
     ('[hem]\nallowance = "wide"', r"hem.allowance: found 'wide'"), ("[hem", r"Give a TOML file"),
     ('[hem]\ncorner = "squar"', r'Did you mean "square"')],
)  # fmt: skip
def test_a_damaged_shop_file_is_named(tmp_path, text, said):
    shop = tmp_path / "shop.toml"
    shop.write_text(text)
    with pytest.raises(DesignError, match=said):
        read_finishes(shop)

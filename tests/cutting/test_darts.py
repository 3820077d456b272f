"""Darts are cut as asked, take away the strain they promise, and sewn shut again give the shape."""

import dataclasses
import math
import re

import numpy as np
import pytest
from shapely.geometry import LineString, MultiPoint, Point, Polygon

from canvas.cloth.loads import Loads
from canvas.cloth.sewing import Hold, Seam, sew
from canvas.cutting.choices import CutOptions
from canvas.cutting.cut import cut_panels
from canvas.cutting.dxf import read_dxf
from canvas.cutting.files import cut_files, file_stem, write_files
from canvas.cutting.finish import read_finishes
from canvas.cutting.order import sewing_order
from canvas.cutting.piece import DartToCut, Piercing, edge_length
from canvas.cutting.sheet import Layer, Line, Text, text_box
from canvas.cutting.sheet import Point as Drawn
from canvas.design.problems import DesignError
from canvas.verbs.briefing import brief
from canvas.verbs.making import buy, cut
from tests.cutting import bimini
from tests.cutting import cut_shapes as shapes
from tests.cutting import sewn_back as back

FINISHES = read_finishes()
SLOPE = 0.15  # of a cone
SLANT = math.hypot(1, SLOPE)  # length along it over length in plan
MISSING = 2 * math.pi * (1 - 1 / SLANT)  # [rad] that the cone lacks of a full turn: what a dart has to take out
WHOLE = CutOptions(seams={"cone": (), "dish": (), "saddle": (), "plate": ()})  # in one piece
STRETCHY = dataclasses.replace(shapes.PLAIN, strain_limit=0.03)
ALONG = 1.0  # [m] of the cone's sides in plan


def cone(**more):
    """Return a square of a hanging cone, its tip in the middle: it lies flat once one dart from an edge reaches it."""
    line = np.linspace(-ALONG / 2, ALONG / 2, 41)
    return shapes.panel("cone", lambda u, v: (u, v, SLOPE * np.hypot(u, v)), line, line, cloth=shapes.PLAIN, **more)


def to_the_tip(panel, **more):
    return DartToCut(edge="low", at=edge_length(panel, "low") / 2, depth=ALONG / 2 * SLANT, **more)


def dish(height=0.25, **more):
    return shapes.panel(
        "dish", lambda u, v: (u, v, height * (1 - u * u - v * v)), np.linspace(-0.6, 0.6, 21),
        np.linspace(-0.6, 0.6, 21), **more,
    )  # fmt: skip


def saddle(**more):
    return shapes.panel(
        "saddle", lambda u, v: (u, v, 0.2 * (u * u - v * v)), np.linspace(-0.6, 0.6, 21), np.linspace(-0.6, 0.6, 21),
        **more,
    )  # fmt: skip


def cut_with(panel, *darts):
    return cut_panels([dataclasses.replace(panel, darts=darts)], [], finishes=FINISHES, options=WHOLE)


def refused(panel, *darts, options=WHOLE):
    with pytest.raises(DesignError) as found:
        cut_panels([dataclasses.replace(panel, darts=darts)], [], finishes=FINISHES, options=options)
    return {problem.code: problem for problem in found.value.problems}


@pytest.fixture(scope="module")
def coned():
    panel = cone()
    return panel, cut_with(panel, to_the_tip(panel))


@pytest.mark.analytic
def test_one_dart_lays_a_cone_flat_and_takes_out_what_the_cone_lacks(coned):
    panel, result = coned
    (dart,) = result.darts
    assert dart.strain_before > 0.004
    assert dart.strain_after < 0.1 * dart.strain_before
    assert dart.width == pytest.approx(2 * ALONG / 2 * SLANT * math.sin(MISSING / 2), rel=0.03)
    assert dart.at == pytest.approx(edge_length(panel, "low") / 2)
    assert dart.leg_a == pytest.approx(ALONG / 2 * SLANT, abs=0.001)


@pytest.mark.property
def test_both_legs_are_equally_long_and_carry_the_same_marks(coned, tmp_path):
    """Measured in the drawing as it is read again."""
    _, result = coned
    (part,) = result.parts
    (read,) = written(result, tmp_path)
    legs = [back.lengths(line)[-1] for line, edge in zip(read.edges, part.edges, strict=True) if edge.finish == "dart"]
    assert len(legs) == 2
    assert abs(legs[0] - legs[1]) < 0.001
    into, out = (edge for edge in part.edges if edge.finish == "dart")
    for number in {notch.number for notch in part.notches}:
        one, two = (notch.at for notch in part.notches if notch.number == number)
        placed = sorted([(LineString(into.points).distance(Point(p)), tuple(p)) for p in (one, two)])
        from_mouth = LineString(into.points).project(Point(placed[0][1]))
        to_mouth = LineString(out.points[::-1]).project(Point(placed[1][1]))
        assert from_mouth == pytest.approx(to_mouth, abs=0.001)
    assert len(part.notches) >= 2


@pytest.mark.behaviour
def test_a_dart_is_drawn_with_its_point_its_fold_and_its_sew_lines(coned):
    (part,) = coned[1].parts
    point = next(edge for edge in part.edges if edge.finish == "dart").points[-1]
    drilled = [item.at for item in part.items if isinstance(item, Drawn) and item.layer is Layer.DRILL]
    assert min(np.hypot(*(at - point)) for at in drilled) < 1e-9
    folds = [item.points for item in part.items if isinstance(item, Line) and item.layer is Layer.FOLD]
    assert any(np.hypot(*(line[-1] - point)) < 1e-9 and len(line) == 2 for line in folds)
    cutting, finished = Polygon(part.cut), Polygon(part.finished)
    assert cutting.is_valid
    assert finished.is_valid
    assert finished.difference(cutting).area < 1e-6
    assert cutting.buffer(0.0005).contains(Point(point))
    wedge = Polygon(np.vstack([edge.points for edge in part.edges if edge.finish == "dart"]))
    assert wedge.area == pytest.approx((ALONG / 2 * SLANT) ** 2 * MISSING / 2, rel=0.04)  # a sector of what is missing


@pytest.mark.behaviour
def test_wide_darts_are_cut_open_and_narrow_ones_are_folded():
    """Turnings of 13 mm on both legs, and 10 mm between them at the cut edge, are what makes a dart wide."""
    for depth, least, open_ in ((0.2, 0.02, False), (0.6, 0.05, True)):
        result = cut_with(dataclasses.replace(dish(), cloth=STRETCHY), DartToCut(edge="low", at=0.61, depth=depth))
        (part,), (dart,) = result.parts, result.darts
        assert least < dart.width < 2 * least
        into, out = (edge.points for edge in part.edges if edge.finish == "dart")
        mouth = (into[0] + out[-1]) / 2
        assert Polygon(part.cut).contains(Point(mouth)) != open_


@pytest.mark.property
def test_a_proposed_dart_keeps_its_promise():
    proposed = cut_panels([dataclasses.replace(dish(), darts="proposed")], [], finishes=FINISHES, options=WHOLE)
    limit = shapes.COATED.strain_limit
    assert proposed.darts[0].strain_before > limit > proposed.darts[-1].strain_promised
    assert all(one.strain_promised < one.strain_before for one in proposed.darts)
    assert all(
        one.strain_after == pytest.approx(proposed.darts[-1].strain_promised, rel=0.05) for one in proposed.darts
    )


@pytest.mark.property
def test_darts_are_proposed_in_pairs_where_both_sides_are_alike():
    proposed = cut_panels([dataclasses.replace(dish(), darts="proposed")], [], finishes=FINISHES, options=WHOLE)
    across = {"low": "high", "high": "low", "far": "near", "near": "far"}
    first, second, *_ = proposed.darts
    assert second.edge == across[first.edge]
    assert second.depth == pytest.approx(first.depth, rel=0.01)
    assert second.at == pytest.approx(edge_length(dish(), first.edge) - first.at, abs=0.002)


@pytest.mark.behaviour
def test_what_the_message_says_to_write_is_what_the_program_would_take():
    with pytest.raises(DesignError) as found:
        cut_panels([dish()], [], finishes=FINISHES, options=WHOLE)
    left, asked = re.search(
        r'would leave (\d\.\d) %: write darts = \[(.*)\], or darts = "proposed"', str(found.value)
    ).groups()
    panel = dish()
    darts = [
        DartToCut(edge=edge, at=edge_length(panel, edge) - float(at) / 1000, depth=float(depth) / 1000)
        for edge, at, depth in re.findall(r'{ edge = "(\w+)", at = "(\d+) mm", depth = "(\d+) mm" }', asked)
    ]
    made = cut_with(panel, *darts).darts
    assert len(made) == 2
    assert made[0].strain_after * 100 == pytest.approx(float(left), abs=0.06)


@pytest.mark.property
def test_a_width_of_ones_own_is_kept_and_a_useless_one_is_told():
    result = cut_with(dish(), DartToCut(edge="low", at=0.61, depth=0.6, width=0.06))
    (dart,) = result.darts
    assert dart.width == pytest.approx(0.06, abs=2e-4)
    assert dart.strain_promised < dart.strain_before
    plate = shapes.plate("plate", 1.0, 1.0)
    useless = cut_with(plate, DartToCut(edge="low", at=0.5, depth=0.3, width=0.008))
    assert [problem.code for problem in useless.cautions] == ["dart-no-help"]


@pytest.mark.property
def test_darts_of_several_edges_are_cut_in_one_part():
    panel = dish()
    mid = edge_length(panel, "low") / 2
    result = cut_with(panel, *(DartToCut(edge=edge, at=mid, depth=0.35) for edge in ("low", "far", "high", "near")))
    assert [dart.name for dart in result.darts] == [f"dish dart {k}" for k in (1, 2, 3, 4)]
    assert all(abs(dart.leg_a - dart.leg_b) < 0.001 for dart in result.darts)
    left = [dart.strain_promised for dart in result.darts]
    assert left == sorted(left, reverse=True)
    assert Polygon(result.parts[0].cut).is_valid


def written(result, folder):
    write_files(cut_files(result, papers=()), folder)
    parts = [part for part in result.parts if part.edges]
    return back.read_parts(read_dxf(folder / f"{file_stem(parts[0].cloth)}.dxf"), parts)


def sewn_shut(panel, result, folder):
    """Return how far from the cone its part lies when the dart is sewn and the four sides are held; lengths too."""
    (part,), (read,) = [p for p in result.parts if p.edges], written(result, folder)
    stiff = np.array([2e5, 1.6e5, 4e4, 2e4])
    flat, along, _ = back.meshed(read, stiff, stiff)
    holds, legs = [], []
    for edge, chain in zip(part.edges, along, strict=True):
        if edge.finish == "dart":
            legs.append(chain)
            continue
        line = panel.vertices[panel.edge(edge.name).vertices]
        whole = next(e.length for e in result.edges if e.name == edge.name)
        here = back.lengths(flat.points[chain])
        share = (edge.span[0] + here / here[-1] * (edge.span[1] - edge.span[0])) / whole
        holds.append(Hold(part=0, vertices=chain, places=back.at_places(line, share * back.lengths(line)[-1])))
    seam = Seam(first=0, second=0, chain=legs[0][:-1], onto=legs[1][::-1][:-1])
    weight = back._weight([(flat, along, None)], back.FALLS * 0.3)
    sewn = sew((flat,), seams=(seam,), holds=tuple(holds), loads=Loads(dead=weight))
    return back.distance_to(np.vstack(sewn.vertices), panel.vertices, panel.faces)


@pytest.mark.property
def test_a_cone_sewn_back_from_its_drawing_is_the_cone(coned, tmp_path):
    off = sewn_shut(*coned, tmp_path)
    assert np.sqrt(np.mean(off**2)) <= 0.005
    assert off.max() <= 0.015


@pytest.mark.property
def test_a_cone_with_a_dart_of_another_width_is_not(tmp_path):
    panel = dataclasses.replace(cone(), cloth=STRETCHY)
    off = sewn_shut(panel, cut_with(panel, to_the_tip(panel, width=0.012)), tmp_path)
    assert off.max() > 0.015


@pytest.mark.behaviour
def test_darts_that_cannot_be_cut_are_named_with_what_to_change():
    panel = dish()
    long_one = refused(panel, DartToCut(edge="low", at=0.6, depth=1.4))["dart-too-long"]
    room = edge_length(panel, "near")
    assert long_one.key == 'panel "dish", dart 1'
    assert float(re.search(r"where the panel is (\d+) mm", long_one.found).group(1)) == pytest.approx(
        1000 * room, abs=60
    )
    assert long_one.wanted.startswith("At most 1")
    crossing = refused(
        panel, DartToCut(edge="low", at=0.6, depth=0.7), DartToCut(edge="near", at=0.6, depth=0.7)
    )["darts-cross"]  # fmt: skip
    assert crossing.key == 'panel "dish", dart 2'
    assert "crosses dart 1" in crossing.found
    assert "Move one along its edge" in crossing.wanted
    off = refused(panel, DartToCut(edge="low", at=0.01, depth=0.3))["dart-off-edge"]
    assert "Between 50 and" in off.wanted
    wide = refused(panel, DartToCut(edge="low", at=0.6, depth=0.3, width=0.2))["dart-too-wide"]
    assert "150 mm wide" in wide.wanted
    inward = refused(saddle(), DartToCut(edge="low", at=0.6, depth=0.3))["dart-lets-in"]
    assert "overlap" in inward.found
    assert "seam" in inward.wanted
    flat = refused(shapes.plate("plate", 1.0, 1.0), DartToCut(edge="low", at=0.5, depth=0.3))["dart-lets-in"]
    assert "do not open" in flat.found


@pytest.mark.behaviour
def test_a_dart_keeps_off_windows_holes_and_seams():
    plain = shapes.plate("plate", 1.2, 1.2, cells=(24, 24))
    zone = shapes.zone_of(plain, lambda x, y: (np.abs(x - 0.6) < 0.21) & (np.abs(y) < 0.21))
    windowed = dataclasses.replace(plain, zone=zone)
    dart = DartToCut(edge="low", at=0.6, depth=0.5, width=0.01)
    through = refused(windowed, dart)["dart-through-window"]
    deep = float(re.search(r"Make it (\d+) mm deep", through.wanted).group(1)) / 1000
    assert 0.3 < deep < 0.36
    pierced = dataclasses.replace(
        plain, piercings=(Piercing(name="stay", at=np.array([0.62, -0.2, 0.0]), diameter=0.01),)
    )
    assert "dart-through-window" in refused(pierced, dart)
    seamed = CutOptions(seams={"plate": (np.array([[0.6, -0.2, 0.0]]),)})
    assert "dart-crosses-seam" in refused(plain, dart, options=seamed)


@pytest.fixture(scope="module")
def shaded():
    """New canvas on three bows: two darts from its sides, along the middle bow."""
    return bimini.rigged(bimini.TWO)


@pytest.mark.behaviour
def test_darts_of_a_design_are_bought_sewn_and_told(shaded):
    answer = cut(shaded)
    record = next(one for one in answer.record()["sets"] if one["darts"])
    assert [dart["edge"] for dart in record["darts"]] == ["starboard", "port"]
    assert all(abs(dart["leg_a_m"] - dart["leg_b_m"]) < 0.001 for dart in record["darts"])
    assert all(dart["at_m"] == pytest.approx(0.726) for dart in record["darts"])
    assert all(dart["strain_after"] < dart["strain_promised"] < dart["strain_before"] for dart in record["darts"])
    order = answer.files["sewing-order.txt"].decode()
    steps = [order.index(word) for word in ('"new bimini dart 1"', '"new bimini dart 2"', '"new bimini seam 1"')]
    assert max(steps[:2]) < steps[2]
    result = next(iter(answer.results.values()))
    assert {step.finish for step in sewing_order(result, finishes=FINISHES) if "dart" in step.does} == {"dart"}
    more = next(one[0] for one in buy(shaded, result=result).results.values() if one is not None)
    work = next(one for one in more.panels if one.panel == "new bimini")
    inner = [seam for seam in result.seams if seam.panel_a == seam.panel_b == "new bimini"]
    assert work.seams == pytest.approx(sum(seam.length_a for seam in inner))
    assert sum(seam.finish == "dart" for seam in inner) == 2


@pytest.mark.behaviour
def test_the_brief_lists_darts_and_seams_that_are_not_plain():
    page = next(
        text.decode()
        for name, text in brief(bimini.rigged(f'{bimini.TWO}\nseam_kind = "felled"')).files.items()
        if "html" in name
    )
    assert "Seams and darts" in page
    assert page.count("flat felled seam") >= 2  # in the table and over its section
    assert "0.726\u00a0m along &quot;port&quot;" in page


@pytest.mark.behaviour
def test_a_chafe_patch_lies_whole_over_a_dart_and_is_sewn_after_it(shaded):
    answer = cut(shaded)
    result = next(iter(answer.results.values()))
    patches = [part for part in result.parts if "chafe patch" in part.name and part.panel == "new bimini"]
    assert len(patches) == 2
    for patch in patches:
        part = result.part(patch.name.split(":")[0])
        into, back = (edge.points for edge in part.edges if edge.finish == "dart")
        assert Polygon(patch.finished).contains(Point((into[len(into) // 2] + back[len(back) // 2]) / 2))
    order = answer.files["sewing-order.txt"].decode()
    assert order.index('"new bimini dart 2"') < order.index('"chafe patch 1"') < order.index('"new bimini seam 1"')


@pytest.mark.behaviour
def test_labels_stand_off_patches_and_arrows_off_labels(shaded):
    result = next(iter(cut(shaded).results.values()))
    for part in result.parts:
        if part.panel != "new bimini" or not part.edges:
            continue
        label = next(item for item in part.items if isinstance(item, Text) and item.text == part.name)
        block = [item for item in part.items if isinstance(item, Text) and item.height == label.height]
        around = MultiPoint(np.vstack([text_box(line) for line in block])).convex_hull
        dashed = [item.points for item in part.items if isinstance(item, Line) and item.closed and item.dashed]
        grain = [item.points for item in part.items if isinstance(item, Line) and item.layer is Layer.GRAIN]
        assert len(dashed) == 1
        assert len(block) == 5
        assert all(around.distance(LineString(line)) > 0.001 for line in (*dashed, *grain))
        assert any(isinstance(item, Text) and item.text.startswith("new bimini dart") for item in part.items)

"""Seams are plain, felled or overlapped as the design asks: own allowances each side, folds, rows, what is bought."""

import dataclasses
import json

import numpy as np
import pytest
from shapely.geometry import LineString, Polygon

from canvas.brief.sections import section_drawing
from canvas.cutting.cut import cut_panels
from canvas.cutting.finish import read_finishes
from canvas.cutting.piece import Joint
from canvas.cutting.seamkinds import KINDS, UNDER, paired
from canvas.cutting.sections import section_sheet
from canvas.cutting.sheet import Layer, Line, Text
from canvas.design.problems import DesignError
from canvas.verbs.making import buy, cut
from tests.cutting import bimini
from tests.cutting import cut_shapes as shapes

FINISHES = read_finishes()
MM = 0.001


def slope(kind):
    """Return a wide panel of one slope, so that of its two pieces one lies higher."""
    return shapes.panel(
        "slope", lambda u, v: (u, v, 0.4 * v), np.linspace(0, 1.2, 13), np.linspace(-1.2, 1.2, 25), seam_kind=kind
    )


def cut_slope(kind, finishes=FINISHES):
    result = cut_panels([slope(kind)], [], finishes=finishes)
    sides = [(part, next(edge for edge in part.edges if edge.seam)) for part in result.parts]
    return result, {edge.finish: (part, edge) for part, edge in sides}


def allowance(part, edge):
    """Return how far the cut line runs outside the middle of an edge."""
    line = LineString(edge.points)
    a, b = (np.asarray(line.interpolate(share, normalized=True).coords[0]) for share in (0.499, 0.501))
    along = (b - a) / np.hypot(*(b - a))
    ray = LineString([(a + b) / 2, (a + b) / 2 + np.array([along[1], -along[0]])])
    met = ray.intersection(Polygon(part.cut).exterior)
    return min(g.distance(ray.interpolate(0)) for g in getattr(met, "geoms", [met]))


def rows_from(part, edge, layer):
    """Return how far lines of a layer run from an edge, outside positive."""
    line, inside = LineString(edge.points), Polygon(part.finished)
    found = set()
    for item in part.items:
        if isinstance(item, Line) and item.layer is layer and item.dashed:
            middle = LineString(item.points).interpolate(0.5, normalized=True)
            off = line.distance(middle)
            if off < 0.04 and LineString(item.points).length > 0.9 * line.length:
                found.add(round(-off if inside.contains(middle) else off, 4))
    return found


@pytest.mark.behaviour
def test_felled_seams_have_a_wide_turning_folded_round_a_narrow_one():
    _, sides = cut_slope("felled")
    over, under = sides["flat felled seam"], sides["flat felled seam, under"]
    assert allowance(*over) == pytest.approx(16 * MM, abs=0.1 * MM)
    assert allowance(*under) == pytest.approx(7 * MM, abs=0.1 * MM)
    assert rows_from(*over, Layer.FOLD) == {10 * MM}
    assert rows_from(*over, Layer.SEW) == {8 * MM}
    assert -8 * MM in rows_from(*under, Layer.SEW)


@pytest.mark.behaviour
def test_overlapped_seams_lie_edge_on_lap_with_two_rows_through_both():
    _, sides = cut_slope("overlapped")
    over, under = sides["overlap seam"], sides["overlap seam, under"]
    assert allowance(*over) == pytest.approx(0.0, abs=0.1 * MM)
    assert allowance(*under) == pytest.approx(25 * MM, abs=0.1 * MM)
    assert rows_from(*over, Layer.SEW) >= {-3 * MM, -22 * MM}
    assert rows_from(*under, Layer.SEW) == {3 * MM, 22 * MM}


@pytest.mark.property
@pytest.mark.parametrize("kind", ["felled", "overlapped"])
def test_the_higher_cloth_lies_on_top_and_both_sides_are_equal(kind):
    result, sides = cut_slope(kind)
    (seam,) = result.seams
    assert seam.finish == KINDS[kind][0]
    assert abs(seam.length_a - seam.length_b) < 0.002
    heights = {strains.part: strains.vertices[:, 2].mean() for strains in result.strains}
    over, under = (sides[name][0].name for name in KINDS[kind])
    assert heights[over] > heights[under]
    texts = {p.name: " ".join(item.text for item in p.items if isinstance(item, Text)) for p in result.parts}
    assert f"{KINDS[kind][0]}, final" in texts[over]
    assert "under" in texts[under]


@pytest.mark.regression
def test_plain_seams_are_as_they_were():
    _, sides = cut_slope("plain")
    assert set(sides) == {"seam"}
    assert allowance(*sides["seam"]) == pytest.approx(13 * MM, abs=0.1 * MM)


@pytest.mark.behaviour
def test_a_shop_sets_each_side_and_the_other_follows(tmp_path):
    shop = tmp_path / "shop.toml"
    shop.write_text('["overlap seam, under"]\nallowance = "40 mm"\n["flat felled seam"]\nallowance = "22 mm"\n')
    own = read_finishes(shop)
    _, lapped = cut_slope("overlapped", own)
    assert allowance(*lapped["overlap seam, under"]) == pytest.approx(40 * MM, abs=0.1 * MM)
    assert rows_from(*lapped["overlap seam"], Layer.SEW) >= {-3 * MM, -37 * MM}
    _, felled = cut_slope("felled", own)
    assert rows_from(*felled["flat felled seam"], Layer.FOLD) == {16 * MM}
    assert -14 * MM in rows_from(*felled["flat felled seam, under"], Layer.SEW)


@pytest.mark.behaviour
@pytest.mark.parametrize(
    ("name", "length", "wanted"),
    [("flat felled seam", "12 mm", "At least 15 mm"), ("overlap seam, under", "8 mm", "At least 12 mm")],
)
def test_turnings_that_do_not_fit_in_one_another_are_named(name, length, wanted, tmp_path):
    shop = tmp_path / "shop.toml"
    shop.write_text(f'["{name}"]\nallowance = "{length}"\n')
    with pytest.raises(DesignError, match=wanted):
        cut_slope("felled", read_finishes(shop))


@pytest.mark.behaviour
def test_seams_between_two_panels_have_an_upper_and_a_lower_side():
    high = dataclasses.replace(
        shapes.plate("high", 1.0, 1.2, finishes=("hem", "overlap seam", "hem", "hem")), set_name="shade"
    )
    high = dataclasses.replace(high, vertices=high.vertices + np.outer(1.0 - high.vertices[:, 0], [0, 0, 0.3]))
    low = shapes.plate("low", 0.9, 1.2, at=1.0, finishes=("hem", "hem", "hem", "overlap seam"))
    joint = Joint(name="j", kind="seam", panel_a="low", edge_a="near", panel_b="high", edge_b="far")
    result = cut_panels([high, low], [joint], finishes=FINISHES)
    found = {edge.finish for part in result.parts for edge in part.edges if edge.finish in (*UNDER, *UNDER.values())}
    assert found == {"overlap seam", "overlap seam, under"}
    assert next(e.finish for e in result.edges if (e.panel, e.name) == ("high", "far")) == "overlap seam"
    other = dataclasses.replace(
        low,
        edges=tuple(dataclasses.replace(e, finish="flat felled seam") if e.name == "near" else e for e in low.edges),
    )
    with pytest.raises(DesignError, match=r'seam "j".*Give both edges the same finish'):
        cut_panels([high, other], [joint], finishes=FINISHES)


@pytest.mark.behaviour
@pytest.mark.parametrize("name", list(UNDER))
def test_sections_show_both_cloths_and_both_allowances(name):
    known = paired(FINISHES)
    sheet = section_sheet(known[name], under=known[UNDER[name]])
    assert sum(isinstance(item, Line) and item.layer is Layer.CUT for item in sheet.items) == 2
    assert any(
        isinstance(item, Text) and f"of the other side {known[UNDER[name]].allowance * 1000:.0f} mm" in item.text
        for item in sheet.items
    )
    assert name in section_drawing(known[name], units="m", under=known[UNDER[name]]).title


@pytest.mark.behaviour
def test_a_design_asks_for_its_seams_and_they_are_bought_and_told():
    work = {}
    for kind in KINDS:
        boat = bimini.rigged(f'seam_kind = "{kind}"')
        answer = cut(boat)
        record = json.dumps(answer.record())
        assert f'"finish": "{KINDS[kind][0]}"' in record
        result = next(iter(answer.results.values()))
        seams = sum(s.length_a for s in result.seams if s.panel_a == s.panel_b == "new bimini")
        take = next(one[0] for one in buy(boat, result=result).results.values() if one is not None)
        work[kind] = (take, seams)
        assert (f"as {KINDS[kind][0]}," in answer.files["sewing-order.txt"].decode()) == (kind != "plain")
        assert KINDS[kind][0] in answer.files["sections.svg"].decode()
    tape = {kind: sum(g.amount for g in take.goods if g.name == "seam tape") for kind, (take, _) in work.items()}
    assert tape["plain"] == tape["felled"] == 0
    assert tape["overlapped"] == pytest.approx(work["overlapped"][1])
    plain, felled = (
        next(p.sewing for p in work[kind][0].panels if p.panel == "new bimini") for kind in ("plain", "felled")
    )
    assert felled == pytest.approx(plain, rel=1e-3)  # two rows either way

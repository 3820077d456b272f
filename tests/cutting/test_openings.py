"""Windows, roll straps, holes, collars, slits and patches, measured on the parts they are drawn on."""

import dataclasses

import numpy as np
import pytest
from shapely.geometry import LineString, Polygon

from canvas.cutting.cut import cut_panels
from canvas.cutting.finish import read_finishes
from canvas.cutting.openings import COLLAR, HOLE_CLEAR, OVERLAP, ROLL_CLEAR, STRAP_SPACE, WINDOW_RADIUS
from canvas.cutting.piece import Insert, Piercing
from canvas.cutting.sheet import Layer, Line, Point
from canvas.design.problems import DesignError
from tests.cutting import bimini
from tests.cutting import cut_shapes as shapes

FINISHES = read_finishes()
MM = 0.001


def windowed(half=0.25, *, turned=False, rolls_up=False, deep=1.0):
    """Return an upright panel with a window in its middle, its warp fore and aft, either way."""
    sign = -1.0 if turned else 1.0
    panel = shapes.panel(
        "side", lambda u, v: (sign * u, 0 * u, 1.5 + sign * v), np.linspace(0, 1.4, 29),
        np.linspace(-deep / 2, deep / 2, 21), finishes=("binding",) * 4, cloth=shapes.PLAIN, warp=(sign, 0.0, 0.0),
    )  # fmt: skip
    zone = shapes.zone_of(
        dataclasses.replace(panel, vertices=panel.vertices @ np.array([[sign, 0, 0], [0, 0, 1], [0, sign, 0]])),
        lambda x, y: (np.abs(x - 0.7) < 0.4) & (np.abs(y - sign * 1.5) < half),
    )
    window = Insert(name="look-out", zone=1, cloth=shapes.SHEET, rolls_up=rolls_up)
    return dataclasses.replace(panel, zone=zone, inserts=(window,))


def cut(panel):
    result = cut_panels([panel], [], finishes=FINISHES)
    return result, result.part("side")


def lines(part, layer, *, dashed=None):
    return [
        i for i in part.items if isinstance(i, Line) and i.layer is layer and (dashed is None or i.dashed == dashed)
    ]


@pytest.mark.analytic
def test_a_window_has_round_corners_its_overlap_and_the_cloth_behind_turned_in():
    result, part = cut(windowed())
    sheet = next(p for p in result.parts if p.name.endswith("look-out"))
    outline = Polygon(sheet.finished)
    low_x, low_y, high_x, high_y = outline.bounds
    width, height = high_x - low_x, high_y - low_y
    assert outline.area == pytest.approx(width * height - (4 - np.pi) * WINDOW_RADIUS**2, rel=1e-4)
    assert outline.buffer(OVERLAP - 0.1 * MM).within(Polygon(sheet.cut))
    assert np.ptp(sheet.cut, axis=0) == pytest.approx([width + 2 * OVERLAP, height + 2 * OVERLAP], abs=0.1 * MM)
    (hole,) = lines(part, Layer.CUT_OUT)
    assert np.ptp(hole.points, axis=0) == pytest.approx([width - 0.026, height - 0.026], abs=0.1 * MM)
    assert sheet.cloth == shapes.SHEET.name


@pytest.mark.property
@pytest.mark.parametrize("turned", [False, True])
def test_roll_straps_stand_above_the_window_whichever_way_the_grain_runs(turned):
    panel = windowed(rolls_up=True, turned=turned)
    _, part = cut(panel)
    window = Polygon(lines(part, Layer.CUT_OUT)[0].points)
    corners = {id(c): c for c in (edge.points[0] for edge in part.edges)}.values()
    straps = [
        i.at
        for i in part.items
        if isinstance(i, Point) and i.layer is Layer.DRILL and min(np.hypot(*(i.at - c)) for c in corners) > 0.01
    ]
    top = next(edge for edge in part.edges if edge.name == ("low" if turned else "high"))
    foot = next(edge for edge in part.edges if edge.name == ("high" if turned else "low"))
    assert len(straps) == max(2, int(np.ceil(0.8 / STRAP_SPACE)))
    for strap in straps:
        there = LineString(top.points).distance(LineString([strap, strap]))
        assert there < LineString(foot.points).distance(LineString([strap, strap]))
        assert window.distance(LineString([strap, strap])) > OVERLAP


@pytest.mark.behaviour
def test_a_rolled_window_without_room_above_is_named():
    result, _ = cut(windowed(half=0.3, rolls_up=True, deep=0.7))
    note = next(p for p in result.cautions if p.code == "window-near-edge")
    assert f"Leave {ROLL_CLEAR * 1000:.0f} mm, so that the rolled window clears it." in note.wanted


@pytest.mark.behaviour
def test_a_window_narrower_than_its_corners_is_named():
    with pytest.raises(
        DesignError, match=r'insert "look-out".*twice the corner radius of 40 mm.*Make the window larger'
    ):
        cut(windowed(half=0.02, deep=0.5))


@pytest.mark.analytic
def test_a_wire_has_its_hole_collar_and_slit():
    plate = shapes.plate("side", 1.2, 1.0, finishes=("binding",) * 4, cloth=shapes.PLAIN)
    slit = np.array([[0.8, 0.0, 0.0], [1.0, 0.0, 0.0], [1.2, 0.0, 0.0]])
    wire = Piercing(name="backstay", at=np.array([0.8, 0.0, 0.0]), diameter=0.008, slit=slit)
    result, part = cut(dataclasses.replace(plate, piercings=(wire,)))
    radius = 0.004 + HOLE_CLEAR
    hole, along = lines(part, Layer.CUT_OUT)
    assert np.ptp(hole.points, axis=0) == pytest.approx([2 * radius] * 2, abs=0.1 * MM)
    assert shapes.polyline_length(along.points) == pytest.approx(0.4 - radius, abs=1 * MM)
    collar = next(p for p in result.parts if "backstay" in p.name)
    assert np.ptp(collar.finished, axis=0) == pytest.approx([2 * (radius + COLLAR)] * 2, abs=0.1 * MM)
    (ring,) = lines(part, Layer.FOLD, dashed=True)
    assert np.ptp(ring.points, axis=0) == pytest.approx([2 * (radius + COLLAR)] * 2, abs=0.1 * MM)


@pytest.mark.analytic
def test_a_chafe_patch_follows_the_tube_and_stays_off_the_edges():
    plate = shapes.plate("side", 1.2, 1.0, finishes=("binding",) * 4, cloth=shapes.PLAIN)
    tube = np.array([[0.6, -0.5, 0.0], [0.6, 0.0, 0.0], [0.6, 0.5, 0.0]])
    result, part = cut(dataclasses.replace(plate, contacts=(tube,)))
    patch = next(p for p in result.parts if "chafe patch" in p.name)
    assert np.ptp(patch.finished, axis=0) == pytest.approx([0.1, 0.96], abs=1 * MM)
    (mark,) = lines(part, Layer.FOLD, dashed=True)
    assert np.allclose(np.ptp(mark.points, axis=0), np.ptp(patch.finished, axis=0))


LIGHT = '{{ name = "{}", cloth = "clear sheet 0.75", inset = {} }}'
LEFT, RIGHT = '["0.3 m", "0.2 m", "0.3 m", "0.95 m"]', '["0.3 m", "{} m", "0.3 m", "0.2 m"]'


@pytest.mark.behaviour
def test_windows_that_lie_over_one_another_are_refused_with_their_line():
    """The second window's inner side is moved from clear of the first to over it."""
    clear, asked = (
        f"inserts = [{LIGHT.format('port light', LEFT)}, {LIGHT.format('other', RIGHT.format(side))}]"
        for side in ("0.95", "0.70")
    )
    clear = bimini.rigged(clear)
    assert len(clear.model.outlines["new bimini"].inserts) == 2
    with pytest.raises(DesignError) as found:
        bimini.rigged(asked)
    (problem,) = found.value.problems
    assert problem.code == "impossible-panel"
    assert 'lies over "port light"' in problem.found
    assert problem.line == bimini.design_text(asked).splitlines().index(asked) + 1

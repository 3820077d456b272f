"""Check headroom, sight lines and clearances on a cockpit of boxes, where the answer is arithmetic."""

import numpy as np
import pytest

from canvas.cloth.sureness import Sureness
from canvas.fit.ask import Ask
from canvas.fit.handling import change_of_set, striking
from canvas.fit.result import judged
from canvas.fit.sight import HEAD_MOVES, look
from canvas.fit.table import check_named, check_set
from tests.fit.box_boat import CREW, ROOF, WALL_TOP, WALL_X, boxes, roofed, walled

MM = 1e-3
SEAT, CUSHION, SHOES = 0.40, 0.030, 0.025
SITTING, EYE, HALF = 0.90, 1.60, 1.10


@pytest.fixture(scope="module")
def roof():
    return {one.name: one for one in check_set(roofed(), "up")}


@pytest.fixture(scope="module")
def wall():
    return {one.name: one for one in check_set(walled(), "up")}


def of(check, rigging):
    """Return the results of one check of the sheet, by name."""
    return {one.name: one for one in check_named(check).examine(Ask(rigging, "up"))}


@pytest.mark.analytic
def test_headroom_on_a_seat_is_roof_less_seat_and_cushion(roof):
    one = roof["headroom, Ada on the port seat"]
    assert one.value == pytest.approx(ROOF - SEAT - CUSHION, abs=1 * MM)
    assert one.limit == pytest.approx(SITTING + 0.05)
    assert one.margin == pytest.approx(one.value - one.limit)
    assert one.verdict == "pass"


@pytest.mark.analytic
def test_headroom_standing_counts_shoes(roof):
    one = roof["headroom, Ada standing at the helm"]
    assert one.value == pytest.approx(ROOF, abs=1 * MM)
    assert one.limit == pytest.approx(1.70 + SHOES + 0.05)
    assert one.verdict == "fail"


@pytest.mark.analytic
def test_a_standing_eye_is_over_the_edge_by_the_difference_of_heights(wall):
    one = wall["eye at an edge, Ada standing at the helm"]
    assert one.value == pytest.approx(EYE + SHOES - WALL_TOP, abs=6 * MM)  # looked for every 10 mm


@pytest.mark.analytic
@pytest.mark.parametrize("eye", [(1.1, -0.65, 1.21), (2.0, 0.3, 1.21), (0.9, 0.0, 1.30)])
def test_hidden_horizon_is_the_angle_of_the_wall(eye):
    ask = Ask(walled(), "up")
    fine = np.radians(np.arange(-90, 90, 0.1))
    seen = look(ask.by_night, np.array(eye), np.c_[-np.cos(fine), np.sin(fine), np.zeros(len(fine))])
    heads = [(0, 0), (HEAD_MOVES, 0), (-HEAD_MOVES, 0), (0, HEAD_MOVES), (0, -HEAD_MOVES)]
    to_starboard = min(np.arctan2(HALF - eye[1] - dy, eye[0] + dx - WALL_X) for dx, dy in heads)
    to_port = min(np.arctan2(HALF + eye[1] + dy, eye[0] + dx - WALL_X) for dx, dy in heads)
    assert np.degrees(to_port + to_starboard) == pytest.approx(0.1 * seen.by_cloth.sum(), abs=0.3)


@pytest.mark.analytic
def test_the_boom_clears_the_rail_by_the_difference_of_heights(roof):
    assert roof["boom as it hangs, boom"].value == pytest.approx(2.0 - ROOF - 0.010, abs=1.5 * MM)


@pytest.mark.analytic
def test_a_winch_is_as_clear_as_the_wall_is_away():
    wall = boxes(a=(1.45, 1.20), c=(1.45, 0.70))
    one = of("winches", wall)["winch handle, port"]
    assert one.value == pytest.approx(0.25, abs=1 * MM)
    assert one.verdict == "fail"  # a handle of 0.25 m and a fist of 0.07 m


@pytest.mark.analytic
@pytest.mark.parametrize("height", [1.30, 1.20, 1.10, 1.00])
def test_a_way_out_is_as_wide_as_the_gap_between_coaming_and_rail(height):
    found = of("ways_out", boxes(a=(-0.60, height), c=(3.00, height)))
    one = found["ways out, the second widest"]  # aft, where no coaming is, is wider
    gap = height - 0.010 - 0.70
    assert one.value == pytest.approx(gap, abs=0.025)  # half a cell
    assert one.verdict == ("pass" if gap > 0.58 else "fail")


@pytest.mark.behaviour
def test_at_anchor_checks_of_sailing_do_not_apply(roof):
    there = {one.name: one for one in check_set(roofed(), "harbour")}
    assert list(there) == list(roof)
    for name in (
        "horizon hidden, sitting at the helm, wet night",
        "winch handle, port",
        "vane's swing",
        "hands on the wheel",
        "boom gybing, boom",
        "light hidden, bow light",
        "striking, one person",
    ):
        assert there[name].verdict == "not applicable"
        assert there[name].value is None
        assert there[name].note
    assert there["headroom, Ada on the port seat"].verdict == "pass"


@pytest.mark.behaviour
def test_a_value_that_is_not_known_is_unknown_and_never_passes():
    assert judged("x", kind="k", value=None, unit="m", limit=1.0).verdict == "unknown"


@pytest.mark.behaviour
@pytest.mark.parametrize(
    ("value", "sd", "verdict"),
    [(1.05, 0.02, "pass"), (1.03, 0.02, "close"), (0.97, 0.02, "close"), (0.95, 0.02, "fail"), (1.001, None, "pass")],
)
def test_within_two_standard_deviations_is_close(value, sd, verdict):
    assert judged("x", kind="k", value=value, unit="m", limit=1.0, sd=sd).verdict == verdict


@pytest.mark.behaviour
def test_a_tie_of_a_kind_without_a_time_makes_the_sum_unknown():
    rigging = boxes(ties='{ at = "c", kind = "webbing 25" }')
    one = of("handled", rigging)["striking, one person"]
    assert one.value is None
    assert one.verdict == "unknown"
    assert "webbing 25" in one.note


@pytest.mark.property
def test_striking_and_putting_up_again_takes_as_long():
    rigging = roofed()
    down, up = change_of_set(rigging, "up", "bare"), change_of_set(rigging, "bare", "up")
    assert down.time == pytest.approx(up.time)
    assert [step.edge for step in up.steps] == [step.edge for step in down.steps][::-1]
    assert down.steps[-1].edge == "forward"


@pytest.mark.analytic
def test_the_time_to_strike_is_the_sum_of_its_fastenings():
    rigging = roofed()
    change = striking(rigging, "up", ["sheet"])
    assert change.time == pytest.approx(2 * 2.2 * 6 + 2 * 2 * 4 + 15, abs=0.1)  # zips, moves along each, bundle
    assert change.bundles[0].mass == pytest.approx(0.300 * rigging.rig("up").formed.panel("sheet").area())


@pytest.mark.analytic
def test_a_corner_at_a_mark_is_as_sure_as_the_mark_and_play_and_finish_add_to_it():
    rigging = boxes(finish="zip")
    sure = Sureness(rigging, rigging.rig("up").formed)
    cloth = next(one for one in rigging.rig("up").scene.of_kind("cloth"))
    corner = np.array([0.20, 0.0, ROOF])
    assert sure.sd(cloth, corner, np.array([0, 0, 1.0])) == pytest.approx(0.003 / 2)  # a zip fits within 3 mm
    hull = next(one for one in rigging.rig("up").scene.of_kind("boat"))
    assert sure.sd(hull, corner, np.array([0, 0, 1.0])) is None


@pytest.mark.behaviour
def test_who_was_not_measured_makes_headroom_less_sure():
    vague = CREW.replace('sitting_height = "0.90 m", ', "")
    known, guessed = (of("headroom", roofed(crew=crew)) for crew in (CREW, vague))
    name = "headroom, Ada on the port seat"
    assert known[name].sd < 0.004
    assert guessed[name].sd == pytest.approx(0.022, abs=0.001)

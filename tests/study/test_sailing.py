"""Check boat speeds, apparent winds and beating against the wind triangle."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from canvas.air.wind import KNOT, apparent
from canvas.design.schema.boat import BoatSpeed, Sailing
from canvas.design.schema.voyage import WindCell
from canvas.study.courses import STRONGEST, courses, speeds_of, true_wind_for
from canvas.study.sailing import at_wind, boat_speed, lowest_angle, ways_of_lying

SPEEDS = [
    BoatSpeed(true_wind="6 kn", close_hauled="3 kn", reach="4 kn", run="2 kn"),
    BoatSpeed(true_wind="12 kn", close_hauled="5 kn", reach="6 kn", run="5 kn"),
]
SAILING = Sailing(close_hauled_awa="32 deg", heel_close_hauled="15 deg", roll="10 deg", boat_speed=SPEEDS)


@pytest.mark.analytic
def test_between_beside_and_beyond_the_winds_typed_in():
    assert at_wind(SPEEDS, 9 * KNOT) / KNOT == pytest.approx([4, 5, 3.5])
    assert at_wind(SPEEDS, 3 * KNOT) / KNOT == pytest.approx([1.5, 2, 1])
    assert at_wind(SPEEDS, 40 * KNOT) / KNOT == pytest.approx([5, 6, 5])
    half = boat_speed(SPEEDS, 12 * KNOT, np.radians(135), awa=np.radians(32))
    assert half / KNOT == pytest.approx(5.5)


@pytest.mark.analytic
def test_close_hauled_she_feels_the_wind_at_her_own_angle():
    low = lowest_angle(SPEEDS, 12 * KNOT, awa=np.radians(32))
    (lying,) = ways_of_lying([WindCell(speed="12 kn", angle=f"{np.degrees(low) + 1e-9} deg", share="100 %")], SAILING)
    assert np.degrees(lying.awa) == pytest.approx(32, abs=1e-6)
    assert lying.heel == pytest.approx(-np.radians(15))
    assert not lying.beating


@pytest.mark.property
@given(st.floats(-35, 35), st.floats(5, 20))
def test_two_tacks_add_up_to_the_course(angle_deg, speed_kn):
    tacks = ways_of_lying([WindCell(speed=f"{speed_kn} kn", angle=f"{angle_deg} deg", share="100 %")], SAILING)
    assert len(tacks) == 2
    assert sum(one.share for one in tacks) == pytest.approx(1)
    along = sum(one.share * one.boat_speed * np.cos(one.off_course) for one in tacks)
    across = sum(one.share * one.boat_speed * np.sin(one.off_course) for one in tacks)
    assert along == pytest.approx(tacks[0].made_good)
    assert across == pytest.approx(0, abs=1e-9)
    assert {np.sign(one.awa) for one in tacks} == {-1.0, 1.0}


@pytest.mark.analytic
def test_running_she_does_not_heel():
    (lying,) = ways_of_lying([WindCell(speed="12 kn", angle="180 deg", share="100 %")], SAILING)
    assert lying.aws / KNOT == pytest.approx(7)
    assert lying.heel == 0.0


@pytest.mark.analytic
@pytest.mark.parametrize("sailing", [SAILING, Sailing()], ids=["speeds typed in", "none typed in"])
@pytest.mark.parametrize("aws_kn", [3.0, 12.0, 25.0])
def test_the_true_wind_of_an_apparent_one_gives_it_back(sailing, aws_kn):
    *sailed, anchored = courses(sailing)
    assert [one.name for one in sailed] == ["close-hauled", "reach", "run 120", "run 150", "run 180"]
    assert true_wind_for(anchored, aws_kn * KNOT, sailing=sailing) == aws_kn * KNOT
    for one in sailed:
        true = true_wind_for(one, aws_kn * KNOT, sailing=sailing)
        pace = boat_speed(speeds_of(sailing), true, one.true_angle, awa=sailing.close_hauled_awa)
        assert float(apparent(true, one.true_angle, pace).speed) == pytest.approx(aws_kn * KNOT)


@pytest.mark.behaviour
def test_a_wind_that_no_true_wind_gives_is_not_known():
    sailed = courses(SAILING)
    run = next(one for one in sailed if one.name == "run 180")
    found = true_wind_for(run, STRONGEST - 6 * KNOT, sailing=SAILING)
    assert found == pytest.approx(STRONGEST - 1 * KNOT)  # she runs away from it at 5 knots
    assert true_wind_for(run, STRONGEST - 4 * KNOT, sailing=SAILING) is None

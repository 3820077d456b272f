"""Check the minutes of low sun against the sun's own altitude, and what is said to stop it."""

from datetime import date

import numpy as np
import pytest

from canvas.sky.dome import dome_map
from canvas.sky.heading import on_heading
from canvas.sky.instants import mean_solar_times
from canvas.sky.low_sun import low_sun
from canvas.sky.sun import sun_positions
from tests.hand_built import scene, sheet, spread

SEAT = spread("seat", [0, -0.25, 0], [1.5, 0, 0], [0, 0.5, 0], points=144)
ROOF = sheet("roof", [[-1, -1, 1.2], [2.5, -1, 1.2], [2.5, 1, 1.2], [-1, 1, 1.2]])
SIDE = sheet("side", [[-3, 0.5, -0.5], [4.5, 0.5, -0.5], [4.5, 0.5, 1.3], [-3, 0.5, 1.3]])


def one_day(latitude_deg=0.0, step=5.0):
    return sun_positions(
        mean_solar_times(date(2026, 3, 20), date(2026, 3, 20), step_minutes=step), latitude=np.radians(latitude_deg)
    )


@pytest.mark.analytic
def test_on_an_open_seat_all_the_low_sun_counts():
    sun, bare = one_day(), scene(places=[SEAT])
    found = low_sun(bare, dome_map(bare), sun, headings=on_heading(0.0), step_minutes=5.0)
    low = sun.up & (sun.apparent_altitude < np.radians(30))
    assert found.minutes[0, 0] == low.sum() * 5.0
    assert found.full_minutes[0, 0] == pytest.approx(low.sum() * 5.0)
    # at the equinox on the equator the sun climbs 15 deg an hour: two hours at either end of the day
    assert found.minutes[0, 0] == pytest.approx(240.0, abs=10.0)


@pytest.mark.behaviour
def test_low_sun_abeam_comes_in_by_the_sides_and_a_side_piece_stops_half():
    sun, roofed = one_day(), scene(ROOF, places=[SEAT])
    found = low_sun(roofed, dome_map(roofed), sun, headings=on_heading(0.0), step_minutes=5.0, candidates=[ROOF, SIDE])
    sides = dict(zip(found.openings.sides, found.openings.share[:, 0], strict=True))
    assert sides["starboard"] == pytest.approx(0.5, abs=0.03)
    assert sides["port"] == pytest.approx(0.5, abs=0.03)
    assert found.tried == ("side",)
    assert found.stops[0, 0] == pytest.approx(0.5, abs=0.03)
    assert found.openings.past[found.openings.sides.index("port")] == "roof"


@pytest.mark.behaviour
def test_a_seat_that_low_sun_never_reaches_says_so():
    shut = [
        sheet(name, [[x0, y0, -9], [x1, y1, -9], [x1, y1, 9], [x0, y0, 9]])
        for name, (x0, y0, x1, y1) in {
            "port": (-9, -1, 9, -1),
            "starboard": (-9, 1, 9, 1),
            "front": (-1, -9, -1, 9),
            "back": (3, -9, 3, 9),
        }.items()
    ]
    walled = scene(*shut, places=[SEAT])
    found = low_sun(walled, dome_map(walled), one_day(), headings=on_heading(0.0), candidates=[ROOF])
    assert found.minutes[0, 0] == 0.0
    assert np.isnan(found.stops[0, 0])

"""Hold the map's speed and error on one example, small enough for every run; `map_study` measures the whole."""

import numpy as np
import pytest

from canvas.cloth.rigging import Rigging
from canvas.design.reading import read_design
from canvas.geometry.model import build_model
from canvas.sky.dome import dome_map, place_tables
from canvas.sky.heading import on_heading
from canvas.sky.shade import shade_hours
from tests.benchmarks.sky.map_study import EXAMPLES, HEADING, map_error, map_speed, other_places, year_of_suns

SUN = year_of_suns(step_minutes=240.0)


@pytest.fixture(scope="module")
def wet_watch():
    return Rigging(build_model(read_design(EXAMPLES / "marrowgrass.toml"))).rig("wet watch").scene


@pytest.mark.behaviour
def test_a_year_by_the_map_is_fifty_times_faster_than_a_call_an_hour(wet_watch):
    assert map_speed(wet_watch, year_of_suns(), sample=20).ratio >= 50


@pytest.mark.behaviour
def test_the_error_against_many_other_points_is_small_and_said(wet_watch):
    error = map_error(wet_watch, other_places("marrowgrass", 4000), SUN, hours=40)
    assert error.mean.max() <= 0.010
    assert error.covered.mean() >= 0.9


@pytest.mark.property
def test_the_same_map_twice_is_the_same_to_the_bit(wet_watch):
    one, two = dome_map(wet_watch), dome_map(wet_watch)
    assert all(np.array_equal(a, b) for a, b in zip(one.bits, two.bits, strict=True))
    hours = [shade_hours(place_tables(known), SUN, headings=on_heading(HEADING)).share for known in (one, two)]
    assert np.array_equal(*hours, equal_nan=True)

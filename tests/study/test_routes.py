"""Check rhumb lines and great circles against a published example, closed forms, and what always holds."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from canvas.study.routes import EARTH_RADIUS, route, turned

PLACES = st.tuples(st.floats(-1.4, 1.4), st.floats(-3.1, 3.1))


@pytest.mark.published
def test_great_circle_as_printed(published):
    table = published("study/great_circle")
    for row in table.rows:
        found = route(
            (np.radians(row["start_latitude_deg"]), np.radians(row["start_longitude_deg"])),
            (np.radians(row["end_latitude_deg"]), np.radians(row["end_longitude_deg"])),
            along="great circle",
            share=[0.0, row["at_share"]],
        )
        assert abs(found.distance / EARTH_RADIUS - row["distance_rad"]) <= table.tolerance("distance_rad")
        assert abs(found.course[0] - row["course_rad"]) <= table.tolerance("course_rad")
        assert abs(found.latitude[1] - row["latitude_rad"]) <= table.tolerance("latitude_rad")
        assert abs(found.longitude[1] - row["longitude_rad"]) <= table.tolerance("longitude_rad")


@pytest.mark.published
def test_rhumb_line_as_printed(published):
    table = published("study/rhumb_line")
    for row in table.rows:
        found = route(
            (np.radians(row["start_latitude_deg"]), np.radians(row["start_longitude_deg"])),
            (np.radians(row["end_latitude_deg"]), np.radians(row["end_longitude_deg"])),
        )
        assert abs(found.distance / EARTH_RADIUS - row["distance_rad"]) <= table.tolerance("distance_rad")
        assert abs(found.course[0] - row["course_rad"]) <= table.tolerance("course_rad")


@pytest.mark.analytic
@pytest.mark.parametrize("latitude", [0.0, 0.5, -1.2])
def test_along_a_parallel_the_rhumb_line_is_its_arc(latitude):
    found = route((latitude, 0.1), (latitude, 0.9), share=[0.0, 0.25, 1.0])
    assert found.distance == pytest.approx(EARTH_RADIUS * np.cos(latitude) * 0.8, rel=1e-12)
    assert found.longitude == pytest.approx([0.1, 0.3, 0.9])
    assert found.course == pytest.approx(np.pi / 2)


@pytest.mark.analytic
@pytest.mark.parametrize("along", ["rhumb line", "great circle"])
def test_along_a_meridian_both_are_its_arc(along):
    found = route((-0.2, 1.0), (0.4, 1.0), along=along, share=[0.0, 0.5, 1.0])
    assert found.distance == pytest.approx(EARTH_RADIUS * 0.6, rel=1e-12)
    assert found.latitude == pytest.approx([-0.2, 0.1, 0.4])


@pytest.mark.behaviour
@pytest.mark.parametrize("along", ["rhumb line", "great circle"])
def test_the_short_way_across_the_date_line(along):
    found = route(
        (np.radians(-18.0), np.radians(-178.0)),
        (np.radians(-35.0), np.radians(174.0)),
        along=along,
        share=np.linspace(0.0, 1.0, 9),
    )
    assert found.distance < 2.2e6
    assert np.degrees(np.abs(found.longitude)).min() > 173.9
    assert 180 < np.degrees(found.course[0]) < 225


@pytest.mark.behaviour
def test_the_pole():
    with pytest.raises(ValueError, match="never reaches a pole"):
        route((0.5, 0.0), (np.pi / 2, 0.0))
    over = route((1.4, 0.0), (1.4, np.pi), along="great circle", share=[0.0, 0.5, 1.0])
    assert over.latitude[1] == pytest.approx(np.pi / 2, abs=1e-8)
    assert over.distance == pytest.approx(EARTH_RADIUS * (np.pi - 2.8), rel=1e-9)


@pytest.mark.behaviour
def test_opposite_places_have_no_one_way():
    with pytest.raises(ValueError, match="lie opposite"):
        route((0.3, 0.2), (-0.3, 0.2 - np.pi), along="great circle")


@pytest.mark.property
@given(PLACES, PLACES)
def test_a_great_circle_is_never_the_longer_way(start, end):
    if np.hypot(end[0] - start[0], float(turned(end[1] - start[1]))) < 1e-6:
        return
    rhumb = route(start, end)
    great = route(start, end, along="great circle", share=[0.0, 0.5, 1.0])
    assert great.distance <= rhumb.distance * (1 + 1e-9)
    assert (great.latitude[-1], great.longitude[-1]) == pytest.approx((end[0], float(turned(end[1]))), abs=1e-7)

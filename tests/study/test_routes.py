"""Check rhumb lines and great circles against a published example, closed forms, and what always holds."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pyproj import Geod, Proj

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


LEGS = [((28.1, -15.4), (14.6, -61.0)), ((-17.5, -149.6), (-18.0, 177.4)), ((50.1, -5.5), (43.4, -8.4))]
SPHERE = Geod(a=EARTH_RADIUS, b=EARTH_RADIUS)
SHARES = np.linspace(0.0, 1.0, 7)


@pytest.mark.analytic
@pytest.mark.parametrize(("start", "end"), LEGS)
def test_great_circles_are_those_of_an_independent_library(start, end):
    found = route(tuple(np.radians(start)), tuple(np.radians(end)), along="great circle", share=SHARES)
    azimuth, _, distance = SPHERE.inv(start[1], start[0], end[1], end[0])
    assert found.distance == pytest.approx(distance, rel=1e-9)
    assert np.degrees(found.course[0]) == pytest.approx(azimuth % 360, abs=1e-7)
    for share, latitude, longitude in zip(SHARES, found.latitude, found.longitude, strict=True):
        east, north, _ = SPHERE.fwd(start[1], start[0], azimuth, share * distance)
        assert np.degrees(latitude) == pytest.approx(north, abs=1e-7)
        assert np.degrees(turned(longitude - np.radians(east))) == pytest.approx(0.0, abs=1e-7)
    spheroid = Geod(ellps="WGS84").inv(start[1], start[0], end[1], end[0])[2]
    assert found.distance == pytest.approx(spheroid, rel=0.006)


@pytest.mark.analytic
@pytest.mark.parametrize(("start", "end"), LEGS)
def test_rhumb_lines_are_straight_on_the_chart_of_an_independent_library(start, end):
    """Mercator's chart, centred on the leg so that the date line does not cut it; lengths by summed great circles."""
    chart = Proj(proj="merc", R=EARTH_RADIUS, lon_0=start[1])
    found = route(tuple(np.radians(start)), tuple(np.radians(end)), share=np.linspace(0.0, 1.0, 2001))
    east, north = chart(np.degrees(found.longitude), np.degrees(found.latitude))
    goal = np.subtract(chart(end[1], end[0]), chart(start[1], start[0]))
    assert np.degrees(found.course[0]) == pytest.approx(np.degrees(np.arctan2(goal[0], goal[1])) % 360, abs=1e-7)
    off = ((east - east[0]) * goal[1] - (north - north[0]) * goal[0]) / np.hypot(*goal)
    assert np.abs(off).max() < 0.1
    steps = SPHERE.inv(
        np.degrees(found.longitude[:-1]), np.degrees(found.latitude[:-1]), np.degrees(found.longitude[1:]),
        np.degrees(found.latitude[1:]),
    )[2]  # fmt: skip
    assert found.distance == pytest.approx(np.sum(steps), rel=1e-6)
    assert steps == pytest.approx(steps.mean(), rel=1e-3), "points stand evenly along it"

"""Check the sun against NREL's example, other libraries' positions, spherical facts and its own errors."""

from contextlib import ExitStack
from datetime import UTC, date, datetime, time

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from canvas.design.problems import DesignError
from canvas.sky.instants import instant_of_sun_time, mean_solar_times, unix_seconds
from canvas.sky.sun import Sun, clear_sky, directions, sun_clock, sun_directions, sun_positions


def unit(altitude, azimuth):
    return np.array([np.cos(altitude) * np.cos(azimuth), np.cos(altitude) * np.sin(azimuth), np.sin(altitude)])


def separation_deg(alt_a, az_a, alt_b, az_b):
    a, b = unit(alt_a, az_a), unit(alt_b, az_b)
    return np.degrees(np.arctan2(np.linalg.norm(np.cross(a, b)), a @ b))


def at_row(row):
    return sun_positions(
        unix_seconds([datetime.fromisoformat(row["local_time"])]),
        latitude=np.radians(row["lat_deg"]),
        longitude=np.radians(row["lon_east_deg"]),
        height=row["height_m"],
        pressure_hpa=row["pressure_hPa"],
        temperature_c=row["temperature_C"],
    )


@pytest.mark.published
def test_direction_within_a_hundredth_of_a_degree_of_two_other_libraries(published):
    table = published("sky/sun_position")
    for row in table.rows:
        sun = at_row(row)
        for library in ("skyfield", "astropy"):
            there = np.radians([row[f"alt_airless_{library}_deg"], row[f"az_{library}_deg"]])
            assert separation_deg(sun.altitude[0], sun.azimuth[0], *there) <= 0.01


@pytest.mark.published
def test_altitude_equals_the_algorithm_elsewhere(published):
    table = published("sky/sun_position")
    for row in table.rows:
        sun = at_row(row)
        off = abs(np.degrees(sun.altitude[0]) - row["alt_airless_spa_deg"])
        assert off <= table.tolerance("alt_airless_spa_deg")
        off = abs(np.degrees(sun.apparent_altitude[0]) - row["alt_refracted_spa_deg"])
        assert off <= table.tolerance("alt_refracted_spa_deg")


@pytest.mark.published
def test_nrel_example_to_the_last_printed_digit(published):
    table = published("sky/sun_spa_example")
    value = {row["quantity"]: row["value"] for row in table.rows}
    sun = sun_positions(
        unix_seconds([datetime.fromisoformat("2003-10-17T12:30:30-07:00")]),
        latitude=np.radians(39.742476),
        longitude=np.radians(-105.1786),
        height=1830.14,
        pressure_hpa=820.0,
        temperature_c=11.0,
        tt_minus_ut1_s=67.0,
    )
    assert abs(90 - np.degrees(sun.apparent_altitude[0]) - value["zenith_with_refraction"]) <= table.tolerance("value")
    assert abs(np.degrees(sun.altitude[0]) - value["elevation_without_refraction"]) <= table.tolerance("value")
    assert abs(np.degrees(sun.azimuth[0]) - value["azimuth"]) <= table.tolerance("value")


@pytest.mark.published
def test_declination_equation_of_time_and_distance(published):
    table = published("sky/sun_declination_eot")
    for row in table.rows:
        noon = unix_seconds([datetime.combine(date.fromisoformat(row["date_at_12_UT"]), time(12), UTC)])
        clock = sun_clock(noon)
        assert abs(np.degrees(clock.declination[0]) - row["declination_deg"]) <= table.tolerance("declination_deg")
        minutes = clock.equation_of_time[0] / 60
        assert abs(minutes - row["equation_of_time_min"]) <= table.tolerance("equation_of_time_min")
        distance = sun_positions(noon, latitude=0.0).distance_au[0]
        assert abs(distance - row["distance_au"]) <= table.tolerance("distance_au")


@pytest.mark.published
def test_sun_stands_over_the_latitude_at_the_instants_given(published):
    table = published("sky/sun_overhead_dates")
    for row in table.rows:
        for name in ("first_instant_utc", "second_instant_utc"):
            clock = sun_clock(unix_seconds([datetime.fromisoformat(row[name])]))
            assert abs(np.degrees(clock.declination[0]) - row["lat_deg"]) <= table.tolerance("lat_deg")


@pytest.mark.published
def test_noon_and_hour_angle_facts(published):
    table = published("sky/sun_special")
    for row in table.rows:
        if row["fact"] == "noon_altitude" and abs(row["decl_deg"]) == 23.43:
            day = date(2025, 6, 21) if row["decl_deg"] > 0 else date(2025, 12, 21)
            hour = time(12)
        elif row["fact"] == "altitude_at_hour_angle_60":
            day, hour = date(2025, 6, 21), time(16)
        else:
            continue
        instant = unix_seconds([instant_of_sun_time(day, hour)])
        sun = sun_positions(instant, latitude=np.radians(row["lat_deg"]))
        assert abs(np.degrees(sun.altitude[0]) - row["value"]) <= table.tolerance("value")


@pytest.mark.published
def test_clear_sky_equals_the_reference_library(published):
    table = published("sky/clear_sky")
    rows = [row for row in table.rows if row["model"] == "ineichen_perez"]
    for row in rows:
        altitude = np.array([np.pi / 2 - np.radians(row["zenith_deg"])])
        one = np.ones(1)
        sun = Sun(
            unix_s=one,
            latitude=one,
            longitude=one,
            altitude=altitude,
            apparent_altitude=altitude,
            azimuth=one,
            distance_au=one,
        )
        light = clear_sky(sun, turbidity=row["linke_turbidity"])
        assert abs(light.beam[0] - row["dni_W_m2"]) <= table.tolerance("dni_W_m2")
        assert abs(light.diffuse[0] - row["dhi_W_m2"]) <= table.tolerance("dhi_W_m2")


@pytest.mark.published
def test_shadow_falls_where_plane_trigonometry_puts_it(published):
    table = published("sky/plan_shadow_offset")
    for row in table.rows:
        alt, az, heading = np.radians([row["sun_alt_deg"], row["sun_az_true_deg"], row["heading_true_deg"]])
        towards = directions(az, alt, heading=heading)
        shadow = -row["height_above_plane_m"] * towards / towards[2]
        assert abs(-shadow[0] - row["forward_m"]) <= table.tolerance("forward_m")
        assert abs(shadow[1] - row["starboard_m"]) <= table.tolerance("starboard_m")


@pytest.mark.analytic
def test_direction_within_a_hundredth_of_a_degree_of_astropy_at_sea():
    from astropy import units as u
    from astropy.coordinates import AltAz, EarthLocation, get_sun
    from astropy.time import Time
    from astropy.utils import iers

    spots = [
        ("2026-01-30T22:12:00+00:00", -17.5, -149.0),
        ("2026-03-20T12:07:00+00:00", 0.0, 0.0),
        ("2026-04-24T16:00:00+00:00", 13.1, -59.6),
        ("2026-06-21T03:30:00+00:00", 60.2, -1.2),
        ("2026-12-21T20:00:00+00:00", -45.0, 170.5),
        ("2026-07-01T10:45:00+00:00", -33.9, 18.4),
        ("2026-09-23T09:00:00+00:00", 28.1, -15.4),
        ("2026-11-11T06:00:00+00:00", -17.5, 88.0),
        ("2026-05-20T05:00:00+00:00", 20.0, 105.0),
        ("2026-10-05T19:00:00+00:00", 45.0, -100.0),
    ]
    offline = {"auto_download": False, "auto_max_age": None, "iers_degraded_accuracy": "ignore"}
    with ExitStack() as stack:
        for key, value in offline.items():
            stack.enter_context(iers.conf.set_temp(key, value))
        for text, lat, lon in spots:
            moment = datetime.fromisoformat(text)
            sun = sun_positions(unix_seconds([moment]), latitude=np.radians(lat), longitude=np.radians(lon))
            when = Time(moment)
            there = EarthLocation(lat=lat * u.deg, lon=lon * u.deg)
            other = get_sun(when).transform_to(AltAz(obstime=when, location=there))
            assert separation_deg(sun.altitude[0], sun.azimuth[0], other.alt.rad, other.az.rad) <= 0.01


@pytest.mark.analytic
def test_a_sundial_shows_noon_when_the_sun_crosses_the_meridian():
    for day in (date(2026, 2, 11), date(2026, 11, 3)):
        noon = instant_of_sun_time(day, time(12), longitude=np.radians(-149.0))
        sun = sun_positions(unix_seconds([noon]), latitude=np.radians(-40.0), longitude=np.radians(-149.0))
        assert abs((np.degrees(sun.azimuth[0]) + 180) % 360 - 180) < 1e-4


@pytest.mark.behaviour
def test_a_time_without_zone_is_refused():
    with pytest.raises(DesignError, match=r'2026-12-21T12:00:00", which carries no zone.*Write "2026-12-21T12:00:00Z"'):
        unix_seconds([datetime(2026, 12, 21, 12)])  # noqa: DTZ001


@pytest.mark.behaviour
def test_a_sun_time_with_zone_is_refused():
    with pytest.raises(DesignError, match="Sun time carries no zone"):
        instant_of_sun_time(date(2026, 1, 1), time(12, tzinfo=UTC))


@pytest.mark.behaviour
@pytest.mark.parametrize("year", [1899, 2101, 1, 9999])
def test_a_date_too_far_off_is_refused(year):
    with pytest.raises(DesignError, match="from 1900 to 2100"):
        sun_positions(unix_seconds([datetime(year, 6, 1, tzinfo=UTC)]), latitude=0.0)


@pytest.mark.behaviour
def test_a_latitude_past_the_pole_is_refused():
    with pytest.raises(DesignError, match="90 S to 90 N"):
        sun_positions([0.0], latitude=np.radians(91.0))


@pytest.mark.behaviour
def test_mean_solar_times_cover_the_days_evenly():
    times = mean_solar_times(date(2026, 3, 1), date(2026, 3, 2), step_minutes=30.0)
    assert len(times) == 96
    assert times[0] == datetime(2026, 3, 1, 0, 15, tzinfo=UTC).timestamp()
    assert np.allclose(np.diff(times), 1800.0)


@pytest.mark.property
@given(
    azimuth=st.floats(0, 6.28),
    altitude=st.floats(-1.5, 1.5),
    heading=st.floats(0, 6.28),
    turn=st.floats(-6, 6),
    heel=st.floats(-0.5, 0.5),
    trim=st.floats(-0.2, 0.2),
)
def test_turning_boat_and_sun_together_changes_nothing(azimuth, altitude, heading, turn, heel, trim):
    here = directions(azimuth, altitude, heading=heading, heel=heel, trim=trim)
    there = directions(azimuth + turn, altitude, heading=heading + turn, heel=heel, trim=trim)
    assert np.allclose(here, there, atol=1e-9)
    assert np.linalg.norm(here) == pytest.approx(1.0)


@pytest.mark.property
@given(bearing=st.floats(-3.1, 3.1), altitude=st.floats(-1.5, 1.5), heel=st.floats(-0.5, 0.5))
def test_mirroring_sun_and_heel_mirrors_the_direction(bearing, altitude, heel):
    here = directions(bearing, altitude, heading=0.0, heel=heel, trim=0.05)
    there = directions(-bearing, altitude, heading=0.0, heel=-heel, trim=0.05)
    assert np.allclose(here * [1, -1, 1], there, atol=1e-12)


@pytest.mark.analytic
def test_heel_and_trim_turn_the_right_way():
    up = np.pi / 2
    assert np.allclose(directions(0.0, up, heading=0.0, heel=0.3), [0, -np.sin(0.3), np.cos(0.3)], atol=1e-12)
    assert np.allclose(directions(0.0, up, heading=0.0, trim=0.1), [-np.sin(0.1), 0, np.cos(0.1)], atol=1e-12)
    ahead_low = directions(0.0, 0.0, heading=0.0, trim=0.1)
    assert np.allclose(ahead_low, [-np.cos(0.1), 0, -np.sin(0.1)], atol=1e-12)


@pytest.mark.behaviour
def test_sun_directions_use_the_sun_as_it_is_seen():
    sun = sun_positions(unix_seconds([datetime(2026, 6, 21, 4, 0, tzinfo=UTC)]), latitude=np.radians(50.0))
    assert sun_directions(sun, heading=0.0)[0, 2] == pytest.approx(np.sin(sun.apparent_altitude[0]))
    assert sun.apparent_altitude[0] > sun.altitude[0]

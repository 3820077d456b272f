"""Check apparent wind, the profile and dynamic pressure against printed tables and their own inverse."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from canvas.air.profile import apparent_at, profile_ratio
from canvas.air.wind import KNOT, Wind, apparent, dynamic_pressure, true_wind, wind_from


@pytest.mark.published
def test_apparent_wind_equals_table(published):
    table = published("air/apparent_wind")
    for row in table.rows:
        wind = apparent(row["tws_kn"] * KNOT, np.radians(row["twa_deg"]), row["boat_speed_kn"] * KNOT)
        assert abs(wind.speed / KNOT - row["aws_kn"]) <= table.tolerance("aws_kn")
        assert abs(np.degrees(wind.angle) - row["awa_deg"]) <= table.tolerance("awa_deg")


@pytest.mark.published
def test_profile_equals_table(published):
    table = published("air/sea_wind_profile")
    for row in table.rows:
        ratio = profile_ratio(row["z_m"], reference=10.0)
        assert abs(ratio - row["log_z0_0.0002_U_over_U10"]) <= table.tolerance("log_z0_0.0002_U_over_U10")


@pytest.mark.published
def test_dynamic_pressure_equals_table(published):
    table = published("air/dynamic_pressure")
    for row in table.rows:
        assert abs(dynamic_pressure(row["speed_kn"] * KNOT) - row["q_Pa"]) <= table.tolerance("q_Pa")


@pytest.mark.property
@given(speed=st.floats(0.5, 30), angle=st.floats(-3.1, 3.1), boat=st.floats(0, 6))
def test_true_wind_undoes_apparent(speed, angle, boat):
    there = apparent(speed, angle, boat)
    back = true_wind(there.speed, there.angle, boat)
    assert np.allclose(back.speed * wind_from(back.angle), speed * wind_from(np.array(angle)), atol=1e-9)


@pytest.mark.analytic
def test_only_the_true_wind_changes_with_height():
    at_mast = Wind(speed=np.array(8.0), angle=np.array(0.0))
    low = apparent_at(at_mast, height=2.5, instrument_height=15.0, boat_speed=3.0)
    assert low.speed == pytest.approx(5.0 * profile_ratio(2.5, reference=15.0) + 3.0, abs=1e-12)
    assert profile_ratio(2.5, reference=15.0) == pytest.approx(0.84, abs=0.005)

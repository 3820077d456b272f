"""Check the UV index against Madronich's table, measured values and the erythema spectrum's fixed points."""

from datetime import UTC, datetime

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from canvas.sky.instants import unix_seconds
from canvas.sky.sun import sun_positions
from canvas.sky.ultraviolet import erythema, ozone_column_du, uv_direct_share, uv_index, uv_index_formula


@pytest.mark.published
def test_uv_index_equals_madronichs_formula(published):
    table = published("sky/uvi_clear_sky")
    for row in table.rows:
        value = uv_index_formula(np.radians(row["zenith_deg"]), ozone_du=row["ozone_DU"])
        assert abs(value - row["uvi_madronich_2007"]) <= table.tolerance("uvi_madronich_2007")


@pytest.mark.published
def test_summer_noon_in_hawaii_lies_in_the_band(published):
    table = published("sky/uvi_observed")
    row = next(row for row in table.rows if row["kind"] == "measured, horizontal, at noon")
    noon = unix_seconds([datetime(2018, 8, 1, 22, 27, tzinfo=UTC)])
    index = uv_index(sun_positions(noon, latitude=np.radians(row["lat_deg"]), longitude=np.radians(-155.5)))
    assert index.low[0] - table.tolerance("uvi") <= row["uvi"] <= index.high[0] + table.tolerance("uvi")


@pytest.mark.analytic
def test_erythema_spectrum_joins_and_ends_where_the_standard_says():
    assert erythema(298.0) == 1.0
    assert erythema(328.0) == pytest.approx(10 ** (0.094 * (298 - 328)))
    assert erythema(328.0 + 1e-9) == pytest.approx(erythema(328.0), rel=0.02)
    assert erythema(401.0) == 0.0


@pytest.mark.property
@given(low=st.floats(0, 1.5), high=st.floats(0, 1.5))
def test_the_direct_share_falls_with_the_sun(low, high):
    near, far = sorted((low, high))
    assert uv_direct_share(near) >= uv_direct_share(far) - 1e-12
    assert 0.0 <= uv_direct_share(far) <= 0.6


@pytest.mark.behaviour
def test_ozone_is_least_over_the_equator_and_the_band_is_wide_with_the_sun_low():
    times = unix_seconds([datetime(2026, 3, 20, hour, tzinfo=UTC) for hour in (7, 12)])
    sun = sun_positions(times, latitude=0.0)
    assert ozone_column_du(sun) == pytest.approx([235.0, 235.0])
    index = uv_index(sun)
    assert (index.high / index.value - 1) == pytest.approx([0.30, 0.15])

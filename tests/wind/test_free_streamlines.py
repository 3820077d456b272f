"""The potential flow round a disc with a wake that the air flow is compared with: against theory and its own table."""

from __future__ import annotations

import numpy as np
import pytest

from tests.wind.free_streamlines import disc_alone, disc_with_wake

DIAMETERS = (0.5, 1.0, 1.5)


def speeds(sigma: float, *, closed: bool) -> list[float]:
    panels, _, _ = disc_with_wake(sigma, closed=closed)
    return [panels.ahead(2 * distance) for distance in DIAMETERS]


@pytest.mark.analytic
@pytest.mark.parametrize("distance", DIAMETERS)
def test_disc_without_wake_is_the_exact_one(distance):
    """Lamb, Hydrodynamics, article 108: an oblate spheroid of no thickness."""
    s = 2 * distance
    exact = 1 - 2 / np.pi * (np.arctan(1 / s) - s / (1 + s * s))
    assert disc_alone().ahead(s) == pytest.approx(exact, abs=0.0001)


@pytest.mark.published
@pytest.mark.parametrize("closed", [True, False], ids=["closed", "open"])
def test_drag_grows_with_the_wake_s_pressure_as_the_law_says(published, closed):
    table = published("flow/disc_drag_by_wake_pressure")
    for row in table.rows:
        _, drag, _ = disc_with_wake(row["wake_pressure_number"], closed=closed)
        assert drag == pytest.approx(row["c_D"], rel=table.tolerance("c_D"))


@pytest.mark.analytic
@pytest.mark.parametrize("sigma", [0.36, 0.42, 0.50])
def test_open_wake_is_as_wide_as_its_momentum_asks(sigma):
    """Far downwind speed and pressure are the wind's, so forces on disc and sheet balance: c_D = sigma r^2."""
    _, drag, radius = disc_with_wake(sigma, closed=False)
    assert radius == pytest.approx(np.sqrt(drag / sigma), rel=0.002)


@pytest.mark.published
@pytest.mark.parametrize("end", ["closed", "open"])
def test_table_of_the_slowing_ahead_is_computed_again(published, end):
    table = published("flow/induction_ahead_of_disc")
    assert [row["distance_over_diameter"] for row in table.rows] == list(DIAMETERS)
    for row, found in zip(table.rows, speeds(0.42, closed=end == "closed"), strict=True):
        assert found == pytest.approx(row[f"{end}_wake_u_over_U"], abs=0.001)


@pytest.mark.property
@pytest.mark.parametrize("closed", [True, False], ids=["closed", "open"])
def test_twice_the_panels_give_the_same(closed):
    fine, _, _ = disc_with_wake(0.42, closed=closed, disc=40, sheet=60, terms=10)
    assert [fine.ahead(2 * d) for d in DIAMETERS] == pytest.approx(speeds(0.42, closed=closed), abs=0.0005)


@pytest.mark.property
def test_measured_pressure_and_the_wake_s_end_leave_a_hundredth():
    given = speeds(0.42, closed=True)
    for sigma, closed in ((0.36, True), (0.44, True), (0.42, False)):
        assert speeds(sigma, closed=closed) == pytest.approx(given, abs=0.01)

"""The lattice against exact and published laminar flows."""

from __future__ import annotations

import numpy as np
import pytest

from tests.wind import flow_cases as cases


@pytest.mark.published
def test_vortices_decay_as_they_should(published):
    table = published("flow/taylor_green_decay")
    wanted = {row["nu_k2_t"]: row["velocity_over_initial"] for row in table.rows}
    found = cases.vortex_decay(48)
    for time, amplitude in zip((0.1, 0.2, 0.3, 0.4, 0.5), found, strict=True):
        if time in wanted:
            assert abs(amplitude - wanted[time]) < table.tolerance("velocity_over_initial")
    assert set(wanted) & {0.1, 0.2, 0.3, 0.4, 0.5}


@pytest.mark.analytic
def test_decay_error_falls_with_the_square_of_the_cell():
    coarse, fine = (abs(cases.vortex_decay(n)[-1] - np.exp(-1.0)) for n in (16, 32))
    assert 1.7 < np.log2(coarse / fine) < 2.6


@pytest.mark.published
@pytest.mark.parametrize("fraction", [0.05, 0.1, 0.2])
def test_plate_set_moving_drags_the_air_along(published, fraction):
    table = published("flow/couette_startup")
    rows = [row for row in table.rows if row["nu_t_over_H2"] == fraction]
    found = cases.couette(fraction)
    centres = (np.arange(len(found)) + 0.5) / len(found)
    assert rows
    for row in rows:
        assert abs(np.interp(row["y_over_H"], centres, found) - row["u_over_Uwall"]) < table.tolerance("u_over_Uwall")


@pytest.mark.published
@pytest.mark.parametrize("reynolds", [100])
def test_lid_driven_cavity(published, reynolds):
    centres, u, v = cases.cavity(reynolds, 64)
    for name, axis, found in (("u", "y", u), ("v", "x", v)):
        table = published(f"flow/ghia_{name}")
        column = f"{name}_over_U_Re{reynolds}"
        rows = [row for row in table.rows if row[column] is not None and 0 < row[f"{axis}_over_L"] < 1]
        missed = [abs(np.interp(row[f"{axis}_over_L"], centres, found) - row[column]) for row in rows]
        assert max(missed) < table.tolerance(column)


@pytest.mark.analytic
@pytest.mark.parametrize("loss", [0.5, 2.0, 8.0, 30.0])
def test_screen_across_a_duct_loses_k_rho_u2_over_2(loss):
    assert cases.screen_loss(loss) == pytest.approx(loss, rel=0.03)


@pytest.mark.published
def test_flow_between_walls_has_its_parabola(published):
    table = published("flow/poiseuille_couette")
    centres, speed = cases.duct()
    for row in table.rows:
        if 0.05 < row["y_over_H"] < 0.95:
            found = np.interp(row["y_over_H"], centres, speed)
            assert abs(found - row["poiseuille_u_over_umax"]) < table.tolerance("poiseuille_u_over_umax")


@pytest.mark.analytic
@pytest.mark.parametrize("region", ["box", "aslant"])
def test_parabola_passes_a_refined_region_without_a_kink(region):
    """The region stands on the lower wall and ends in mid-stream: speeds in it and round it lie on one parabola."""
    coarse, fine, exact, exact_fine = cases.refined_duct(region)
    assert np.abs(coarse - exact).max() < 0.01
    assert np.abs(fine - exact_fine).max() < 0.01
    assert abs((fine[-1] - exact_fine[-1]) - (coarse[7] - exact[7])) < 0.005  # either side of its lid

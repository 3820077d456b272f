"""Check the grid of directions: exact where it must be, even over the sphere, and its lobes against closed forms."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial import KDTree

from canvas.sky.directions import PARTS, PATCHES, coarse, direction_grid, divided, lobe_weights, stencil

GRID = direction_grid()
NUMBER = st.floats(-1, 1, allow_subnormal=False)
DIRECTION = st.tuples(NUMBER, NUMBER, NUMBER).filter(lambda d: np.linalg.norm(d) > 0.1)


@pytest.mark.property
@given(direction=DIRECTION)
def test_a_direction_lies_between_its_nodes(direction):
    here = stencil(GRID, direction)
    between = here.of(GRID.directions.T)[:, 0]
    unit = np.array(direction) / np.linalg.norm(direction)
    assert here.weights.sum() == pytest.approx(1.0)
    assert (
        np.degrees(np.arccos(np.clip(unit @ between / np.linalg.norm(between), -1, 1))) < 0.5
    )  # an eighth of a step: rows wave


@pytest.mark.property
@given(direction=DIRECTION, step=st.floats(0, 6.28))
def test_interpolation_has_no_step(direction, step):
    table = np.sin(37.0 * np.arange(len(GRID.directions)))
    other = np.array(direction) + 1e-7 * np.array([np.cos(step), np.sin(step), 0.3])
    assert abs(stencil(GRID, direction).of(table) - stencil(GRID, other).of(table))[0] < 1e-3


@pytest.mark.analytic
@pytest.mark.parametrize("grid", [GRID, coarse(GRID)], ids=["grid", "every second"])
def test_nodes_return_themselves(grid):
    nodes = np.unique(stencil(grid, grid.directions).nodes)
    here = stencil(grid, grid.directions[nodes])
    assert np.allclose(here.of(GRID.directions.T).T, grid.directions[nodes], atol=1e-9)


@pytest.mark.analytic
def test_the_horizon_is_a_row_and_an_upright_edge_cuts_no_two_rows_alike():
    assert np.count_nonzero(np.abs(GRID.altitude) < 1e-12) == 1
    assert len(np.unique(GRID.offset[1:-1].round(6))) == len(GRID.offset) - 2
    for start, count, offset in zip(GRID.start[1:-1], GRID.count[1:-1], GRID.offset[1:-1], strict=True):
        first = GRID.directions[start]
        assert np.arctan2(first[1], -first[0]) == pytest.approx(2 * np.pi * offset / count)


@pytest.mark.published
def test_open_sky_of_a_tilted_area(published):
    table = published("sky/view_factors")
    for row in (row for row in table.rows if row["case"].startswith("sky_tilt")):
        tilt = np.radians(float(row["case"].split("_")[-1]))
        share = lobe_weights(GRID, [[np.sin(tilt), 0.0, np.cos(tilt)]]).sum()
        assert abs(share - row["view_factor"]) <= table.tolerance("view_factor")


@pytest.mark.analytic
def test_sky_and_sea_make_a_whole():
    normals = np.array([[0, 0, 1], [0.6, 0, 0.8], [0, -1, 0], [0.48, 0.64, -0.6]])
    up = np.array([0.1, -0.25, 0.96]) / np.linalg.norm([0.1, -0.25, 0.96])
    both = lobe_weights(GRID, normals, up=up).sum(axis=1) + lobe_weights(GRID, normals, up=-up).sum(axis=1)
    assert np.allclose(both, 1.0, atol=1e-3)


@pytest.mark.behaviour
def test_a_grid_too_coarse_is_refused():
    with pytest.raises(ValueError, match=r"0\.25 or more"):
        direction_grid(0.1)


STEP = (GRID.directions[:, 1] > 0.3 * GRID.directions[:, 2]).astype(float)[None]
DIVIDED = divided(GRID, STEP)


ADDED = DIVIDED.directions[len(GRID.directions) :]


@pytest.mark.analytic
def test_cells_are_divided_where_a_lit_share_steps_and_nowhere_else():
    most = PATCHES * (PARTS + 1) ** 2
    assert len(GRID.directions) < len(DIVIDED.directions) <= len(GRID.directions) + most
    assert np.abs(ADDED[:, 1] - 0.3 * ADDED[:, 2]).max() < 0.25
    assert len(divided(GRID, 0.0 * STEP).directions) == len(GRID.directions)


@pytest.mark.analytic
def test_cells_share_the_nodes_on_their_common_sides():
    apart = KDTree(DIVIDED.directions).query(DIVIDED.directions, k=2)[0][:, 1]
    assert apart.min() > 1e-6


@pytest.mark.analytic
def test_a_divided_grid_finds_its_own_nodes_and_is_sharper():
    cut = DIVIDED.patch >= 0
    inner = DIVIDED.directions[DIVIDED.corners[DIVIDED.patch[cut] + PARTS + 2]]
    here = stencil(DIVIDED, inner)
    assert here.weights.max(axis=1) == pytest.approx(1.0, abs=1e-6)
    assert np.allclose(here.of(DIVIDED.directions.T).T, inner, atol=1e-6)
    rng = np.random.default_rng(2)
    near = ADDED[rng.integers(len(ADDED), size=4000)] + rng.normal(scale=0.02, size=(4000, 3))
    truth = near[:, 1] > 0.3 * near[:, 2]
    lit = (DIVIDED.directions[:, 1] > 0.3 * DIVIDED.directions[:, 2]).astype(float)
    errors = [np.abs(stencil(g, near).of(lit) - truth).mean() for g in (GRID, DIVIDED)]
    assert errors[1] < 0.65 * errors[0]


@pytest.mark.analytic
def test_the_open_sky_of_a_divided_grid_is_that_of_the_plain_one():
    plain, fine = (lobe_weights(g, [[0.0, 0.6, 0.8]]) for g in (GRID, DIVIDED))
    assert fine[0, : plain.shape[1]] == pytest.approx(plain[0])
    assert np.all(fine[0, plain.shape[1] :] == 0.0)

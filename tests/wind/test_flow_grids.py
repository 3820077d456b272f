"""Nested grids, cut links and screens: what must hold whatever the flow."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from scipy.ndimage import binary_dilation

from canvas.wind.flow import cells
from canvas.wind.flow.cut import Sheet, cut_links, inside
from canvas.wind.flow.grid import Region, nest, own, ring
from canvas.wind.flow.levels import evenness
from canvas.wind.flow.solver import Flow, RanAway
from tests.wind import flow_cases as cases

SPEED = 0.08


def along(heights):
    return np.tile([SPEED, 0.01], (len(heights), 1))


def nested(boxes):
    return nest(np.zeros(3), np.array([48.0, 32.0, 24.0]), boxes, cell=1.0)


TWO_BOXES = [
    (np.array([12.0, 8.0, 0.0]), np.array([34.0, 24.0, 14.0])),
    (np.array([16.0, 11.0, 0.0]), np.array([28.0, 20.0, 9.0])),
]


@pytest.mark.property
def test_moments_and_populations_are_each_others_inverse():
    random = np.random.default_rng(3)
    first = (random.standard_normal((10, 50)) * 0.02).astype(np.float32)
    again = np.stack(cells.moments(*cells.populations(*first)))
    assert np.abs(again - first).max() < 2e-7


@pytest.mark.property
@pytest.mark.parametrize("steps", [1, 2, 3, 4])
def test_steps_in_place_are_those_that_move_whole_arrays(steps):
    """Rolled arrays of numpy stream into new ones; single precision adds some 1e-8 a step."""
    grids = nest(np.zeros(3), np.array([6.0, 5.0, 7.0]), [], cell=1.0, sea=False)
    flow = Flow(grids, [], wind=cases.still, viscosity=1e-3, periodic=(0, 1, 2), noise=0.0, device="cpu")
    velocity = np.random.default_rng(7).standard_normal((3, 9, 7, 8)) * 0.03
    flow.impose(0, velocity=velocity)
    flow.advance(steps)
    inner = (slice(None), slice(1, -1), slice(1, -1), slice(1, -1))
    start = np.zeros((10, 7, 5, 6), dtype=np.float32)
    start[1:4] = velocity[inner]
    f = cells.populations(*start)
    for _ in range(steps):
        f = [
            np.roll(one, (cz, cy, cx), axis=(0, 1, 2))
            for one, cz, cy, cx in zip(f, cells.CZ, cells.CY, cells.CX, strict=True)
        ]
        excess, jx, jy, jz, *stress = cells.moments(*f)
        kept = np.vectorize(cells.relaxation, excluded=(7, 8))(excess, *stress, flow.levels[0].tau, flow.c2)
        f = cells.populations(excess, jx, jy, jz, *(kept * one for one in stress))
    excess, *j = cells.moments(*f)[:4]
    wanted = np.stack([excess, *(one / (1 + excess) for one in j)])
    assert np.abs(flow.now(0)[inner] - wanted).max() < 1e-7
    assert np.abs(wanted[1:] - velocity[inner]).max() > 0.01


@pytest.mark.analytic
def test_rest_weights_and_isotropy():
    c = np.stack([cells.CX, cells.CY, cells.CZ]).astype(float)
    assert cells.WEIGHTS.sum() == pytest.approx(1.0)
    assert np.allclose((cells.WEIGHTS * c) @ c.T, np.eye(3) / 3)
    assert np.array_equal(c[:, cells.OPPOSITE], -c)


ASLANT = [  # one in the other, neither along the grid
    Region.over(np.array([(10, 14), (24, 6), (38, 18), (22, 26)], dtype=float), 0.0, 15.0),
    Region.over(np.array([(18, 15), (24, 11), (30, 17), (23, 21)], dtype=float), 0.0, 9.0),
]


@pytest.mark.property
@pytest.mark.parametrize("regions", [TWO_BOXES, ASLANT], ids=["boxes", "aslant"])
def test_two_fine_layers_round_what_is_a_grid_s_own_are_filled(regions):
    for grid in nested(regions)[1:]:
        inside = grid.inside
        filled = np.zeros(grid.size, dtype=bool)
        for part in range(8):
            step = np.array([part & 1, (part >> 1) & 1, part >> 2])
            filled[grid.child_of(ring(grid)) + grid.flat(step)] = True
        filled = filled.reshape(inside.shape)
        around = binary_dilation(inside, np.ones((3, 3, 3)), iterations=2) & ~inside
        around[: grid.ghosts[2]] &= grid.ghosts[2] == 2  # there is none under what rests on the sea
        assert np.array_equal(filled, around)
        assert np.array_equal(grid.stepped, grid.stepped & (inside | filled))
        assert not (inside & ~grid.stepped).any()


@pytest.mark.property
def test_a_region_aslant_holds_its_corners_and_no_more_of_the_grid_than_its_rows_say():
    outer, grid, _ = nested(ASLANT)
    at = np.array([(20, 16, 1), (24, 16, 10), (24, 16, 14), (34, 18, 1)], dtype=float)
    index = np.floor((at - grid.origin) / grid.cell).astype(int)
    assert grid.holds(index).all()
    away = np.array([(12, 8, 1), (36, 25, 1), (12, 24, 12), (24, 16, 17), (60, 16, 1), (-20, 16, 1)], dtype=float)
    assert not grid.holds(np.floor((away - grid.origin) / grid.cell).astype(int)).any()
    rows = grid.rows().reshape(-1, 4)
    assert (rows[:, 3] - rows[:, 0]).sum() == grid.updates() == grid.stepped.sum()
    assert (rows[:, 1] == rows[:, 2]).all()
    assert grid.updates() < 0.6 * grid.size
    assert outer.updates() == 48 * 32 * 24


@pytest.mark.property
@pytest.mark.parametrize("regions", [TWO_BOXES, ASLANT], ids=["boxes", "aslant"])
def test_rows_leave_out_the_cells_that_a_finer_grid_refines(regions):
    grids = nested(regions)
    for grid, finer in pairwise(grids):
        marched = np.zeros(grid.size, dtype=bool)
        for row, (first, begin, end, after) in enumerate(grid.rows(finer).reshape(-1, 4)):
            marched[row * grid.shape[0] + first : row * grid.shape[0] + begin] = True
            marched[row * grid.shape[0] + end : row * grid.shape[0] + after] = True
        refined = np.zeros(grid.size, dtype=bool)
        refined[grid.flat(own(finer))] = True
        assert np.array_equal(marched, grid.stepped.ravel() & ~refined)
        assert grid.updates(finer) == marched.sum() < grid.updates()


@pytest.mark.analytic
@pytest.mark.parametrize("regions", [TWO_BOXES, ASLANT], ids=["boxes", "aslant"])
def test_even_wind_passes_refinement_unchanged(regions):
    flow = Flow(nested(regions), [], wind=along, viscosity=1e-5, floor=(0, 0), grip=0.0, noise=0.0, device="cpu")
    flow.advance(25)
    grids = [level.grid for level in flow.levels]
    for number, grid in enumerate(grids):
        now = flow.now(number)[:, grid.known(*grids[number + 1 : number + 2])]
        assert np.abs(now[1] - SPEED).max() < 7e-6 * SPEED / 0.05
        assert np.abs(now[0]).max() < 1e-6


def sheared(grid):
    """Return a wind (3, z, y, x) that grows evenly up, across and along, so that no density need change."""
    x, y, z = (grid.origin[axis] + grid.cell * np.arange(grid.shape[axis]) for axis in range(3))
    field = np.zeros((3, *grid.shape[::-1]))
    field[0] = 0.04 + 1e-3 * z[:, None, None] + 5e-4 * y[:, None]
    field[1] = 0.01 + 4e-4 * x
    return field


@pytest.mark.analytic
@pytest.mark.parametrize("regions", [TWO_BOXES, ASLANT], ids=["boxes", "aslant"])
def test_a_grid_filled_from_the_one_round_it_has_its_wind(regions):
    """An even slope is carried over exactly; what the finer grid held before is gone."""
    flow = Flow(nested(regions), [], wind=along, viscosity=1e-3, smagorinsky=0.0, noise=0.05, device="cpu")
    flow.impose(1, velocity=sheared(flow.levels[1].grid))
    flow.refine()
    finest = flow.levels[2].grid
    filled = finest.inside.copy()
    filled[:3] = False  # next to the sea no slope upwards is taken
    assert np.abs(flow.now(2)[1:] - sheared(finest))[:, filled].max() < 2e-7


@pytest.mark.property
def test_grids_left_out_of_a_march_stand_still_and_change_nothing():
    wholly, firstly = (
        Flow(nested(boxes), [cases.box((20, 14, 0), (24, 18, 6))], wind=along, viscosity=1e-5, device="cpu")
        for boxes in (TWO_BOXES, TWO_BOXES[:1])
    )
    before = wholly.now(2)
    wholly.levels[0].f[:], wholly.levels[1].f[:] = firstly.levels[0].f, firstly.levels[1].f
    wholly.advance(10, grids=2)
    firstly.advance(10)
    assert np.array_equal(wholly.now(2), before)
    assert all(np.array_equal(wholly.now(number), firstly.now(number)) for number in range(2))
    assert wholly.updates == firstly.updates


@pytest.mark.behaviour
@pytest.mark.parametrize("cell", [(6, 6, 6), (2, 6, 6)], ids=["inside", "outside"])
def test_only_air_outside_closed_bodies_can_run_away(cell):
    """Air shut in a body that two grids share slowly gathers: that is no part of the answer."""
    grids = nest(np.zeros(3), np.full(3, 12.0), [], cell=1.0, sea=False)
    flow = Flow(grids, [cases.box((4, 4, 4), (9, 9, 9))], wind=along, viscosity=1e-5, device="cpu")
    excess = np.zeros(grids[0].shape[::-1])
    excess[cell[::-1]] = 0.6
    flow.impose(0, velocity=np.zeros((3, *excess.shape)), excess=excess)
    if cell[0] == 6:
        flow.check()
    else:
        with pytest.raises(RanAway, match="unstable at 1.50, 5.50, 5.50 m"):
            flow.check()


@pytest.mark.property
def test_noise_in_the_free_stream_dies():
    flow = Flow(nested(TWO_BOXES[:1]), [], wind=along, viscosity=1e-5, floor=(0, 0), grip=0.0, sponge=4.0, device="cpu")
    outer, finer = (level.grid for level in flow.levels)
    before = flow.now(0)[1:, outer.known(finer)].std(axis=1)
    flow.advance(150)
    after = flow.now(0)[1:, outer.known(finer)].std(axis=1)
    assert (after < 0.5 * before).all()


@pytest.mark.property
def test_mass_is_kept_in_a_closed_box():
    grids = nest(np.zeros(3), np.full(3, 8.0), [], cell=1.0, sea=False)
    walls = cases.box((0.0, 0.0, 0.0), (8.0, 8.0, 8.0))
    flow = Flow(grids, [walls], wind=cases.still, viscosity=0.01, noise=0.0, device="cpu")
    moving = np.random.default_rng(5).standard_normal((3, 10, 10, 10)) * 0.02
    flow.impose(0, velocity=moving)
    before = float(1.0 + flow.now(0)[0, 1:-1, 1:-1, 1:-1].mean(dtype=float))
    flow.advance(10_000)
    after = float(1.0 + flow.now(0)[0, 1:-1, 1:-1, 1:-1].mean(dtype=float))
    assert abs(after - before) < 1e-5


@pytest.mark.analytic
def test_links_cut_by_a_level_plate_are_those_that_cross_it():
    sheet = cases.plate(2, 4.5, (-9.0, -9.0), (19.0, 19.0))
    links = cut_links([sheet], origin=np.zeros(3), cell=1.0, shape=(6, 5, 9))
    above = links.cell // 30
    assert set(zip(above, links.towards // 30, strict=True)) == {(4, 5), (5, 4)}
    assert np.count_nonzero(links.direction == 5) == 30
    assert len(links.cell) == 30 + 2 * 5 * 5 + 2 * 6 * 4


@pytest.mark.analytic
def test_inside_of_a_box_and_of_a_turned_box():
    sheet = cases.box((2.2, 1.2, 1.2), (6.4, 4.7, 5.3))
    held = inside([sheet], origin=np.zeros(3), cell=1.0, shape=(9, 7, 8))
    assert held.sum() == 4 * 3 * 4
    c, s = np.cos(0.4), np.sin(0.4)
    turned = Sheet(corners=sheet.corners @ np.array([[c, s, 0], [-s, c, 0], [0, 0, 1.0]]), closed=True)
    fine = inside([turned], origin=np.array([-3.0, -1.0, 0.0]), cell=0.1, shape=(100, 100, 70))
    assert fine.sum() * 1e-3 == pytest.approx(4.2 * 3.5 * 4.1, rel=0.01)


@pytest.mark.analytic
def test_screen_evenness_is_one_along_an_axis():
    assert evenness(np.array([[1.0, 0, 0], [0, 0, -1.0]])) == pytest.approx(1.0)
    assert evenness(np.array([[1.0, 1.0, 0]]) / np.sqrt(2)) == pytest.approx(1 / 0.943, rel=0.01)


@pytest.mark.behaviour
def test_box_without_room_is_refused():
    from canvas.jobs.failure import CouldNot

    with pytest.raises(CouldNot, match="does not fit"):
        nest(np.zeros(3), np.full(3, 6.0), [(np.full(3, 2.0), np.full(3, 4.0))], cell=1.0, sea=False)


@pytest.mark.property
def test_mass_is_kept_in_a_closed_box_with_a_refined_part():
    grids = nest(np.zeros(3), np.full(3, 14.0), [(np.full(3, 5.0), np.full(3, 9.0))], cell=1.0, sea=False)
    walls = cases.box((0.0, 0.0, 0.0), (14.0, 14.0, 14.0))
    flow = Flow(grids, [walls], wind=cases.still, viscosity=0.01, noise=0.0, device="cpu")
    x, y, z = np.meshgrid(*[np.arange(16) - 0.5] * 3, indexing="ij")
    moving = 0.03 * np.sin(np.pi * np.stack([y, z, x]) / 7).transpose(0, 3, 2, 1)
    flow.impose(0, velocity=moving)
    flow.advance(200)  # the box takes up the flow round it
    before = whole_mass(flow)
    flow.advance(10_000)
    assert abs(whole_mass(flow) - before) < 1e-5


def whole_mass(flow):
    """Return the mean density less one of all cells that count: fine ones where there are any."""
    coarse = flow.now(0)[0, 1:-1, 1:-1, 1:-1].astype(float)
    grid = flow.levels[1].grid
    x, y, z = (slice(int(a) - 1, int(b) - 1) for a, b in zip(grid.low, grid.high, strict=True))
    inner = flow.now(1)[0, 2:-2, 2:-2, 2:-2].astype(float)
    n = [size // 2 for size in inner.shape]
    coarse[z, y, x] = inner.reshape(n[0], 2, n[1], 2, n[2], 2).mean((1, 3, 5))
    return coarse.mean()

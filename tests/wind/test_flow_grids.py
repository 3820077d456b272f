"""Nested grids, cut links and screens: what must hold whatever the flow."""

from __future__ import annotations

import numpy as np
import pytest

from canvas.wind.flow import cells
from canvas.wind.flow.cut import Sheet, cut_links, inside
from canvas.wind.flow.grid import nest
from canvas.wind.flow.solver import Flow, evenness
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


@pytest.mark.analytic
def test_rest_weights_and_isotropy():
    c = np.stack([cells.CX, cells.CY, cells.CZ]).astype(float)
    assert cells.WEIGHTS.sum() == pytest.approx(1.0)
    assert np.allclose((cells.WEIGHTS * c) @ c.T, np.eye(3) / 3)
    assert np.array_equal(c[:, cells.OPPOSITE], -c)


@pytest.mark.analytic
def test_even_wind_passes_refinement_unchanged():
    flow = Flow(nested(TWO_BOXES), [], wind=along, viscosity=1e-5, floor=(0, 0), grip=0.0, noise=0.0, device="cpu")
    flow.advance(25)
    for number in range(3):
        now = flow.now(number)[:, 1:-1, 1:-1, 1:-1]
        assert np.abs(now[1] - SPEED).max() < 7e-6 * SPEED / 0.05
        assert np.abs(now[0]).max() < 1e-6


@pytest.mark.property
def test_noise_in_the_free_stream_dies():
    flow = Flow(nested(TWO_BOXES[:1]), [], wind=along, viscosity=1e-5, floor=(0, 0), grip=0.0, sponge=4.0, device="cpu")
    before = flow.now(0)[1:, 1:-1, 1:-1, 1:-1].std(axis=(1, 2, 3))
    flow.advance(150)
    after = flow.now(0)[1:, 1:-1, 1:-1, 1:-1].std(axis=(1, 2, 3))
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

"""Hold which directions meet a mesh to sums over the corners of its faces, in whole numbers where rounding hides it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from canvas.geometry import panorama

CUBE = np.array([[x, y, z] for x in (-1.0, 1.0) for y in (-1.0, 1.0) for z in (-1.0, 1.0)])
SIDES = [
    [0, 1, 3], [0, 3, 2], [4, 6, 7], [4, 7, 5], [0, 4, 5], [0, 5, 1],
    [2, 3, 7], [2, 7, 6], [0, 2, 6], [0, 6, 4], [1, 5, 7], [1, 7, 3],
]  # fmt: skip


def seen(vertices, faces, point, towards):
    """Return which directions from a point meet a mesh."""
    met = np.empty((1, len(towards)), dtype=bool)
    shell = panorama.shell_of(vertices, np.asarray(faces))
    panorama.mark_met(shell, point[None], np.zeros((1, 3)), panorama.spread(towards), met)
    return met[0]


@pytest.mark.analytic
def test_directions_stand_in_the_cells_of_a_cube_side_by_side_and_row_by_row():
    middles = (np.arange(panorama.CELLS) + 0.5) / panorama.HALF - 1.0
    row, column = (one.ravel() for one in np.meshgrid(middles, middles, indexing="ij"))
    cells = np.concatenate([
        np.roll(np.c_[np.full(len(row), way), row, column], axis, axis=1) for axis in range(3) for way in (1.0, -1.0)
    ])  # fmt: skip
    shuffled = np.random.default_rng(1).permutation(len(cells))
    scaled = cells[shuffled] * np.random.default_rng(2).uniform(0.1, 9.0, size=(len(cells), 1))
    one_each = panorama.spread(scaled)
    assert np.array_equal(one_each.start, np.arange(len(cells) + 1))
    assert np.array_equal(shuffled[one_each.number], np.arange(len(cells)))
    assert np.array_equal(one_each.directions[:, : len(cells)], scaled[one_each.number].T)
    assert np.isnan(one_each.directions[:, len(cells) :]).all()
    assert one_each.directions.flags.c_contiguous
    few = panorama.spread(cells[[700, 3, 700, 6143]])
    assert list(few.number) == [1, 0, 2, 3]
    assert list(few.start[[0, 3, 4, 700, 701, 6143, 6144]]) == [0, 0, 1, 1, 3, 3, 4]


@pytest.mark.analytic
def test_the_far_edges_of_a_side_belong_to_its_last_cells():
    edge = panorama.spread(np.array([[1.0, 1.0, -1.0], [-1.0, -1.0, 1.0], [0.5, 2.0, 2.0]]))
    last = panorama.CELLS - 1
    cells = [(side * panorama.CELLS + row) * panorama.CELLS + column for side, row, column in
             ((0, last, 0), (1, 0, last), (2, last, panorama.CELLS * 5 // 8))]  # fmt: skip
    assert [int(np.searchsorted(edge.start, k, side="right")) - 1 for k in range(3)] == cells


@pytest.mark.analytic
@pytest.mark.parametrize("spread_out", [0.05, 0.5, 5.0])  # faces within a cell, over some, all round
def test_a_face_is_met_by_the_directions_between_its_corners(spread_out):
    chance = np.random.default_rng(6)
    middles = chance.normal(scale=2.0, size=(60, 1, 3))
    corners = middles + chance.normal(scale=spread_out, size=(60, 3, 3))
    towards = chance.normal(size=(4000, 3))
    for three in corners:
        shares = np.linalg.solve(three.T, towards.T)  # of the corners, in each direction
        assert np.array_equal(seen(three, [[0, 1, 2]], np.zeros(3), towards), (shares > 0.0).all(axis=0))


def whole_directions(most):
    """Return all directions of whole numbers up to some size, (n, 3): many lie on the borders of cells."""
    steps = np.arange(-most, most + 1)
    every = np.stack(np.meshgrid(steps, steps, steps, indexing="ij"), axis=-1).reshape(-1, 3)
    return every[np.abs(every).max(axis=1) == most]


def met_in_whole_numbers(corners, towards):
    """Return whether each direction is a sum of the corners with shares of zero or more, by Cramer's rule."""
    a, b, c = corners
    whole = int(a @ np.cross(b, c))
    parts = np.stack([towards @ np.cross(one, other) for one, other in ((b, c), (c, a), (a, b))])
    return (np.sign(whole) * parts >= 0).all(axis=0) & (whole != 0)


@pytest.mark.analytic
@pytest.mark.parametrize("size", [1, 2, 16])  # corners on few rays, with many in one plane; on the borders of cells
def test_faces_hold_their_edges_and_corners_to_the_last_bit(size):
    towards = whole_directions(16)
    chance = np.random.default_rng(size)
    edge_on = 0
    for corners in chance.integers(-size, size + 1, size=(150, 3, 3)):
        if not np.abs(corners).max(axis=1).all():
            continue
        expected = met_in_whole_numbers(corners, towards)
        assert np.array_equal(seen(corners.astype(float), [[0, 1, 2]], np.zeros(3), towards.astype(float)), expected)
        edge_on += not expected.any()
    assert size == 16 or edge_on > 3


@pytest.mark.analytic
def test_small_faces_in_one_side_of_the_cube_are_met_to_the_last_bit():
    towards = whole_directions(16)
    chance = np.random.default_rng(5)
    met = 0
    for axis in range(3):
        for way in (-16, 16):
            for _ in range(25):
                corners = chance.integers(-13, 13, size=(1, 3)) + chance.integers(-3, 4, size=(3, 3))
                corners[:, axis] = way
                expected = met_in_whole_numbers(corners, towards)
                found = seen(corners.astype(float), [[0, 1, 2]], np.zeros(3), towards.astype(float))
                assert np.array_equal(found, expected)
                met += expected.sum()
    assert met > 500


@pytest.mark.analytic
def test_the_loops_keep_within_their_arrays(monkeypatch):
    """Compiled code does not look where it reads and writes; plain Python does."""
    for name, one in vars(panorama).items():
        if hasattr(one, "py_func"):
            monkeypatch.setattr(panorama, name, one.py_func)
    towards = whole_directions(4)
    for corners in np.random.default_rng(12).integers(-4, 5, size=(40, 3, 3)):
        if np.abs(corners).max(axis=1).all():
            found = seen(corners.astype(float), [[0, 1, 2]], np.zeros(3), towards.astype(float))
            assert np.array_equal(found, met_in_whole_numbers(corners, towards))
    assert seen(CUBE, SIDES, np.array([0.5, -0.25, 0.125]), towards.astype(float)).all()


@pytest.mark.property
def test_no_direction_slips_out_of_a_body_through_its_edges():
    turn = np.linalg.qr(np.random.default_rng(7).normal(size=(3, 3)))[0]
    share = np.linspace(0.0, 1.0, 12)[1:-1, None]
    edges = [CUBE[a] * (1.0 - share) + CUBE[b] * share for x, y, z in SIDES for a, b in ((x, y), (y, z), (z, x))]
    for inside in np.random.default_rng(8).uniform(-0.99, 0.99, size=(40, 3)):
        assert seen(CUBE @ turn, SIDES, inside @ turn, (np.concatenate(edges) - inside) @ turn).all()


@pytest.mark.property
def test_a_body_is_met_alike_by_all_its_faces_and_by_those_seen_from_within():
    chance = np.random.default_rng(9)
    points, towards = chance.normal(scale=3.0, size=(50, 3)), chance.normal(size=(3000, 3))
    whole = panorama.shell_of(CUBE, np.asarray(SIDES))
    assert whole.closed
    every, some = (np.empty((len(points), len(towards)), dtype=bool) for _ in range(2))
    panorama.mark_met(whole, points, 0.0 * points, panorama.spread(towards), some)
    panorama.mark_met(replace(whole, closed=False), points, 0.0 * points, panorama.spread(towards), every)
    assert np.array_equal(every, some)
    assert 0.05 < some.mean() < 0.5
    assert not panorama.shell_of(CUBE, np.asarray(SIDES[:-1])).closed


@pytest.mark.analytic
def test_planes_of_a_mesh_face_outwards_and_a_face_turned_over_leaves_it_open():
    whole = panorama.shell_of(CUBE, np.asarray(SIDES))
    middles = CUBE[np.asarray(SIDES)].mean(axis=1)
    assert np.allclose(whole.normals / 4.0, np.where(np.abs(middles) == 1.0, np.sign(middles), 0.0))
    assert np.allclose(whole.offsets, 4.0)
    turned = [SIDES[0][::-1], *SIDES[1:]]
    assert not panorama.shell_of(CUBE, np.asarray(turned)).closed
    outside = panorama.shell_of(CUBE + np.array([5.0, 0.0, 0.0]), np.asarray(SIDES))
    assert np.allclose(outside.offsets, 4.0 + 5.0 * whole.normals[:, 0])


@pytest.mark.analytic
def test_a_box_is_met_by_the_directions_that_pass_through_it_as_slabs_say():
    chance = np.random.default_rng(11)
    points = np.vstack([chance.uniform(-6.0, 6.0, size=(80, 3)), chance.uniform(-0.9, 0.9, size=(5, 3))])
    towards = chance.normal(size=(3000, 3))
    met = np.zeros((len(points), len(towards)), dtype=bool)
    panorama.mark_met(panorama.shell_of(CUBE, np.asarray(SIDES)), points, 0.0 * points, panorama.spread(towards), met)
    near, far = (np.sort([(s - points[:, None]) / towards for s in (-1.0, 1.0)], axis=0)[k] for k in (0, 1))
    through = np.maximum(near.max(axis=-1), 0.0) < far.min(axis=-1)
    assert np.array_equal(met, through)
    assert met[80:].all()


@pytest.mark.property
def test_a_point_on_a_wall_sees_away_from_it():
    towards = np.random.default_rng(10).normal(size=(2000, 3))
    met = seen(CUBE, SIDES, np.array([1.0, 0.25, -0.5]), towards)
    assert np.array_equal(met, towards[:, 0] < 0.0)


@pytest.mark.property
@pytest.mark.parametrize("closed", [True, False])
def test_into_the_area_that_a_point_lies_on_nothing_is_met_and_elsewhere_as_without_it(closed):
    chance = np.random.default_rng(12)
    points, normals = chance.uniform(-3.0, 3.0, size=(60, 3)), chance.normal(size=(60, 3))
    towards, ways = chance.normal(size=(3000, 3)), np.asarray(SIDES)
    body = replace(panorama.shell_of(CUBE, ways), closed=closed)
    every, some = (np.empty((len(points), len(towards)), dtype=bool) for _ in range(2))
    panorama.mark_met(body, points, 0.0 * points, panorama.spread(towards), every)
    panorama.mark_met(body, points, normals, panorama.spread(towards), some)
    faced = normals @ towards.T > panorama.GRAZING
    assert np.array_equal(some, every & faced)
    assert (every & ~faced).any()

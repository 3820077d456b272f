"""Hold the nearest points of triangles to arithmetic, to many points spread over them and to trimesh."""

import numpy as np
import pytest
from trimesh.triangles import closest_point

from canvas.geometry.nearest import nearest_shares


def nearest(point, corners):
    """Return the point of a triangle nearest to a point, and its distance."""
    a, b, c = np.asarray(corners, dtype=float)
    shares, distance = nearest_shares(np.asarray(point, dtype=float) - a, b - a, c - a)
    assert shares.sum() == pytest.approx(1.0)
    assert shares.min() >= -1e-12
    return shares @ np.array([a, b, c]), float(distance)


LEVEL = [[0, 0, 0], [4, 0, 0], [0, 3, 0]]


@pytest.mark.analytic
@pytest.mark.parametrize(
    ("point", "foot"),
    [
        ([1, 1, 2], [1, 1, 0]),  # inside
        ([-3, -4, 0], [0, 0, 0]),  # past each corner
        ([7, 0, 4], [4, 0, 0]),
        ([0, 8, 12], [0, 3, 0]),
        ([2, -5, 0], [2, 0, 0]),  # past each side
        ([-2, 1, 0], [0, 1, 0]),
        ([2 + 3, 1.5 + 4, 0], [2, 1.5, 0]),
    ],
)
def test_a_point_over_a_corner_a_side_or_the_inside_has_the_foot_of_plane_geometry(point, foot):
    found, distance = nearest(point, LEVEL)
    assert found == pytest.approx(foot)
    assert distance == pytest.approx(np.linalg.norm(np.subtract(point, foot)))


@pytest.mark.analytic
def test_a_triangle_may_be_a_line_or_a_point():
    assert nearest([1, 5, 0], [[0, 0, 0], [4, 0, 0], [2, 0, 0]])[1] == pytest.approx(5.0)
    assert nearest([6, 0, 0], [[0, 0, 0], [0, 0, 0], [3, 0, 0]])[1] == pytest.approx(3.0)
    assert nearest([3, 4, 0], [[0, 0, 0]] * 3)[1] == pytest.approx(5.0)


@pytest.mark.analytic
def test_a_triangle_that_rounding_makes_a_line_warns_of_nothing():
    """Its determinant is nought to rounding, what is divided by it is not."""
    chance = np.random.default_rng(7)
    lines, shares, points = chance.normal(size=(400, 3)), chance.random(400), chance.normal(size=(400, 3))
    for along, share, point in zip(lines, shares, points, strict=True):
        found, distance = nearest(point, [0 * along, along, share * along])
        assert np.linalg.norm(found - point) == pytest.approx(distance)
        on_line = np.clip(point @ along / (along @ along), 0, 1) * along
        assert distance == pytest.approx(np.linalg.norm(point - on_line))


@pytest.mark.property
@pytest.mark.parametrize("plane", [2, 3])
def test_no_point_of_many_spread_over_a_triangle_is_nearer(plane):
    chance = np.random.default_rng(3)
    shares = chance.dirichlet(np.ones(3), size=20_000)
    for corners, point in zip(chance.normal(size=(40, 3, plane)), 2 * chance.normal(size=(40, plane)), strict=True):
        found, distance = nearest(point, corners)
        assert np.linalg.norm(found - point) == pytest.approx(distance)
        assert distance <= np.linalg.norm(shares @ corners - point, axis=1).min() + 1e-12


@pytest.mark.published
def test_nearest_points_are_those_of_a_reference_library():
    chance = np.random.default_rng(5)
    corners, points = chance.normal(size=(2000, 3, 3)), 2 * chance.normal(size=(2000, 3))
    shares, distance = nearest_shares(points - corners[:, 0], *(corners[:, k] - corners[:, 0] for k in (1, 2)))
    wanted = closest_point(corners, points)
    np.testing.assert_allclose(np.einsum("nk,nkj->nj", shares, corners), wanted, atol=1e-9)
    np.testing.assert_allclose(distance, np.linalg.norm(points - wanted, axis=1), atol=1e-9)

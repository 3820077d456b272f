"""Close clouds of points whose solids are known: a ball, a box with sharp edges, half a ball on a boat as designed."""

import numpy as np
import pytest
import trimesh

from canvas.asbuilt.cloud import Cloud
from canvas.asbuilt.solidify import NEIGHBOURS, THIN, solid_from
from canvas.geometry.surface import Surface
from canvas.jobs.failure import CouldNot

CELL, ROUND = 0.05, 0.4
LOW, HIGH = np.full(3, -0.6), np.full(3, 0.6)


def ball(count=4000):
    """Return even points on a ball (Fibonacci's spiral)."""
    k = np.arange(count) + 0.5
    high, turn = 1 - 2 * k / count, np.pi * (1 + 5**0.5) * k
    flat = np.sqrt(1 - high**2)
    out = np.c_[flat * np.cos(turn), flat * np.sin(turn), high]
    return Cloud(points=ROUND * out, normals=out, areas=np.full(count, 4 * np.pi * ROUND**2 / count), spacing=0.02)


def only(cloud, rows):
    return Cloud(
        points=cloud.points[rows], normals=cloud.normals[rows], areas=cloud.areas[rows], spacing=cloud.spacing
    )  # fmt: skip


def block():
    """Return even points on a box of 0.8 by 0.6 by 0.4 m."""
    half = np.array([0.4, 0.3, 0.2])
    points, normals = [], []
    for axis in range(3):
        one, two = (k for k in range(3) if k != axis)
        steps = [np.arange(-half[k] + 0.01, half[k], 0.02) for k in (one, two)]
        for side in (-1.0, 1.0):
            face = np.zeros((len(steps[0]) * len(steps[1]), 3))
            face[:, one], face[:, two] = (each.ravel() for each in np.meshgrid(*steps))
            face[:, axis] = side * half[axis]
            points.append(face)
            normals.append(np.tile(side * np.eye(3)[axis], (len(face), 1)))
    points, normals = np.vstack(points), np.vstack(normals)
    return half, Cloud(points=points, normals=normals, areas=np.full(len(points), 0.02**2), spacing=0.02)


@pytest.mark.analytic
def test_a_ball_comes_back_with_its_volume_and_roundness():
    cloud = ball()
    solid = solid_from(cloud, low=LOW, high=HIGH, cell=CELL)
    assert len(solid.decompose()) == 1
    assert solid.genus() == 0
    flat = NEIGHBOURS * ROUND / len(cloud.points)  # the mean of a cap of neighbours lies as far inside the ball
    inward = THIN + CELL**2 / (8 * ROUND) + flat  # thinned, and a facet's chord lies inside too
    assert -3 * inward / ROUND < solid.volume() / (4 / 3 * np.pi * ROUND**3) - 1 < 0
    corners = np.asarray(solid.to_mesh().vert_properties)[:, :3]
    off = np.linalg.norm(corners, axis=1) - ROUND
    assert np.abs(off + flat).max() < THIN


@pytest.mark.analytic
def test_the_edges_of_a_box_lose_less_than_a_cell_and_four_times_less_at_half_of_it():
    half, cloud = block()
    lost = []
    for cell in (CELL, CELL / 2):
        solid = solid_from(cloud, low=LOW, high=HIGH, cell=cell)
        assert solid.bounding_box() == pytest.approx([*-half, *half], abs=1e-6)
        lost.append(8 * half.prod() - solid.volume())
        assert 0 < lost[-1] < cell**2 / 2 * 8 * half.sum()  # twelve edges cut off a cell deep
    assert lost[1] / lost[0] == pytest.approx(0.25, abs=0.05)


@pytest.mark.behaviour
def test_where_nothing_was_scanned_the_boat_as_designed_is_taken():
    whole = ball()
    above = only(whole, whole.points[:, 2] > 0)
    mesh = trimesh.creation.icosphere(subdivisions=4, radius=ROUND)
    drawn = Surface(name="hull", kind="boat", vertices=mesh.vertices, faces=mesh.faces, closed=True)
    filled = solid_from(above, low=LOW, high=HIGH, cell=CELL, model=drawn)
    assert filled.volume() == pytest.approx(4 / 3 * np.pi * ROUND**3, rel=0.03)


@pytest.mark.behaviour
def test_what_gives_no_solid_is_said_with_what_to_do():
    with pytest.raises(CouldNot, match="too large") as large:
        solid_from(ball(100), low=LOW, high=HIGH, cell=0.003)
    assert "larger cell" in large.value.advice

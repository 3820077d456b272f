"""Meshes in the plane whose outline has very short sides: graded towards them, no more points than it needs."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from canvas.cloth.triangulate import _hexagons, _hexagons_near, triangulate


def sheet(short):
    """Return a sheet of 3 by 1.7 m, counter-clockwise, with one side as short as asked."""
    return np.array([[0.0, 0.0], [1.5, 0.0], [1.5 + short, 0.0], [3.0, 0.0], [3.0, 1.7], [0.0, 1.7]])


@pytest.mark.analytic
@pytest.mark.parametrize("short", [4e-4, 1e-6])
def test_a_very_short_side_is_met_with_few_triangles_more(short):
    mesh = triangulate(sheet(short), spacing=0.07)
    plain = triangulate(sheet(0.07), spacing=0.07)
    assert len(mesh.faces) < len(plain.faces) + 700  # a step of halving takes some twenty
    corner = mesh.points[mesh.faces]
    first, second = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
    twice = first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]
    assert (twice > 0).all()
    assert twice.sum() / 2 == pytest.approx(3.0 * 1.7, rel=1e-9)


@pytest.mark.property
@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.floats(-1, 3), st.floats(-1, 2), st.floats(0, 0.2)), min_size=1, max_size=5),
    st.floats(0.02, 0.2),
)
def test_the_lattice_near_spots_is_the_whole_lattice_within_their_reach(spots, step):
    bounds = (-1.3, -0.9, 3.1, 2.2)
    at, reach = np.array([spot[:2] for spot in spots]), np.array([spot[2] for spot in spots])
    whole, near = _hexagons(bounds, step), _hexagons_near(bounds, step, at, reach)
    within = (np.linalg.norm(whole[:, None] - at, axis=2) <= reach).any(axis=1)
    box = shapely.box(*bounds)
    held = near[shapely.contains_xy(box, near[:, 0], near[:, 1])]
    held = held[(np.linalg.norm(held[:, None] - at, axis=2) <= reach).any(axis=1)]
    asked = whole[within & shapely.contains_xy(box, whole[:, 0], whole[:, 1])]
    assert np.array_equal(held, asked)

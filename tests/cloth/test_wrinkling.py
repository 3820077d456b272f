"""The relaxed law of cloth, the solver's stiffness, and the plane mesher, for drawn inputs."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from canvas.cloth.lines import arc_lengths, locate, resample
from canvas.cloth.loads import Loads
from canvas.cloth.material import SLACK, TAUT, relaxed
from canvas.cloth.membrane import Assembly, tangent_stiffness
from canvas.cloth.triangulate import triangulate
from tests.cloth.cloth_shapes import disc, sheet

STIFF = np.array([150e3, 90e3, 20e3, 5e3])
strains = st.tuples(*[st.floats(-0.03, 0.03) for _ in range(3)])


def law(strain):
    """Return stress, tangent, state and energy of one strain."""
    stress, tangent = np.empty(3), np.empty((3, 3))
    state, energy = relaxed(*map(float, strain), STIFF, stress, tangent)
    return stress, tangent, state, energy


def full(strain):
    """Return the energy of cloth that could take compression."""
    e1, e2, g = strain
    return 0.5 * (STIFF[0] * e1**2 + STIFF[1] * e2**2 + 2 * STIFF[2] * e1 * e2 + STIFF[3] * g**2)


@pytest.mark.property
@given(strains)
def test_cloth_only_pulls(strain):
    stress, tangent, state, energy = law(strain)
    scale = np.abs(STIFF).max() * 0.03
    assert np.linalg.eigvalsh([[stress[0], stress[2]], [stress[2], stress[1]]]).min() >= -1e-9 * scale
    assert np.linalg.eigvalsh(tangent).min() >= -1e-6 * STIFF.max()
    assert -1e-12 <= energy <= full(strain) + 1e-9
    if state == SLACK:
        assert not stress.any()
    if state == TAUT:
        assert energy == pytest.approx(full(strain))


@pytest.mark.property
@given(strains, strains, st.floats(0.05, 0.95))
def test_energy_is_convex(one, two, share):
    one, two = np.array(one), np.array(two)
    between = law(share * one + (1 - share) * two)[3]
    assert between <= share * law(one)[3] + (1 - share) * law(two)[3] + 1e-9


@pytest.mark.property
@given(strains)
def test_stress_is_the_slope_of_the_energy(strain):
    stress, _, _, _ = law(strain)
    for k in range(3):
        step = np.zeros(3)
        step[k] = 1e-7
        slope = (law(strain + step)[3] - law(strain - step)[3]) / 2e-7
        assert slope == pytest.approx(stress[k], abs=0.05)


@pytest.mark.analytic
def test_one_way_tension_of_uncrimped_cloth_is_the_strip_s():
    give = np.linalg.inv([[STIFF[0], STIFF[2]], [STIFF[2], STIFF[1]]])
    stress, _, _, _ = law((0.01, -0.02, 0.0))
    assert stress[0] == pytest.approx(0.01 / give[0, 0])
    assert stress[1] == pytest.approx(0.0, abs=1e-6)


@pytest.mark.analytic
def test_stiffness_is_the_slope_of_the_forces():
    random = np.random.default_rng(3)
    vertices, faces, held = disc(12)
    vertices = vertices + 0.05 * random.normal(size=vertices.shape)
    membrane = sheet(vertices, faces, held, stiffness=1e5, nu=0.3, prestress=(50, 20, 5))
    loads = Loads(pressure=100 * random.normal(size=len(faces)), water_level=np.full(len(vertices), 0.03))
    places = vertices + 0.01 * random.normal(size=vertices.shape)
    found = tangent_stiffness(membrane, places, loads=loads).toarray()
    ready, step = Assembly(membrane), 1e-6
    slope = np.zeros_like(found)
    for k in range(len(found)):
        move = np.zeros(places.size)
        move[k] = step
        ahead, behind = (
            ready.forces(places + sign * move.reshape(-1, 3), loads, stiffness=False).residual for sign in (1, -1)
        )
        slope[:, k] = -(ahead - behind).ravel() / (2 * step)
    assert np.abs((slope + slope.T) / 2 - found).max() < 1e-6 * np.abs(found).max()


@pytest.mark.property
@settings(deadline=None, max_examples=40)
@given(st.integers(5, 40), st.floats(0.3, 1.0), st.floats(0.05, 0.4), st.integers(0, 10**6))
def test_mesh_fills_its_outline(count, flatness, spacing, seed):
    random = np.random.default_rng(seed)
    angle = np.sort(2 * np.pi * (np.arange(count) + 0.6 * random.random(count)) / count)
    radius = 1 + 0.2 * random.random(count)
    outline = np.stack([radius * np.cos(angle), flatness * radius * np.sin(angle)], axis=1)
    mesh = triangulate(outline, spacing=spacing)
    corner = mesh.points[mesh.faces]
    one, two = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
    area = (one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]) / 2
    x, y = outline.T
    whole = 0.5 * float(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)))
    assert area.min() > 0
    assert area.sum() == pytest.approx(whole, rel=1e-9)
    np.testing.assert_array_equal(mesh.points[:count], outline)
    assert set(np.unique(mesh.faces)) == set(range(len(mesh.points)))


@pytest.mark.property
@settings(deadline=None)
@given(st.floats(0.05, 2.0), st.floats(0.2, 3.0), st.floats(0.02, 0.3), st.floats(2e-4, 5e-3))
def test_resampled_line_keeps_its_tolerance_and_turns_round(radius, angle, spacing, tolerance):
    turn = np.linspace(0, angle, 200)
    line = np.stack([radius * np.cos(turn), radius * np.sin(turn), 0 * turn], axis=1)
    points = resample(line, spacing=spacing, tolerance=tolerance)
    steps = np.diff(arc_lengths(points))
    assert steps.max() <= spacing * 1.001
    allowed = np.maximum(tolerance, (spacing / 6) ** 2 / (8 * radius))
    assert locate(points, line)[1].max() <= 1.05 * allowed + 1e-5
    np.testing.assert_allclose(resample(line[::-1], spacing=spacing, tolerance=tolerance)[::-1], points, atol=1e-12)

"""Check a person's body taken as a place against the area and the light of a ball."""

import numpy as np
import pytest
import trimesh

from canvas.geometry.surface import Surface
from canvas.sky.dome import dome_map, light_from, place_tables
from canvas.sky.person import person_place
from tests.hand_built import scene

BALL = trimesh.creation.icosphere(subdivisions=3, radius=0.3)
CREW = Surface(
    name="crew Ada", kind="crew", vertices=BALL.vertices + np.array([0.0, 0.0, 1.0]), faces=BALL.faces, closed=True
)


@pytest.mark.analytic
def test_a_balls_points_lie_on_it_and_its_normals_look_out():
    place = person_place(CREW)
    out = place.points - [0, 0, 1]
    assert np.linalg.norm(out, axis=1) == pytest.approx(0.3, abs=0.005)
    assert np.einsum("nk,nk->n", out, place.normals).min() > 0.28
    assert place.area == pytest.approx(4 * np.pi * 0.09, rel=0.01)
    assert np.abs(place.points.mean(axis=0) - [0, 0, 1]).max() < 0.01


@pytest.mark.analytic
def test_half_a_ball_is_lit_and_it_takes_a_quarter_of_the_light():
    light = light_from(place_tables(dome_map(scene(CREW, places=[person_place(CREW)]))), [[0.3, 0.5, 0.8]])
    assert light.lit[0, 0] == pytest.approx(0.5, abs=0.02)
    assert light.flux[0, 0] == pytest.approx(0.25, abs=0.01)

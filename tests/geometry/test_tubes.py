"""Check tubes: lengths and bends against closed forms, meshes closed, measured points kept."""

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from canvas.design.schema.rig import Tube
from canvas.geometry.tubes import smooth_line, sweep, tube_line

MM = 1e-3


def place(spot):
    return np.array(spot, dtype=float)


def hoop(**keys):
    base = {
        "name": "bow",
        "kind": "hoop",
        "start": ["0 m", "-1 m", "0 m"],
        "end": ["0 m", "1 m", "0 m"],
        "crown": "1 m",
    }
    return Tube.model_validate({**base, **keys})


@pytest.mark.analytic
def test_square_hoop_with_rounded_corners_has_the_length_of_its_straights_and_bends():
    line = tube_line(hoop(corner_radius="200 mm"), at=place)
    # legs 0.8 + 0.8, top 1.6, two quarter bends
    assert line.length == pytest.approx(0.8 * 2 + 1.6 + np.pi * 0.2, abs=1 * MM)
    assert line.line[:, 2].max() == pytest.approx(1.0, abs=0.5 * MM)


@pytest.mark.analytic
def test_rake_leans_the_crown_aft():
    line = tube_line(hoop(rake="30 deg"), at=place)
    top = line.line[np.argmax(line.line[:, 2])]
    assert top[0] == pytest.approx(np.sin(np.radians(30)), abs=0.5 * MM)
    assert top[2] == pytest.approx(np.cos(np.radians(30)), abs=0.5 * MM)


@pytest.mark.behaviour
def test_feet_stand_exactly_on_their_marks():
    line = tube_line(hoop(top_width="1.6 m", camber="80 mm"), at=place)
    assert np.array_equal(line.line[[0, -1]], [[0, -1, 0], [0, 1, 0]])


@pytest.mark.behaviour
def test_bend_that_does_not_fit_is_refused():
    with pytest.raises(ValueError, match="corner radius smaller than 1.200 m"):
        tube_line(hoop(corner_radius="1.2 m"), at=place)
    with pytest.raises(ValueError, match="crown higher than the camber"):
        tube_line(hoop(camber="1.1 m"), at=place)
    with pytest.raises(ValueError, match="Set its ends apart"):
        tube_line(hoop(), at=lambda _: np.zeros(3))


@pytest.mark.analytic
def test_smooth_line_through_points_of_a_circle():
    angle = np.linspace(0, np.pi, 9)
    points = np.c_[np.zeros(9), np.cos(angle), np.sin(angle)]
    line = smooth_line(points)
    assert np.abs(np.linalg.norm(line[:, 1:], axis=1) - 1).max() < 12 * MM  # Akima's own error at 22 deg a step
    for point in points:
        assert np.linalg.norm(line - point, axis=1).min() < 1e-12


@pytest.mark.property
@settings(max_examples=30, deadline=None)
@given(
    rake=st.floats(-50, 50),
    top=st.floats(1.2, 2.4),
    camber=st.floats(0, 0.2),
    radius=st.floats(0.08, 0.3),
    dy=st.floats(-0.1, 0.1),
)
def test_every_hoop_is_a_closed_bar_of_its_own_volume(rake, top, camber, radius, dy):
    tube = hoop(
        end=["0.05 m", f"{1 + dy} m", "0.03 m"],
        rake=f"{rake} deg",
        top_width=f"{top} m",
        camber=f"{camber} m",
        corner_radius=f"{radius} m",
    )
    line = tube_line(tube, at=place)
    bar = sweep(line.line, name="bow", diameter=0.025)
    mesh = trimesh.Trimesh(bar.vertices, bar.faces, process=False)
    assert mesh.is_watertight
    assert mesh.volume == pytest.approx(line.length * np.pi * 0.0125**2, rel=0.01)

"""Sails eased by the wind angle: on the lee side, about their luffs, booms with them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from canvas import verbs
from canvas.wind.trim import boom_angle, eased

EXAMPLE = Path(__file__).parents[2] / "examples" / "marrowgrass.toml"


@pytest.fixture(scope="module")
def scene():
    return verbs.rigging_of(EXAMPLE).rig("wet watch").scene


def out(scene, name):
    """Return how far the aft end of a sail or boom stands off the middle line, positive to starboard [deg]."""
    vertices = next(s.vertices for s in scene.surfaces if s.name == name)
    far, near = vertices[np.argmax(vertices[:, 0])], vertices[np.argmin(vertices[:, 0])]
    return np.degrees(np.arctan2(far[1] - near[1], far[0] - near[0]))


@pytest.mark.behaviour
def test_close_hauled_stands_as_the_design_sheets_it(scene):
    now = eased(scene, np.radians(-32.0))
    assert out(now, "mainsail") == pytest.approx(out(scene, "mainsail"), abs=0.1)
    assert out(eased(scene, np.radians(32.0)), "mainsail") == pytest.approx(-out(scene, "mainsail"), abs=0.1)


@pytest.mark.behaviour
@pytest.mark.parametrize(("awa", "least"), [(90, 35), (-90, 35), (150, 60), (180, 65)])
def test_reaches_and_runs_ease_boom_and_mainsail_to_leeward(scene, awa, least):
    now = eased(scene, np.radians(awa))
    side = -1 if awa > 0 else 1
    assert side * out(now, "boom") > least
    assert side * out(now, "mainsail") > least


@pytest.mark.analytic
def test_sails_keep_their_shape(scene):
    now = eased(scene, np.radians(120.0))
    for name in ("mainsail", "genoa"):
        first, last = (next(s for s in one.surfaces if s.name == name) for one in (scene, now))
        sides = [np.sort(np.linalg.norm(s.vertices[s.faces] - s.vertices[s.faces[:, [1, 2, 0]]], axis=2).ravel())
                 for s in (first, last)]  # fmt: skip
        assert sides[0] == pytest.approx(sides[1], abs=1e-6)


@pytest.mark.behaviour
def test_nothing_moves_ahead_of_20_deg_or_without_sails(scene):
    assert eased(scene, np.radians(15.0)) is scene
    bare = replace(scene, surfaces=tuple(s for s in scene.surfaces if s.kind != "sail"))
    assert eased(bare, np.radians(90.0)) is bare


@pytest.mark.property
def test_boom_goes_out_as_the_wind_goes_aft():
    angles = [boom_angle(np.radians(a), sheeted=np.radians(6.0)) for a in range(0, 181, 10)]
    assert np.all(np.diff(angles) >= 0)
    assert np.degrees(angles[0]) == pytest.approx(6.0)
    assert np.degrees(angles[-1]) == pytest.approx(80.0)

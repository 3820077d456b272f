"""Check ultraviolet on edges, seams and windows, and the lives that follow from it."""

from pathlib import Path

import numpy as np
import pytest

from canvas.cloth.rigging import Rigging
from canvas.design.reading import read_design
from canvas.geometry.model import build_model
from canvas.geometry.scene import Place
from canvas.materials.sewn_life import LIVES, POINTS, _year, relative_dose, sewn_life
from tests.hand_built import box, scene

EXAMPLE = Path(__file__).parents[2] / "examples" / "marrowgrass.toml"


def line(normal, *, z=1.0):
    """Return a straight seam whose outer face looks along a normal."""
    points = np.c_[np.linspace(-0.4, 0.4, POINTS), np.zeros(POINTS), np.full(POINTS, z)]
    unit = np.array(normal, dtype=float) / np.linalg.norm(normal)
    return Place(name="seam", points=points, normals=np.tile(unit, (POINTS, 1)), area=1.0)


@pytest.fixture(scope="module")
def rigging():
    return Rigging(build_model(read_design(EXAMPLE)))


@pytest.fixture(scope="module")
def lives(rigging):
    return sewn_life(rigging, latitude=np.radians(15.0))


@pytest.mark.analytic
@pytest.mark.parametrize("latitude_deg", [0.0, 15.0, -40.0, 58.0])
def test_a_level_unshaded_seam_gets_what_the_open_deck_gets(latitude_deg):
    middle, low, high = relative_dose(scene(), [line((0, 0, 1))], _year(np.radians(latitude_deg)))
    assert middle[0] == pytest.approx(1.0, abs=0.01)
    assert low[0] <= middle[0] <= high[0]


@pytest.mark.property
def test_shade_takes_ultraviolet_away_and_an_upright_face_gets_less_than_a_level_one():
    sun = _year(np.radians(15.0))
    roof = box("roof", [-3.0, -3.0, 1.4], [3.0, 3.0, 1.45])
    open_, upright = line((0, 0, 1)), line((0, 1, 0))
    free = relative_dose(scene(), [open_, upright], sun)[0]
    under = relative_dose(scene(roof), [open_], sun)[0]
    assert under[0] < 0.1 * free[0]
    assert 0.3 < free[1] < 0.65  # published: at noon an upright face gets less than a quarter, most in mid-morning


@pytest.mark.behaviour
def test_every_edge_and_window_of_the_new_panels_has_a_life_and_no_other(rigging, lives):
    new = [panel for panel in rigging.model.design.panel if not panel.existing]
    edges = {(one.panel, one.name) for one in lives if one.what == "edge"}
    assert edges == {(panel.name, edge.name) for panel in rigging.rig("closed tent").formed.panels
                     for edge in panel.edges if panel.name in {one.name for one in new}} | {
        ("watch tent roof", edge.name) for edge in rigging.rig("wet watch").formed.panel("watch tent roof").edges
    }  # fmt: skip
    windows = [(one.panel, one.name) for one in lives if one.what == "window"]
    assert windows == [(panel.name, insert.name) for panel in new for insert in panel.inserts]


@pytest.mark.analytic
def test_life_is_the_common_one_over_the_dose(lives):
    for one in lives:
        short, usual, long = LIVES[one.ends]
        assert one.life == pytest.approx(usual / one.relative)
        assert one.life_low == pytest.approx(short / one.relative_high)
        assert one.life_high == pytest.approx(long / one.relative_low)
        assert one.life_low < one.life < one.life_high


@pytest.mark.property
def test_thread_lasts_longer_where_the_sun_is_lower(rigging, lives):
    seams = {}
    north = sewn_life(rigging, latitude=np.radians(55.0), seams=seams)
    here = {(one.panel, one.name): one.life for one in lives}
    assert all(one.life > 1.8 * here[one.panel, one.name] for one in north)
    assert not [one for one in north if one.what == "seam"]

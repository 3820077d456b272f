"""Check the line of sight from the blade against plane geometry, and that it turns and mirrors with the boat."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from canvas.geometry.scene import Blade
from canvas.wind.sector import rose_angles, sector
from tests.hand_built import box, scene, sheet

WIDTH, HEIGHT = 0.2, 0.7


def blade(at=(0.0, 0.0, 1.0), *, across=40, up=70):
    """Return a blade of points across the boat and upright, each for the same area."""
    y, z = np.meshgrid((np.arange(across) + 0.5) / across - 0.5, (np.arange(up) + 0.5) / up)
    points = np.asarray(at) + np.c_[np.zeros(y.size), WIDTH * y.ravel(), HEIGHT * z.ravel()]
    return Blade(points=points, foot=np.asarray(at, dtype=float), height=HEIGHT, width=WIDTH)


def wall(*, y0=-5.0, y1=5.0, top=1.4, x=-2.0, name="wall", **through):
    return sheet(name, [[x, y0, -1], [x, y1, -1], [x, y1, top], [x, y0, top]], **through)


@pytest.mark.analytic
@pytest.mark.parametrize("top", [0.9, 1.1, 1.35, 1.7, 2.0])
def test_behind_a_plain_wall_the_share_above_its_top_sees_upwind(top):
    found = sector(scene(wall(top=top, y0=-50, y1=50), blade=blade()), awa=np.radians([0.0, 20.0, -50.0]))
    assert found.clear_share == pytest.approx(np.clip((1.7 - top) / HEIGHT, 0, 1) * np.ones(3), abs=0.5 / 70)


@pytest.mark.analytic
@pytest.mark.parametrize("awa_deg", [-40.0, -15.0, -2.0, 0.0, 1.0, 12.0, 40.0])
def test_past_the_end_of_a_wall_the_share_outside_its_shadow_sees_upwind(awa_deg):
    # wind from starboard carries the shadow of an end at y to y - 2 tan(awa) on the blade, 2 m further aft
    end = -2.0 * np.tan(np.radians(awa_deg))
    found = sector(scene(wall(y0=0.0, y1=50.0, top=9.0), blade=blade()), awa=np.radians([awa_deg]))
    assert found.clear_share[0] == pytest.approx(np.clip((end + WIDTH / 2) / WIDTH, 0, 1), abs=0.5 / 40)


@pytest.mark.analytic
def test_heel_lowers_the_wall_to_leeward():
    # a level wind from starboard meets the boat heeled to port from below her own horizon and passes under the wall
    beam = sheet("wall", [[-5, 2, 1.0], [5, 2, 1.0], [5, 2, 9.0], [-5, 2, 9.0]])
    heel = np.radians(-20.0)
    found = sector(scene(beam, blade=blade()), awa=[np.pi / 2], heel=heel)
    drop = 2.0 * np.tan(np.radians(20.0))
    y = (np.arange(40) + 0.5) / 40 * WIDTH - WIDTH / 2
    expected = np.clip((2.0 - y) * np.tan(np.radians(20.0)) / HEIGHT, 0, 1).mean()
    assert found.clear_share[0] == pytest.approx(expected, abs=1e-2)
    assert drop > HEIGHT
    opposite = sector(scene(beam, blade=blade()), awa=[np.pi / 2], heel=-heel)
    assert opposite.clear_share[0] == 0.0


@pytest.mark.behaviour
def test_each_surface_and_what_it_alone_covers():
    near = wall(y0=-50, y1=0, top=9.0, name="port")
    far = wall(y0=-50, y1=50, top=1.35, x=-3.0, name="low")
    found = sector(scene(near, far, blade=blade()), awa=[0.0])
    assert found.surfaces == ("port", "low")
    assert found.panels == ("port", "low")
    assert found.covers[:, 0] == pytest.approx([0.5, 0.5])
    assert found.covers_alone[:, 0] == pytest.approx([0.25, 0.25])
    assert found.clear_share[0] == pytest.approx(0.25)


@pytest.mark.behaviour
def test_the_vane_itself_is_left_out_and_crew_count():
    vane = box("vane", [-0.2, -0.2, 0.5], [-0.1, 0.2, 2.0], kind="vane")
    crew = box("crew", [-1.2, -0.2, 0.5], [-1.0, 0.2, 2.0], kind="crew")
    assert sector(scene(vane, blade=blade()), awa=[0.0]).clear_share[0] == 1.0
    assert sector(scene(vane, crew, blade=blade()), awa=[0.0]).clear_share[0] == 0.0


@pytest.mark.behaviour
def test_the_rose_goes_round_every_five_degrees_once():
    degrees = np.degrees(rose_angles())
    assert len(degrees) == 72
    assert degrees[-1] == 180.0
    assert degrees[35] == pytest.approx(0.0)
    assert np.allclose(np.diff(degrees), 5.0)


@pytest.mark.property
@settings(max_examples=30, deadline=None)
@given(
    y0=st.floats(-2, 1), width=st.floats(0.1, 2), top=st.floats(0.8, 2), awa=st.floats(-3, 3), heel=st.floats(-0.5, 0.5)
)
def test_mirrored_boat_wind_and_heel_see_the_same(y0, width, top, awa, heel):
    here = sector(scene(wall(y0=y0, y1=y0 + width, top=top), blade=blade()), awa=[awa], heel=heel)
    there = sector(scene(wall(y0=-y0 - width, y1=-y0, top=top), blade=blade()), awa=[-awa], heel=-heel)
    assert there.clear_share == pytest.approx(here.clear_share, abs=0.01)


@pytest.mark.property
@settings(max_examples=30, deadline=None)
@given(top=st.floats(0.8, 2), awa=st.floats(-3, 3), y0=st.floats(-1, 1))
def test_more_cloth_never_clears_the_view(top, awa, y0):
    one, two = wall(top=top), wall(y0=y0, y1=y0 + 0.3, top=2.0, x=-1.0, name="more")
    less, more = sector(scene(one, blade=blade()), awa=[awa]), sector(scene(one, two, blade=blade()), awa=[awa])
    assert np.all(more.clear_share <= less.clear_share)

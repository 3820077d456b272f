"""Check rain on people, the small piece that stops most, and rain led to a tank, against arithmetic."""

import numpy as np
import pytest

from canvas.geometry.scene import Place
from canvas.sky import rain_direct
from canvas.sky.catch import catches
from canvas.sky.directions import direction_grid
from canvas.sky.dome import dome_map, thinned_map, undivided
from canvas.sky.drips import Drips
from canvas.sky.drops import CLASSES as ALL_CLASSES
from canvas.sky.drops import drops
from canvas.sky.rain import PHASES, rain_rose
from canvas.sky.rain_direct import CLASSES, rain_on
from canvas.sky.small_piece import SIZES, small_piece
from tests.hand_built import box, invented_cockpit, scene

SPOT = np.tile([0.0, 0.0, 1.0], (60, 1)) + np.c_[np.linspace(-0.3, 0.3, 60), np.zeros((60, 2))]


def plate(normal):
    unit = np.array(normal, dtype=float) / np.linalg.norm(normal)
    return Place(name="plate", points=SPOT, normals=np.tile(unit, (60, 1)), area=0.7)


@pytest.mark.analytic
def test_water_on_level_and_upright_plates_in_the_open():
    rain = drops(10.0, classes=CLASSES)
    level, front = plate((0, 0, 1)), plate((-1, 0, 0))
    found = rain_on(scene(places=[level, front]), [level, front], aws=8.0, awa=0.0, rate=10.0)
    carried = 10.0 * float(np.sum(rain.share / rain.speed)) * 8.0  # on a wall that faces the wind [l/h a m2]
    assert found.litres[0, 0] == pytest.approx([0.7 * 10.0, 0.7 * carried], rel=1e-6)
    assert found.litres_open[0, 0] == pytest.approx(found.litres[0, 0], rel=1e-6)
    assert found.wetted_share[0, 0] == pytest.approx([1.0, 1.0])


@pytest.mark.behaviour
def test_a_wall_to_windward_keeps_a_person_dry_and_turning_the_wind_wets_them():
    wall = box("wall", [-1.0, -5.0, 0.0], [-0.9, 5.0, 9.0])
    front, back = plate((-1, 0, 0)), plate((1, 0, 0))
    found = rain_on(scene(wall, places=[front, back]), [front, back], aws=10.0, awa=[0.0, np.pi], rate=10.0)
    assert found.wetted_share[0, 0] == pytest.approx([0.0, 0.0])
    assert found.wetted_share[0, 1] == pytest.approx([0.0, 1.0])
    assert found.verdicts()[0, :, 1].tolist() == ["pass", "fail"]


@pytest.mark.analytic
def test_the_small_piece_lies_where_most_comes_in():
    rng = np.random.default_rng(5)
    near = np.c_[np.full(300, 2.0), rng.uniform(0.05, 0.55, 300), rng.uniform(1.0, 1.5, 300)]
    wide = np.c_[np.full(100, 2.0), rng.uniform(-2.0, 0.0, 100), rng.uniform(0.0, 1.0, 100)]
    spot, side = np.vstack([near, wide]), np.full(400, 1)
    piece = small_piece(side=side, spot=spot, amount=np.ones(400))
    inside = ((spot[:, 1:] >= piece.low[1:]) & (spot[:, 1:] <= piece.high[1:])).all(axis=1)
    assert piece.side == 1
    assert piece.share == pytest.approx(inside.mean(), abs=0.01)
    assert piece.share >= 0.70
    assert np.prod(piece.high[1:] - piece.low[1:]) <= max(a * b for a, b in SIZES) + 1e-9
    assert small_piece(side=side, spot=spot, amount=np.zeros(400)) is None


@pytest.mark.behaviour
def test_rain_is_led_downhill_to_water_and_never_to_fuel():
    found = Drips(
        surfaces=("roof",), caught=np.array([30.0]), spot=np.array([[1.0, 0.0, 2.0], [0.0, 0.0, 0.4]]),
        spot_surface=("roof", "roof"), litres=np.array([12.0, 18.0]), pools=np.array([False, False]), onto=(None, None),
    )  # fmt: skip
    (water,) = catches(found, {"water filler": np.array([1.0, 1.0, 0.5]), "fuel filler": np.array([1.0, 1.0, 0.5])})
    assert (water.surface, water.litres) == ("roof", 12.0)  # more runs off the lower spot, but uphill of it
    assert water.hose == pytest.approx(np.hypot(1.0, 1.5))
    (none,) = catches(found, {"deck filler": np.array([0.0, 0.0, 3.0])})
    assert (none.surface, none.litres) == (None, 0.0)


@pytest.mark.analytic
@pytest.mark.parametrize(("heel", "roll"), [(0.0, 0.2), (0.25, 0.0)])
def test_rain_on_places_is_that_of_every_drop_traced_by_itself(monkeypatch, heel, roll):
    monkeypatch.setattr(rain_direct, "CLASSES", ALL_CLASSES)
    monkeypatch.setattr(rain_direct, "MOMENTS", PHASES)
    cockpit = invented_cockpit(points=96)
    wind = {"aws": [5.0, 12.0], "awa": np.radians([-150.0, -60.0, 20.0, 110.0, 180.0]), "heel": heel, "roll": roll}
    traced = rain_on(cockpit, cockpit.places, rate=10.0, **wind)
    rose = rain_rose(dome_map(cockpit), rate=10.0, **wind)
    held = (rose.low <= traced.wetted_share + 1e-9) & (traced.wetted_share <= rose.high + 1e-9)
    assert held.mean() >= 0.95  # what the printed error is set for
    np.testing.assert_allclose(rose.wetted_share, traced.wetted_share, atol=0.03)
    np.testing.assert_allclose(rose.litres, traced.litres, atol=0.03 * rose.litres_open.max())


@pytest.mark.behaviour
def test_a_map_without_its_divided_cells_is_the_one_traced_on_the_undivided_grid():
    cockpit = invented_cockpit(points=16)
    less, plain = undivided(dome_map(cockpit)), dome_map(cockpit, grid=direction_grid())
    assert less.grid is direction_grid()
    for k in range(len(plain.casters)):
        assert np.array_equal(less.met(k), plain.met(k))
    assert undivided(plain) is plain
    wind = {"aws": [5.0], "awa": [2.0], "rate": 10.0}
    one, other = (rain_rose(known, **wind) for known in (dome_map(cockpit), plain))
    assert np.array_equal(one.wetted_share, other.wetted_share)


@pytest.mark.analytic
def test_rain_on_every_second_point_lies_within_its_limits_of_that_on_many_points():
    wind = {"aws": [5.0, 10.0, 15.0], "awa": np.radians(np.arange(-165.0, 181.0, 15.0)), "rate": 10.0, "roll": 0.1}
    many = rain_rose(dome_map(invented_cockpit(points=1120)), **wind).wetted_share
    rose = rain_rose(thinned_map(dome_map(invented_cockpit(points=280))), **wind)
    assert ((rose.low <= many) & (many <= rose.high)).mean() >= 0.95
    np.testing.assert_allclose(rose.wetted_share, many, atol=0.03)

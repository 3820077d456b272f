"""Check bounding pressures against the printed table, limits against arithmetic, and what defaults may promise."""

from pathlib import Path

import numpy as np
import pytest

from canvas.air.wind import KNOT, dynamic_pressure
from canvas.cloth.shape import PanelShape
from canvas.design.reading import parse_design
from canvas.strength.loads import set_loads
from canvas.strength.parts import MOST_UNDECLARED, limit_wind
from canvas.strength.ponding import roof_water
from canvas.strength.pressure import coefficients, gust_pressure
from canvas.verbs import rigging_of

EXAMPLES = Path(__file__).parents[2] / "examples"


def sheet(slope_deg, *, upright=False):
    """Return a square panel of 2 m, sloping aft."""
    side = np.linspace(0, 2, 21)
    x, y = np.meshgrid(side, side, indexing="ij")
    slope = np.radians(slope_deg)
    flat = np.c_[x.ravel() * np.cos(slope), y.ravel(), 2 - x.ravel() * np.sin(slope)]
    if upright:
        flat = np.c_[x.ravel(), np.zeros(x.size), y.ravel()]
    k = np.arange(21 * 21).reshape(21, 21)
    a, b, c, d = k[:-1, :-1].ravel(), k[1:, :-1].ravel(), k[1:, 1:].ravel(), k[:-1, 1:].ravel()
    faces = np.vstack([np.c_[a, b, c], np.c_[a, c, d]])
    return PanelShape(
        name="roof", set_name="s", cloth="acrylic 300", vertices=flat, faces=faces, zone=np.zeros(len(faces)),
        zone_names=("cloth",), edge_vertices=(), edges=(), over=(), touching=(), slits=(), ties=np.zeros(0),
        tie_forces=np.zeros(0), warp=np.tile([1.0, 0, 0], (len(faces), 1)), tension=np.zeros((len(faces), 2)),
        shear=np.zeros(len(faces)),
    )  # fmt: skip


@pytest.mark.published
def test_canopy_coefficients_equal_the_tables_zones(published):
    table = published("strength/canopy_monopitch_en1991")
    for row in table.rows:
        if row["case"] == "min" and row["blockage_phi"] == 1.0:
            continue
        found = coefficients(sheet(row["slope_deg"]), water_z=0.0, shut=False)
        values = found.pushed if row["case"] == "max" else found.sucked
        for zone in "ABC":
            at = np.unique(values[found.zone == zone])
            assert len(at) == 1
            assert abs(at[0] - row[f"cp_net_{zone}"]) <= table.tolerance(f"cp_net_{zone}")


@pytest.mark.behaviour
def test_a_shut_lee_never_lessens_suction_and_a_wall_takes_both_signs():
    for slope in (0, 10, 25):
        panel = sheet(slope)
        open_lee, shut = (coefficients(panel, water_z=0.0, shut=one) for one in (False, True))
        assert (shut.sucked <= open_lee.sucked).all()
    wall = coefficients(sheet(0, upright=True), water_z=0.0, shut=False)
    assert wall.kind == "wall"
    assert np.allclose(wall.pushed, -wall.sucked)


@pytest.mark.analytic
def test_45_kn_is_328_pascals_where_it_blows_and_gusts_come_on_top():
    assert dynamic_pressure(45 * KNOT) == pytest.approx(328.25, abs=0.05)
    gust = gust_pressure(45 * KNOT, height=10.0, instrument_height=10.0)
    assert gust == pytest.approx(328.25 * (1 + 7 / np.log(10 / 0.003)), rel=1e-4)


@pytest.mark.analytic
def test_limit_of_a_load_that_goes_with_the_wind_squared():
    winds = np.array([10.0, 15.0, 20.0])
    loads = 2.0 * winds**2
    for strength in (50.0, 300.0, 5000.0):
        assert limit_wind(winds, loads, strength) == pytest.approx(np.sqrt(strength / 2), rel=1e-9)
    assert limit_wind(winds, np.full(3, 7.0), 100.0) == float("inf")
    assert limit_wind(winds, np.array([7.0, 7.0001, 7.0002]), 100.0) == float("inf")


@pytest.fixture(scope="module")
def marrowgrass():
    return rigging_of(EXAMPLES / "marrowgrass.toml")


@pytest.fixture(scope="module")
def wet_watch(marrowgrass):
    return set_loads(marrowgrass, "wet watch", aws=25 * KNOT)


@pytest.mark.behaviour
def test_no_default_strength_lets_canvas_stay_up_above_30_kn(wet_watch):
    assert not wet_watch.strike.declared
    assert wet_watch.strike_at is not None
    assert wet_watch.strike_at <= MOST_UNDECLARED + 1e-9


@pytest.mark.behaviour
def test_parts_come_weakest_first_and_an_unknown_strength_is_unknown(wet_watch):
    limits = [part.limit_low for part in wet_watch.parts if part.limit_low is not None]
    assert limits == sorted(limits)
    straps = [part for part in wet_watch.parts if part.kind == "strap"]
    assert straps
    assert all(part.strength is None and part.limit_low is None for part in straps)


@pytest.mark.property
def test_more_wind_never_loads_the_cloth_less(marrowgrass, wet_watch):
    harder = {part.name: part for part in set_loads(marrowgrass, "wet watch", aws=40 * KNOT).parts}
    for part in wet_watch.parts:
        if part.kind == "cloth":
            assert harder[part.name].load >= 0.98 * part.load


@pytest.mark.behaviour
def test_a_strength_declared_in_the_design_is_taken_as_it_is():
    text = (EXAMPLES / "marrowgrass.toml").read_text()
    old = '{ at = "tent_aft_port", kind = '
    assert old in text
    source = parse_design(
        text.replace(old, '{ strength = "900 N", at = "tent_aft_port", kind = '), file="boat.toml", folder=EXAMPLES
    )
    parts = set_loads(rigging_of(source), "wet watch", aws=25 * KNOT).parts
    tie = next(part for part in parts if part.kind == "tie" and "tent_aft_port" in part.name)
    assert tie.strength.declared
    assert tie.strength.low == tie.strength.high == 900.0


@pytest.mark.behaviour
def test_nothing_up_carries_nothing(marrowgrass):
    bare = set_loads(marrowgrass, "bare", aws=25 * KNOT)
    assert bare.parts == ()
    assert bare.strike_at is None


@pytest.mark.behaviour
def test_every_roof_says_how_soft_it_is_and_what_it_would_hold(marrowgrass):
    found = roof_water(marrowgrass, "wet watch")
    assert {"spray hood", "bimini", "watch tent roof"} == {one.panel for one in found}
    for one in found:
        assert one.factor is None or one.factor > 0
        assert [each.lying for each in one.standing][:3] == ["at rest", "heeled to port", "heeled to starboard"]
        assert all(each.volume is None or each.volume >= 0 for each in one.standing)
        assert 0 <= one.flat_share <= 1

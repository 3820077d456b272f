"""Check roofs that pool, what drains them, a sea in the cockpit, weak links by length, and the flow's pressures."""

import numpy as np
import pytest

from canvas.air.wind import KNOT
from canvas.strength.loads import bounding, set_loads
from canvas.strength.ponding import LEAST_POOL, TRIM, TURNS, roof_water, wettest
from canvas.strength.pooped import pooped
from canvas.strength.pressure import coefficients, gust_pressure, with_flow
from canvas.verbs import rigging_of
from canvas.wind.flow.pressures import kept_pressures
from canvas.wind.flow.runner import Conditions, Runner
from tests.fit.box_boat import ROOF, boxes, roofed
from tests.strength.test_loads import sheet
from tests.whole.boats import EXAMPLES
from tests.wind.flow_cases import small_scene


@pytest.fixture(scope="module")
def marrowgrass():
    return rigging_of(EXAMPLES / "marrowgrass.toml")


@pytest.fixture(scope="module")
def flat():
    """Return the water on a flat level roof of 2.0 by 2.2 m, held all round, set up no harder than by default."""
    (one,) = roof_water(roofed(), "up")
    return one


@pytest.mark.behaviour
def test_a_flat_soft_roof_is_unstable_and_fills_with_kilos_of_water(flat):
    assert flat.flat_share == pytest.approx(1.0)
    assert flat.least_slope < np.radians(0.1)
    assert flat.stable is False
    assert flat.factor < 1.0
    assert flat.at_rest.volume > 0.02  # 20 litres
    assert flat.at_rest.mass == pytest.approx(1000 * flat.at_rest.volume)
    assert flat.at_rest.where[:2] == pytest.approx([1.2, 0.0], abs=0.5)
    assert wettest([flat]) is flat


@pytest.mark.behaviour
def test_the_smallest_lowering_that_drains_a_roof_drains_it(flat):
    assert flat.drain is not None
    fall = flat.drain.by + 1e-3
    low, high = (0.20, ROOF), (2.20, ROOF - fall)
    lowered = boxes(a=low, c=high) if flat.drain.side == "aft" else boxes(a=(0.20, ROOF - fall), c=(2.20, ROOF))
    if flat.drain.side in ("aft", "forward"):
        (after,) = roof_water(lowered, "up")
        assert after.at_rest.volume <= LEAST_POOL
    turns = flat.drain.by / np.tan(TURNS)
    assert np.isclose(turns, 2.0).any() or np.isclose(turns, 2.2).any()  # one of the turns tried, about the other side


@pytest.mark.behaviour
def test_roofs_are_asked_level_heeled_both_ways_and_by_bow_and_stern(flat, marrowgrass):
    said = [(one.lying, one.trim) for one in flat.standing]
    assert said == [
        ("at rest", 0.0), ("heeled to port", 0.0), ("heeled to starboard", 0.0), ("by the bow", -TRIM),
        ("by the stern", TRIM),
    ]  # fmt: skip
    heeled = {one.lying: one for one in flat.standing}
    assert heeled["heeled to starboard"].heel == -heeled["heeled to port"].heel > 0
    for one in (heeled["heeled to port"], heeled["heeled to starboard"]):
        assert one.volume < flat.at_rest.volume
    if heeled["heeled to starboard"].where is not None:
        assert heeled["heeled to starboard"].where[1] > 0  # runs to the low side
    at_anchor = roof_water(roofed(), "harbour")[0]
    assert [one.lying for one in at_anchor.standing] == ["at rest", "by the bow", "by the stern"]
    steep = next(one for one in roof_water(marrowgrass, "wet watch") if one.panel == "watch tent roof")
    assert steep.stable is True
    assert steep.factor is None  # nothing flat enough for water to begin to stand
    assert steep.worst.volume == 0.0


@pytest.mark.analytic
def test_a_sea_in_the_cockpit_runs_out_over_the_lowest_side_left_open(marrowgrass):
    open_, closed = pooped(marrowgrass, "wet watch"), pooped(marrowgrass, "closed tent")
    assert open_.shut == ()
    assert open_.leaves_by == open_.bare_leaves_by == "aft"
    assert open_.volume == open_.bare_volume
    assert dict(closed.shut) == {"port": "tent side port", "starboard": "tent side starboard", "aft": "tent back"}
    assert closed.leaves_by is None
    rim, length, sole = 0.60, 2.30, 0.76
    seats = (0.94 - 0.38) * 1.12 * (rim - 0.42) + (0.96 - 0.38) * 1.12 * (rim - 0.435)
    helm = sole * 0.36 * 0.45
    assert open_.volume == pytest.approx(sole * length * rim + seats - helm)


@pytest.mark.analytic
def test_loose_cloth_reaches_its_own_length_from_the_edge_it_stays_by(marrowgrass):
    found = {one.panel: one for one in set_loads(marrowgrass, "wet watch", aws=25 * KNOT).weak_links}
    tent = found["watch tent roof"]
    shape = marrowgrass.rig("wet watch").formed.panel("watch tent roof")
    line = shape.vertices[shape.edge_vertices[0]]
    by_hand = max(np.linalg.norm(line - spot, axis=1).min() for spot in shape.vertices) + 0.40  # the ties
    assert tent.stays_by == "forward"
    assert tent.reach == pytest.approx(by_hand, abs=0.02)
    foot = np.array(marrowgrass.model.design.vane.foot)
    assert tent.to_vane < np.linalg.norm(line - foot, axis=1).min()
    assert tent.reach < tent.to_vane
    assert tent.reach < tent.to_water
    assert tent.verdict == "pass"
    assert 0 < tent.breaks_low < tent.breaks_high
    assert "webbing and buckle" in tent.part
    assert "bow, bending" in tent.hoop


@pytest.mark.behaviour
def test_cloth_that_would_reach_the_blade_or_the_water_fails(marrowgrass):
    found = {one.panel: one for one in set_loads(marrowgrass, "closed tent", aws=25 * KNOT).weak_links}
    back = found["tent back"]
    assert back.verdict == "fail"
    assert back.reach >= min(back.to_vane, back.to_water)
    assert "too" in back.why
    assert "spray hood" not in found  # aboard already


@pytest.mark.analytic
def test_the_larger_of_table_and_flow_is_taken_and_said():
    plain = coefficients(sheet(10.0), water_z=0.0, shut=False)
    high = {"aws": 12.0, "instrument_height": 12.0}
    mean = np.average(plain.pushed, weights=plain.area)
    at_blade, here = (gust_pressure(12.0, height=h, instrument_height=12.0) for h in (3.0, plain.height))
    weak = with_flow(plain, along_normal=np.array([-0.2 * mean, 0.1]), height=3.0)
    strong = with_flow(plain, along_normal=np.array([-2.0 * mean, 0.1]), height=3.0)
    assert weak.ground("pushed in", instrument_height=12.0) == "table"
    assert strong.ground("pushed in", instrument_height=12.0) == "flow"
    assert strong.ground("sucked out", instrument_height=12.0) == "table"
    assert np.array_equal(weak.pressure("pushed in", **high), plain.pressure("pushed in", **high))
    raised = strong.pressure("pushed in", **high)
    assert np.average(raised, weights=plain.area) == pytest.approx(2.0 * mean * at_blade)
    assert raised / (plain.pushed * here) == pytest.approx(np.full(len(raised), 2.0 * at_blade / here))


@pytest.mark.behaviour
def test_pressures_of_a_flow_run_are_kept_and_found_again(tmp_path):
    bare, screen = small_scene(), small_scene(screen=True, name="screen")
    wind = Conditions(aws=8.0, instrument_height=12.0)
    runner = Runner([bare, screen], wind, folder=tmp_path, settle=0.04, average=0.03, device="cpu")
    for awa in (0.0, 0.5, 0.0):
        runner.felt(screen, awa, 0.3)
    runner.felt(bare, 0.0, 0.3)
    kept = kept_pressures(screen, folder=tmp_path)
    assert kept.panels == ("screen",)
    assert sorted(kept.awa) == [0.0, 0.5]
    assert kept.coefficient.shape == (2, 1)
    assert np.abs(kept.coefficient[0]).max() > 0.1
    assert kept_pressures(bare, folder=tmp_path) is None


@pytest.mark.behaviour
def test_flow_pressures_load_the_parts_and_the_table_is_kept_where_it_is_larger(marrowgrass):
    plain = {one.name: one.load for one in set_loads(marrowgrass, "blow coming", aws=25 * KNOT).parts}
    weak = set_loads(marrowgrass, "blow coming", aws=25 * KNOT, flow={"spray hood": np.array([0.1, -0.1])})
    assert {one.name: one.load for one in weak.parts} == plain
    strong = set_loads(marrowgrass, "blow coming", aws=25 * KNOT, flow={"spray hood": np.array([6.0, -6.0])})
    (bound,) = bounding(marrowgrass, "blow coming", flow={"spray hood": np.array([6.0, -6.0])})
    assert bound.ground("sucked out", instrument_height=marrowgrass.model.instrument_height) == "flow"
    cloth = "spray hood, warp"
    assert {one.name: one.load for one in strong.parts}[cloth] > 1.2 * plain[cloth]

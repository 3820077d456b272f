"""What the blade feels: ratios, turns, bands and verdicts from series that are known."""

from __future__ import annotations

import numpy as np
import pytest

from canvas.design.schema.boat import Vane
from canvas.wind.blade import (
    BladeWind,
    Estimate,
    compare,
    course_turn,
    felt,
    gain_of,
    half_width,
    rule_of,
    steering,
    wrapped,
)


def series(speed, angle, *, swing=0.0, pulse=0.0, free=0.0, n=2000):
    """Return a blade in wind of `speed` from `angle`, swinging and pulsing as sines; free wind 1 from `free`."""
    time = np.linspace(0.0, 28.0, n)
    now = np.radians(angle) + np.radians(swing) * np.sqrt(2) * np.sin(2.1 * time)
    fast = speed * (1.0 + pulse * np.sqrt(2) * np.sin(3.3 * time))
    velocity = np.stack([fast * np.cos(now), -fast * np.sin(now), 0 * now], axis=1)[:, None, :]
    undisturbed = np.array([[np.cos(np.radians(free)), -np.sin(np.radians(free)), 0.0]])
    return felt(time=time, velocity=velocity, free=undisturbed)


def wind(ratio, *, force=None, reverses=False, wander=0.0, gain=None, half=0.05, turn=0.0):
    force = ratio**2 if force is None else force
    return BladeWind(
        where="clear", speed_ratio=Estimate.about(ratio, half), speed_ratio_free=Estimate.about(ratio, half),
        force_ratio=Estimate(value=force, low=0.9 * force, high=1.1 * force), turn=turn, turn_free=turn,
        gain=gain, unsteadiness=0.0, wander=wander, memory=1.0, reverses=reverses,
    )  # fmt: skip


@pytest.mark.analytic
def test_speed_direction_wander_and_unsteadiness_of_a_known_series():
    blade = series(0.8, 12.0, swing=5.0, pulse=0.1)
    assert blade.speed.mean() == pytest.approx(0.8, rel=0.01)
    assert np.degrees(blade.direction) == pytest.approx(12.0, abs=0.3)
    assert np.degrees(blade.wander) == pytest.approx(5.0, rel=0.05)
    assert blade.unsteadiness == pytest.approx(0.1, rel=0.05)


@pytest.mark.analytic
def test_wind_from_starboard_turns_positive():
    ahead = felt(time=np.arange(20.0), velocity=np.tile([1.0, 0.0, 0.0], (20, 1, 1)), free=np.array([[1.0, 0, 0]]))
    from_starboard = felt(
        time=np.arange(20.0), velocity=np.tile([1.0, -0.2, 0.0], (20, 1, 1)), free=np.array([[1.0, 0, 0]])
    )
    assert ahead.direction == pytest.approx(0.0)
    assert from_starboard.direction == pytest.approx(np.arctan(0.2))


@pytest.mark.analytic
def test_force_ratio_is_of_mean_squares():
    bare, canvas = series(1.0, 0.0), series(0.5, 0.0, pulse=0.2)
    got = compare(canvas, bare, cell=0.04)
    assert got.speed_ratio.value == pytest.approx(0.5, rel=0.01)
    assert got.force_ratio.value == pytest.approx(0.25 * 1.04, rel=0.01)
    assert got.where == "wake"
    assert got.speed_ratio.high - got.speed_ratio.value >= half_width("wake", 0.04)


@pytest.mark.analytic
def test_bare_against_itself_is_exactly_one():
    bare = series(0.9, 10.0, swing=4.0, pulse=0.05)
    got = compare(bare, bare, cell=0.04, same=True)
    assert got.speed_ratio == Estimate(value=1.0, low=1.0, high=1.0)
    assert got.force_ratio.value == 1.0


@pytest.mark.analytic
def test_gain_of_a_blade_that_turns_half_as_far():
    def at(blade, free):
        velocity = np.tile([np.cos(blade), -np.sin(blade), 0.0], (10, 1, 1))
        return felt(time=np.arange(10.0), velocity=velocity, free=np.array([[np.cos(free), -np.sin(free), 0.0]]))

    side = np.radians(5.0)
    assert gain_of(at(-side / 2, -side), at(side / 2, side)) == pytest.approx(0.5)


@pytest.mark.analytic
def test_lowest_wind_goes_with_the_root_of_force():
    free = wind(1.0, force=1.0, half=0.0)
    got = steering(wind(0.5, force=0.25), reference=free, steers_from=4.0, must_steer_from=12.0)
    assert got.lowest.value == pytest.approx(8.0)
    assert got.verdict == "pass"


@pytest.mark.behaviour
@pytest.mark.parametrize(
    ("canvas", "must", "verdict"),
    [
        (wind(0.9), 8.0, "pass"),
        (wind(0.2), 8.0, "fail"),
        (wind(0.5), 8.0, "close"),
        (wind(0.9, half=0.3), 8.0, "unknown"),
        (wind(0.9, reverses=True), 8.0, "fail"),
        (wind(0.9, wander=np.radians(31.0)), 8.0, "fail"),
        (wind(0.9, gain=0.29), 8.0, "fail"),
    ],
)
def test_verdicts(canvas, must, verdict):
    got = steering(canvas, reference=wind(1.0), steers_from=4.0, must_steer_from=must)
    assert got.verdict == verdict
    if not canvas.follows():
        assert got.lowest is None


@pytest.mark.behaviour
def test_need_defaults_to_1_3_times_what_it_steers_in():
    known = {
        "kind": "trim tab", "foot": ["0 m", "0 m", "0 m"], "height": "1 m", "width": "0.3 m", "axis": "upright",
        "steers_from": "4 m/s",
    }  # fmt: skip
    assert Vane(**known).needed_from == pytest.approx(5.2)
    assert Vane(**known, must_steer_from="6 m/s").needed_from == pytest.approx(6.0)


@pytest.mark.property
def test_wrapping_keeps_the_angle():
    angles = np.linspace(-20, 20, 400)
    got = wrapped(angles)
    assert (got >= -np.pi).all()
    assert (got < np.pi).all()
    assert np.allclose(np.exp(1j * got), np.exp(1j * angles))


@pytest.mark.behaviour
@pytest.mark.parametrize(("axis", "verdict"), [("tilted", "pass"), ("upright", "fail")])
def test_upright_vane_needs_more_of_the_turn_and_stands_less_wander(axis, verdict):
    for flow in (wind(0.9, gain=0.4), wind(0.9, wander=np.radians(25.0))):
        got = steering(flow, reference=wind(1.0), steers_from=4.0, must_steer_from=8.0, rule=rule_of(axis))
        assert got.verdict == verdict


@pytest.mark.analytic
@pytest.mark.parametrize(
    ("awa", "turn", "gybes"),
    [
        (32, 20, None), (120, 28, None), (150, 20, None), (150, 26, "striking"), (150, -26, "setting"),
        (-150, 26, "setting"), (165, -11, "setting"), (180, 6, "setting"), (180, -6, "setting"), (180, 3, None),
    ],
)  # fmt: skip
def test_setting_canvas_turns_the_course_and_may_gybe(awa, turn, gybes):
    got = course_turn(wind(0.9, turn=np.radians(turn)), awa=np.radians(awa))
    assert np.degrees(got.setting) == pytest.approx(turn)
    assert got.gybes == gybes

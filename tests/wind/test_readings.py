"""Readings taken aboard: agreement within bands, and the rule by which they move the flow's band."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from canvas.design.schema.voyage import MeterReading, RibbonReading
from canvas.wind.blade import Estimate
from canvas.wind.readings import PROTOCOL, measured, moved, near, taken_in
from tests.wind.test_blade import wind

ANGLE = np.radians(20.0)


def meters(*pairs, name="tent", awa=ANGLE):
    return [
        MeterReading.model_construct(kind="meter", set=name, awa=awa, at_blade=a, clear=b, start=None) for a, b in pairs
    ]


def ribbons(*turns, sd=5.0):
    return [
        RibbonReading.model_construct(kind="ribbon", set="tent", awa=ANGLE, turn=np.radians(t), sd=np.radians(sd))
        for t in turns
    ]


@pytest.mark.analytic
def test_scatter_of_pairs_is_their_error():
    (one,) = measured(meters((5.0, 10.0), (6.0, 10.0), (5.5, 10.0)))
    assert one.count == 3
    assert one.value.value == pytest.approx(0.55)
    assert one.half == pytest.approx(4.3027 * 0.05 / np.sqrt(3), rel=1e-4)  # Student's t, two degrees of freedom


@pytest.mark.property
def test_one_pair_never_narrows_and_two_may():
    flow = Estimate.about(0.5, 0.15)
    (single,), (double,) = measured(meters((5.0, 10.0))), measured(meters((5.0, 10.0), (5.02, 10.0)))
    assert taken_in(flow, single) == (flow, "agrees")
    after, word = taken_in(flow, double)
    assert word == "agrees"
    assert after.high - after.low < flow.high - flow.low


@pytest.mark.property
def test_pairs_that_scatter_more_move_less():
    flow = Estimate.about(0.5, 0.10)
    (close,), (wide,) = (measured(meters((5.6 - s, 10.0), (5.6 + s, 10.0), (5.6, 10.0))) for s in (0.05, 0.5))
    assert taken_in(flow, wide)[0].value < taken_in(flow, close)[0].value


@pytest.mark.behaviour
def test_readings_that_contradict_widen_the_band_to_hold_both():
    flow = Estimate.about(0.9, 0.06)
    (one,) = measured(meters((4.0, 10.0), (4.1, 10.0)))
    after, word = taken_in(flow, one, least=0.0)
    assert word == "disagrees"
    assert after.low <= one.value.low
    assert after.high >= flow.high


@pytest.mark.behaviour
def test_counts_within_15_deg_of_its_own_angle():
    (one,) = measured(meters((5.0, 10.0)))
    assert near(one, ANGLE + np.radians(15.0))
    assert not near(one, ANGLE + np.radians(15.1))
    (port,) = measured(meters((5.0, 10.0), awa=np.radians(-175.0)))
    assert near(port, np.pi)


@pytest.mark.behaviour
def test_meter_moves_the_ratios_and_ribbon_the_turn():
    flow = replace(wind(0.6, half=0.15), turn=0.0, turn_free=0.0)
    pairs = measured([*meters((7.0, 10.0), (7.05, 10.0), (6.95, 10.0)), *ribbons(6.0, 7.0, 8.0)])
    after, said = moved(flow, pairs, bare=False)
    assert 0.6 < after.speed_ratio.value < 0.7
    assert after.force_ratio.value == pytest.approx(0.36 * (after.speed_ratio.value / 0.6) ** 2)
    assert after.speed_ratio.high - after.speed_ratio.low < 0.3
    assert 0 < np.degrees(after.turn) < 7
    assert [one.says for one in said] == ["agrees", "agrees"]


@pytest.mark.behaviour
def test_ratio_of_the_bare_boat_to_itself_stays_one():
    bare = wind(1.0, half=0.1)
    after, _ = moved(bare, measured(meters((9.5, 10.0), (9.6, 10.0), name="bare")), bare=True)
    assert after.speed_ratio == bare.speed_ratio
    assert after.speed_ratio_free != bare.speed_ratio_free


@pytest.mark.behaviour
def test_protocol_asks_for_five_pairs_of_a_minute():
    assert "five pairs" in PROTOCOL
    assert "one minute" in PROTOCOL

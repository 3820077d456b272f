"""Spares follow the life that is spent, and weights aloft the cloth as it hangs."""

import json
from dataclasses import replace

import numpy as np
import pytest

from canvas import verbs
from canvas.cutting.ordered import cut_result
from canvas.design.tables import finishes
from canvas.materials.aloft import weights_aloft
from canvas.materials.quantities import THREAD, take_off
from canvas.materials.spares import spares
from canvas.study.legs import plan_legs
from tests.design.design_texts import example, read
from tests.whole.boats import SMALL, boat


@pytest.fixture(scope="module")
def made():
    rigging = verbs.rigging_of(read(example()))
    cut = cut_result(rigging)
    return rigging, cut, take_off(cut, rigging.model.design)


@pytest.mark.analytic
def test_thread_for_a_life_spent_once_is_all_rows_and_the_longest_again(made):
    _, cut, takes = made
    take = next(one for one in takes if one.set_name == "shade")
    edges = [edge for edge in cut.edges if edge.panel == "bridging piece"]
    rows = [THREAD * finishes()[edge.finish].rows * edge.length for edge in edges]
    one = dict.fromkeys(((edge.panel, edge.name) for edge in edges), 1.0)
    found = {spare.name: spare for spare in spares(take, cut, used=one, years=0.0)}
    inner = [seam.length_a for seam in cut.seams if seam.panel_a == seam.panel_b == "bridging piece"]
    seam = THREAD * finishes()["seam"].rows * max(inner)
    assert found["thread"].worn == pytest.approx(sum(rows))
    assert found["thread"].amount == pytest.approx(sum(rows) + max(*rows, seam))
    tape = sum(edge.length for edge in edges if finishes()[edge.finish].tape == "webbing 25")
    assert found["webbing 25"].worn == pytest.approx(tape)
    half = {spare.name: spare for spare in spares(take, cut, used=dict.fromkeys(one, 0.5), years=0.0)}
    assert half["thread"].worn == pytest.approx(found["thread"].worn / 2)


@pytest.mark.analytic
def test_a_seams_share_counts_for_the_seams_alone(made):
    _, cut, takes = made
    take = next(one for one in takes if one.set_name == "shade")
    seams = [s.length_a for s in cut.seams if s.panel_a == s.panel_b == "bridging piece"]
    assert seams
    (thread, *_) = spares(take, cut, used={("bridging piece", "seam 1"): 0.1}, years=0.0)
    assert thread.worn == pytest.approx(0.1 * THREAD * finishes()["seam"].rows * sum(seams))


@pytest.mark.analytic
def test_sliders_one_of_each_kind_and_one_for_each_year_of_each_zip(made):
    _, cut, takes = made
    take = next(one for one in takes if one.set_name == "shade")  # two zips of two kinds
    for years, count in ((0.0, 1), (0.9, 1), (1.0, 2), (2.5, 3)):
        sliders = [one for one in spares(take, cut, used={}, years=years) if one.name.startswith("zip slider")]
        assert [one.amount for one in sliders] == [count, count]
    alike = replace(take, zips=(take.zips[0],) * 3)
    (slider,) = [one for one in spares(alike, cut, used={}, years=1.0) if one.name.startswith("zip slider")]
    assert slider.name == "zip slider, gauge 10, moulded"
    assert slider.amount == 4


@pytest.mark.analytic
def test_weights_hang_where_the_cloth_does(made):
    rigging, _, takes = made
    for take in takes:
        rig = rigging.rig(take.set_name)
        for weight in weights_aloft(rigging, take):
            spots = rig.formed.panel(weight.name).vertices[:, 2] - rig.scene.water_z
            assert spots.min() < weight.height < spots.max()
            assert weight.moment == pytest.approx(weight.mass * weight.height)
        assert sum(one.mass for one in weights_aloft(rigging, take)) == pytest.approx(take.mass)


@pytest.mark.behaviour
def test_the_order_says_spares_for_the_passage_or_for_a_year(made):
    rigging, cut, _ = made
    record = json.loads(json.dumps(verbs.buy(rigging, result=cut).record()))
    assert record["spares_for"] == "the passage"
    under_way = sum(leg.duration for leg in plan_legs(rigging.model.source))  # [s]
    assert record["spares_for_years"] == pytest.approx(under_way / 3600 / 8766, rel=1e-3)
    small = json.loads(json.dumps(verbs.buy(boat(SMALL)).record()))
    assert small["spares_for"].startswith("a year")
    assert small["spares_for_years"] == 1
    (one,) = [found for found in small["sets"] if found["cloth"]]
    thread = one["spares"][0]
    assert thread["name"] == "thread"
    assert 0.1 * one["thread_m"] < thread["worn"] < one["thread_m"]  # up all year it lasts from one to three years
    assert one["aloft_kg"] == pytest.approx(one["mass_kg"], rel=1e-3)
    assert np.isclose(one["aloft_moment_kgm"], sum(row["moment_kgm"] for row in one["aloft"]), rtol=1e-3)

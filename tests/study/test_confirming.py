"""The flow confirms variants of a search: which it is run for, what it says beside the wake sum, which are best."""

import json
from dataclasses import replace

import numpy as np
import pytest
from jsonschema import Draft202012Validator
from typer.testing import CliRunner

from canvas import verbs
from canvas.cli import app
from canvas.study.confirming import FlowAsked, best_by_flow, flown, flown_first
from canvas.study.measures import Measures
from canvas.study.searching import Aims, Search
from canvas.study.sweeping import Variant
from canvas.wind.flow.runner import Conditions
from tests.design.design_texts import example, read
from tests.whole.test_schemas import faults, schema
from tests.wind.flow_cases import small_scene

WIND = Conditions(aws=8.0, instrument_height=12.0)
BRIEF = {"settle": 0.04, "average": 0.03, "device": "cpu"}  # far too short to be true, enough to see that it is done
HEIGHT = "marks.tent_aft_port[2] & marks.tent_aft_stbd[2] = 1.10 m .. 1.30 m, 2"


def searched(ratios, *, limit=0.9, front=(), varies=1):
    """Return a search whose variants keep some ratios by the wake sum; None cannot be built."""
    blank = Measures(shade_share=0.5, dry_share=0.5, clear_share=1.0, speed_ratio=1.0, cloth_m2=3.0, headroom_m=None)
    variants = tuple(
        Variant(values=(float(k),), measures=(), problem="no shape")
        if ratio is None
        else Variant(
            values=(float(k),), measures=(replace(blank, speed_ratio=ratio, cloth_m2=3.0 - 0.1 * k),), problem=None
        )
        for k, ratio in enumerate(ratios)
    )
    aims = Aims(names=("cloth_m2",), least_speed_ratio=limit, least_headroom=None)
    return Search(varies=("number",) * varies, aims=aims, variants=variants, front=front, effects=(), reran=0)


@pytest.mark.behaviour
def test_the_flow_is_run_for_the_front_a_dozen_and_the_ends_whatever_the_wake_sum_says():
    one = searched([0.1, None, 0.2, 0.3, *[0.9] * 6], front=(9, 8, 7))
    asked = FlowAsked(angles=(0.5,), coarse=0.3, seeds=2, best=2)
    # the front's first two, two of the four that fill the space, and of the three ends all
    assert flown_first(one, start=4, asked=asked) == (9, 8, 0, 2, 4, 5, 6)
    assert flown_first(one, start=4, asked=FlowAsked(angles=(0.5,), coarse=0.3, seeds=0, best=1)) == (9,)


@pytest.mark.behaviour
def test_a_tiny_scene_keeps_its_wind_where_nothing_is_up_and_loses_it_behind_a_screen(tmp_path):
    asked = FlowAsked(angles=(0.0,), coarse=0.3, folder=tmp_path, **BRIEF)
    scenes = {3: small_scene(name="nothing up"), 5: small_scene(screen=True)}
    said = {}
    for limit in (0.5, 2.0):
        found = flown(small_scene(), scenes, WIND, cell=0.3, limit=limit, asked=asked)
        assert [one.variant for one in found] == [3, 5]
        said[limit] = [one.verdict for one in found]
    nothing, screen = found
    assert nothing.flow.value == 1.0
    assert nothing.wake == pytest.approx(1.0)
    assert nothing.agrees
    assert screen.wake < 1.0
    assert screen.agrees == (screen.flow.low <= screen.wake <= screen.flow.high)
    assert said[0.5][0] == "keeps"
    assert said[2.0] == ["breaks", "breaks"]
    again = flown(small_scene(), scenes, WIND, cell=0.3, limit=1.0, asked=asked)  # kept: not run again
    assert [one.flow.value for one in again] == [one.flow.value for one in found]
    assert again[0].verdict == "close"


@pytest.mark.analytic
def test_the_best_by_flow_are_those_that_its_band_does_not_rule_out(tmp_path):
    # by the wake sum all keep the limit; nothing-up, which takes most cloth, keeps 1 exactly by the flow
    asked = FlowAsked(angles=(0.0,), coarse=0.3, folder=tmp_path, **BRIEF)
    found = flown(
        small_scene(), {0: small_scene(), 1: small_scene(screen=True)}, WIND, cell=0.3, limit=0.9, asked=asked
    )
    assert found[0].flow.value == 1.0
    nothing, screen = (one.flow.high for one in found)
    assert found[1].flow.value < 1.0
    known = [found[0], replace(found[1], flow=replace(found[1].flow, high=0.9))]
    assert best_by_flow(searched([1.0, 1.0], limit=0.95), known) == (0,)
    assert best_by_flow(searched([1.0, 1.0], limit=min(nothing, screen) - 0.01), found) == (1,)
    assert best_by_flow(searched([1.0, 1.0], limit=max(nothing, screen) + 0.01), found) == ()


@pytest.mark.behaviour
def test_a_search_is_confirmed_at_the_cell_asked(tmp_path):
    asked = FlowAsked(angles=(), coarse=0.3, fine=0.25, seeds=0, best=1, folder=tmp_path, **BRIEF)
    answer = verbs.search(
        read(example()), vary=[HEIGHT], set_name="wet watch", start=2, rounds=0, aims=("cloth_m2",),
        least_speed_ratio=0.0, flow=asked,
    )  # fmt: skip
    record = json.loads(json.dumps(answer.record(), allow_nan=False))
    assert faults("search", record) == []
    assert Draft202012Validator(schema("search")).is_valid(record)
    coarse, fine = record["sets"][0]["flow"]
    assert (coarse["cell_m"], fine["cell_m"]) == (0.3, 0.25)
    assert coarse["file"] == fine["file"] == "front-01.toml"
    assert coarse["awa_deg"] == pytest.approx(32, abs=0.01)  # the example's close-hauled angle
    assert coarse["verdict"] in ("keeps", "close", "breaks")
    assert np.isfinite([fine["speed_ratio"], fine["speed_ratio_wake"]]).all()


@pytest.mark.behaviour
@pytest.mark.parametrize(
    ("words", "said"),
    [(["--flow-cell", "1 mm"], "--flow-cell"), (["--flow-cell", "20 cm", "--fine-cell", "x"], "--fine-cell"),
     (["--flow-cell", "20 cm", "--awa", "ahead"], "--awa"),
     (["--fine-cell", "4 cm"], '--fine-cell: found "4 cm". Give --flow-cell'),
     (["--awa", "32"], '--awa: found "32". Give --flow-cell')],
)  # fmt: skip
def test_wrong_cells_and_angles_end_with_2(words, said):
    asked = ["search", "examples/marrowgrass.toml", "--vary", HEIGHT, "--set", "wet watch", *words]
    done = CliRunner().invoke(app, asked)
    assert done.exit_code == 2, done.output
    assert said in done.stderr

"""The verb with the air flow: readings beside it, drift, slices, what is saved and said; short runs, coarse cells."""

from __future__ import annotations

import io
import json
from functools import partial
from pathlib import Path

import numpy as np
import pytest

from canvas import verbs
from canvas.brief.page import ReportContents, report_page
from canvas.brief.pictures import pictures
from canvas.brief.verdicts import FLOW
from canvas.design.reading import parse_design
from canvas.verbs import flow as flows
from canvas.verbs.wind import vane_kept
from canvas.wind.cures import cures
from canvas.wind.flow import need as needs
from canvas.wind.flow.run import rose

EXAMPLE = Path(__file__).parents[2] / "examples" / "marrowgrass.toml"
READINGS = """
[[reading]]
kind = "meter"
set = "hood and bimini"
awa = "172 deg"
at_blade = "9.0 kn"
clear = "10.0 kn"

[[reading]]
kind = "meter"
set = "hood and bimini"
awa = "172 deg"
at_blade = "10.2 kn"
clear = "11.0 kn"

[[reading]]
kind = "ribbon"
set = "hood and bimini"
awa = "90 deg"
turn = "12 deg"
"""


def source(*, must="7.5 kn"):
    text = EXAMPLE.read_text(encoding="utf-8").replace('must_steer_from = "7.5 kn"', f'must_steer_from = "{must}"')
    return parse_design(text + READINGS, file="marrowgrass.toml", folder=EXAMPLE.parent)


@pytest.fixture(scope="module")
def answer(tmp_path_factory):
    folder = tmp_path_factory.mktemp("flow")
    short = partial(rose, settle=0.01, average=0.03, device="cpu", folder=folder)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(flows, "rose", short)
        yield verbs.vane(source(), method="flow", sets=["hood and bimini"], awa=[np.pi], cell=0.4)


@pytest.mark.behaviour
def test_record_holds_readings_drift_air_speed_pressures_and_need(answer):
    record = answer.record()
    (one,) = record["sets"]
    assert [row["says"] for row in one["readings"]] in (["agrees", "not run"], ["disagrees", "not run"])
    assert one["readings"][0]["count"] == 2
    assert one["readings"][0]["flow_speed_ratio_free"] is not None
    assert {row["outlet"] for row in one["drift"]} == {"engine exhaust", "cabin heater flue"}
    assert any("carbon monoxide" in caution for caution in one["cautions"])
    assert {row["place"] for row in one["air_speed"]} >= {"port seat", "starboard seat"}
    assert {row["panel"] for row in one["panel_pressure"]} == {"spray hood", "bimini"}
    assert one["memory_gb"] > 0
    assert "five pairs" in record["protocol"]
    assert {course["name"] for course in one["courses"]} == {"run 180"}
    assert all(course["setting_turns_course_deg"] is not None for course in one["courses"])
    assert all(row["force_ratio_low"] < row["force_ratio_high"] for row in one["angles"])
    json.dumps(record, allow_nan=False)


@pytest.mark.behaviour
def test_slices_are_drawn_and_arrays_saved(answer, tmp_path):
    names = [one.name for one in pictures(answer)]
    assert sum("air" in name for name in names) == 1
    for path in answer.save(tmp_path):
        held = np.load(io.BytesIO(path.read_bytes()))
        assert held["streamlines"].shape[2] == 3
        assert np.isfinite(held["panel_pressure"]).all()
    assert len(answer.files) == 1


@pytest.mark.behaviour
def test_a_report_tells_the_flow_of_sets_that_were_solved_before_and_runs_nothing(tmp_path, monkeypatch):
    every, sets = flows.courses, ["hood and bimini", "wet watch"]
    monkeypatch.setattr(flows, "rose", partial(rose, settle=0.01, average=0.03, folder=tmp_path))
    monkeypatch.setattr(flows, "courses", lambda sailing: every(sailing)[:1])
    for name, value in (("COARSE", 0.4), ("FINE", None), ("ROSE_STEP", 180)):
        monkeypatch.setattr(flows, name, value)
    rigging = verbs.rigging_of(source())
    assert vane_kept(rigging, sets=sets) is None
    solved = verbs.vane(rigging, method="flow", sets=sets[:1], device="cpu").record()["sets"]
    monkeypatch.setattr(needs, "free_memory", lambda: 0.0)  # what is not run needs none
    kept = vane_kept(rigging, sets=sets)
    assert [one["angles"] for one in kept.record()["sets"]] == [solved[0]["angles"]]
    assert [one.updates for one in kept.results.values()] == [0]
    sight = verbs.vane(rigging, sets=sets)
    page = report_page(ReportContents(rigging=rigging, answers={"vane": sight, FLOW: kept}))
    assert "Air flow at the vane" in page
    assert "line of sight only" not in page
    without = report_page(ReportContents(rigging=rigging, answers={"vane": sight}))
    assert "Air flow at the vane" not in without
    assert "line of sight only" in without
    monkeypatch.setattr(flows, "COARSE", 0.5)  # another question than was solved
    assert vane_kept(rigging, sets=sets) is None


@pytest.mark.behaviour
def test_readings_show_beside_line_of_sight_too_as_not_run():
    (one,) = verbs.vane(source(), sets=["hood and bimini"], awa=[0.0]).record()["sets"]
    assert [(row["kind"], row["count"], row["says"]) for row in one["readings"]] == [
        ("meter", 2, "not run"),
        ("ribbon", 1, "not run"),
    ]


@pytest.mark.behaviour
def test_cures_are_run_at_the_worst_angle_and_said(tmp_path):
    short = {"settle": 0.01, "average": 0.03, "device": "cpu", "folder": tmp_path}
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(flows, "rose", partial(rose, **short))
        patch.setattr(flows, "cures", partial(cures, **short))
        patch.setattr(flows, "behind", lambda scene: ("solar panel",))
        asked = {"awa": [np.radians(45.0)], "cell": 0.5, "cures": True}
        sets = ["hood and bimini", "shade"]
        sailed, other = verbs.vane(source(must="5.5 kn"), method="flow", sets=sets, **asked).record()["sets"]
    assert sailed["cures"] == []  # it steers with the set it was sailed with
    rows = {row["name"]: row["kind"] for row in other["cures"]}
    assert rows["solar panel"] == "thing"
    assert rows["blade 0.3 m taller"] == rows["blade 0.3 m higher"] == "blade"
    assert rows["bearing away 15 deg"] == "course"
    assert sum(kind == "panel" for kind in rows.values()) >= 2
    assert sum(row["most"] for row in other["cures"]) <= 1

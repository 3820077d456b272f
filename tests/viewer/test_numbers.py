"""Hold what the viewer shows to what the verbs of the command line give."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, time

import numpy as np
import pytest

from canvas import verbs
from canvas.air.attitude import up_in_boat
from canvas.brief.verdicts import questions
from canvas.design.problems import Problem
from canvas.design.units import length_text
from canvas.sky.dome import place_tables
from tests.viewer.conftest import copy_of
from viewer import answers, findings, light
from viewer.boat import Boat
from viewer.shaping import PREVIEW_POINTS

DAY = date(2026, 3, 21)


@pytest.fixture(scope="module", params=["marrowgrass", "oddfellow", "lantern-hill"])
def rigging(request: pytest.FixtureRequest):
    return verbs.rigging_of(f"examples/{request.param}.toml")


@pytest.mark.behaviour
@pytest.mark.parametrize(
    ("hour", "heading", "heel", "swings"), [(9.0, 90, 0, False), (15.5, 210, -12, False), (12.0, 60, 0, True)]
)
def test_dragged_shade_is_that_of_the_verb(rigging, hour, heading, heel, swings):
    name = rigging.model.design.set_names()[1]
    asked = light.Asked(
        latitude=np.radians(-17.5),
        day=DAY,
        hour=hour,
        heading=np.radians(heading),
        heel=np.radians(heel),
        swings=swings,
    )
    shown = light.Follower(rigging.rig(name)).at(asked)
    way = {"wind_from": np.radians(heading)} if swings else {"heading": np.radians(heading)}
    answer = verbs.shade(
        rigging, sets=[name], latitude=np.radians(-17.5), day=DAY, sun_time=time(int(hour), round(60 * (hour % 1))),
        heel=np.radians(heel), **way,
    )  # fmt: skip
    given = [place["shade_share"] for place in answer.record()["sets"][0]["places"]]
    np.testing.assert_allclose(shown.share, given, atol=1e-4)
    assert 0.0 < min(given) < max(given)


@pytest.mark.behaviour
def test_day_is_that_of_the_verb():
    rigging = verbs.rigging_of("examples/marrowgrass.toml")
    asked = light.Asked(latitude=np.radians(10.0), day=DAY, hour=9.0, heading=np.radians(45), heel=0.0)
    tables = place_tables(verbs.maps.known_map(rigging, "shade"), up=up_in_boat(heel=0.0))
    shown = light.day_of(tables, asked)
    answer = verbs.shade(
        rigging, sets=["shade"], first=DAY, last=DAY, latitudes=[np.radians(10.0)], heading=np.radians(45)
    )
    given = {row["name"]: row["shade_share"] for row in answer.record()["sets"][0]["days"][0]["places"]}
    assert given == pytest.approx(dict(zip(shown.names, shown.share, strict=True)), abs=1e-4)


@pytest.mark.behaviour
def test_night_is_all_shade_and_says_so():
    rigging = verbs.rigging_of("examples/marrowgrass.toml")
    asked = light.Asked(latitude=np.radians(10.0), day=DAY, hour=2.0, heading=0.0, heel=0.0)
    lit = light.Follower(rigging.rig("shade")).at(asked)
    assert (lit.share == 1.0).all()
    assert answers.shade_cell(["port seat"], [1.0], sun_up=False).word == "Sun down"


@pytest.mark.behaviour
def test_vane_cell_has_the_words_of_the_verb_and_is_no_pass():
    rigging = verbs.rigging_of("examples/marrowgrass.toml")
    cell = answers.vane_cell(rigging, "closed tent", heel=0.0)
    said = verbs.vane(rigging, sets=["closed tent"]).record()["sets"][0]["sentence"]
    assert cell.note == said.removeprefix("Line of sight: ")
    assert cell.tone == "unknown"
    assert "Not known" in cell.word
    ahead = {row[0]: row[1] for row in cell.rows}["at anchor (0°)"]
    straight = verbs.vane(rigging, sets=["closed tent"], awa=[0.0]).record()["sets"][0]["angles"][0]["clear_share"]
    wake = verbs.vane(rigging, sets=["closed tent"], awa=[0.0], method="wake").record()["sets"][0]["angles"][0]
    assert ahead == f"{100 * straight:.0f} %, {wake['wake_word']}"


@pytest.mark.behaviour
@pytest.mark.parametrize("hour", [8.5, 11.0, 15.25])
def test_preview_by_few_points_agrees_within_the_error_it_says(rigging, hour):
    name = rigging.model.design.set_names()[-1]
    asked = light.Asked(latitude=np.radians(20.0), day=DAY, hour=hour, heading=np.radians(140), heel=0.1)
    few = light.Follower(rigging.rig(name), most=PREVIEW_POINTS)
    quick, whole = few.at(asked), light.Follower(rigging.rig(name)).at(asked)
    assert len(quick.points) <= 500
    np.testing.assert_allclose(quick.share, whole.share, atol=few.error)


@pytest.mark.behaviour
def test_map_after_an_edit_is_the_one_traced_afresh_and_does_not_grow(tmp_path):
    boat = Boat(copy_of("marrowgrass", tmp_path))
    sizes = []
    boat.map_of(boat.rigging, "wet watch")
    for height in (1.25, 1.30):
        assert boat.change(lambda draft, height=height: draft.set_length(("marks", "tent_aft_port", 2), height))
        taken = boat.map_of(boat.rigging, "wet watch")
        sizes.append(len(verbs.maps._MAPS[boat.rigging].stock.casters))
    assert sizes[0] == sizes[1]
    afresh = verbs.maps.known_map(verbs.rigging_of(boat.draft.source()), "wet watch")
    assert [one.name for one in taken.casters] == [one.name for one in afresh.casters]
    for mine, theirs in zip(taken.bits, afresh.bits, strict=True):
        np.testing.assert_array_equal(mine, theirs)


@pytest.mark.behaviour
def test_rain_cell_says_wet_once_with_the_figures_of_the_whole_sentence():
    places = {"port seat": (0.1, 0.3), "starboard seat": (0.4, 0.6), "sole": (1.0, 1.0)}
    rows = [
        {"awa_deg": degrees, "places": [{"name": name, "wetted_share": share[n]} for name, share in places.items()]}
        for n, degrees in enumerate((0, 90))
    ]
    record = {"sets": [{"name": "watch", "angles": rows}]}
    (cell,) = answers.record_cells({"rain": record}, "watch")
    asked = next(one for one in questions({"rain": record}, close_hauled_deg=32.0) if "rain" in one.text)
    assert asked.answers["watch"].note == "mean of all wind angles: port seat 20 % wet, starboard seat 50 % wet"
    assert cell.word == "65 % dry"
    assert cell.note.replace("\u00a0", " ") == "wet, all winds: port seat 20 %, starboard seat 50 %"


@pytest.mark.behaviour
def test_findings_have_lengths_in_the_boats_unit_and_shares_in_per_cent(rigging):
    name, units = rigging.model.design.set_names()[1], rigging.model.design.units
    answer = verbs.fit(rigging, sets=[name])
    found = {one.said: one for one in findings.of_fit(rigging, answer, name)}
    asked = [one for one in answer.results[name] if one.limit is not None and one.value is not None]
    lengths = [one for one in asked if one.unit == "m"]
    shares = [one for one in asked if one.unit == "share"]
    assert lengths
    assert shares
    for check in lengths:
        shown = found[f"{check.name}. {check.note}"]
        assert shown.value == length_text(check.value, units)
        assert shown.limit == f"{check.sense} {length_text(check.limit, units)}"
    for check in shares:
        assert found[f"{check.name}. {check.note}"].value == f"{100 * check.value:.0f} %"
    assert {"ft": "in", "m": "m"}[units] in {found[f"{one.name}. {one.note}"].value.split()[-1] for one in lengths}
    assert not any("share" in one.value + one.limit or "count" in one.value for one in found.values())


@pytest.mark.behaviour
def test_a_complaint_on_the_page_names_line_and_key_but_not_the_file_it_is_open_in():
    problem = Problem(code="c", file="/long/way/boat.toml", line=7, key="vane.height", found='"x"', wanted="Write it.")
    assert findings.problem_said(problem) == 'line 7: vane.height: "x". Write it.'
    assert findings.problem_said(replace(problem, line=None, key="")) == '"x". Write it.'


@pytest.mark.behaviour
def test_answers_side_by_side_each_say_how_they_know_where_that_differs():
    flow = answers.Cell(key="vane", ask="Will the vane steer? (air flow, cells of 12 cm)", word="Yes")
    wake = answers.Cell(key="vane", ask="Will the vane steer? (wake: rough)", word="Not known")
    said = ["Will the vane steer?", "Yes (air flow, cells of 12 cm)", "Not known (wake: rough)"]
    assert answers.side_by_side(flow, wake) == said
    assert answers.side_by_side(wake, wake) == [wake.ask, "Not known", "Not known"]
    assert answers.side_by_side(None, wake) == [wake.ask, "", "Not known"]

"""Cutting the panels of some sets only: those and no others, as they come out when all are cut."""

from __future__ import annotations

import json

import numpy as np
import pytest

from canvas import verbs
from canvas.cutting.changes import changes_since
from canvas.cutting.dxf import read_dxf
from canvas.cutting.ordered import cut_result
from canvas.design.problems import DesignError
from canvas.verbs.asking import rigging_of
from tests.whole.boats import small_text

BOATS = {"marrowgrass": "closed tent", "oddfellow": "harbour", "lantern-hill": "wet watch"}


@pytest.fixture(scope="module", params=BOATS)
def boat(request):
    return rigging_of(f"examples/{request.param}.toml"), BOATS[request.param]


@pytest.mark.property
def test_panels_of_a_set_are_cut_as_among_all(boat, tmp_path):
    rigging, name = boat
    whole, alone = cut_result(rigging), cut_result(rigging, sets=(name,))
    wanted = {part.name: part for part in whole.parts if part.set_name == name}
    assert {part.name for part in alone.parts} == set(wanted) < {part.name for part in whole.parts}
    for part in alone.parts:
        assert np.array_equal(part.cut, wanted[part.name].cut)
        assert np.array_equal(part.finished, wanted[part.name].finished)
        assert [mark.at.tolist() for mark in part.notches] == [mark.at.tolist() for mark in wanted[part.name].notches]
    assert {roll.cloth for roll in alone.rolls} == {part.cloth for part in alone.parts}
    panels = {part.panel for part in alone.parts}
    assert all({seam.panel_a, seam.panel_b} & panels for seam in alone.seams)
    assert all(
        any(f'"{panel}"' in one.key for panel in panels) for one in alone.cautions if one.key.startswith("panel")
    )
    answer = verbs.cut(rigging, sets=[name], out=tmp_path)
    assert {part["name"] for part in answer.record()["sets"][0]["parts"]} == set(wanted)
    assert {part["name"] for part in json.loads((tmp_path / "parts.json").read_text())["parts"]} == set(wanted)
    for path in tmp_path.glob("*.dxf"):
        assert rigging.model.design.name in [one.text for one in read_dxf(path).texts]


@pytest.mark.behaviour
def test_parts_of_other_sets_are_not_gone(boat, tmp_path):
    rigging, name = boat
    verbs.cut(rigging, out=tmp_path)
    told = json.loads((tmp_path / "parts.json").read_text())
    told["parts"].append({**next(p for p in told["parts"] if p["set"] == name), "name": "an old flap"})
    (tmp_path / "parts.json").write_text(json.dumps(told))
    changes = changes_since(cut_result(rigging, sets=(name,)), tmp_path)
    assert {part.what for part in changes.parts} == {"same", "gone"}
    assert [part.name for part in changes.parts if part.what == "gone"] == ["an old flap"]


@pytest.mark.behaviour
def test_a_set_in_which_nothing_is_cut_is_refused_and_told_where_its_panels_are(tmp_path):
    with pytest.raises(DesignError) as caught:
        verbs.cut("examples/lantern-hill.toml", sets=["wet watch, lee side open", "closed in"], out=tmp_path / "cut")
    (problem,) = caught.value.problems
    assert (problem.key, problem.found) == ("--set", '"wet watch, lee side open"')
    assert problem.wanted == 'Its new panels are cut in "wet watch".'
    assert not (tmp_path / "cut").exists()


@pytest.mark.behaviour
@pytest.mark.parametrize("verb", [verbs.cut, verbs.mockup])
def test_a_boat_whose_canvas_is_all_aboard_has_nothing_to_make(verb, tmp_path):
    file = tmp_path / "skua.toml"
    roof = '[[panel]]\nname = "watch tent roof"'
    file.write_text(small_text().replace(roof, roof.replace("\n", "\nexisting = true\n")))
    with pytest.raises(DesignError) as caught:
        verb(file)
    (problem,) = caught.value.problems
    assert (problem.file, problem.found) == (str(file), "no new panel")


@pytest.mark.behaviour
def test_panels_that_are_up_and_cut_in_another_set_are_told():
    asked = {"one": ["wet watch, side up"], "both": ["wet watch, side up", "wet watch"]}
    answers = {which: verbs.cut("examples/oddfellow.toml", sets=sets) for which, sets in asked.items()}
    told = {which: [one for one in answer.problems if one.code == "cut-elsewhere"] for which, answer in answers.items()}
    (note,) = told["one"]
    assert (note.key, note.severity) == ('panel "watch tent roof"', "note")
    assert note.wanted == 'Ask for --set "wet watch" too where it is wanted.'
    assert told["both"] == []

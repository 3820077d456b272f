"""Build a boat's canvas without an editor: add, copy, rename, delete, a panel between two tubes, a boat from a form."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from canvas import verbs
from canvas.design.problems import DesignError
from tests.viewer.conftest import copy_of
from viewer import building, handles, starting
from viewer.boat import Boat
from viewer.building import Asked
from viewer.handles import AXES, UpState, handles_of, part_named

TUBES = ("bimini forward bow", "spray hood aft bow")


def new_boat(folder: Path, *, begin: str) -> Boat:
    path = folder / "try.toml"
    return Boat(path, text=starting.text_of(starting.form_of({}), begin=begin, path=path))


@pytest.fixture
def boat(tmp_path: Path) -> Boat:
    return Boat(copy_of("marrowgrass", tmp_path))


def add(boat: Boat, asked: Asked, *, set_name: str) -> bool:
    return boat.change(lambda draft: building.add(draft, boat.rigging, asked, set_name=set_name))


@pytest.mark.behaviour
@pytest.mark.parametrize("order", [TUBES, TUBES[::-1]])
def test_panel_between_two_tubes_of_a_bare_boat_can_be_cut(tmp_path, order):
    boat = new_boat(tmp_path, begin="frames")
    assert boat.rigging.model.design.set_names() == ("bare",)
    assert add(boat, Asked(kind="panel", name="bridging piece", ends=order), set_name="bare")
    shape = boat.rigging.rig("new canvas").formed.panel("bridging piece")
    hood, bimini = (np.array(boat.rigging.model.tubes[name].line) for name in reversed(TUBES))
    assert shape.vertices[:, 0].min() >= hood[:, 0].min() - 0.05
    assert shape.vertices[:, 0].max() <= bimini[:, 0].max() + 0.05
    parts = verbs.cut(boat.rigging, out=tmp_path / "cut").record()["sets"]
    assert [part["name"] for one in parts for part in one["parts"]] != []


@pytest.mark.behaviour
def test_panel_between_is_zipped_to_canvas_that_ends_there(boat):
    edges = building.between(boat.rigging, *TUBES, set_name="hood and bimini")
    assert (edges[0]["along"], edges[0]["edge"], edges[0]["finish"]) == ("spray hood", "aft", "zip")
    assert (edges[2]["along"], edges[2]["edge"]) == ("bimini", "forward")
    bare = building.between(boat.rigging, *TUBES, set_name="bare")
    assert bare[0]["along"] == "spray hood aft bow"
    with pytest.raises(DesignError):
        building.between(boat.rigging, TUBES[0], TUBES[0], set_name="bare")


@pytest.mark.behaviour
def test_each_kind_is_added_where_it_is_asked(boat):
    comments = boat.draft.text.count("#")
    assert add(boat, Asked(kind="mark", name="new_mark", numbers=(1.0, 0.5, 1.25)), set_name="shade")
    np.testing.assert_allclose(boat.rigging.model.marks.at("new_mark"), [1.0, 0.5, 1.25])
    ends = ("hood_foot_port", "hood_foot_stbd")
    assert add(boat, Asked(kind="hoop", name="middle bow", ends=ends, numbers=(1.4,)), set_name="shade")
    assert boat.rigging.model.tubes["middle bow"].line[:, 2].max() == pytest.approx(0.82 + 1.4, abs=0.03)
    assert add(boat, Asked(kind="box", name="cool box", numbers=(1.2, 0.0, 0.3, 0.4, 0.3, 0.3)), set_name="shade")
    assert add(boat, Asked(kind="plate", name="side panel", numbers=(2.0, 0.9, 1.1, 0.6, 0.4, 0.03)), set_name="shade")
    pole = Asked(kind="cylinder", name="pole", numbers=(3.0, 0.5, 0.2, 3.0, 0.5, 1.8, 0.08))
    assert add(boat, pole, set_name="shade")
    solids = {one.name: one for one in boat.rigging.rig("shade").scene.of_kind("solid")}
    np.testing.assert_allclose(np.ptp(solids["side panel"].vertices, axis=0), [0.6, 0.4, 0.03])
    np.testing.assert_allclose(np.ptp(solids["pole"].vertices, axis=0), [0.08, 0.08, 1.6], atol=0.005)
    key = part_named(boat.rigging, "pole")
    labels = [one.label for one in handles_of(boat.draft, boat.rigging, key)]
    assert labels == [*AXES, *(f"other end: {axis}" for axis in AXES), "diameter"]
    assert not add(boat, Asked(kind="plate", name="pole", numbers=(0, 0, 0, 1, 1, 1)), set_name="shade")
    assert add(boat, Asked(kind="set", name="more shade"), set_name="shade")
    assert boat.rigging.model.design.set_named("more shade").up == boat.rigging.model.design.set_named("shade").up
    corners = ("hood_foot_port", "bimini_foot_port", "bimini_foot_stbd")
    assert add(boat, Asked(kind="panel", name="low sheet", ends=corners), set_name="more shade")
    assert boat.rigging.model.design.panel_named("low sheet").cut_in == "more shade"
    assert boat.draft.text.count("#") == comments


@pytest.mark.behaviour
@pytest.mark.parametrize("asked", [
    Asked(kind="mark", name=""), Asked(kind="mark", name="hood_foot_port", numbers=(0, 0, 0)),
    Asked(kind="panel", name="nothing", ends=("hood_foot_port",)), Asked(kind="rail", name="short", ends=("masthead",)),
])  # fmt: skip
def test_what_cannot_be_added_is_said_and_nothing_changes(boat, asked):
    text = boat.draft.text
    assert not add(boat, asked, set_name="shade")
    assert boat.draft.text == text
    assert boat.problems[0].wanted


@pytest.mark.behaviour
@pytest.mark.parametrize("key", ["marks:hood_foot_port", "tube:0", "solid:0", "panel:0", "set:1"])
def test_part_is_copied_renamed_and_taken_out_again(boat, key):
    rigging, text = boat.rigging, boat.draft.text
    assert boat.change(lambda draft: building.copy(draft, rigging, key, name="the copy"))
    fresh = handles.part_named(boat.rigging, "the copy")
    assert fresh is not None
    assert boat.change(lambda draft: building.rename(draft, fresh, name="another"))
    renamed = handles.part_named(boat.rigging, "another")
    assert renamed is not None
    assert boat.change(lambda draft: building.delete(draft, renamed))
    assert boat.draft.source().design == boat.rigging.model.design
    assert handles.part_named(boat.rigging, "another") is None
    assert len(boat.draft.text.split()) == len(text.split())


@pytest.mark.behaviour
def test_renamed_mark_is_renamed_where_it_is_used(boat):
    assert boat.change(lambda draft: building.rename(draft, "marks:tent_aft_port", name="tent corner"))
    roof = boat.rigging.model.design.panel_named("watch tent roof")
    assert "tent corner" in [edge.to for edge in roof.edges]
    assert "tent corner" in [tie.at for tie in roof.ties]


@pytest.mark.behaviour
def test_mark_in_use_is_not_taken_out(boat):
    assert not boat.change(lambda draft: building.delete(draft, "marks:tent_aft_port"))
    assert "tent_aft_port" in str(boat.problems[0])


@pytest.mark.behaviour
@pytest.mark.parametrize(
    ("key", "said"),
    [
        ("marks:pushpit_top_port", '"pushpit_top_port" is named by tube "pushpit", through[3]'),
        (
            "panel:0",
            '"spray hood" is named by panel "bridging piece", edges[0].along; panel "watch tent roof", edges[0].along',
        ),
    ],
)
def test_what_others_name_stays_and_they_are_said(boat, key, said):
    assert not boat.change(lambda draft: building.delete(draft, key))
    (problem,) = building.hung(boat.draft, key, boat.problems)
    assert (problem.found, problem.wanted) == (said, "Take those out or change them first.")
    assert not boat.change(lambda draft: draft.set_length(("marks", "tent_aft_port", 0), -3.0))
    assert building.hung(boat.draft, key, boat.problems) == boat.problems != ()


@pytest.mark.behaviour
def test_form_takes_answers_and_says_what_it_does_not_believe():
    usual, longer = starting.form_of({}), starting.form_of({"length": "12 m"})
    assert float(longer.answers["beam"]) > float(usual.answers["beam"])
    refused = starting.form_of({"beam": "99"})
    assert refused.wrong
    assert next(row for row in refused.rows if row["key"] == "beam")["wrong"]


@pytest.mark.behaviour
def test_zip_opened_and_tie_lifted_and_mesh_opened(boat):
    put = UpState(up=True, zip_open=0.4)
    assert boat.change(lambda draft: handles.put_up(draft, boat.rigging, "wet watch", "watch tent roof", put))
    ups = {up.panel: up for up in boat.rigging.model.design.panels_up("wet watch")}
    assert ups["watch tent roof"].zip == pytest.approx(0.4)
    key = handles.part_named(boat.rigging, "watch tent roof")
    labels = [one.label for one in handles.handles_of(boat.draft, boat.rigging, key)]
    assert "tent_aft_port: height of the tie" in labels
    number = key.partition(":")[2]
    assert boat.change(lambda draft: draft.set(("panel", int(number), "cloth"), "mesh 70"))
    for label, value in (("openness of the mesh", 45.0), ("what the mesh takes from the wind (loss)", 4.0)):
        found = handles.handles_of(boat.draft, boat.rigging, key)
        handle = next(one for one in found if one.label == label)
        assert boat.change(lambda draft, handle=handle, value=value: handles.put(draft, handle, value))
    surface = next(one for one in boat.rigging.rig("wet watch").scene.surfaces if one.name == "watch tent roof")
    assert surface.light_through == pytest.approx(0.45)
    assert surface.wind_loss == pytest.approx(4.0)

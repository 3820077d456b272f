"""Change a design as the viewer does: build again, undo, save with comments kept, lose nothing."""

from __future__ import annotations

from pathlib import Path

import pytest

from canvas.design.problems import DesignError
from tests.viewer.conftest import copy_of
from viewer import handles
from viewer.boat import Boat
from viewer.handles import UpState


@pytest.fixture
def boat(tmp_path: Path) -> Boat:
    boat = Boat(copy_of("marrowgrass", tmp_path))
    boat.shown = "wet watch"
    return boat


def lift(boat: Boat, label: str, by: float) -> bool:
    key = handles.part_named(boat.rigging, "watch tent roof")
    assert key is not None
    handle = next(one for one in handles.handles_of(boat.draft, boat.rigging, key) if one.label == label)
    return boat.change(lambda draft: handles.put(draft, handle, float(handle.value) + by))


def edge_bow(boat: Boat) -> float | None:
    return boat.rigging.model.design.panel_named("watch tent roof").edges[2].batten_bow


@pytest.mark.behaviour
def test_leech_lifted_moves_both_its_ends_and_the_cloth(boat):
    before = boat.rigging.rig("wet watch").formed.panel("watch tent roof").vertices
    assert lift(boat, "leech: height of both ends", 0.1)
    marks = boat.rigging.model.marks
    assert marks.at("tent_aft_port")[2] == pytest.approx(1.29)
    assert marks.at("tent_aft_stbd")[2] == pytest.approx(1.30)
    after = boat.rigging.rig("wet watch").formed.panel("watch tent roof").vertices
    assert after[:, 2].mean() > before[:, 2].mean() + 0.02


@pytest.mark.behaviour
def test_undo_and_redo_give_back_the_same_text(boat):
    first = boat.draft.text
    lift(boat, "leech: height of both ends", 0.1)
    second = boat.draft.text
    assert boat.undo()
    assert boat.draft.text == first
    assert not boat.can_undo
    assert boat.redo()
    assert boat.draft.text == second
    assert boat.unsaved


@pytest.mark.behaviour
def test_saved_again_with_every_comment(boat):
    comments = [line.partition("#")[2] for line in boat.draft.text.splitlines() if "#" in line]
    lift(boat, "leech: batten bow", 0.02)
    boat.save()
    saved = boat.path.read_text(encoding="utf-8")
    assert [line.partition("#")[2] for line in saved.splitlines() if "#" in line] == comments
    assert edge_bow(Boat(boat.path)) == pytest.approx(0.02)
    assert Boat(boat.path).draft.text == boat.draft.text


@pytest.mark.behaviour
def test_file_changed_outside_is_not_lost(boat):
    theirs = boat.path.read_text(encoding="utf-8").replace('revision = "A"', 'revision = "B"')
    boat.path.write_text(theirs, encoding="utf-8")
    assert boat.changed_outside()
    lift(boat, "leech: batten bow", 0.02)
    with pytest.raises(DesignError):
        boat.save()
    kept = boat.save(over=True)
    assert kept is not None
    assert kept.read_text(encoding="utf-8") == theirs
    assert edge_bow(Boat(boat.path)) == pytest.approx(0.02)


@pytest.mark.behaviour
def test_broken_file_keeps_the_last_good_boat(boat):
    good = boat.rigging
    boat.path.write_text(boat.draft.text.replace('hollow = "5 %"', 'hollow = "banana"'), encoding="utf-8")
    assert not boat.reload()
    assert boat.rigging is good
    assert any(problem.line for problem in boat.problems)


@pytest.mark.behaviour
def test_change_that_cannot_be_built_is_taken_back(boat):
    text = boat.draft.text
    assert not boat.change(lambda draft: draft.set(("panel", 3, "cloth"), "no such cloth"))
    assert boat.draft.text == text
    assert boat.problems[0].line is not None


@pytest.mark.behaviour
def test_panel_taken_down_and_put_up_again(boat):
    def put(up: bool) -> bool:
        return boat.change(
            lambda draft: handles.put_up(draft, boat.rigging, "closed tent", "bridging piece", UpState(up=up))
        )

    before = [one.panel for one in boat.rigging.model.design.panels_up("closed tent")]
    assert put(up=False)
    assert [one.panel for one in boat.rigging.model.design.panels_up("closed tent")] == [
        name for name in before if name != "bridging piece"
    ]
    assert put(up=True)
    assert {one.panel for one in boat.rigging.model.design.panels_up("closed tent")} == set(before)


@pytest.mark.behaviour
def test_panel_stays_up_in_the_set_it_is_cut_in(boat):
    assert not boat.change(
        lambda draft: handles.put_up(draft, boat.rigging, "wet watch", "watch tent roof", UpState(up=False))
    )
    assert "wet watch" in str(boat.problems[0])


@pytest.mark.behaviour
@pytest.mark.parametrize(
    ("set_name", "begins"),
    [
        ("wet watch", "watch tent roof"), ("shade", "bridging piece"), ("hood and bimini", "spray hood"),
        ("bare", "bridging piece"),
    ],
)  # fmt: skip
def test_shaping_begins_with_new_canvas_that_is_up(tmp_path, set_name, begins):
    rigging = Boat(copy_of("marrowgrass", tmp_path)).rigging
    assert handles.name_of(rigging, handles.first_part(rigging, set_name)) == begins

"""Loose bows pushed the worst way: no other way leaves less room, canvas goes along, zips are pulled by a hand."""

from itertools import product
from pathlib import Path

import numpy as np
import pytest

from canvas import verbs
from canvas.cloth.sway import HAND, pushed, zip_pulls
from canvas.fit.ask import Ask
from canvas.fit.checks import headroom, loose_bows
from canvas.fit.spots import spots_of

EXAMPLES = Path(__file__).parents[2] / "examples"
MM = 0.001


@pytest.fixture(scope="module")
def sloop():
    return verbs.rigging_of(EXAMPLES / "marrowgrass.toml")


@pytest.mark.analytic
def test_a_pushed_bow_takes_the_canvas_on_it_along_and_stays_on_its_feet(sloop):
    rig, ask = sloop.rig("shade"), Ask(sloop, "shade")
    sure = ask.sureness
    name = "bimini aft bow"
    line, play = sloop.model.tubes[name].line, sloop.model.tubes[name].play
    after = pushed(sloop, rig, sure, {name: 1})
    way = sure.ways[sure.loose.index(name)]
    bimini, before = after.formed.panel("bimini"), rig.formed.panel("bimini")
    edge = before.edge_vertices[[one.name for one in before.edges].index("aft")]
    moved = (bimini.vertices - before.vertices)[edge]
    assert moved == pytest.approx((moved @ way)[:, None] * way, abs=1e-12)
    assert 0.8 * play < (moved @ way).max() <= play
    bow = next(one for one in after.scene.surfaces if one.name == name)
    was = next(one for one in rig.scene.surfaces if one.name == name)
    assert np.abs(bow.vertices[[-2, -1]] - was.vertices[[-2, -1]]).max() < 1e-9, "its feet"
    assert np.linalg.norm(bow.vertices - was.vertices, axis=1).max() == pytest.approx(play, rel=0.05)
    assert np.abs(line[[0, -1]] - bow.vertices[[-2, -1]]).max() < 1e-9
    others = [one for one in after.scene.surfaces if one.kind not in ("cloth", "tube")]
    assert others == [one for one in rig.scene.surfaces if one.kind not in ("cloth", "tube")]


@pytest.mark.property
@pytest.mark.parametrize("set_name", ["shade", "wet watch"])
def test_no_other_way_of_pushing_the_bows_leaves_less_room(sloop, set_name):
    ask = Ask(sloop, set_name)
    found = loose_bows.examine(ask)[0]
    assert found.value is not None
    least = found.margin
    for signs in product((-1, 0, 1), repeat=len(ask.sureness.loose)):
        other = ask.with_rig(pushed(sloop, ask.rig, ask.sureness, dict(zip(ask.sureness.loose, signs, strict=True))))
        margins = [headroom.one(other, person, spot).margin for spot in spots_of(ask.design) for person in ask.people]
        assert least <= min(one for one in margins if one is not None) + 2 * MM
    as_set_up = min(
        one.margin for one in headroom.examine(ask) if one.margin is not None and one.verdict != "not applicable"
    )
    assert least < as_set_up - 3 * MM
    assert "pushed" in found.note


@pytest.mark.analytic
def test_a_zip_between_two_loose_bows_is_pulled_by_a_hand_and_hangs_slack_the_other_way(sloop):
    rig, ask = sloop.rig("shade"), Ask(sloop, "shade")
    pulls = {(one.panel, one.edge): one for one in zip_pulls(sloop, rig, ask.sureness)}
    found = pulls["bridging piece", "forward"]
    edge = next(one for one in rig.formed.panel("bridging piece").edges if one.name == "forward")
    assert found.most == pytest.approx(edge.line_tension + HAND / edge.length)
    assert found.least == 0.0
    plays = [sloop.model.tubes[name].play for name in ("spray hood aft bow", "bimini forward bow")]
    assert 0.7 * sum(plays) < found.moves <= sum(plays)


@pytest.mark.behaviour
def test_bows_that_do_not_move_have_nothing_to_push():
    found = loose_bows.examine(Ask(verbs.rigging_of(EXAMPLES / "oddfellow.toml"), "bare"))
    assert [one.verdict for one in found] == ["not applicable"] * 2

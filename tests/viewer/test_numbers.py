"""Hold what the viewer shows to what the verbs of the command line give."""

from __future__ import annotations

from datetime import date, time

import numpy as np
import pytest

from canvas import verbs
from viewer import answers, light

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
    shown = light.day_of(verbs.sky.known_map(rigging, "shade"), asked)
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

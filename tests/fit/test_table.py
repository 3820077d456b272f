"""Hold the table of checks: folder and tuple agree, names are unique, the examples give what was expected of them."""

import tomllib
from pathlib import Path

import numpy as np
import pytest

from canvas.cloth.rigging import Rigging
from canvas.cloth.sureness import Sureness
from canvas.design.reading import parse_design, read_design
from canvas.fit import checks
from canvas.fit.ask import Ask
from canvas.fit.table import CHECKS, check_named, check_set, first_to_fail
from canvas.geometry.model import build_model

EXAMPLES = Path(__file__).parents[2] / "examples"
NAMES = ("marrowgrass", "oddfellow", "lantern-hill")
FIGURES = tomllib.loads((Path(__file__).parent / "expected.toml").read_text(encoding="utf-8"))["figure"]


@pytest.fixture(scope="module")
def tables():
    """Return every check of every set of the examples."""
    found = {}
    for name in NAMES:
        rigging = Rigging(build_model(read_design(EXAMPLES / f"{name}.toml")))
        found[name] = {set_name: check_set(rigging, set_name) for set_name in rigging.model.design.set_names()}
    return found


@pytest.mark.behaviour
def test_every_check_in_the_folder_stands_in_the_tuple_once():
    folder = {path.stem for path in Path(checks.__file__).parent.glob("*.py")} - {"__init__"}
    assert sorted(CHECKS) == sorted(folder)


@pytest.mark.behaviour
@pytest.mark.parametrize("name", CHECKS)
def test_every_check_says_its_kind_and_examines(name):
    module = check_named(name)
    assert module.KIND
    assert callable(module.examine)


@pytest.mark.property
def test_every_result_is_whole(tables):
    for sets in tables.values():
        for results in sets.values():
            names = [one.name for one in results]
            assert len(names) == len(set(names))
            for one in results:
                assert one.unit in ("m", "s", "kg", "N", "share", "count")
                if one.verdict == "not applicable":
                    assert one.value is None
                    assert one.note
                    continue
                assert one.limit is not None
                assert one.source
                assert np.isfinite(one.picture.points).all(), one.name
                if one.value is not None:
                    assert np.isfinite(one.value)
                    assert one.verdict in ("pass", "fail", "close")
                if one.verdict == "fail":
                    assert one.margin < 0
                if one.verdict == "pass":
                    assert one.margin >= 0


@pytest.mark.property
def test_the_sets_of_a_boat_have_the_same_kinds_in_the_same_order(tables):
    for sets in tables.values():
        kinds = [list(dict.fromkeys(one.kind for one in results)) for results in sets.values()]
        assert all(one[0] == "headroom" for one in kinds)


@pytest.mark.behaviour
@pytest.mark.parametrize("figure", FIGURES, ids=lambda one: f"{one['boat']}, {one['set']}: {one['name']}")
def test_figures_written_down_before_the_checks_came_out_or_are_explained(figure, tables):
    value = {one.name: one.value for one in tables[figure["boat"]][figure["set"]]}[figure["name"]]
    if value is not None and figure["low"] <= value <= figure["high"]:
        assert "why" not in figure
    else:
        assert figure["why"]
    assert value == (pytest.approx(figure["came"], rel=0.03, abs=0.002) if "came" in figure else None)


@pytest.mark.analytic
def test_a_corner_on_a_surveyed_mark_is_as_sure_as_the_survey_and_the_hem():
    rigging = Rigging(build_model(read_design(EXAMPLES / "oddfellow.toml")))
    rig = rigging.rig("harbour")
    marks = rigging.model.marks
    cloth = next(one for one in rig.scene.surfaces if one.name == "harbour awning")
    block = marks.joint(["ridge_aft"])
    assert block[2, 2] > 0
    up = np.array([0.0, 0.0, 1.0])
    found = Sureness(rigging, rig.formed).sd(cloth, marks.at("ridge_aft"), up)
    assert found == pytest.approx(np.sqrt(block[2, 2] + 0.005**2), rel=1e-6)  # a webbing hem fits within 10 mm


@pytest.mark.behaviour
def test_a_closed_tent_fails_where_an_open_one_does_not(tables):
    closed, open_ = ({one.name: one for one in tables["marrowgrass"][name]} for name in ("closed tent", "shade"))
    for name in ("ways out, the second widest", "striking, one person", "winch handle, primary port"):
        assert closed[name].verdict == "fail"
    assert open_["ways out, the second widest"].verdict == "pass"
    worst = first_to_fail(tables["marrowgrass"]["closed tent"])
    assert worst is not None
    assert worst.verdict == "fail"


@pytest.mark.behaviour
@pytest.mark.parametrize(("clear", "room"), [("0.25 m", 1.0), ("1.6 m", 1.6)])
def test_a_fitting_that_asks_for_more_than_a_metre_is_looked_at_that_far(clear, room):
    text = (EXAMPLES / "marrowgrass.toml").read_text(encoding="utf-8").replace('clear = "0.25 m"', f'clear = "{clear}"')
    rigging = Rigging(build_model(parse_design(text, file="boat.toml", folder=EXAMPLES)))
    (found,) = (
        one for one in check_named("fittings").examine(Ask(rigging, "bare")) if one.name == "room at horseshoe buoy"
    )
    assert (found.value, found.verdict) == (room, "pass")
    assert found.note == ("No canvas within a metre." if room == 1.0 else "No canvas within 1.6 m.")

"""Hold the guided start to yielding a boat that reads and builds, whatever believable numbers are typed."""

import math
import re
from datetime import date, time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from canvas import verbs
from canvas.design import units
from canvas.design.guided import (
    answer_from,
    complete,
    design_text,
    example_names,
    example_text,
    interview,
    questions,
    sketch,
)
from canvas.design.guided.questions import usual
from canvas.design.problems import DesignError
from canvas.geometry.model import build_model
from canvas.jobs.failure import Stopped
from tests.design.design_texts import EXAMPLES, NAMES, example, read

MINE = {  # what one crew types: another boat than the usual one, with slips
    "name": ["Skua"],
    "units": ["furlong", "ft"],
    "steered_by": ["t"],
    "length": ["31 ft 2 in"],
    "beam": ["10 ft 1 in"],
    "cockpit_length": ["six", "6 ft 3 in"],
    "cockpit_width": ["5 ft 2 1/2 in"],
    "seat_height": ["16 in"],
    "coaming_height": ["2 in", "2 ft 5 in"],
    "sole_above_water": [""],
    "boom_height": ["6 ft 8 in"],
    "hood_height": ["5 ft 4 in"],
    "bimini": ["n"],
    "crew_first": ["5 ft 3 in"],
    "crew_second": ["6 ft"],
    "vane_kind": ["trim"],
    "blade_aft": ["9 ft 2 in"],
    "blade_foot": ["4 ft 5 in"],
    "blade_height": ["2 ft 8 in"],
    "steers_from": ["6.5 kn"],
}
SLIPS = 3  # of them are refused: no such unit, no number, a coaming under the seat


@st.composite
def boats(draw):
    """Draw believable answers to every question, the ends of their ranges among them."""
    said = {}
    for question in questions():
        if question.kind == "choice":
            said[question.key] = draw(st.sampled_from(question.choices))
        elif question.kind == "name":
            said[question.key] = draw(st.sampled_from(["Skua", 'A "quoted" \\ name', "Möwe ⚓"]))
        else:
            low, high = question.believable(said)
            said[question.key] = draw(
                st.one_of(st.sampled_from([low, high, usual(question, said)]), st.floats(low, high))
            )
    return said


class Typist:
    """Types prepared lines in turn, and keeps what was shown."""

    def __init__(self, lines):
        self.lines = iter(lines)
        self.prompts, self.shown = [], []

    def ask(self, prompt):
        self.prompts.append(prompt)
        try:
            return next(self.lines)
        except StopIteration:
            raise EOFError from None


def typed_boat():
    """Return the answers of the crew above, and the typist."""
    typist = Typist([line for lines in MINE.values() for line in lines])
    return interview(typist.ask, typist.shown.append), typist


@pytest.mark.property
@given(said=boats())
def test_every_usual_value_is_believable(said):
    for place, question in enumerate(questions()):
        before = {other.key: said[other.key] for other in questions()[:place]}
        value = usual(question, before)
        if question.believable is not None:
            low, high = question.believable(before)
            assert low < high
            assert low <= value <= high


@pytest.mark.property
@settings(max_examples=60)
@given(said=boats())
def test_any_believable_boat_reads_and_builds(said):
    source = read(design_text(said))
    model = build_model(source)
    assert set(model.outlines) == {panel.name for panel in source.design.panel}
    assert ("bimini" in model.outlines) == (said["bimini"] == "yes")


@pytest.mark.property
@settings(max_examples=30)
@given(said=boats())
def test_what_was_asked_for_stands_in_the_design(said):
    design = read(design_text(said)).design
    step = 0.0005 if said["units"] in ("m", "mm") else units.INCH / 32
    found = {
        "cockpit_length": design.cockpit.length,
        "seat_height": design.cockpit.port.seat_height,
        "coaming_height": design.cockpit.starboard.coaming_top,
        "sole_above_water": -design.hull.waterline,
        "boom_height": design.spars.mast.boom.end_height,
        "crew_first": design.crew[0].stature,
        "crew_second": design.crew[1].stature,
        "blade_aft": design.vane.foot[0],
        "blade_foot": design.vane.foot[2],
        "blade_height": design.vane.height,
    }
    assert found == pytest.approx({key: said[key] for key in found}, abs=step * 1.001)
    assert design.name == said["name"]
    assert design.units == said["units"]
    assert design.vane.steers_from == pytest.approx(said["steers_from"], rel=0.006)
    edge = design.hull.deck_edge
    assert edge[-1][0] - edge[0][0] == pytest.approx(said["length"], abs=0.01)
    assert 2 * max(y for _, y, _ in edge) == pytest.approx(said["beam"], abs=0.02)
    assert (design.steering.tiller is None) == (said["steered_by"] == "wheel")


@pytest.mark.behaviour
def test_a_typed_interview_asks_again_and_draws_after_each_length():
    answers, typist = typed_boat()
    assert answers["name"] == "Skua"
    assert answers["units"] == "ft"
    assert answers["length"] == pytest.approx(374 * units.INCH)
    assert answers["bimini"] == "no"
    assert answers["vane_kind"] == "trim tab"
    assert answers["sole_above_water"] == 0.35
    refused = [line for line in typist.shown if line.startswith(("Write", "That"))]
    assert len(refused) == SLIPS
    assert refused[0] == "Write one of: m, mm, ft, in."
    assert refused[1].startswith("Write a length")
    assert refused[2].startswith("That is hard to believe; write 1 ft 9 7/8 in to ")
    drawings = [line for line in typist.shown if "# blade" in line]
    assert len(drawings) == sum(question.kind == "length" for question in questions())
    assert typist.prompts[-1].endswith("in which the vane steers [5.5 kn]: ")


@pytest.mark.behaviour
def test_the_typed_boat_runs_every_verb(tmp_path):
    answers, _ = typed_boat()
    path = tmp_path / "skua.toml"
    path.write_text(design_text(answers), encoding="utf-8")
    built = verbs.rigging_of(path)
    checked = verbs.check(built).record()
    assert [one["name"] for one in checked["sets"]] == ["bare", "spray hood", "wet watch"]
    noon = {"day": date(2026, 12, 21), "sun_time": time(12, 0), "latitude": math.radians(-17.5), "heading": 0.0}
    assert verbs.shade(built, sets=["wet watch"], **noon).record()["sets"][0]["places"]
    assert verbs.vane(built, method="sector", sets=["wet watch"]).record()["sets"][0]["angles"]
    made = verbs.cut(built, out=tmp_path / "cut")
    assert made.record()["sets"]
    assert verbs.buy(built, result=made.results["wet watch"]).record()["sets"]


@pytest.mark.behaviour
def test_no_handle_of_the_usual_boat_meets_a_bow_that_was_guessed_too():
    found = verbs.fit(read(design_text({})), sets=["bare", "wet watch"]).record()["sets"]
    handles = [check for one in found for check in one["checks"] if check["name"].startswith("winch handle")]
    assert [check["verdict"] for check in handles] == ["pass"] * 4
    assert not [check["name"] for check in found[0]["checks"] if check["verdict"] == "fail"]


@pytest.mark.behaviour
def test_check_says_what_of_a_new_boat_is_a_guess():
    first, *_ = verbs.check(read(design_text({})), sets=["bare"]).record()["problems"]
    assert first["severity"] == "note"
    assert first["line"] is not None
    assert first["found"].startswith("guessed, not measured: hull, cabin, ")


@pytest.mark.behaviour
def test_the_end_of_the_input_stops():
    typist = Typist(["Skua", "ft"])
    with pytest.raises(Stopped):
        interview(typist.ask, typist.shown.append)


@pytest.mark.behaviour
def test_a_drawing_of_ones_own_is_given_the_answers_so_far():
    seen = []
    typist = Typist([lines[-1] for lines in MINE.values()])
    interview(typist.ask, typist.shown.append, draw=lambda answers: seen.append(len(answers)))
    assert seen == [place + 1 for place, question in enumerate(questions()) if question.kind == "length"]
    assert typist.shown == []


@pytest.mark.behaviour
@pytest.mark.parametrize(
    ("key", "typed", "wanted"),
    [
        ("length", "10,5", "Write a length"),
        ("length", "105", r"hard to believe; write 7\.000 m to 18\.000 m"),
        ("length", "1050 mm", r"It was read as 1\.050 m\.$"),
        ("steers_from", "5 knots", r'Write it as "12 kn"'),
        ("steers_from", "45 kn", r"write 2 kn to 20 kn"),
        ("units", "yards", r"Write one of: m, mm, ft, in"),
        ("vane_kind", "electric", r"Write one of: servo pendulum, trim tab"),
        ("name", "a\tb", r"Write a name"),
    ],
)
def test_nonsense_is_refused_with_what_would_do(key, typed, wanted):
    question = next(question for question in questions() if question.key == key)
    with pytest.raises(ValueError, match=wanted):
        answer_from(typed, question, complete({}))


@pytest.mark.property
@settings(max_examples=40)
@given(said=boats())
def test_a_sketch_fits_a_terminal_and_shows_the_boat(said):
    rows = sketch(said).splitlines()
    assert max(len(row) for row in rows) <= 80
    assert len(rows) < 120
    page = "\n".join(rows[:-3])
    assert all(letter in page for letter in "#Hi=_~.b")
    assert ("B" in page) == (said["bimini"] == "yes")


@pytest.mark.behaviour
def test_a_higher_blade_is_drawn_higher():
    def first_row(height):
        return next(at for at, row in enumerate(sketch({"blade_foot": height}).splitlines()) if "#" in row)

    def rows_over_water(height):
        rows = sketch({"blade_foot": height}).splitlines()
        return next(at for at, row in enumerate(rows) if "~" in row) - first_row(height)

    assert rows_over_water(2.0) > rows_over_water(1.5) > rows_over_water(1.0)


@pytest.mark.behaviour
@pytest.mark.parametrize("name", NAMES)
def test_an_example_can_be_begun_from(name):
    text = example_text(name, name="Skua")
    mine, theirs = read(text).design, read(example(name)).design
    assert mine.name == "Skua"
    assert mine.model_dump(exclude={"name"}) == theirs.model_dump(exclude={"name"})
    assert re.match(rf"# Begun from the example {name}", text)


@pytest.mark.behaviour
def test_the_examples_are_those_of_the_project():
    assert example_names() == tuple(sorted(path.stem for path in EXAMPLES.glob("*.toml")))
    with pytest.raises(DesignError, match=r'Did you mean "oddfellow"'):
        example_text("odfellow", name="x")

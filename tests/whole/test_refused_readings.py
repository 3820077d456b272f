"""Readings that make no survey, typed into a whole design: refused by name and line with what to do, nothing lost."""

import json
import re

import numpy as np
import pytest
from typer.testing import CliRunner

from canvas import verbs
from canvas.cli import app
from tests.whole.boats import EXAMPLES

run = CliRunner()
EXAMPLE = EXAMPLES / "oddfellow.toml"


def text():
    return EXAMPLE.read_text(encoding="utf-8")


def with_more(marks, readings):
    """Return Oddfellow with marks left to the survey and readings to them."""
    lines = "".join(f"{name} = {spot}\n" for name, spot in marks.items())
    typed = "".join(f"  {{ {one} }},\n" for one in readings)
    return text().replace("[marks]\n", f"[marks]\n{lines}").replace("reading = [\n", f"reading = [\n{typed}")


def tape(a, b, length):
    return f'kind = "tape", from = "{a}", to = "{b}", length = "{length}"'


def refused(tmp_path, design):
    """Return the problems that `survey` and every other verb name, and the file's lines; the file stays as it was."""
    file = tmp_path / "boat.toml"
    file.write_text(design, encoding="utf-8")
    done = run.invoke(app, ["survey", str(file), "--json"])
    assert done.exit_code == 2
    found = json.loads(done.stdout)
    assert found["sets"] == []
    assert json.loads(run.invoke(app, ["check", str(file), "--json"]).stdout)["problems"] == found["problems"]
    said = run.invoke(app, ["survey", str(file)])
    assert "Traceback" not in said.output
    assert file.read_text(encoding="utf-8") == design
    for problem in found["problems"]:
        assert problem["file"] == str(file)
        assert problem["wanted"]
        assert problem["wanted"] in said.stderr
    return found["problems"], design.splitlines()


@pytest.mark.behaviour
def test_too_few_readings_to_a_mark(tmp_path):
    readings = [tape("masthead_block", "sole_aft", "2.0 m"), tape("masthead_block", "sole_forward", "2.5 m")]
    (problem,), lines = refused(tmp_path, with_more({"masthead_block": '"survey"'}, readings))
    assert (problem["code"], problem["found"]) == ("too-few-readings", '2 readings to "masthead_block"')
    assert "masthead_block" in lines[problem["line"] - 1]
    assert "6 to have it checked" in problem["wanted"]


@pytest.mark.behaviour
def test_no_reading_to_a_mark_left_to_the_survey(tmp_path):
    (problem,), lines = refused(tmp_path, with_more({"masthead_block": '"survey"'}, []))
    assert problem["code"] == "no-reading"
    assert lines[problem["line"] - 1] == 'masthead_block = "survey"'
    assert "Take readings to it" in problem["wanted"]


@pytest.mark.behaviour
def test_marks_that_no_reading_joins_to_the_others(tmp_path):
    names = [f"bow_{k}" for k in range(5)]
    readings = [tape(a, b, f"{1 + 0.1 * (i + j):.1f} m") for i, a in enumerate(names) for j, b in enumerate(names[:i])]
    problems, lines = refused(tmp_path, with_more(dict.fromkeys(names, '"survey"'), readings))
    (problem,) = problems
    assert problem["code"] == "unconnected-marks"
    assert all(name in problem["found"] for name in names)
    assert "bow_" in lines[problem["line"] - 1]
    assert "from 3 marks or more" in problem["wanted"]


@pytest.mark.behaviour
def test_a_mark_that_could_as_well_be_on_the_other_side(tmp_path):
    """Three tapes to the forward sole and both bulkhead marks: before them or behind them?"""
    rigging = verbs.rigging_of(EXAMPLE)
    marks, three = rigging.model.marks, ("sole_forward", "bulkhead_port", "bulkhead_stbd")
    place = marks.at("sole_forward") + np.array([0.9, 0.2, 0.7])
    readings = [tape(name, "hook", f"{float(((place - marks.at(name)) ** 2).sum() ** 0.5):.3f} m") for name in three]
    (problem,), lines = refused(tmp_path, with_more({"hook": '"survey"'}, readings))
    assert problem["code"] == "mirror-ambiguity"
    assert "hook" in lines[problem["line"] - 1]
    said = re.search(r'Say whether "hook" lies aft or forward of "(\w+)", or measure a height', problem["wanted"])
    assert said
    found = verbs.survey(settled(tmp_path, readings)).rigging.model.marks
    assert found.at("hook") == pytest.approx(place, abs=0.02)


def settled(tmp_path, readings):
    """Return the same with one statement: the hook lies above a mark that its image lies below."""
    file = tmp_path / "settled.toml"
    more = [*readings, 'kind = "offset", at = "hook", axis = "aft", length = "0.90 m"']
    file.write_text(with_more({"hook": '"survey"'}, more), encoding="utf-8")
    return file


@pytest.mark.behaviour
def test_a_statement_above_or_below_settles_which_side(tmp_path):
    """Three tapes to marks in the plane of the sole: the hook is above them, and its image under the boat."""
    marks = verbs.rigging_of(EXAMPLE).model.marks
    three = ("hood_foot_port", "hood_foot_stbd", "tent_foot_port")
    place = marks.at("hood_foot_port") + np.array([0.5, 0.6, 0.7])
    readings = [tape(name, "hook", f"{float(((place - marks.at(name)) ** 2).sum() ** 0.5):.3f} m") for name in three]
    (problem,), _ = refused(tmp_path, with_more({"hook": '"survey"'}, readings))
    assert problem["code"] == "mirror-ambiguity"
    file = tmp_path / "settled.toml"
    said = 'kind = "above", at = "hook", below = "hood_foot_port"'
    file.write_text(with_more({"hook": '"survey"'}, [*readings, said]), encoding="utf-8")
    assert verbs.survey(file).rigging.model.marks.at("hook") == pytest.approx(place, abs=0.03)


@pytest.mark.behaviour
def test_a_reading_between_a_mark_and_itself(tmp_path):
    problems, lines = refused(tmp_path, with_more({}, [tape("sole_aft", "sole_aft", "0.5 m")]))
    (problem,) = problems
    assert problem["code"] == "reading-to-itself"
    assert '"sole_aft", to = "sole_aft"' in lines[problem["line"] - 1]
    assert "Name the two marks" in problem["wanted"]


@pytest.mark.behaviour
@pytest.mark.parametrize(
    ("start", "to", "old", "new", "meant"),
    [
        ("bulkhead_port", "hood_bow_port_low", "0.380 m", "15", "15 in"),
        ("sole_forward", "hood_foot_port", "1.120 m", "44", "44 in"),
        ("bulkhead_port", "hood_bow_port_high", "0.650 m", "65", "65 cm"),
    ],
)
def test_a_number_in_another_unit(tmp_path, start, to, old, new, meant):
    line = f'from = "{start}", to = "{to}", length = "{old}"'
    assert text().count(line) == 1
    problems, lines = refused(tmp_path, text().replace(line, line.replace(old, new)))
    (problem,) = problems
    assert (problem["code"], problem["found"]) == ("mixed-units", new)
    assert f'length = "{new}"' in lines[problem["line"] - 1]
    assert f'write "{meant}"' in problem["wanted"]


@pytest.mark.behaviour
def test_all_that_is_wrong_is_said_at_once(tmp_path):
    readings = [tape("sole_aft", "sole_aft", "0.5 m"), tape("sole_forward", "sole_forward", "0.7 m")]
    problems, _ = refused(tmp_path, with_more({}, readings))
    assert [one["code"] for one in problems] == ["reading-to-itself"] * 2
    assert problems[0]["line"] + 1 == problems[1]["line"]

"""Read surveys out of design files: the example, lines, datum, canvas aboard."""

from pathlib import Path

import numpy as np
import pytest

from canvas.design.problems import DesignError
from canvas.design.reading import parse_design, read_design
from canvas.survey.from_design import adjusted, marks_of, survey_of
from canvas.survey.readings import Tape
from canvas.survey.suspects import judge

EXAMPLE = Path(__file__).parents[2] / "examples" / "oddfellow.toml"


def _parsed(text):
    return parse_design(text, file="boat.toml", folder=EXAMPLE.parent)


@pytest.fixture(scope="module")
def text():
    return EXAMPLE.read_text(encoding="utf-8")


@pytest.mark.behaviour
def test_the_surveyed_example_agrees_with_itself():
    source = read_design(EXAMPLE)
    marks = marks_of(source)
    assert marks.names == tuple(source.design.marks)
    assert judge(marks).suspects == ()
    for name in source.design.survey.held:
        assert marks.at(name) == pytest.approx(source.design.marks[name], abs=0)
    surveyed = [k for k, name in enumerate(marks.names) if source.design.marks[name] == "survey"]
    assert marks.largest_sd()[surveyed].min() > 0.001
    assert marks.largest_sd()[surveyed].max() < 0.010


@pytest.mark.behaviour
def test_swapped_digits_are_named_by_line(text):
    reading = 'from = "sole_aft", to = "hood_foot_port", length = "1.'
    at = text.index(reading) + len(reading)
    right, slip = text[at : at + 3], text[at + 1] + text[at] + text[at + 2]
    wrong = text[:at] + slip + text[at + 3 :]
    line = wrong[:at].count("\n") + 1
    suspect = judge(marks_of(_parsed(wrong))).suspects[0]
    assert (suspect.reading.where.file, suspect.reading.where.line) == ("boat.toml", line)
    assert suspect.slip == f"digits swapped: 1.{slip} for 1.{right}"


@pytest.mark.behaviour
def test_mark_without_readings_is_named(text):
    with pytest.raises(DesignError, match='boat.toml:.*marks.lonely: found "lonely" is left to the survey') as refused:
        marks_of(_parsed(text.replace("[marks]\n", '[marks]\nlonely = "survey"\n')))
    assert refused.value.problems[0].line is not None


@pytest.mark.behaviour
def test_without_held_marks_the_network_keeps_to_their_coordinates_on_the_whole(text):
    start = text.index("held = [")
    free = text[:start] + text[text.index("]", start) + 1 :]
    held, loose = marks_of(_parsed(text)), marks_of(_parsed(free))
    names = survey_of(_parsed(text)).datum.held
    assert max(loose.largest_sd()[loose.index(name)] for name in names) > 0
    shifts = np.array([loose.at(name) - held.at(name) for name in names])
    assert np.abs(shifts.mean(axis=0)[[0, 2]]).max() < 1e-6, "offsets from the centreline place it sideways"
    assert np.abs(loose.xyz - held.xyz).max() < 0.02


@pytest.mark.behaviour
def test_readings_on_new_canvas_wait_and_those_aboard_count(text):
    new = next(p.name for p in _parsed(text).design.panel if not p.existing)
    reading = '  { kind = "tape", from = "ridge_aft", to = "tent_foot_port", length = "1.2 m", panel = "%s" },\n'
    with_new = _parsed(text.replace("reading = [\n", "reading = [\n" + reading % new))
    count = len(survey_of(_parsed(text)).entries)
    assert len(survey_of(with_new).entries) == count
    assert len(survey_of(with_new, panel=new).entries) == count + 1
    assert len(adjusted(with_new, panel=new).readings) == count + 1


@pytest.mark.behaviour
def test_measured_zip_on_canvas_aboard_bounds_the_line_through_its_marks(text):
    panel = """
[[panel]]
name = "old curtain"
existing = true
edges = [
  { to = "tent_foot_port", finish = "hem", hollow = "3 %" },
  { to = "ridge_aft", finish = "zip", zip = { length = "1.300 m", half = "left" } },
  { to = "tent_foot_stbd", finish = "hem", hollow = "3 %" },
]
"""
    survey = survey_of(_parsed(text + panel))
    zips = [entry for entry in survey.entries if isinstance(entry, Tape) and entry.slack]
    assert [(z.a, z.b, z.length, z.where.key) for z in zips] == [
        ("tent_foot_port", "ridge_aft", 1.3, 'panel "old curtain", edges[1].zip.length')
    ]
    assert zips[0].where.line == (text + panel)[: (text + panel).rindex('"1.300 m"')].count("\n") + 1

"""From the measuring sheet and back: what a crew writes on it, typed into the design, puts every mark where it is."""

import json
import re
import tomllib

import numpy as np
import pytest
from typer.testing import CliRunner

from canvas import verbs
from canvas.cli import app
from canvas.design.reading import parse_design
from canvas.design.units import FOOT, INCH, length_text
from canvas.survey.plan import CHECKED, PER_MARK
from tests.whole.boats import EXAMPLES, NAMES

run = CliRunner()
MM = 0.001
UNFINISHED = {"too-few-readings", "unconnected-marks", "undetermined-marks"}
LIST = 1.5  # degrees the boat lies over while heights are taken


def text_of(name):
    """Return an example as a crew has it before measuring: rough coordinates for every mark, no reading."""
    text = (EXAMPLES / f"{name}.toml").read_text(encoding="utf-8")
    marks = verbs.rigging_of(EXAMPLES / f"{name}.toml").model.marks
    for mark in re.findall(r'^(\w+) = "survey"', text, flags=re.MULTILINE):
        place = ", ".join(f'"{value:.2f} m"' for value in marks.at(mark))
        text = text.replace(f'{mark} = "survey"', f"{mark} = [{place}]")
    return re.sub(r"^reading = \[\n.*?^\]\n", "", text, flags=re.MULTILINE | re.DOTALL)


def source_of(text):
    return parse_design(text, file="boat.toml", folder=EXAMPLES)


def with_readings(text, lines):
    """Return a design with the list of readings before its first table."""
    first = text.index("\n[")
    return f"{text[:first]}\n{lines}{text[first:]}"


def true_boat(design, rough, seed):
    """Return where the marks really are: some centimetres off their rough coordinates, but for those held."""
    random = np.random.default_rng(seed)
    return {
        name: np.array(place) + (0.0 if name in design.survey.held else random.uniform(-0.04, 0.04, 3))
        for name, place in rough.items()
    }


def typed(value, units):
    """Return a length as a crew writes it: bare millimetres, or feet, inches and sixteenths."""
    return f"{value:.3f}" if units == "m" else length_text(value, units)


def filled_in(sheet, places, units, seed, *, only=None):
    """Return the sheet's list with values typed in by a crew whose boat lies over; `only` takes the first of them."""
    random = np.random.default_rng(seed)
    lean = np.radians(LIST)
    up = np.array([0.0, -np.sin(lean), np.cos(lean)])
    lines = []
    for line in sheet.splitlines():
        if "kind = " not in line:
            lines.append(line)
            continue
        asked = tomllib.loads("one = " + line.split("},")[0] + "}")["one"]
        if asked["kind"] == "tape":
            value = np.linalg.norm(places[asked["from"]] - places[asked["to"]])
        else:
            value = places[asked["at"]] @ up + 0.31
        written = typed(float(value + random.normal(scale=0.003)), units)
        lines.append(line.replace(' = "" }', f' = "{written}" }}'))
    kept = [line for line in lines if "kind = " in line]
    return "\n".join(["reading = [", *(kept if only is None else kept[:only]), "]", ""])


def laid_on(marks, places, held):
    """Return true places in the axes of the survey: as they are where marks are held, else laid on by least squares."""
    names = [name for name in marks.names if any(name in reading.marks for reading in marks.readings)]
    there = np.array([places[name] for name in names])
    if held:
        return names, there
    found = np.array([marks.at(name) for name in names])
    u, _, vt = np.linalg.svd((there - there.mean(axis=0)).T @ (found - found.mean(axis=0)))
    turn = u @ np.diag([1, 1, np.sign(np.linalg.det(u @ vt))]) @ vt
    return names, (there - there.mean(axis=0)) @ turn + found.mean(axis=0)


@pytest.fixture(scope="module", params=NAMES)
def measured(request):
    """Return a boat's text, the record of its sheet, the sheet's list, and where its marks really are."""
    text = text_of(request.param)
    source = source_of(text)
    answer = verbs.sheet(source)
    rough = {name: spot for name, spot in source.design.marks.items() if not isinstance(spot, str)}
    listed = next(content for name, content in answer.files.items() if name.endswith(".toml")).decode("utf-8")
    return text, answer.record(), listed, true_boat(source.design, rough, seed=len(text))


@pytest.mark.behaviour
def test_every_mark_of_the_plan_has_six_readings_and_every_reading_is_checked_or_it_says_why(measured):
    text, record, _, _ = measured
    held = source_of(text).design.survey.held
    excused = {one["name"] for one in record["short"]}
    for mark in record["marks"]:
        assert mark["readings"] >= PER_MARK or mark["name"] in held or mark["name"] in excused
    for reading in record["readings"]:
        assert reading["redundancy"] >= CHECKED - 1e-4 or reading["reading"] in excused
    assert len(excused) <= 1
    named = {mark["name"] for mark in record["marks"]} | {one["name"] for one in record["left_out"]}
    assert named == set(source_of(text).design.marks)
    assert all(one["why"] for one in (*record["left_out"], *record["short"]))


@pytest.mark.behaviour
def test_the_sheet_as_typed_by_a_crew_gives_the_boat_within_its_errors(measured):
    text, _, listed, places = measured
    design = source_of(text).design
    full = source_of(with_readings(text, filled_in(listed, places, design.units, seed=4)))
    answer = verbs.survey(full)
    marks = answer.rigging.model.marks
    names, true = laid_on(marks, places, design.survey.held)
    index = [marks.names.index(name) for name in names]
    off = marks.xyz[index] - true
    sd = np.array([np.sqrt(np.diag(marks.joint([name]))) for name in names])
    free = sd.max(axis=1) > 0
    assert np.abs(off[free]).max() < 25 * MM
    assert np.all(np.abs(off[free]) < 4.5 * sd[free] + 0.1 * MM)
    assert 0.75 < np.sqrt(np.mean((off[free] / sd[free]) ** 2)) < 1.3
    assert 0.8 < marks.sigma0 < 1.2
    assert answer.record()["suspects"] == []
    rough = np.array([design.marks[name] for name in names])
    assert np.abs(rough - true)[free].max() > 30 * MM, "the rough coordinates were really off"
    (tilt,) = marks.tilts
    assert np.degrees(tilt.heel) == pytest.approx(LIST, abs=0.4 if design.survey.held else 2.0)


@pytest.mark.behaviour
def test_half_a_sheet_is_told_what_is_wanting_and_which_three_readings_help_most(measured, tmp_path):
    text, record, listed, places = measured
    units = source_of(text).design.units
    count = len(record["readings"])
    file = tmp_path / "boat.toml"
    for number in (count // 3, count - 6):
        file.write_text(with_readings(text, filled_in(listed, places, units, seed=4, only=number)), encoding="utf-8")
        done = run.invoke(app, ["sheet", str(file), "-o", str(tmp_path / "sheet.pdf"), "--json"])
        assert done.exit_code == 0, done.stderr
        found = json.loads(done.stdout)
        assert sum(one["entered"] is not None for one in found["readings"]) == number
        assert len(found["next"]) == 3
        worst = [found["next"][0]["worst_before_m"], *(one["worst_after_m"] for one in found["next"])]
        assert worst == sorted(worst, reverse=True)
        assert (tmp_path / "sheet.pdf").read_bytes().startswith(b"%PDF")
        plain = run.invoke(app, ["survey", str(file), "--json"])
        wanting = [one for one in found["problems"] if one["code"] in UNFINISHED]
        assert bool(wanting) == (number < count // 2)
        assert plain.exit_code == (2 if wanting else 0)
        assert [one["code"] for one in json.loads(plain.stdout)["problems"] if one["severity"] == "error"] == [
            one["code"] for one in wanting
        ]


@pytest.mark.behaviour
def test_a_slip_in_a_reading_typed_from_the_sheet_is_named_with_its_line(measured):
    text, _, listed, places = measured
    units = source_of(text).design.units
    lines = filled_in(listed, places, units, seed=4).splitlines()
    number = max(k for k, line in enumerate(lines) if 'kind = "tape"' in line)
    said = re.search(r'length = "([^"]+)"', lines[number]).group(1)
    step = 0.1 if units == "m" else FOOT
    value = float(said) + step if units == "m" else source_of_length(said) + step
    lines[number] = lines[number].replace(f'"{said}"', f'"{typed(value, units)}"')
    full = with_readings(text, "\n".join([*lines, ""]))
    suspect, *_ = verbs.survey(source_of(full)).record()["suspects"]
    assert full.splitlines()[suspect["line"] - 1] == lines[number]
    assert suspect["found_m"] - suspect["probable_m"] == pytest.approx(step, abs=0.03)
    assert suspect["slip"]


def source_of_length(text):
    """Return feet, inches and sixteenths in metres, by hand."""
    feet = re.search(r"(\d+) ft", text)
    inches = re.search(r"(?:(\d+) )?(?:(\d+)/(\d+) )?in", text)
    whole, above, below = (int(part) if part else 0 for part in inches.groups())
    return (int(feet.group(1)) if feet else 0) * FOOT + (whole + (above / below if below else 0.0)) * INCH

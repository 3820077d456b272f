"""Hold the reading of design files: values in SI, defaults with their source, every problem at once."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from canvas.design.oddities import oddities
from canvas.design.problems import DesignError
from canvas.design.reading import read_design
from canvas.design.tables import default
from tests.design.design_texts import EXAMPLES, NAMES, changed, example, problems_of, read


@pytest.mark.behaviour
@pytest.mark.parametrize("name", NAMES)
def test_an_example_reads(name):
    source = read_design(EXAMPLES / f"{name}.toml")
    assert source.design.set_names()[0] == "bare"
    assert source.text == example(name)
    assert re.fullmatch("[0-9a-f]{64}", source.sha256)


@pytest.mark.analytic
def test_values_come_out_in_si():
    design = read(example("lantern-hill")).design
    assert design.hull.waterline == pytest.approx(-0.9906)
    assert design.spars.mast.boom.angle == pytest.approx(0.0872664626)
    assert design.vane.steers_from == pytest.approx(6.5 * 1852 / 3600)
    assert design.crew[1].mass == pytest.approx(196 * 0.45359237)
    assert design.passage.legs[1].end_longitude == pytest.approx(3.0368728984701334)
    assert design.panels_up("wet watch, lee side open")[-1].zip == pytest.approx(0.5)
    assert design.cloths()["loft acrylic 9 1/4 oz"].mass == pytest.approx(0.31363, abs=1e-5)


@pytest.mark.behaviour
def test_a_key_left_out_takes_its_default():
    design = read(changed(r'^swing = "45 deg"\n', "")).design
    assert design.vane.swing == default("vane_swing")
    assert design.winch[0].handle == default("winch_handle")


@pytest.mark.behaviour
def test_a_panel_is_cut_in_its_home_set():
    design = read(example()).design
    assert design.home_set(design.panel_named("watch tent roof")) == "wet watch"
    assert design.home_set(design.panel_named("spray hood")) == "hood and bimini"
    assert [up.panel for up in design.panels_up("shade")] == ["spray hood", "bimini", "bridging piece"]
    assert design.panels_up("bare") == ()


@pytest.mark.behaviour
@pytest.mark.parametrize(
    ("of", "pattern", "swap", "key"),
    [
        ("marrowgrass", "^steers_from = ", "steer_from = ", "vane.steer_from"),
        ("marrowgrass", "^units = ", "unit = ", "unit"),
        ("marrowgrass", r"^\[vane\]", "[vain]", "vain"),
        ("oddfellow", r', length = "', ', lenght = "', "reading[0].lenght"),
    ],
)
def test_a_needed_key_that_is_misspelt_is_one_mistake(of, pattern, swap, key):
    (problem,) = problems_of(changed(pattern, swap, of=of))
    assert (problem.code, problem.key) == ("unknown-key", key)


@pytest.mark.behaviour
def test_a_needed_key_that_is_missing_is_said_beside_an_unknown_one_unlike_it():
    problems = problems_of(changed("^steers_from = .*", 'colour = "red"'))
    assert [problem.code for problem in problems] == ["missing-key", "unknown-key"]


def lengths_in(text, *, unit, size):
    """Return the text with every length in metres written as a bare number of another unit."""
    text = text.replace('units = "m"', f'units = "{unit}"')
    return re.sub(
        r'"(-?[\d.]+) (m|mm)"',
        lambda found: repr(float(found[1]) * (1.0 if found[2] == "m" else 0.001) / size),
        text,
    )


@pytest.mark.property
@pytest.mark.parametrize(("unit", "size"), [("m", 1.0), ("mm", 0.001), ("ft", 0.3048), ("in", 0.0254)])
def test_a_boat_is_the_same_in_any_unit(unit, size):
    plain = read(example()).design.model_dump(exclude={"units"})
    other = read(lengths_in(example(), unit=unit, size=size)).design.model_dump(exclude={"units"})
    assert flat(other) == pytest.approx(flat(plain), rel=1e-12)


def flat(value, path=""):
    """Return every number of nested data by its path."""
    if isinstance(value, dict):
        return {key: number for name, part in value.items() for key, number in flat(part, f"{path}.{name}").items()}
    if isinstance(value, list | tuple):
        return {key: number for at, part in enumerate(value) for key, number in flat(part, f"{path}[{at}]").items()}
    return {path: value} if isinstance(value, int | float) else {}


@pytest.mark.property
@pytest.mark.parametrize("name", NAMES)
def test_line_ends_and_byte_order_mark_change_nothing(name, tmp_path):
    plain = example(name)
    path = tmp_path / "boat.toml"
    path.write_bytes(b"\xef\xbb\xbf" + plain.replace("\n", "\r\n").encode())
    assert read_design(path).design == read(plain).design


@pytest.mark.behaviour
def test_all_problems_are_said_at_once_in_the_order_of_lines():
    text = example().replace('flare = "9 deg"', 'flair = "9 deg"').replace('length = "2.30 m"', 'length = "2.30"', 1)
    text = text.replace('camber = "60 mm"', "camber = -1", 1).replace('kind = "hoop"', 'kind = "hop"', 1)
    problems = problems_of(text)
    assert [problem.code for problem in problems] == ["unknown-key", "wrong-value", "unknown-choice"]
    assert [problem.line for problem in problems] == sorted(problem.line for problem in problems)
    assert 'Did you mean "flare"?' in problems[0].wanted


@pytest.mark.behaviour
def test_a_message_says_file_line_key_found_and_wanted():
    (problem,) = problems_of(changed('hollow = "5 %"', 'hollow = "4 pc"'))
    assert re.fullmatch(
        r'boat\.toml:\d+: panel "bridging piece", edges\[1\]\.hollow: found "4 pc"\. '
        r'Write "4 %" of the chord, or a length such as "60 mm"\.',
        str(problem),
    )


@pytest.mark.behaviour
@pytest.mark.parametrize(
    ("old", "new", "code", "key", "wanted"),
    [
        ("^to = ", "two = ", "unknown-key", 'solid "vane gear", two', "Did you mean"),
        (r"^aft_deck = .*\n", "", "missing-key", "cockpit", 'Add "aft_deck" here'),
        (r"^\[vane\]", "[vain]", "unknown-key", "vain", 'Did you mean "vane"'),
        ('axis = "tilted"', 'axis = "titled"', "unknown-choice", "vane.axis", 'Did you mean "tilted"'),
        ("rolls_up = true", 'rolls_up = "yes"', "wrong-value", "rolls_up", "Write true or false"),
        (r"power = 130", "power = 0", "wrong-value", "power", "Write a number above 0"),
        (r"month = 11", "month = 13", "wrong-value", "month", "12 or less"),
        (r"month = 11", "month = 2.5", "wrong-value", "month", "whole number"),
        (r'date = "2026-03-02"', 'date = "2026-02-31"', "wrong-value", "date", "Write a day"),
        (r'^up = \["spray hood", "bimini"\]', "up = [3]", "wrong-value", "up[0]", "Write a table"),
        (r'^up = \["spray hood", "bimini"\]', 'up = "bimini"', "wrong-value", "up", "Write a list"),
        (r"^masthead = .*", 'masthead = "surveyed"', "wrong-value", "masthead", 'Or write "survey"'),
        (r'^name = "Ines"', "name = 3", "wrong-value", "name", "Write text in quotes"),
        (r'^name = "Ines"', 'name = "  "', "wrong-value", "name", "one line of text, not empty"),
        (r'inset = "0.22 m"', 'inset = ["0.2 m"]', "wrong-value", "inset", "one length for each edge"),
    ],
)
def test_a_wrong_value_is_said_in_the_words_of_the_file(old, new, code, key, wanted):
    problem = next(p for p in problems_of(changed(old, new)) if p.code == code)
    assert key in problem.key
    assert wanted in problem.wanted
    assert problem.line is not None


@pytest.mark.property
@given(st.binary(max_size=200))
def test_no_bytes_make_the_reader_fall_over(tmp_path_factory, raw):
    path = tmp_path_factory.getbasetemp() / "any.toml"
    path.write_bytes(raw)
    with pytest.raises(DesignError) as refused:
        read_design(path)
    assert refused.value.problems
    assert all(problem.wanted for problem in refused.value.problems)


@pytest.mark.behaviour
def test_an_arched_batten_is_warned_of_unless_its_middle_is_tied():
    arched = example("marrowgrass").replace('batten_bow = "0 mm"', 'batten_bow = "90 mm"')
    (warning,) = (p for p in oddities(read(arched)) if p.code == "arched-batten")
    assert warning.severity == "warning"
    assert "90 mm outside its chord" in warning.found
    assert arched.splitlines()[warning.line - 1].strip().startswith('{ name = "leech"')
    tied = arched.replace(
        '  { at = "tent_aft_port", kind',
        '  { at = "hood_top_port", kind = "lashing" },\n  { at = "tent_aft_port", kind',
        1,
    )
    assert not [p for p in oddities(read(tied)) if p.code == "arched-batten"]
    assert not [p for p in oddities(read(example("marrowgrass"))) if p.code == "arched-batten"]

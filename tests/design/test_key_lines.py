"""Hold the walk that finds the line of every key to texts drawn in every form that TOML has."""

import tomllib

import pytest
from hypothesis import assume, given

from canvas.design.positions import key_lines, nearest_line, path_text
from tests.design.design_texts import NAMES, example
from tests.design.toml_texts import documents, paths_of


@pytest.mark.property
@given(documents())
def test_every_key_of_any_toml_is_found_at_its_line(text):
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        assume(False)  # two keys met, which TOML forbids
    lines = key_lines(text)
    assert set(lines) == {path for path, _ in paths_of(data)}
    for path, value in paths_of(data):
        if isinstance(value, str) and value.startswith("value"):
            token = value[: value.index(".") + 1]
            assert lines[path] == 1 + text[: text.index(token)].count("\n"), path


@pytest.mark.behaviour
@pytest.mark.parametrize("name", NAMES)
def test_every_key_of_an_example_is_found_on_a_line_that_says_it(name):
    text = example(name)
    lines, rows = key_lines(text), text.splitlines()
    for path, _ in paths_of(tomllib.loads(text)):
        if path and isinstance(path[-1], str):
            assert path[-1] in rows[lines[path] - 1]


@pytest.mark.behaviour
def test_a_path_that_is_not_there_takes_the_line_of_what_holds_it():
    lines = key_lines("a = 1\n\n[b]\nc = 2\n")
    assert nearest_line(lines, ("b", "d", 3)) == 3
    assert nearest_line(lines, ("z",)) == 1


@pytest.mark.behaviour
def test_a_path_is_shown_by_the_name_of_its_part():
    names = {("panel", 1): "watch tent roof"}
    assert path_text(("panel", 1, "edges", 2, "hollow"), names) == 'panel "watch tent roof", edges[2].hollow'
    assert path_text(("panel", 0, "edges"), names) == "panel[0].edges"
    assert path_text(("cockpit", "port", "seat_to"), names) == "cockpit.port.seat_to"
    assert path_text((), names) == ""

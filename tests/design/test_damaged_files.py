"""Damage the example designs in many ways: each is refused with what is wrong, where, and what would do."""

import json
import re
from collections.abc import Callable
from dataclasses import dataclass

import pytest
from typer.testing import CliRunner

from canvas.cli import app
from canvas.design.problems import DesignError
from canvas.design.reading import read_design
from tests.design.design_texts import changed, example


@dataclass(frozen=True)
class Damage:
    """One way to damage a file: its bytes, and what must be said of it."""

    name: str
    make: Callable[[], str | bytes]
    code: str
    key: str
    message: str
    line: bool = True


def swapped(old: str, new: str, *, of: str = "marrowgrass") -> Callable[[], str]:
    """Return a maker of an example with one place changed."""
    return lambda: changed(old, new, of=of)


def cut(part: str) -> Callable[[], str]:
    """Return a maker of the first example without a part, up to the next header."""
    return lambda: changed(rf"^\[{part}\]\n(?:(?!\[).*\n)*?(?=\[)", "")


UNREADABLE = [
    Damage("empty", lambda: "", "missing-key", "", r'no key "hull". Add a part \[hull\]'),
    Damage("only blanks", lambda: " \n\n\t\n", "missing-key", "", r'no key "name"'),
    Damage("name asked for", lambda: "", "missing-key", "", r'no key "name". Add "name" at the top'),
    Damage("crew asked for", lambda: "", "missing-key", "", r'no key "crew". Add a part \[\[crew\]\]'),
    Damage("only a comment", lambda: "# my boat\n", "missing-key", "", r'no key "vane"'),
    Damage("prose", lambda: "My boat is 10.9 m long.\n", "not-toml", "", r"text that is not TOML"),
    Damage("JSON", lambda: '{"name": "Marrowgrass"}\n', "not-toml", "", r"Mend that line"),
    Damage("no closing quote", swapped('^units = "m"', 'units = "m'), "not-toml", "", r"text that is not TOML"),
    Damage("no closing bracket", swapped(r"^edges = \[", "edges = "), "not-toml", "", r"text that is not TOML"),
    Damage("a key twice", swapped('^units = "m"', 'units = "m"\nunits = "ft"'), "not-toml", "", r"cannot overwrite"),
    Damage("a part twice", swapped(r"^\[spars.mast\]", "[hull]"), "not-toml", "", r"text that is not TOML"),
    Damage("a comma for a point", swapped('"-0.44 m"', "-0,44"), "not-toml", "", r"text that is not TOML"),
    Damage("lone carriage returns", lambda: example().replace("\n", "\r"), "not-toml", "", r"text that is not TOML"),
    Damage("a NUL", lambda: example()[:300] + "\0" + example()[300:], "not-toml", "", r"text that is not TOML"),
    Damage("Latin-1", lambda: ("# Möwe\n" + example()).encode("latin-1"), "not-utf8", "", r"not UTF-8 \(0xf6\)"),
    Damage("UTF-16", lambda: example().encode("utf-16"), "not-utf8", "", r"Save the file as UTF-8"),
    Damage("a picture", lambda: b"\x89PNG\r\n\x1a\n" + bytes(range(256)), "not-utf8", "", r"not UTF-8 \(0x89\)"),
    Damage("cut off", lambda: example().encode()[:5000], "not-toml", "", r"text that is not TOML"),
    Damage("brackets without end", lambda: "a = " + "[" * 4000, "not-toml", "", r"nested too deep", line=False),
    Damage(
        "a number of 5000 digits", swapped("power = 130", "power = " + "9" * 5000), "not-toml", "", r"too long", False
    ),
    Damage("five megabytes", lambda: example() + "#" * 5_000_000, "too-large", "", r"text of a few pages", line=False),
]

PARTS = [
    Damage("no hull", cut("hull"), "missing-key", "", r'no key "hull"'),
    Damage("no vane", cut("vane"), "missing-key", "", r'no key "vane"'),
    Damage("no blade height", swapped('^height = "0.82 m"\n', ""), "missing-key", "vane", r'no key "height"'),
    Damage("no crew", lambda: example().replace("[[crew]]", "[[winch]]"), "missing-key", "", r'no key "crew"'),
    Damage("no units", swapped('^units = "m"\n', ""), "missing-key", "", r'no key "units"'),
    Damage("no name of a tube", swapped('^name = "arch"\n', ""), "missing-key", "tube[7]", r'no key "name"'),
    Damage(
        "units of its own", swapped('^units = "m"', 'units = "cm"'), "unknown-choice", "units", r'Known: "ft", "in"'
    ),
    Damage("a part unknown", swapped(r"^\[spars.mast\]", "[sparse.mast]"), "unknown-key", "sparse", r'mean "spars"'),
    Damage("a list as table", swapped(r"^\[\[winch\]\]", "[winch]"), "not-toml", "", r"text that is not TOML"),
    Damage(
        "a table as list", swapped(r"^\[instrument\]", "[[instrument]]"), "wrong-value", "instrument", r"Write a table"
    ),
    Damage("nested junk", swapped("power = 130", "power = {a = [[{}]]}"), "wrong-value", "power", r"Write a number"),
    Damage(
        "two edges only",
        swapped(r'^  \{ name = "aft", along = "bimini aft bow".*\n(.*\n){2}', "]\n"),
        "wrong-value",
        'panel "bimini", edges',
        r"Write at least 3",
    ),
    Damage("marks as a list", swapped(r"^\[marks\]", "[[marks]]"), "wrong-value", "marks", r"Write a table"),
    Damage(
        "a mark in the plane",
        swapped("^masthead = .*", 'masthead = ["1 m", "2 m"]'),
        "wrong-value",
        "masthead",
        r"Write three lengths",
    ),
]

VALUES = [
    Damage(
        "a wrong unit",
        swapped('waterline = "-0.44 m"', 'waterline = "-0.44 kg"'),
        "wrong-value",
        "hull.waterline",
        r"Write a length",
    ),
    Damage(
        "no such unit",
        swapped('steers_from = "5.5 kn"', 'steers_from = "5.5 knots"'),
        "wrong-value",
        "vane.steers_from",
        r'Write it as "12 kn"',
    ),
    Damage(
        "text for a length", swapped('radius = "80 mm"', 'radius = "thick"'), "wrong-value", "radius", r"Write a length"
    ),
    Damage("text for a number", swapped("power = 130", 'power = "130"'), "wrong-value", "power", r"without quotes"),
    Damage(
        "true for a length", swapped('radius = "80 mm"', "radius = true"), "wrong-value", "radius", r"Write a length"
    ),
    Damage("not a number", swapped('radius = "80 mm"', "radius = nan"), "wrong-value", "radius", r"finite"),
    Damage("power not a number", swapped("power = 130", "power = nan"), "wrong-value", "power", r"Write a"),
    Damage("endless", swapped('radius = "80 mm"', "radius = inf"), "wrong-value", "radius", r"finite"),
    Damage("power endless", swapped("power = 130", "power = inf"), "wrong-value", "power", r"finite"),
    Damage("below zero", swapped('radius = "80 mm"', 'radius = "-80 mm"'), "wrong-value", "radius", r"above zero"),
    Damage(
        "nothing long", swapped('length = "2.30 m"', 'length = "0 m"'), "wrong-value", "cockpit.length", r"above zero"
    ),
    Damage("a boat of 20 km", swapped('"-7.90 m"', '"-20000 m"'), "wrong-value", "deck_edge", r"at most 200 m"),
    Damage("mm as metres", swapped('length = "2.30 m"', "length = 2300"), "wrong-value", "cockpit.length", r"the unit"),
    Damage(
        "a number of 400 digits",
        swapped('length = "2.30 m"', "length = 1" + "0" * 400),
        "wrong-value",
        "cockpit.length",
        r"finite",
    ),
    Damage("a fraction of nothing", swapped('length = "2.30 m"', 'length = "1/0 in"'), "wrong-value", "length", r"1/2"),
    Damage("turned four times", swapped('rake = "4 deg"', 'rake = "1440 deg"'), "wrong-value", "rake", r"full turn"),
    Damage("140 % of cloth", swapped('camber = "9 %"', 'camber = "140 %"'), "wrong-value", "camber", r'"100 %"'),
    Damage("south of the pole", swapped('"28 N"', '"98 S"'), "wrong-value", "start_latitude", r"at most 90"),
    Damage(
        "a zip half open, how",
        swapped(r'^up = \["spray hood", "bimini"\]', 'up = [{panel = "bimini", zip = 0.4}]'),
        "wrong-value",
        "up[0].zip",
        r'"open 40 %"',
    ),
    Damage(
        "a mistyped choice",
        swapped('kind = "servo pendulum"', 'kind = "servo"'),
        "unknown-choice",
        "vane.kind",
        r'"servo pendulum", "trim tab"',
    ),
    Damage("31 February", swapped('"2026-03-02"', '"2026-02-31"'), "wrong-value", "date", r"Write a day"),
    Damage("month 13", swapped("month = 11", "month = 13"), "wrong-value", "month", r"12 or less"),
    Damage(
        "a reading of no kind",
        swapped(r'kind = "tape", from', "from", of="oddfellow"),
        "missing-key",
        "reading[0]",
        r'no key "kind"',
    ),
    Damage(
        "a reading of another kind",
        swapped(r'kind = "tape"', 'kind = "laser"', of="oddfellow"),
        "unknown-choice",
        "reading[0].kind",
        r'"tape"',
    ),
    Damage(
        "a reading without length",
        swapped(r', length = "[0-9.]+ m"', "", of="oddfellow"),
        "missing-key",
        "reading[0]",
        r'no key "length"',
    ),
    Damage(
        "a line break in a name",
        swapped('^name = "Ines"', 'name = "I\\\\nnes"'.replace("\\\\", "\\")),
        "wrong-value",
        "name",
        r"one line of text",
    ),
]

NAMES = [
    Damage(
        "a mark unknown",
        swapped('^start = "hood_foot_port"', 'start = "hood_foot_prot"'),
        "unknown-mark",
        "start",
        r'mean "hood_foot_port"',
    ),
    Damage(
        "a tube unknown",
        swapped('along = "spray hood front line"', 'along = "front"'),
        "unknown-tube-or-panel",
        "edges[0].along",
        r"Known:",
    ),
    Damage(
        "a panel of no set", swapped(r'^up = \["spray hood"\]', 'up = ["dodger"]'), "unknown-panel", "up[0]", r"Known:"
    ),
    Damage(
        "a cloth unknown",
        swapped('cloth = "acrylic 300"', 'cloth = "acrylics"'),
        "unknown-cloth",
        "cloth",
        r'mean "acrylic 300"',
    ),
    Damage(
        "a finish unknown",
        swapped('finish = "bolt rope"', 'finish = "boltrope"'),
        "unknown-finish",
        "finish",
        r'mean "bolt rope"',
    ),
    Damage("two of a name", swapped('^name = "Rolf"', 'name = "Ines"'), "double-name", "crew", r"its own name"),
    Damage(
        "hollow and batten",
        swapped('finish = "batten pocket"', 'finish = "batten pocket", hollow = "2 %"'),
        "two-ways",
        "edges[2]",
        r"not both",
    ),
]

SHAPES = [
    Damage(
        "hoops that cross",
        swapped('^rake = "10 deg"', 'rake = "-30 deg"'),
        "crossing-tubes",
        "tube",
        r"running through",
    ),
    Damage(
        "a mark in the cabin",
        swapped("^masthead = .*", 'masthead = ["-2.00 m", "0.10 m", "0.40 m"]'),
        "mark-inside-cabin",
        "marks.masthead",
        r"measure it again",
    ),
    Damage(
        "a mark far off",
        swapped("^tent_aft_port = .*", 'tent_aft_port = ["143 m", "-0.84 m", "1.10 m"]'),
        "mark-far-off",
        "marks.tent_aft_port",
        r"check the unit",
    ),
    Damage(
        "a free edge with nothing", swapped(', hollow = "5 %"', ""), "impossible-panel", "edges[1]", r"nothing to keep"
    ),
    Damage(
        "a panel that does not close", swapped(', to = "coaming_fwd_stbd"', ""), "impossible-panel", "edges", r"Give it"
    ),
    Damage(
        "edges the wrong way round",
        swapped('^  { name = "foot", to = "coaming_aft_stbd", finish = "twist studs" },\n', ""),
        "impossible-panel",
        "panel",
        r".",
    ),
    Damage(
        "a hoop that cannot be bent",
        swapped('^corner_radius = "260 mm"', 'corner_radius = "1.9 m"'),
        "impossible-tube",
        "tube",
        r"corner radius smaller",
    ),
]

DAMAGES = [*UNREADABLE, *PARTS, *VALUES, *NAMES]


def written(damage: Damage, folder):
    """Write a damaged file and return its path."""
    path = folder / "boat.toml"
    content = damage.make()
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return path


def said(problems, damage: Damage):
    """Whether one of the problems says what is asked, at its line."""
    return any(
        problem.code == damage.code
        and damage.key in problem.key
        and re.search(damage.message, str(problem))
        and (problem.line is not None or not damage.line)
        for problem in problems
    )


@pytest.mark.behaviour
def test_there_are_sixty_of_them():
    names = [damage.name for damage in [*DAMAGES, *SHAPES]]
    assert len(names) == len(set(names)) >= 60


@pytest.mark.behaviour
@pytest.mark.parametrize("damage", DAMAGES, ids=lambda damage: damage.name)
def test_a_damaged_file_is_refused_with_what_is_wrong(damage, tmp_path):
    path = written(damage, tmp_path)
    with pytest.raises(DesignError) as refused:
        read_design(path)
    problems = refused.value.problems
    assert said(problems, damage), str(refused.value)
    assert all(problem.file == str(path) and problem.severity == "error" and problem.wanted for problem in problems)


@pytest.mark.behaviour
@pytest.mark.parametrize("damage", [*DAMAGES, *SHAPES], ids=lambda damage: damage.name)
def test_check_ends_with_two_and_writes_nothing(damage, tmp_path):
    path = written(damage, tmp_path)
    before = path.read_bytes()
    outcome = CliRunner().invoke(app, ["check", str(path), "--json", "--plots", str(tmp_path / "plots")])
    assert outcome.exit_code == 2, outcome.output
    answer = json.loads(outcome.stdout)
    assert answer["sets"] == []
    found = [problem for problem in answer["problems"] if problem["code"] == damage.code]
    assert any(damage.key in problem["key"] for problem in found), answer["problems"]
    assert [there.name for there in tmp_path.iterdir()] == ["boat.toml"]
    assert path.read_bytes() == before


@pytest.mark.behaviour
@pytest.mark.parametrize("damage", SHAPES, ids=lambda damage: damage.name)
def test_an_impossible_shape_is_named_for_people(damage, tmp_path):
    outcome = CliRunner().invoke(app, ["check", str(written(damage, tmp_path))])
    assert outcome.exit_code == 2
    assert outcome.stdout == ""
    assert "Traceback" not in outcome.stderr
    assert damage.key in outcome.stderr
    assert "nothing was written" in outcome.stderr


@pytest.mark.behaviour
@pytest.mark.parametrize(
    ("name", "code", "found"),
    [("nowhere.toml", "no-file", "no such file"), ("", "not-a-file", "a folder"), ("a\0b", "not-readable", "null"),
     ("x" * 400, "not-readable", "too long")],
    ids=["no file", "a folder", "a name with a NUL", "a name too long"],
)  # fmt: skip
def test_what_is_no_file_is_refused(name, code, found, tmp_path):
    with pytest.raises(DesignError) as refused:
        read_design(f"{tmp_path}/{name}")
    (problem,) = refused.value.problems
    assert problem.code == code
    assert found in problem.found


@pytest.mark.behaviour
@pytest.mark.parametrize(
    "make",
    [
        lambda text: text.replace("\n", "\r\n"),
        lambda text: "\ufeff" + text,
        lambda text: text.rstrip("\n"),
        lambda text: text + "\n\n# the end\n",
        lambda text: text.replace('name = "Marrowgrass"', 'name = "Möwe ⚓ 海鷗"', 1),
    ],
    ids=["CRLF", "byte order mark", "no last line end", "a comment at the end", "a name in other letters"],
)
def test_what_only_looks_damaged_reads(make, tmp_path):
    path = tmp_path / "boat.toml"
    path.write_bytes(make(example()).encode())
    assert read_design(path).design.hull == read_design(path).design.hull
    assert read_design(path).design.vane.height == 0.82

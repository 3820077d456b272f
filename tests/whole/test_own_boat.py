"""Type a boat of one's own through `canvas new`, in feet and in metres, then run every verb on it."""

import json
import re

import pytest
from typer.testing import CliRunner

from canvas.cli import app
from tests.whole.boats import NAMES, ROOT, boat

FEET = [
    "Ninefold", "ft", "wheel", "34 ft 5 in", "11 ft 2 in", "7 ft 3 in", "6 ft 1 1/2 in", "17 in", "2 ft 8 in",
    "1 ft 3 in", "7 ft 1 in", "5 ft 10 in", "yes", "5 ft 4 in", "6 ft 1 in",
    "servo", "", "5 ft 2 in", "2 ft 9 in", "6 kn",
]  # fmt: skip
METRES = [
    "Très loin", "m", "tiller", "8.7", "2.85 m", "1.95", "1.6", "", "0.75", "0.30", "1.95", "1.6", "no", "1.58", "1.91",
    "trim tab", "2.75", "1.35", "0.7", "7.5 kn",
]  # fmt: skip
BOATS = {"in feet": FEET, "in metres": METRES}
run = CliRunner()


@pytest.fixture(scope="module", params=BOATS)
def typed(request, tmp_path_factory):
    """Return a design typed in, and what `new` printed."""
    path = tmp_path_factory.mktemp("own boat") / "mine.toml"
    done = run.invoke(app, ["new", str(path)], input="\n".join(BOATS[request.param]) + "\n")
    assert done.exit_code == 0, done.output
    return path, done.stdout, BOATS[request.param]


@pytest.mark.behaviour
def test_the_design_holds_what_was_typed(typed):
    path, printed, lines = typed
    text = path.read_text(encoding="utf-8")
    assert f'name = "{lines[0]}"' in text
    assert text.startswith("# A first design")
    assert "assumed = [" in text
    assert "# blade" in printed
    assert f"wrote {path}" in printed


VERBS = [
    ["check"],
    ["survey"],
    ["shade", "--latitude", "12 N", "--day", "2026-04-02", "--sun-time", "10:30"],
    ["vane", "--method", "sector"],
    ["vane", "--method", "wake"],
    ["fit"],
    ["cut", "-o", "out/cut"],
    ["buy", "--rate", "60"],
    ["sheet", "-o", "out/sheet.pdf"],
    ["mockup", "-o", "out/mockup.pdf"],
    ["brief", "-o", "out/brief.pdf"],
    ["rain", "--set", "wet watch", "--aws", "15 kn"],
    ["loads", "--set", "wet watch", "--aws", "20 kn"],
]


@pytest.mark.behaviour
@pytest.mark.parametrize("words", VERBS, ids=lambda words: " ".join(words[:3]) if words[0] == "vane" else words[0])
def test_every_verb_answers_about_it(typed, words, monkeypatch):
    path, _, lines = typed
    monkeypatch.chdir(path.parent)
    verb, *options = words
    done = run.invoke(app, [verb, path.name, *options, "--json"])
    assert done.exit_code == 0, done.output[-2000:]
    record = json.loads(done.stdout)
    assert record["design"] == lines[0]
    assert [one for one in record["problems"] if one["severity"] == "error"] == []
    for name in record.get("files", []):
        assert (path.parent / "out" / ("cut" if verb == "cut" else "") / name).stat().st_size > 200


@pytest.mark.behaviour
def test_the_report_answers_about_it(typed):
    path, _, _ = typed
    done = run.invoke(app, ["report", str(path), "--set", "wet watch", "-o", str(path.parent / "report")])
    assert done.exit_code == 0, done.output[-2000:]
    page = (path.parent / "report" / "report.html").read_text(encoding="utf-8")
    assert "wet watch" in page
    assert list((path.parent / "report").glob("*.dxf"))


@pytest.mark.behaviour
def test_nothing_is_written_over_and_no_end_of_input_leaves_a_file(typed, tmp_path):
    path, _, lines = typed
    before = path.read_bytes()
    again = run.invoke(app, ["new", str(path)], input="\n".join(lines) + "\n")
    assert again.exit_code == 2
    assert "Choose another name" in again.stderr
    assert path.read_bytes() == before
    cut_off = run.invoke(app, ["new", str(tmp_path / "half.toml")], input="\n".join(lines[:9]) + "\n")
    assert cut_off.exit_code == 130
    assert list(tmp_path.iterdir()) == []


@pytest.mark.behaviour
@pytest.mark.parametrize("name", NAMES)
def test_one_can_start_from_each_example(name, tmp_path):
    path = tmp_path / "my-boat.toml"
    done = run.invoke(app, ["new", str(path), "--like", name])
    assert done.exit_code == 0, done.output[-2000:]
    mine = re.sub(r"(?m)^name = .*$", "", path.read_text(encoding="utf-8"), count=1)
    theirs = re.sub(r"(?m)^name = .*$", "", (ROOT / "examples" / f"{name}.toml").read_text(encoding="utf-8"), count=1)
    assert theirs in mine
    assert boat(name).model.design.name in done.stdout or "my-boat" in done.stdout

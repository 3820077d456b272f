"""Check the command line: exit codes, one JSON object and nothing else, help at once, wrong input in a line each."""

import json
import re
import sys
from pathlib import Path
from typing import get_type_hints

import pytest
from typer.models import OptionInfo
from typer.testing import CliRunner

from canvas.cli import VERBS, app

ROOT = Path(__file__).parent.parent
MARROWGRASS = str(ROOT / "examples" / "marrowgrass.toml")
run = CliRunner()


def asked(*words):
    return run.invoke(app, [str(word) for word in words])


@pytest.mark.behaviour
def test_json_is_one_object_and_nothing_else():
    done = asked("check", MARROWGRASS, "--set", "blow coming", "--json")
    assert done.exit_code == 0
    record = json.loads(done.stdout)
    assert record["schema"] == "cockpit-canvas/check"
    assert [one["name"] for one in record["sets"]] == ["blow coming"]
    assert done.stdout.count("\n") == 1


@pytest.mark.behaviour
def test_pictures_that_were_asked_for_and_are_not_drawn_are_told(tmp_path):
    done = asked("survey", MARROWGRASS, "--plots", tmp_path / "plots")  # no readings, so nothing to draw
    assert done.exit_code == 0
    assert "No picture was drawn" in done.stderr
    assert not (tmp_path / "plots").exists()


@pytest.mark.behaviour
def test_wrong_input_with_json_puts_problems_on_top_and_no_sets(tmp_path):
    bad = tmp_path / "boat.toml"
    bad.write_text((ROOT / "examples" / "marrowgrass.toml").read_text().replace('finish = "zip"', 'finish = "zipp"', 1))
    done = asked("check", bad, "--json")
    assert done.exit_code == 2
    record = json.loads(done.stdout)
    assert record["sets"] == []
    problem = record["problems"][0]
    assert problem["found"] == 'unknown finish "zipp"'
    assert 'Did you mean "zip"?' in problem["wanted"]
    assert '"zipp"' in bad.read_text().splitlines()[problem["line"] - 1]


@pytest.mark.behaviour
@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["shade", MARROWGRASS, "--at", "2026-12-21T12:00", "--latitude", "10 N"], "The time has no zone"),
        (["shade", MARROWGRASS, "--at", "2026-12-21T12:00Z"], "Write one, as --latitude"),
        (
            ["shade", MARROWGRASS, "--day", "2026-02-31", "--sun-time", "12:00", "--latitude", "10 N"],
            "a day that exists",
        ),
        (["shade", MARROWGRASS, "--day", "2026-12-21", "--latitude", "10 N"], "Give both --day and --sun-time"),
        (
            ["shade", MARROWGRASS, "--latitude", "95 N", "--day", "2026-12-21", "--sun-time", "12:00"],
            "at most 90 degrees",
        ),
        (["check", MARROWGRASS, "--set", "shadow"], 'Did you mean "shade"'),
        (["check", "no-such-boat.toml"], "no such file"),
        (["check", str(ROOT / "examples")], "a folder"),
        (["vane", MARROWGRASS, "--method", "guess"], 'found "guess"'),
        (["vane", MARROWGRASS, "--awa", "north"], 'found "north"'),
    ],
)
def test_wrong_input_exits_2_and_says_what_would_do(words, said):
    done = asked(*words)
    assert done.exit_code == 2
    assert said in done.stderr
    assert done.stdout == ""
    assert "Traceback" not in done.stderr


@pytest.mark.behaviour
def test_disk_that_cannot_be_written_exits_3(tmp_path):
    blocked = tmp_path / "file"
    blocked.write_text("not a folder")
    done = asked("cut", MARROWGRASS, "--set", "shade", "-o", blocked / "out")
    assert done.exit_code == 3
    assert "could not be written" in done.stderr


@pytest.mark.behaviour
def test_requiring_a_name_that_no_set_has_exits_2_offers_the_nearest_and_writes_nothing(tmp_path):
    done = asked("cut", MARROWGRASS, "-o", tmp_path / "out", "--require", "tent bak", "--json")
    assert done.exit_code == 2
    assert 'Did you mean "tent back"' in json.loads(done.stdout)["problems"][0]["wanted"]
    assert not (tmp_path / "out").exists()


@pytest.mark.behaviour
def test_every_verb_has_help_with_an_example():
    listed = re.findall(r"^  ([a-z]+) ", asked("--help").stdout.partition("Commands:")[2], flags=re.M)
    assert len(listed) > 4
    for verb in listed:
        text = asked(verb, "--help").stdout
        assert f"Example: canvas {verb} " in re.sub(r"\s+", " ", text), verb


@pytest.mark.behaviour
def test_help_pays_for_no_heavy_import():
    import subprocess
    import sys

    code = (
        "import sys, canvas.cli; print([m for m in ('numpy', 'scipy', 'matplotlib', 'pydantic') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT)
    assert done.stdout.strip() == "[]"


@pytest.mark.behaviour
@pytest.mark.skipif(not Path("/bin/sh").exists(), reason="needs a POSIX shell")
@pytest.mark.parametrize(
    ("ends", "code", "said"),
    [
        ("exit 0", 0, ""),
        ("exit 2", 2, ""),
        ("kill -TERM $$", 130, ""),
        ("kill -INT $$", 130, ""),
        ("kill -SEGV $$", 3, "(signal 11)"),
    ],
)
def test_a_viewer_that_its_drawing_library_takes_along_is_told_from_one_that_was_closed(
    ends, code, said, tmp_path, monkeypatch
):
    viewer = tmp_path / "python"
    viewer.write_text(f'#!/bin/sh\necho "$@" > "{tmp_path}/asked"\n{ends}\n', encoding="utf-8")
    viewer.chmod(0o755)
    monkeypatch.setattr(sys, "executable", str(viewer))
    done = asked("view", "boat.toml", "--no-browser", "--port", "8200")
    assert done.exit_code == code
    assert said in done.stderr
    assert (tmp_path / "asked").read_text() == "-m viewer boat.toml --port 8200 --host 127.0.0.1 --no-browser\n"


@pytest.mark.behaviour
@pytest.mark.parametrize("verb", VERBS, ids=lambda verb: verb.__name__)
def test_every_option_says_its_own_name_and_what_it_is(verb):
    """Where a name is left out, releases of the library differ: one of them called `--method` `--METHOD`."""
    annotations = get_type_hints(verb, include_extras=True).values()
    notes = [note for one in annotations for note in getattr(one, "__metadata__", ())]
    options = [note for note in notes if isinstance(note, OptionInfo)]
    assert options
    assert [one.default for one in options if not one.help] == []
    assert [one.help for one in options if not str(one.default).startswith("-")] == []  # the first word of `Option`

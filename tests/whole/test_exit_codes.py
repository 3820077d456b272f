"""Hold the command line to its exit codes: 0, 1, 2, 3 and 130, with nothing but one object on standard output."""

import errno
import json
import os
import subprocess
import sys

import pytest
from typer.testing import CliRunner

from canvas import verbs
from canvas.cli import app
from canvas.jobs.failure import CouldNot
from tests.whole.boats import ROOT, SMALL, record, small_text

run = CliRunner()
VERBS = ("check", "survey", "shade", "vane", "fit", "cut", "buy", "sheet", "mockup", "brief", "rain", "report")
WRITE = {"cut": "out", "report": "out", "sheet": "out/a.pdf", "mockup": "out/a.pdf", "brief": "out/a.pdf"}


@pytest.fixture
def small(tmp_path, monkeypatch):
    """Return the name of a small design in a folder of its own, which is the working folder."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "skua.toml").write_text(small_text(), encoding="utf-8")
    return "skua.toml"


def asked(verb, design, *words):
    out = ["-o", WRITE[verb]] if verb in WRITE else []
    return run.invoke(app, [verb, design, *out, *words])


def checks(verdict):
    """Return the names of fit checks of one set that have a verdict."""
    only = next(one for one in record(SMALL, "fit")["sets"] if one["name"] == "wet watch")
    return [one["name"] for one in only["checks"] if one["verdict"] == verdict]


@pytest.mark.behaviour
def test_a_required_check_that_passes_exits_0(small):
    done = asked("fit", small, "--set", "wet watch", "--require", checks("pass")[0])
    assert done.exit_code == 0


@pytest.mark.behaviour
@pytest.mark.parametrize("verdict", ["fail", "close", "unknown", "not applicable"])
def test_a_required_check_that_does_not_pass_prints_all_and_exits_1(small, verdict):
    names = checks(verdict)
    if not names:
        assert verdict != "fail", "the small boat was to fail a check"
        names = [*checks("fail"), *checks("unknown")]
    plain = asked("fit", small, "--set", "wet watch", "--json")
    done = asked("fit", small, "--set", "wet watch", "--require", names[0], "--require", checks("pass")[0], "--json")
    assert done.exit_code == 1
    assert done.stdout == plain.stdout
    assert done.stderr.strip() == f"Not passed: {names[0]}."


@pytest.mark.behaviour
def test_an_unknown_name_of_a_check_a_set_or_a_verb_exits_2(small):
    fit = asked("fit", small, "--set", "wet watch", "--require", "hedroom", "--json")
    assert fit.exit_code == 2
    assert json.loads(fit.stdout)["problems"][0]["code"] == "unknown-check"
    unknown = asked("fit", small, "--set", "wet wach", "--json")
    assert unknown.exit_code == 2
    assert 'Did you mean "wet watch"' in json.loads(unknown.stdout)["problems"][0]["wanted"]
    assert run.invoke(app, ["fitt", small]).exit_code == 2
    assert run.invoke(app, ["fit", small, "--sett", "x"]).exit_code == 2


@pytest.mark.behaviour
@pytest.mark.parametrize("verb", VERBS)
@pytest.mark.parametrize(
    ("raised", "code", "said"),
    [
        (MemoryError(), 3, "not enough memory"),
        (CouldNot("The cloth found no balance.", "Give a larger hollow."), 3, "Give a larger hollow"),
        (OSError(errno.ENOSPC, "No space left on device"), 3, "No space left on device"),
        (KeyboardInterrupt(), 130, "Stopped."),
        (ZeroDivisionError("float division"), 3, "A fault in this program"),
    ],
    ids=["memory", "no balance", "disk", "stopped", "our fault"],
)
def test_what_cannot_be_done_is_said_and_has_its_code(small, tmp_path, monkeypatch, verb, raised, code, said):
    def fails(*_, **__):
        raise raised

    monkeypatch.setattr(verbs, verb, fails)
    done = asked(verb, small, *(["--latitude", "10 N"] if verb == "shade" else []), "--json")
    assert done.exit_code == code
    assert said in done.stderr
    assert done.stdout == ""
    assert "Traceback" not in done.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["skua.toml"]


@pytest.mark.behaviour
@pytest.mark.parametrize("verb", ["cut", "sheet", "mockup"])
def test_a_full_disk_exits_3_and_leaves_no_half_file(small, tmp_path, monkeypatch, verb):
    def full(_):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full)
    done = asked(verb, small, "--set", "wet watch") if verb != "sheet" else asked(verb, small)
    assert done.exit_code == 3
    assert "could not be written: No space left on device" in done.stderr
    assert [path for path in tmp_path.rglob("*") if path.is_file() and path.name != "skua.toml"] == []


def child(*words, cwd, **ways):
    return subprocess.run(
        [sys.executable, "-m", "canvas.cli", *words], cwd=cwd, check=False, text=True, stderr=subprocess.PIPE,
        env={**os.environ, "PYTHONPATH": str(ROOT)}, **ways,
    )  # fmt: skip


@pytest.mark.behaviour
@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="no such device here")
@pytest.mark.parametrize("words", [[], ["--json"]], ids=["for people", "json"])
def test_output_that_cannot_be_written_exits_3(small, tmp_path, words):
    with open("/dev/full", "w", encoding="utf-8") as device:
        done = child("survey", small, *words, cwd=tmp_path, stdout=device)
    assert done.returncode == 3
    assert "No space left on device" in done.stderr
    assert "fault" not in done.stderr


@pytest.mark.behaviour
def test_a_reader_that_goes_away_is_no_fault_of_anybodys(small, tmp_path):
    read, write = os.pipe()
    os.close(read)
    try:
        done = child("survey", small, "--json", cwd=tmp_path, stdout=write)
    finally:
        os.close(write)
    assert done.returncode == 3
    assert done.stderr == ""


@pytest.mark.behaviour
def test_a_signal_from_the_keyboard_exits_130(small, tmp_path):
    code = (
        "import signal, sys\n"
        "from canvas import verbs\n"
        "from canvas.cli import app\n"
        "verbs.survey = lambda design: signal.raise_signal(signal.SIGINT)\n"
        "app(['survey', 'skua.toml', '--json'])\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=tmp_path, capture_output=True, text=True, check=False,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    assert done.returncode == 130
    assert done.stdout == ""
    assert done.stderr.strip() == "Stopped."

"""Run the program where disk, memory, terminal or names are against it: said, survived, nothing touched outside."""

import contextlib
import json
import os
import pty
import re
import resource
import subprocess
import sys
from pathlib import Path

import pytest
from typer.testing import CliRunner

from canvas.cli import app
from tests.whole.boats import ROOT, small_text

GIGABYTE = 10**9


def child(*words, cwd, **ways):
    """Run the command line as a program of its own, which nothing has been asked of before in this folder."""
    own = {"PYTHONPATH": str(ROOT), "CANVAS_CACHE": f"{cwd}-kept"}
    told = {"env": {**os.environ, **own, **ways.pop("env", {})}, "capture_output": True, **ways}
    return subprocess.run([sys.executable, "-m", "canvas.cli", *words], cwd=cwd, check=False, text=True, **told)


@contextlib.contextmanager
def mounted(folder, options):
    """Put a small file system in memory at a folder while the test runs."""
    folder.mkdir()
    done = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", options, "tmpfs", str(folder)], check=False, capture_output=True
    )
    if done.returncode:
        pytest.skip("a file system can be mounted by an administrator only")
    try:
        yield folder
    finally:
        subprocess.run(["umount", str(folder)], check=True)


@pytest.fixture
def place(tmp_path):
    """Return a folder with a small design in it."""
    (tmp_path / "skua.toml").write_text(small_text(), encoding="utf-8")
    return tmp_path


@pytest.mark.behaviour
def test_a_disk_that_is_really_full_is_said_and_holds_whole_files_only(place):
    with mounted(place / "disk", "size=128k") as disk:
        done = child("cut", "skua.toml", "-o", str(disk / "out"), cwd=place)
        assert done.returncode == 3
        assert "No space left on device. Free some room" in done.stderr
        assert done.stderr.count("\n") == 1
        assert not list((disk / "out").glob(".*"))
        for path in (disk / "out").glob("*.dxf"):
            assert path.read_text(encoding="utf-8").rstrip().endswith("EOF")


@pytest.mark.behaviour
def test_files_larger_than_a_machine_allows_are_said(place):
    done = child(
        "cut", "skua.toml", "-o", "out", cwd=place,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (30_000, 30_000)),
    )  # fmt: skip
    assert done.returncode == 3
    assert "could not be written: File too large." in done.stderr
    assert all(path.stat().st_size < 30_000 for path in (place / "out").iterdir())


@pytest.mark.behaviour
def test_a_folder_that_cannot_be_written_is_said(place):
    with mounted(place / "disk", "ro,size=128k") as disk:
        done = child("sheet", "skua.toml", "-o", str(disk / "sheet.pdf"), cwd=place)
        assert done.returncode == 3
        assert "sheet.pdf could not be written: Read-only file system." in done.stderr
        assert done.stdout == ""


@pytest.mark.behaviour
def test_two_gigabytes_and_one_core_are_enough_to_cut_and_to_check(place):
    def small_machine():
        resource.setrlimit(resource.RLIMIT_AS, (2 * GIGABYTE, 2 * GIGABYTE))
        os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})

    for words in (["cut", "skua.toml", "-o", "out"], ["fit", "skua.toml", "--json"]):
        done = child(*words, cwd=place, preexec_fn=small_machine)
        assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout)["sets"]


@pytest.mark.slow
@pytest.mark.behaviour
def test_two_gigabytes_and_one_core_are_enough_for_a_report(place):
    def small_machine():
        resource.setrlimit(resource.RLIMIT_AS, (2 * GIGABYTE, 2 * GIGABYTE))
        os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})

    done = child("report", str(ROOT / "examples" / "oddfellow.toml"), "-o", "out", cwd=place, preexec_fn=small_machine)
    assert done.returncode == 0, done.stderr
    assert (place / "out" / "report.html").stat().st_size > 100_000


@pytest.mark.behaviour
@pytest.mark.parametrize("megabytes", [60, 200, 320, 410])
def test_too_little_memory_is_said(place, megabytes):
    most = megabytes * 1_000_000
    done = child(
        "fit", "skua.toml", cwd=place, preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_DATA, (most, most))
    )
    assert done.returncode == 3
    assert done.stderr.startswith("Could not be done: ")
    assert "memory" in done.stderr
    assert "Traceback" not in done.stderr
    assert done.stdout == ""


def in_terminal(*words, cwd, columns):
    """Return what a terminal of some width is sent, and the exit code."""
    ours, theirs = pty.openpty()
    with subprocess.Popen(
        [sys.executable, "-m", "canvas.cli", *words], cwd=cwd, stdin=theirs, stdout=theirs, stderr=theirs,
        env={**os.environ, "PYTHONPATH": str(ROOT), "COLUMNS": str(columns), "TERM": "dumb"},
    ) as running:  # fmt: skip
        os.close(theirs)
        said = b""
        with contextlib.suppress(OSError):  # the other end is closed
            while part := os.read(ours, 65536):
                said += part
        os.close(ours)
    return said.decode("utf-8").replace("\r\n", "\n"), running.returncode


@pytest.mark.behaviour
def test_no_word_is_lost_in_a_narrow_or_a_wide_terminal_or_none(place):
    none = child("survey", "skua.toml", cwd=place, stdin=subprocess.DEVNULL)
    assert none.returncode == 0
    words = none.stdout.split()
    for columns in (20, 400):
        said, code = in_terminal("survey", "skua.toml", cwd=place, columns=columns)
        assert code == 0
        assert re.sub(r"\x1b\[[\d;]*[A-Za-z]|\r", "", said).split() == words


@pytest.mark.behaviour
def test_starting_a_boat_without_a_terminal_ends_in_a_sentence(place):
    done = child("new", "mine.toml", cwd=place, stdin=subprocess.DEVNULL)
    assert done.returncode == 130
    assert done.stderr.strip() == "Stopped."
    assert not (place / "mine.toml").exists()


@pytest.mark.behaviour
@pytest.mark.parametrize("file", ["mon bateau été.toml", "船 № 7.toml", "it's a 'boat' & more.toml", "-o.toml"])
def test_file_names_with_blanks_accents_and_signs(tmp_path, file):
    folder = tmp_path / "à bord, n° 2 $HOME `x` %s"
    folder.mkdir()
    (folder / file).write_text(small_text(), encoding="utf-8")
    out = folder / "sortie ü"
    done = CliRunner().invoke(app, ["sheet", "-o", str(out / "feuille à mesurer.pdf"), "--", str(folder / file)])
    assert done.exit_code == 0, done.output
    assert sorted(path.name for path in out.iterdir()) == ["feuille à mesurer.pdf", "feuille à mesurer.toml"]


@pytest.mark.behaviour
@pytest.mark.parametrize(
    "when",
    [
        ["--at", "9999-12-31T23:59-12:00"], ["--at", "0001-01-01T00:00+12:00"], ["--at", "1582-10-10T12:00Z"],
        ["--at", "2026-13-01T12:00Z"], ["--at", "99999-01-01T12:00Z"], ["--at", "-0044-03-15T12:00Z"],
        ["--day", "9999-12-31", "--sun-time", "12:00"], ["--from", "0001-01-01", "--to", "9999-12-31"],
        ["--from", "2026-06-21", "--to", "2026-06-20"], ["--day", "2027-02-29", "--sun-time", "24:61"],
    ],
    ids=" ".join,
)  # fmt: skip
def test_dates_far_off_or_impossible_are_refused_in_words(place, when):
    spans = ["--latitudes", "10 N"] if "--from" in when else ["--latitude", "10 N"]
    done = CliRunner().invoke(app, ["shade", str(place / "skua.toml"), *when, *spans, "--json"])
    assert done.exit_code == 2, done.output
    problems = json.loads(done.stdout)["problems"]
    assert all(one["found"] and one["wanted"] for one in problems)


@pytest.mark.behaviour
@pytest.mark.parametrize("day", ["1900-01-01", "2099-12-31", "2096-02-29"])
def test_days_at_the_ends_of_the_calendar_are_answered(place, day):
    words = ["shade", str(place / "skua.toml"), "--day", day, "--sun-time", "12:00", "--latitude", "10 N", "--json"]
    done = CliRunner().invoke(app, words)
    assert done.exit_code == 0, done.output
    assert json.loads(done.stdout)["sun"]["altitude_deg"] > 50


def everything_under(folder):
    """Return every path under a folder with its content."""
    return {path: path.read_bytes() if path.is_file() else None for path in sorted(folder.rglob("*"))}


@pytest.mark.behaviour
def test_a_sheet_never_takes_the_place_of_the_design_or_of_a_list_that_was_typed_into(place):
    design, out = place / "skua.toml", place / "sheet.toml"
    over = CliRunner().invoke(app, ["sheet", str(design), "-o", str(place / "skua.pdf")])
    assert over.exit_code == 2
    assert "which is the design itself" in over.stderr
    assert design.read_text(encoding="utf-8") == small_text()
    assert sorted(path.name for path in place.iterdir()) == ["skua.toml"]
    words = ["sheet", str(design), "-o", str(place / "sheet.pdf")]
    assert [CliRunner().invoke(app, words).exit_code for _ in range(2)] == [0, 0]
    out.write_text(out.read_text(encoding="utf-8") + "# 1.234 m\n", encoding="utf-8")
    again = CliRunner().invoke(app, words)
    assert again.exit_code == 2
    assert "a list that was typed into" in again.stderr
    assert out.read_text(encoding="utf-8").endswith("# 1.234 m\n")


HOSTILE = ("../../outside", "/etc/canvas", "..", "a/b\\c", "con", "x" * 200, "été\u202e", "$(touch x)", "%2e%2e%2f")


@pytest.mark.behaviour
@pytest.mark.parametrize("name", HOSTILE, ids=range(len(HOSTILE)))
def test_whatever_a_design_says_only_the_output_folder_is_written(tmp_path, name):
    text = small_text()
    for old in ("Skua", "watch tent roof", "wet watch", "starboard"):
        text = text.replace(f'"{old}"', json.dumps(name + old[0]))
    text += f'\n[[set]]\nname = {json.dumps(name + "x")}\nused = ["under way"]\nup = [{json.dumps(name + "w")}]\n'
    home = tmp_path / "deep" / "down" / "home"
    home.mkdir(parents=True)
    (home / "boat.toml").write_text(text, encoding="utf-8")
    (tmp_path / "outside").write_text("kept", encoding="utf-8")
    before, codes = everything_under(tmp_path), []
    for words in (["cut", "-o", "out"], ["mockup", "-o", "out/mockup.pdf"], ["check", "--plots", "out/plots"]):
        told = [words[0], str(home / "boat.toml"), words[1], str(home / words[2])]
        done = CliRunner().invoke(app, told)
        assert done.exit_code in {0, 2}, done.output
        assert "Traceback" not in done.output
        codes.append(done.exit_code)
    assert 0 in codes or len(name) > 100  # so long a name is refused
    after = everything_under(tmp_path)
    assert {path: content for path, content in after.items() if not path.is_relative_to(home / "out")} == before
    assert not Path("/etc/canvas").exists()


@pytest.mark.behaviour
@pytest.mark.parametrize("file", ["../secret.stl", "/etc/passwd", "link.stl", "folder.stl", "../home/../secret.stl"])
def test_a_mesh_outside_the_designs_folder_is_not_opened(tmp_path, file):
    home = tmp_path / "home"
    home.mkdir()
    (tmp_path / "secret.stl").write_bytes((Path(__file__).parent / "block.stl").read_bytes())
    (home / "link.stl").symlink_to(tmp_path / "secret.stl")
    (home / "folder.stl").mkdir()
    solid = f'\n[[solid]]\nname = "raft"\nkind = "mesh"\nfile = {json.dumps(file)}\nscale = "1 mm"\n'
    (home / "boat.toml").write_text(small_text() + solid, encoding="utf-8")
    done = CliRunner().invoke(app, ["check", str(home / "boat.toml"), "--json"])
    assert done.exit_code == 2, done.output
    problem = json.loads(done.stdout)["problems"][0]
    assert problem["code"] == ("mesh-missing" if file == "folder.stl" else "mesh-outside-folder")

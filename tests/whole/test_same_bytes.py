"""Hold files and records to the same bytes in two folders, time zones, locales, hash seeds and numbers of cores."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.whole.boats import EXAMPLES, ROOT, small_text

# Run in one child, so that imports and the boat are paid once: every verb's files and record, two of them also through
# the program's own door.
CHILD = """
import datetime, json, os, pathlib, time
time.tzset()
from typer.testing import CliRunner
from canvas import verbs
from canvas.brief.pictures import write_pictures
from canvas.cli import app

boat = verbs.rigging_of("skua.toml")
clock = datetime.datetime(2026, 12, 21, 12, tzinfo=datetime.timezone(datetime.timedelta(hours=-10)))
answers = {
    "report": verbs.report(boat, sets=["wet watch"], cores=int(os.environ["CORES"])),
    "trial": verbs.cut(boat, trial=True),
    "brief": verbs.brief(boat),
    "sheet": verbs.sheet(boat),
    "mockup": verbs.mockup(boat),
    "buy": verbs.buy(boat, rate=55.0),
    "shade": verbs.shade(boat, latitude=-0.3, longitude=-2.6, at=clock),
    "wake": verbs.vane(boat, method="wake"),
}
for name, answer in answers.items():
    answer.save(pathlib.Path("out", name))
    pathlib.Path(f"{name}.json").write_text(json.dumps(answer.record(), indent=1), encoding="utf-8")
for name in ("shade", "trial"):
    write_pictures(answers[name], pathlib.Path("out/plots"))
for words in (["cut", "skua.toml", "-o", "out/cut", "--json"], ["survey", "skua.toml"]):
    done = CliRunner().invoke(app, words)
    assert done.exit_code == 0, (words, done.exit_code, done.output)
    pathlib.Path(f"said-{words[0]}.txt").write_bytes(done.stdout_bytes)
"""
WAYS = {
    "plain": {"TZ": "UTC", "LC_ALL": "C.UTF-8", "PYTHONHASHSEED": "1", "CORES": "1"},
    "été à bord, n° 2": {
        "TZ": "Pacific/Kiritimati", "LC_ALL": "C", "PYTHONHASHSEED": "2", "COLUMNS": "60", "CORES": "2",
    },
}  # fmt: skip


@pytest.fixture(scope="module")
def runs(tmp_path_factory):
    """Return the two folders in which every command line was run."""
    folders = []
    for name, ways in WAYS.items():
        folder = tmp_path_factory.mktemp("same bytes") / name
        folder.mkdir()
        (folder / "skua.toml").write_text(small_text(), encoding="utf-8")
        done = subprocess.run(
            [sys.executable, "-c", CHILD], cwd=folder, capture_output=True, text=True, check=False,
            env={
                **os.environ, **ways, "PYTHONPATH": str(ROOT), "OPENBLAS_NUM_THREADS": "1",
                "CANVAS_CACHE": str(folder.parent / "kept"),  # one of its own: nothing is taken over from the other run
            },
        )  # fmt: skip
        assert done.returncode == 0, done.stderr[-3000:]
        folders.append(folder)
    return folders


def files(folder):
    return sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file())


@pytest.mark.behaviour
def test_the_same_files_are_made(runs):
    here, there = (files(folder) for folder in runs)
    assert here == there
    endings = {Path(name).suffix for name in here}
    assert {".html", ".dxf", ".svg", ".pdf", ".csv", ".json", ".txt"} <= endings


@pytest.mark.behaviour
def test_every_file_and_every_answer_has_the_same_bytes(runs):
    here, there = runs
    assert [name for name in files(here) if (here / name).read_bytes() != (there / name).read_bytes()] == []


@pytest.mark.behaviour
def test_no_file_holds_the_day_or_the_folder(runs):
    here, there = runs
    words = [str(here).encode(), str(there).encode(), here.parent.name.encode(), str(ROOT).encode()]
    held = [name for name in files(there) for word in words if word in (there / name).read_bytes()]
    assert held == []


FORMED = """
import hashlib, sys
from canvas import verbs
formed = verbs.rigging_of(sys.argv[1]).rig("wet watch").formed
print(hashlib.sha256(b"".join(one.vertices.tobytes() + one.faces.tobytes() for one in formed.panels)).hexdigest())
"""
SOLVERS = [{"OPENBLAS_NUM_THREADS": "1"}, {"OPENBLAS_NUM_THREADS": "2"}]
PROCESSOR = Path("/proc/cpuinfo")
if PROCESSOR.exists() and "avx2" in PROCESSOR.read_text(encoding="utf-8"):  # as on another make of processor
    SOLVERS.append({"OPENBLAS_NUM_THREADS": "1", "OPENBLAS_CORETYPE": "Haswell"})


@pytest.mark.regression
def test_canvas_has_the_same_shape_whatever_solves_the_survey(tmp_path):
    """Threads and makes of processor give other last bits of the marks; a mesh over such marks had other triangles."""
    found = set()
    for number, ways in enumerate(SOLVERS):
        done = subprocess.run(
            [sys.executable, "-c", FORMED, str(EXAMPLES / "oddfellow.toml")],
            capture_output=True, text=True, check=True,
            env={**os.environ, **ways, "PYTHONPATH": str(ROOT), "CANVAS_CACHE": str(tmp_path / str(number))},
        )  # fmt: skip
        found.add(done.stdout)
    assert len(found) == 1


@pytest.mark.behaviour
@pytest.mark.parametrize("encoding", ["latin-1", "ascii"])
def test_a_record_is_utf_8_whatever_the_terminal_speaks(tmp_path, encoding):
    text = small_text().replace('name = "Skua"', 'name = "Möwe ⚓"', 1)
    (tmp_path / "boat.toml").write_text(text, encoding="utf-8")

    def said(*words):
        done = subprocess.run(
            [sys.executable, "-m", "canvas.cli", "survey", "boat.toml", *words], cwd=tmp_path, capture_output=True,
            check=False, env={**os.environ, "PYTHONIOENCODING": encoding, "PYTHONPATH": str(ROOT)},
        )  # fmt: skip
        assert done.returncode == 0, done.stderr
        return done.stdout

    assert json.loads(said("--json").decode("utf-8"))["design"] == "Möwe ⚓"
    assert "M" in said().decode(encoding)

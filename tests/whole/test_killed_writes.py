"""Kill the program amid its writes: each file is then the old one or the new one, whole, never half."""

import json
import os
import random
import signal
import subprocess
import sys
import time

import pytest

from canvas.cutting.dxf import read_dxf
from canvas.design.reading import read_design
from tests.whole.boats import ROOT, small_text

FOREVER = """
import sys
from pathlib import Path
from canvas.jobs.files import write_whole
paths = [Path(name) for name in sys.argv[1:]]
k = 0
print("begun", flush=True)
while True:
    k += 1
    for path in paths:
        write_whole(path, bytes([65 + k % 26]) * (400_000 + 1000 * (k % 26)))
"""

# Ends the program itself, by the signal that nothing can catch, at the n-th time that it flushes or renames a file.
MINED = """
import os, signal, sys
name, at, *words = sys.argv[1:]
real, count = getattr(os, name), 0

def mined(*arguments):
    global count
    count += not str(arguments[-1]).endswith((".nbi", ".nbc"))  # compiled code is none of the program's files
    if count == int(at):
        os.kill(os.getpid(), signal.SIGKILL)
    return real(*arguments)

setattr(os, name, mined)
if words[0] == "save":
    from canvas.design.editing import open_draft
    draft = open_draft(words[1])
    draft.set(("vane", "height"), "0.777 m")
    draft.save()
else:
    sys.argv = ["canvas", *words]
    from canvas.cli import main
    main()
"""


def child(code, *words, cwd, kept=os.devnull, **ways):
    """Start a program whose results are kept in a folder, or nowhere: what is kept is then not among its writes."""
    return subprocess.Popen(
        [sys.executable, "-c", code, *map(str, words)], cwd=cwd, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        env={**os.environ, "PYTHONPATH": str(ROOT), "CANVAS_CACHE": str(kept)}, **ways,
    )  # fmt: skip


@pytest.mark.behaviour
def test_a_file_killed_at_any_moment_is_one_whole_version(tmp_path):
    names = ("boat.toml", "cloth.dxf", "sheet.pdf", "record.json")
    draw = random.Random(5)
    seen = set()
    for _ in range(12):
        writing = child(FOREVER, *(tmp_path / name for name in names), cwd=tmp_path)
        writing.stdout.readline()
        time.sleep(draw.uniform(0.0, 0.15))
        writing.kill()
        writing.communicate()
        assert writing.returncode == -signal.SIGKILL
        for name in names:
            if (tmp_path / name).exists():
                content = (tmp_path / name).read_bytes()
                assert len(set(content)) == 1, name
                assert len(content) == 400_000 + 1000 * (content[0] - 65), name
                seen.add((name, len(content)))
    assert len(seen) > len(names)  # it was killed at more than one version


def whole(path):
    """Return whether a file of the program can be read to its end."""
    if path.suffix == ".dxf":
        return read_dxf(path) is not None
    if path.suffix == ".pdf":
        return path.read_bytes().rstrip().endswith(b"%%EOF")
    if path.suffix == ".json":
        return bool(json.loads(path.read_text(encoding="utf-8")))
    if path.suffix == ".svg":
        return path.read_text(encoding="utf-8").rstrip().endswith("</svg>")
    return path.read_text(encoding="utf-8").endswith("\n")


@pytest.mark.behaviour
@pytest.mark.parametrize(("call", "at"), [("fsync", 4), ("replace", 1), ("replace", 8)])
def test_cutting_killed_amid_its_files_leaves_old_ones_and_whole_new_ones(tmp_path, call, at):
    (tmp_path / "skua.toml").write_text(small_text(), encoding="utf-8")
    out = tmp_path / "out"
    out.mkdir()
    for name in ("net.dxf", "parts.json", "strain.svg"):
        (out / name).write_text("old\n", encoding="utf-8")
    ended = child(MINED, call, at, "cut", "skua.toml", "-o", "out", cwd=tmp_path)
    said = ended.communicate()[1].decode()
    assert ended.returncode == -signal.SIGKILL, said
    seen = [path for path in out.iterdir() if not path.name.endswith(".part")]
    new = [path for path in seen if path.read_bytes() != b"old\n"]
    assert len(new) == at - 1
    assert all(whole(path) for path in new)
    assert all(path.name.startswith(".") for path in out.iterdir() if path not in seen)  # what was begun is hidden


@pytest.mark.behaviour
@pytest.mark.parametrize(("call", "at"), [("fsync", 2), ("replace", 1)])
def test_a_program_killed_amid_what_it_keeps_says_the_same_the_next_time(tmp_path, call, at):
    (tmp_path / "skua.toml").write_text(small_text(), encoding="utf-8")
    ended = child(MINED, call, at, "check", "skua.toml", "--json", cwd=tmp_path, kept=tmp_path / "kept")
    assert ended.communicate()[0] == b""
    assert ended.returncode == -signal.SIGKILL
    left = [path.suffix for path in (tmp_path / "kept" / "shelf").iterdir()]
    assert sorted(left) == [*[".npz"] * (at - 1), ".part"]
    said = []
    for kept in (tmp_path / "kept", tmp_path / "kept", os.devnull):
        again = child(MINED, call, 999, "check", "skua.toml", "--json", cwd=tmp_path, kept=kept)
        said.append(again.communicate()[0])
        assert again.returncode == 0
    assert said[0].startswith(b"{")
    assert said[0] == said[1] == said[2]


@pytest.mark.behaviour
@pytest.mark.parametrize("call", ["fsync", "replace"])
def test_a_sheet_killed_amid_its_write_leaves_the_old_one(tmp_path, call):
    (tmp_path / "skua.toml").write_text(small_text(), encoding="utf-8")
    (tmp_path / "sheet.pdf").write_bytes(b"%PDF old %%EOF")
    ended = child(MINED, call, 1, "sheet", "skua.toml", "-o", "sheet.pdf", cwd=tmp_path)
    said = ended.communicate()[1].decode()
    assert ended.returncode == -signal.SIGKILL, said
    assert (tmp_path / "sheet.pdf").read_bytes() == b"%PDF old %%EOF"


@pytest.mark.behaviour
@pytest.mark.parametrize(("call", "at", "kept"), [("fsync", 1, True), ("replace", 1, True), ("replace", 2, False)])
def test_a_design_killed_amid_its_save_is_the_old_one_or_the_new_one(tmp_path, call, at, kept):
    design = tmp_path / "skua.toml"
    design.write_text(small_text(), encoding="utf-8")
    ended = child(MINED, call, at, "save", "skua.toml", cwd=tmp_path)
    said = ended.communicate()[1].decode()
    assert ended.returncode == (-signal.SIGKILL if kept else 0), said
    height = read_design(design).design.vane.height
    assert (design.read_text(encoding="utf-8") == small_text()) is kept
    assert (height == 0.777) is not kept

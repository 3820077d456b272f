"""Hold kept results to what was found: the same to the last bit, and never in the way where they cannot be had."""

import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from canvas.cloth.shape import EdgeShape, Formed, PanelShape
from canvas.cutting.part import Layer
from canvas.jobs import shelf as shelves
from canvas.jobs.shelf import Derived, Shelf, from_shelf, program, usual_shelf, values_of

CALLS = []
OUTCOMES = {}


def panel(name, size, *, named=None):
    """Return a record of all that a shelf holds, and note that it was worked out."""
    CALLS.append((name, size))
    grid = np.arange(3.0 * size).reshape(size, 3) / 7.0
    empty = np.zeros(0, dtype=np.int64)
    edge = EdgeShape(
        name=name, kind="free", finish="hem", length=0.1 + size, chord=float("inf"), hollow=None,
        cable_force=np.float64(1.0) / 3.0, line_tension=-0.0, line_tension_most=1e-300,
    )  # fmt: skip
    shape = PanelShape(
        name=name, set_name="Größe \ud800", cloth="", vertices=grid, faces=np.array([[0, 1, 2]]), zone=np.array([0]),
        zone_names=("cloth",), edge_vertices=(np.array([0, 1]),), edges=(edge,), over=(), touching=(), slits=(empty,),
        ties=empty, tie_forces=np.zeros(0), warp=grid[:1], tension=grid[:1, :2], shear=grid[0, :1],
    )  # fmt: skip
    return {
        "formed": Formed(set_name=name, panels=(shape,)),
        "named": [named, {1: np.True_, 2: Layer.CUT}],
        "open": grid,
        "turned": np.asfortranarray(grid),
        "empty": grid[:0],
    }


@pytest.fixture
def shelf(tmp_path):
    CALLS.clear()
    return Shelf(tmp_path / "kept")


@pytest.mark.behaviour
def test_what_lies_on_the_shelf_is_what_was_found_to_the_last_bit(shelf):
    first, again = (shelf.ask(panel, "roof", 4, named="x") for _ in range(2))
    assert CALLS == [("roof", 4)]
    assert shelves.key_of(values_of(first)) == shelves.key_of(values_of(again))
    edge = again["formed"].panels[0].edges[0]
    assert type(edge.cable_force) is np.float64
    assert type(edge.length) is float
    assert np.signbit(edge.line_tension)
    assert edge.hollow is None
    assert not again["formed"].panels[0].vertices.flags.writeable
    assert again["open"].flags.writeable
    assert again["turned"].flags.f_contiguous
    assert not again["turned"].flags.c_contiguous
    assert again["empty"].shape == (0, 3)
    for _ in range(2):
        anew = from_shelf(None, panel, "roof", 4, named="x")
        assert shelves.key_of(values_of(anew)) == shelves.key_of(values_of(first))
    assert len(CALLS) == 3  # without a shelf it is worked out each time


@pytest.mark.behaviour
def test_another_question_function_or_program_is_not_answered_from_it(shelf, monkeypatch):
    for name, size, named in (("roof", 4, None), ("roof", 5, None), ("rooF", 4, None), ("roof", 4, "x")):
        shelf.ask(panel, name, size, named=named)
    shelf.ask(work_alike, "roof", 4)
    assert len(CALLS) == 5
    monkeypatch.setattr(shelves, "program", lambda: "another")
    shelf.ask(panel, "roof", 4, named=None)
    assert len(CALLS) == 6


def work_alike(name, size):
    return panel(name, size)


@pytest.mark.behaviour
def test_the_program_is_known_by_its_source(tmp_path, monkeypatch):
    (tmp_path / "one.py").write_text("a = 1\n")
    (tmp_path / "note.md").write_text("a\n")
    monkeypatch.setattr(shelves, "PROGRAM", tmp_path)

    def key():
        program.cache_clear()
        return program()

    first = key()
    (tmp_path / "note.md").write_text("b\n")
    assert key() == first
    (tmp_path / "one.py").write_text("a = 2\n")
    second = key()
    (tmp_path / "one.py").rename(tmp_path / "two.py")
    third = key()
    monkeypatch.setattr(shelves, "LIBRARIES", ("numpy", "no such library"))
    assert len({first, second, third, key()}) == 4
    program.cache_clear()


@pytest.mark.behaviour
@pytest.mark.parametrize("spoil", ["cut short", "empty", "noise", "another's", "no record of ours", "a folder"])
def test_a_file_that_is_not_ours_only_costs_the_work_once_more(shelf, spoil):
    whole = shelves.key_of(values_of(shelf.ask(panel, "roof", 4)))
    (path,) = shelf.folder.iterdir()
    held = path.read_bytes()
    if spoil == "cut short":
        path.write_bytes(held[: len(held) // 2])
    elif spoil == "empty":
        path.write_bytes(b"")
    elif spoil == "noise":
        path.write_bytes(np.random.default_rng(3).bytes(len(held)))
    elif spoil == "another's":
        shelf.ask(panel, "wall", 5)
        (other,) = set(shelf.folder.iterdir()) - {path}
        path.write_bytes(other.read_bytes())
    elif spoil == "no record of ours":
        arrays = shelves.load(shelf.folder, path.stem)
        told = arrays["tree"].tobytes().replace(b'"canvas.cloth.shape", "Formed"', b'"canvas.jobs.files", "Path"')
        shelves.save(shelf.folder, path.stem, {**arrays, "tree": np.frombuffer(told, dtype=np.uint8)})
    else:
        path.unlink()
        path.mkdir()
    CALLS.clear()
    assert shelves.key_of(values_of(shelf.ask(panel, "roof", 4))) == whole
    assert CALLS == [("roof", 4)]
    shelf.ask(panel, "roof", 4)
    assert len(CALLS) == (2 if spoil == "a folder" else 1)  # what could be written anew was


@pytest.mark.behaviour
def test_a_shelf_that_cannot_be_written_or_found_only_costs_time(tmp_path, monkeypatch):
    CALLS.clear()
    (tmp_path / "a file").write_text("in the way\n")
    for _ in range(2):
        assert Shelf(tmp_path / "a file" / "kept").ask(panel, "roof", 4)["named"][1][2] is Layer.CUT
    monkeypatch.setattr(os, "access", lambda path, mode: False)
    Shelf(tmp_path).ask(panel, "roof", 4)
    assert len(CALLS) == 3
    assert [one.name for one in tmp_path.iterdir()] == ["a file"]

    def nobody():
        raise RuntimeError("no home")

    monkeypatch.setattr(shelves, "cache_folder", nobody)
    assert usual_shelf() is None


@pytest.mark.behaviour
def test_what_was_longest_not_asked_for_makes_room(shelf, monkeypatch):
    for number in range(6):
        shelf.ask(panel, "roof", number + 1)
    paths = sorted(shelf.folder.iterdir(), key=lambda path: path.stat().st_mtime_ns)
    size = max(path.stat().st_size for path in paths)
    for number, path in enumerate(paths):
        os.utime(path, (number, number))
    (shelf.folder / ".left.part").write_bytes(bytes(10 * size))  # by a process that was ended
    os.utime(shelf.folder / ".left.part", (0, 0))
    shelf.ask(panel, "roof", 1)  # asked for again just now
    monkeypatch.setattr(shelves, "MOST", 4 * size)
    shelf.ask(panel, "roof", 7)
    left = set(shelf.folder.iterdir())
    assert paths[0] in left
    assert paths[1] not in left
    assert shelf.folder / ".left.part" not in left
    assert sum(path.stat().st_size for path in left) <= 4 * size


@pytest.mark.behaviour
def test_what_follows_from_other_things_is_known_by_them_and_made_when_needed(shelf):
    made = []

    def ask(of, size):
        derived = Derived(of=of, make=lambda: made.append(of) or size)
        return shelf.ask(from_derived, derived)

    first = ask(("a", np.arange(3)), 4)
    assert np.array_equal(ask(("a", np.arange(3)), 9)["open"], first["open"])
    assert len(made) == 1
    assert len(ask(("b", np.arange(3)), 9)["open"]) == 9
    assert len(made) == 2


def from_derived(derived):
    return panel("roof", derived.make())


@pytest.mark.behaviour
def test_an_outcome_without_arrays_is_kept_too(shelf):
    assert [shelf.ask(half, 3) for _ in range(2)] == [(1.5, None, "")] * 2
    assert CALLS == ["half"]


def half(number):
    CALLS.append("half")
    return number / 2, None, ""


@dataclass
class Strange:
    """A record that is not the program's."""


@pytest.mark.behaviour
@pytest.mark.parametrize("outcome", [Strange(), {1, 2}, np.array([{}]), 1j], ids=["record", "set", "objects", "number"])
def test_what_cannot_be_kept_is_worked_out_each_time(shelf, outcome, monkeypatch):
    monkeypatch.setitem(OUTCOMES, "strange", outcome)
    assert shelf.ask(strange) is outcome
    assert shelf.ask(panel, "roof", 3, named={1, 2})["named"][0] == {1, 2}
    assert not shelf.folder.exists()


def strange():
    return OUTCOMES["strange"]


WRITER = """
import sys, numpy as np
from pathlib import Path
from canvas.jobs.shelf import Shelf
from tests.jobs.test_shelf import rows
shelf = Shelf(Path(sys.argv[1]))
for number in range(10**6):
    shelf.ask(rows, number)
    print(number, flush=True)
"""


def rows(number):
    return np.random.default_rng(number).random((300, 300))


@pytest.mark.behaviour
def test_a_program_that_is_killed_amid_writing_leaves_whole_files_only(shelf):
    root = str(Path(__file__).parents[2])
    asked = [sys.executable, "-c", WRITER, str(shelf.folder)]
    with subprocess.Popen(asked, stdout=subprocess.PIPE, cwd=root) as writer:
        for _ in range(5):
            writer.stdout.readline()
        writer.kill()
    written = sorted(shelf.folder.glob("*.npz"))
    assert len(written) >= 5
    for path in written:
        assert shelves.load(shelf.folder, path.stem) is not None
    assert np.array_equal(shelf.ask(rows, 2), rows(2))

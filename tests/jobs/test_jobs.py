"""Hold progress, keys of kept results and file names to what others build on."""

from pathlib import Path

import numpy as np
import pytest

from canvas.jobs.cache import cache_folder, key_of, placed
from canvas.jobs.failure import CouldNot, Stopped
from canvas.jobs.files import distinct, sealed, slug, untouched, write_whole
from canvas.jobs.progress import SILENT, Progress


@pytest.mark.behaviour
def test_parts_of_a_step_are_told_after_it_and_stop_with_it():
    told, stop = [], []
    whole = Progress(lambda *one: told.append(one), stopping=lambda: bool(stop))
    parts = whole.within("cutting", 1, 3)
    parts.step("darts", 4, 9)
    assert told == [("cutting", 1, 3), ("cutting 2 of 3, darts", 4, 9)]
    stop.append(True)
    for one, what in ((parts, "darts"), (whole, "cutting")):
        with pytest.raises(Stopped, match=what):
            one.step(what, 5, 9)
    assert len(told) == 2
    assert SILENT.within("cutting", 1, 3) is SILENT  # nobody looks: nothing to tell


@pytest.mark.behaviour
def test_kept_results_lie_where_the_user_says(monkeypatch):
    monkeypatch.setenv("CANVAS_CACHE", "/somewhere")
    assert cache_folder() == Path("/somewhere")
    monkeypatch.delenv("CANVAS_CACHE")
    monkeypatch.setenv("XDG_CACHE_HOME", "/caches")
    assert cache_folder() == Path("/caches/cockpit-canvas")
    monkeypatch.delenv("XDG_CACHE_HOME")
    monkeypatch.setenv("HOME", "/home/her")
    assert cache_folder() == Path("/home/her/.cache/cockpit-canvas")


@pytest.mark.behaviour
def test_a_key_of_places_does_not_hang_on_the_last_bits_of_a_machine():
    points = np.random.default_rng(5).uniform(-7, 7, size=(4000, 3))
    points[0] = 0.0
    elsewhere = np.nextafter(points, 9.0)
    elsewhere[0] = -0.0
    assert key_of(points) != key_of(elsewhere)
    assert key_of(placed(points)) == key_of(placed(elsewhere))
    points[17, 1] += 1e-5
    assert key_of(placed(points)) != key_of(placed(elsewhere))


@pytest.mark.behaviour
def test_a_key_tells_types_shapes_and_nesting_apart_and_not_memory():
    rows = np.arange(12.0).reshape(3, 4)
    assert key_of(rows) == key_of(np.asfortranarray(rows)) == key_of(rows.copy())
    assert key_of(np.int64(3), np.float64(2.5), np.True_) == key_of(3, 2.5, True)
    parts = [
        (rows,), (rows.reshape(4, 3),), (rows.astype(np.float32),), (1,), (1.0,), ("1",), (True,), (None,), (),
        ([1, 2],), (1, 2), ([[1], 2],), ([1, [2]],), ("a", "b"), ("ab",),
    ]  # fmt: skip
    assert len({key_of(*one) for one in parts}) == len(parts)
    with pytest.raises(TypeError, match="no key for dict"):
        key_of({"a": 1})


@pytest.mark.behaviour
def test_a_list_nobody_typed_into_is_told_from_one_that_was():
    blank = sealed("name, length\nport, \n")
    assert untouched(blank)
    assert not untouched(blank.replace(b"port, ", b"port, 1.2 m"))
    assert not untouched(blank + b"\n")
    assert not untouched(b"name, length\n")
    assert not untouched(b"")


@pytest.mark.behaviour
@pytest.mark.parametrize(
    ("words", "name"),
    [
        (["Wet watch", "plan"], "wet-watch-plan"),
        (["../../etc/passwd"], "etc-passwd"),
        (["Très loin ⚓", "À la mer"], "très-loin-à-la-mer"),
        (["C:\\boats", "a\0b"], "c-boats-a-b"),
        (["..."], ""),
    ],
)
def test_words_make_a_file_name_that_leads_nowhere_else(words, name):
    assert slug(*words) == name


@pytest.mark.behaviour
def test_names_that_come_out_alike_are_numbered():
    assert distinct(["mesh", "mesh", "mesh-2", "net", "mesh"], taken=["net"]) == [
        "mesh", "mesh-2", "mesh-2-2", "net-2", "mesh-3",
    ]  # fmt: skip


@pytest.mark.behaviour
def test_a_folder_where_a_file_is_to_be_written_is_said_and_left_alone(tmp_path):
    (tmp_path / "brief.pdf").mkdir()
    (tmp_path / "plain").write_text("held")
    with pytest.raises(CouldNot) as folder:
        write_whole(tmp_path / "brief.pdf", "text")
    with pytest.raises(CouldNot) as other:
        write_whole(tmp_path / "plain" / "brief.pdf", "text")
    assert folder.value.advice == "Name a file in it."
    assert other.value.advice == "A file stands where a folder is needed: choose another folder."
    assert sorted(one.name for one in tmp_path.rglob("*")) == ["brief.pdf", "plain"]

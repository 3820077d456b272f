"""Work done in a process beside this one gives what it gives here, whatever becomes of that process."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from multiprocessing import get_context

import pytest

from canvas.design.problems import DesignError, Problem
from canvas.jobs import beside as module
from canvas.jobs.beside import Beside, by_halves
from tests.whole.boats import EXAMPLES, NAMES

pytestmark = pytest.mark.behaviour


def twice(number):
    return 2 * number


def wrong(key):
    raise DesignError([Problem(code="odd", key=key, found="1", wanted="Write 2.")])


def dies_elsewhere(here):
    if os.getpid() != here:
        os.kill(os.getpid(), signal.SIGKILL)
    return "done here"


def sleeps(seconds):
    time.sleep(seconds)


@pytest.mark.parametrize("apart", [False, True])
def test_outcome_is_the_same_here_and_beside(apart):
    with Beside(twice, 21, sent=21, apart=apart) as beside:
        assert beside.result() == 42


@pytest.mark.parametrize(("alone", "outcome"), [(True, 2), (False, 20)])
def test_a_process_with_threads_is_not_copied_but_sent_what_it_needs(monkeypatch, alone, outcome):
    monkeypatch.setattr(module, "_without_threads", lambda: alone)
    with Beside(twice, 1, sent=10, apart=True) as beside:
        assert beside.result() == outcome


def test_threads_are_counted():
    code = """
import threading
from canvas.jobs.beside import _without_threads
before, wait = _without_threads(), threading.Event()
threading.Thread(target=wait.wait).start()
print(before, _without_threads())
wait.set()
"""
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert said.split() == [str(sys.platform == "linux"), "False"]


@pytest.mark.parametrize("apart", [False, True])
def test_an_error_is_raised_whole(apart):
    with Beside(wrong, "keel", sent="keel", apart=apart) as beside, pytest.raises(DesignError) as caught:
        beside.result()
    assert caught.value.problems[0].key == "keel"


def test_a_lost_process_loses_nothing():
    with Beside(dies_elsewhere, os.getpid(), sent=os.getpid(), apart=True) as beside:
        assert beside.result() == "done here"


def test_leaving_ends_the_process():
    begun = time.monotonic()
    with Beside(sleeps, 300, sent=300, apart=True) as beside:
        process = beside._process
    assert not process.is_alive()
    assert time.monotonic() - begun < 60


def where(known, name):
    if name == known["wrong"]:
        wrong(name)
    return name, os.getpid()


@pytest.mark.parametrize("cheap", [False, True])
def test_names_are_asked_about_beside_where_a_copy_is_cheap(monkeypatch, cheap):
    monkeypatch.setattr(module, "_copies_are_cheap", lambda: cheap)
    monkeypatch.setattr(module, "_without_threads", lambda: cheap)
    names = ("keel", "mast", "boom", "vane", "hull")
    found = by_halves(where, {"wrong": None}, names, effort=len)
    assert [name for name, _ in found.values()] == list(found) == list(names)
    assert cheap or {process for _, process in found.values()} == {os.getpid()}
    assert by_halves(where, {"wrong": None}, (), effort=len) == {}
    assert by_halves(where, {"wrong": None}, ("keel",), effort=len) == {"keel": ("keel", os.getpid())}


def when(start, _name):
    return time.perf_counter() - start


def test_what_takes_longest_is_begun_first(monkeypatch):
    monkeypatch.setattr(module, "_copies_are_cheap", lambda: False)
    took = {"keel": 1.0, "mast": 3.0, "boom": 2.0, "vane": 3.0}
    found = by_halves(when, time.perf_counter(), tuple(took), effort=took.get)
    assert list(found) == list(took)
    assert sorted(found, key=found.get) == ["mast", "vane", "boom", "keel"]


def meets(barrier, name):
    barrier.wait(60)
    return os.getpid()


@pytest.mark.skipif(sys.platform != "linux", reason="no copy of a process")
def test_both_processes_draw_names(monkeypatch):
    monkeypatch.setattr(module, "_copies_are_cheap", lambda: True)
    monkeypatch.setattr(module, "_without_threads", lambda: True)
    found = by_halves(meets, get_context("fork").Barrier(2), ("keel", "mast", "boom", "vane"), effort=len)
    assert sorted(list(found.values()).count(process) for process in set(found.values())) == [2, 2]


def lost(known, name):
    if os.getpid() != known:
        os._exit(1)
    time.sleep(0.1)
    return name


def test_names_that_a_lost_process_drew_are_asked_about_here(monkeypatch):
    monkeypatch.setattr(module, "_copies_are_cheap", lambda: True)
    monkeypatch.setattr(module, "_without_threads", lambda: True)
    names = ("keel", "mast", "boom", "vane", "hull")
    assert by_halves(lost, os.getpid(), names, effort=len) == dict(zip(names, names, strict=True))


@pytest.mark.parametrize("name", ["keel", "mast"])
def test_an_error_in_either_half_is_raised_whole(monkeypatch, name):
    monkeypatch.setattr(module, "_copies_are_cheap", lambda: True)
    monkeypatch.setattr(module, "_without_threads", lambda: True)
    with pytest.raises(DesignError) as caught:
        by_halves(where, {"wrong": name}, ("keel", "mast"), effort=len)
    assert caught.value.problems[0].key == name


def test_where_no_process_can_be_started_all_is_done_here(monkeypatch):
    def refuse(process):
        raise OSError("no room")

    monkeypatch.setattr("multiprocessing.process.BaseProcess.start", refuse)
    with Beside(twice, 21, sent=21, apart=True) as beside:
        assert beside.result() == 42


def test_a_process_beside_begins_no_other():
    with Beside(_cheap_there, None, sent=None, apart=True) as beside:
        assert beside.result() is False


def _cheap_there(_):
    return module._copies_are_cheap()


@pytest.mark.slow
@pytest.mark.parametrize("name", NAMES)
def test_report_is_the_same_with_one_core_and_two(name):
    """Of one set of a small boat `test_same_bytes` says so."""
    from canvas import verbs

    one, two = (verbs.report(EXAMPLES / f"{name}.toml", cores=cores) for cores in (1, 2))
    assert list(one.files) == list(two.files)
    assert [file for file in one.files if one.files[file] != two.files[file]] == []

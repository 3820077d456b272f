"""Hold what a verb says to be the same whether it was worked out now, taken from kept results, or could not be kept."""

import json
from pathlib import Path

import pytest

from canvas import verbs
from canvas.cloth import forming, setting
from canvas.cloth.membrane import Assembly
from canvas.fit import table
from canvas.geometry.rays import Tracer

ROOT = Path(__file__).parents[2]
TEXT = (ROOT / "examples" / "marrowgrass.toml").read_text(encoding="utf-8")
SET = ["shade"]
ASKED = {
    "check": lambda path: verbs.check(path, sets=SET),
    "fit": lambda path: verbs.fit(path, sets=SET),
    "loads": lambda path: verbs.loads(path, sets=SET),
    "rain": lambda path: verbs.rain(path, sets=SET),
    "shade": lambda path: verbs.shade(path, sets=SET),
}


ALL = {verb: getattr(verbs, verb) for verb in ("check", "fit", "loads", "rain", "shade", "cut", "buy")}


def said(verb, path, asked=ASKED):
    answer = asked[verb](path)
    return json.dumps(answer.record(), allow_nan=False), dict(answer.files)


@pytest.fixture
def boat(tmp_path, monkeypatch):
    """Return a design whose results are kept in a folder of their own."""
    monkeypatch.setenv("CANVAS_CACHE", str(tmp_path / "kept"))
    path = tmp_path / "boat.toml"
    path.write_text(TEXT, encoding="utf-8")
    return path


def never(*given, **named):
    raise AssertionError("worked out again")


def forbid_work(monkeypatch):
    """Let nothing that takes long be done again."""
    for slow in ((forming, "form"), (setting, "put_up"), (Assembly, "forces"), (table, "check_named")):
        monkeypatch.setattr(*slow, never)
    for trace in ("occluded", "occluded_grid", "first_hit"):
        monkeypatch.setattr(Tracer, trace, never)


@pytest.mark.behaviour
def test_kept_results_are_said_in_the_same_bytes_and_nothing_slow_is_done_again(boat, tmp_path, monkeypatch):
    first = {verb: said(verb, boat) for verb in ASKED}
    (tmp_path / "no folder").write_text("in the way\n")
    with monkeypatch.context() as m:
        m.setenv("CANVAS_CACHE", str(tmp_path / "no folder" / "kept"))
        for verb in ("check", "fit", "loads", "rain"):
            assert said(verb, boat) == first[verb]  # nothing is kept there
    forbid_work(monkeypatch)
    assert {verb: said(verb, boat) for verb in ASKED} == first
    for path in (tmp_path / "kept" / "shelf").iterdir():
        path.write_bytes(path.read_bytes()[:-9])
    with pytest.raises(AssertionError, match="again"):
        said("rain", boat)


@pytest.mark.behaviour
@pytest.mark.slow
@pytest.mark.parametrize("example", ["marrowgrass", "oddfellow", "lantern-hill"])
def test_every_set_of_the_examples_is_kept_whole(example, tmp_path, monkeypatch):
    monkeypatch.setenv("CANVAS_CACHE", str(tmp_path))
    path = ROOT / "examples" / f"{example}.toml"
    first = {verb: said(verb, path, ALL) for verb in ALL}
    forbid_work(monkeypatch)
    assert {verb: said(verb, path, ALL) for verb in ALL} == first
    assert sum(one.stat().st_size for one in (tmp_path / "shelf").iterdir()) < 50e6


@pytest.mark.behaviour
def test_after_an_edit_the_answer_is_that_of_the_new_design(boat, tmp_path, monkeypatch):
    before = said("fit", boat)
    boat.write_text(TEXT.replace('sitting_height = "0.87 m"', 'sitting_height = "0.93 m"'), encoding="utf-8")
    after = said("fit", boat)
    assert after != before
    monkeypatch.setenv("CANVAS_CACHE", str(tmp_path / "other"))
    assert said("fit", boat) == after

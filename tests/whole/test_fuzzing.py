"""Replay the fuzzer's corpus, whole files and those that once broke a reader: read, or refused in words."""

import random

import numpy as np
import pytest

from canvas.jobs import cache
from tests.whole.fuzzing import CORPUS, TARGETS

KEPT = sorted(path for target in TARGETS for path in (CORPUS / target).iterdir())
BROKEN = ("broken", "no-", "strings", "empty")  # how names of refused files begin
TOO_SMALL = "box"  # a box of twelve triangles is a solid, not a scan


@pytest.mark.behaviour
@pytest.mark.parametrize("path", KEPT, ids=lambda path: f"{path.parent.name}-{path.name}")
def test_kept_bytes_are_read_or_refused_in_words(path, tmp_path):
    refused = TARGETS[path.parent.name](path.read_bytes(), tmp_path)
    assert refused == path.name.startswith((*BROKEN, TOO_SMALL))


@pytest.mark.behaviour
def test_the_corpus_stays_small():
    assert sum(path.stat().st_size for path in KEPT) < 60_000
    assert {path.parent.name for path in KEPT} == set(TARGETS)


@pytest.mark.property
def test_a_kept_result_that_was_spoilt_counts_as_absent(tmp_path):
    kept = {"speed": np.arange(50.0), "names": np.array(["x", "y"]), "met": np.ones((3, 4), dtype=bool)}
    path = cache.save(tmp_path, "key", kept)
    whole, draw, absent = path.read_bytes(), random.Random(1), 0
    for _ in range(800):
        spoilt = bytearray(whole)
        for _ in range(draw.choice([1, 1, 2, 8])):
            spoilt[draw.randrange(len(spoilt))] = draw.randrange(256)
        path.write_bytes(spoilt[: draw.randrange(len(spoilt))] if draw.random() < 0.2 else spoilt)
        absent += cache.load(tmp_path, "key") is None
    assert absent > 300
    path.write_bytes(whole)
    assert np.array_equal(cache.load(tmp_path, "key")["speed"], kept["speed"])

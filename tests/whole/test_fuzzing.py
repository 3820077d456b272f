"""Replay the fuzzer's corpus, whole files and those that once broke a reader: read, or refused in words."""

import pytest

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

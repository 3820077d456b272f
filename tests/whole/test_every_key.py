"""Change every key of the design file in turn, those of boat, people and sailing: some result moves."""

import pytest

from tests.whole.key_changes import TEXT, TILLED, changeable, places
from tests.whole.key_probes import KEYS, before, boat, moved_by


@pytest.mark.behaviour
def test_the_file_of_every_key_holds_every_key():
    found = set(places())
    assert set(KEYS) - found == set()
    assert before(TEXT, boat) != before(TILLED, boat)


@pytest.mark.behaviour
@pytest.mark.parametrize("name", changeable(KEYS, canvas=False))
def test_a_changed_key_moves_a_result(name):
    assert moved_by(name) is not None

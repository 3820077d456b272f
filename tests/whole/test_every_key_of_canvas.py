"""Change every key of the design file in turn, those of cloth, panels and what holds them: some result moves."""

import pytest

from tests.whole.key_changes import changeable
from tests.whole.key_probes import KEYS, moved_by


@pytest.mark.behaviour
@pytest.mark.parametrize("name", changeable(KEYS, canvas=True))
def test_a_changed_key_moves_a_result(name):
    assert moved_by(name) is not None


@pytest.mark.behaviour
def test_every_key_is_asked_once():
    asked = changeable(KEYS, canvas=True) + changeable(KEYS, canvas=False)
    assert len(asked) == len(set(asked)) > 250

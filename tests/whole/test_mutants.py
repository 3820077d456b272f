"""Spoilt copies of the examples: each gives an answer or clear problems, never a fault of the program."""

import json

import pytest

from canvas import verbs
from canvas.design.problems import DesignError
from canvas.jobs.failure import CouldNot
from tests.whole.valid_seeds import WANTED, checked, kept

FEW, MANY = 24, 500
VALID = kept()


@pytest.mark.behaviour
@pytest.mark.parametrize("seed", range(FEW))
def test_a_spoilt_file_is_answered_or_refused_in_words(seed):
    checked(seed)


@pytest.mark.slow
@pytest.mark.behaviour
@pytest.mark.parametrize("seed", range(FEW, MANY))
def test_many_spoilt_files_are_answered_or_refused_in_words(seed):
    checked(seed)


@pytest.mark.behaviour
def test_there_are_forty_that_can_be_built():
    assert len(set(VALID)) == WANTED == 40


@pytest.mark.slow
@pytest.mark.behaviour
@pytest.mark.parametrize("seed", VALID)
def test_a_spoilt_file_that_can_be_built_gives_a_whole_report(seed):
    source = checked(seed)
    assert source is not None, "an example changed: look for seeds anew, python -m tests.whole.valid_seeds"
    try:
        answer = verbs.report(source)
    except (DesignError, CouldNot):
        return
    text = json.dumps(answer.record(), allow_nan=False)
    assert "report.html" in answer.files
    assert not any(word in text for word in ("NaN", "Infinity"))

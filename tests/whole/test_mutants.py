"""Spoilt copies of the examples: each gives an answer or clear problems, never a fault of the program."""

import json

import pytest

from canvas import verbs
from canvas.design.problems import DesignError
from canvas.design.reading import parse_design
from canvas.jobs.failure import CouldNot
from tests.whole.mutants import EXAMPLES, mutant

FEW, MANY, REPORTED = 24, 500, 40


def checked(seed):
    """Return the read design where `check` answers it, None where it is refused in words."""
    boat, done, text = mutant(seed)
    problems, advice = (), "none needed"
    try:
        source = parse_design(text, file=f"{boat}.toml", folder=EXAMPLES)
        json.dumps(verbs.check(source).record(), allow_nan=False)
    except DesignError as refused:
        source, problems = None, refused.problems
    except CouldNot as failure:
        source, advice = None, failure.advice
    assert advice, (seed, done)
    for problem in problems:
        assert problem.found, (seed, done, problem)
        assert problem.wanted, (seed, done, problem)
        assert problem.line is None or 1 <= problem.line <= text.count("\n") + 2, (seed, done, problem)
    return source


@pytest.mark.behaviour
@pytest.mark.parametrize("seed", range(FEW))
def test_a_spoilt_file_is_answered_or_refused_in_words(seed):
    checked(seed)


@pytest.mark.slow
@pytest.mark.behaviour
@pytest.mark.parametrize("seed", range(FEW, MANY))
def test_many_spoilt_files_are_answered_or_refused_in_words(seed):
    checked(seed)


@pytest.mark.slow
@pytest.mark.behaviour
@pytest.mark.parametrize("seed", range(1000, 1000 + REPORTED))
def test_a_spoilt_file_that_can_be_built_gives_a_whole_report(seed):
    source = checked(seed)
    if source is None:
        pytest.skip("refused, with its problems named")
    try:
        answer = verbs.report(source)
    except (DesignError, CouldNot):
        return
    text = json.dumps(answer.record(), allow_nan=False)
    assert "report.html" in answer.files
    assert not any(word in text for word in ("NaN", "Infinity"))

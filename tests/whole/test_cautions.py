"""Hold that cautions stand with each load, each way out and each result that carbon monoxide bears on."""

import pytest

from canvas.brief.cautions import BY_VERB, EXITS, GAS, HARNESS, LOADS
from canvas.brief.tables import print_answer
from tests.whole.boats import SMALL, record


@pytest.mark.behaviour
@pytest.mark.parametrize(("verb", "cautions"), [("loads", (LOADS, HARNESS)), ("fit", (EXITS, GAS, HARNESS))])
def test_every_set_of_loads_and_ways_out_carries_its_cautions(verb, cautions, capsys):
    found = record(SMALL, verb)
    for one in found["sets"]:
        assert set(cautions) <= set(one["cautions"])
    print_answer(found)
    said = " ".join(capsys.readouterr().out.split())
    for caution in cautions:
        assert " ".join(caution.split()) in said


@pytest.mark.behaviour
def test_what_is_handed_on_carries_them_too_and_they_say_what_is_not_modelled():
    assert LOADS in BY_VERB["passage"]  # which says in what wind canvas comes down
    for verb in ("report", "brief"):
        assert {LOADS, EXITS, GAS, HARNESS} <= set(BY_VERB[verb])
    assert "Breaking seas are not modelled and carry over ten times more" in LOADS
    assert "carbon monoxide kills" in GAS
    assert "two ways out" in EXITS

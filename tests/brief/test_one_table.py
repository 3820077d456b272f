"""Check the one table over all sets against the records it is picked from."""

import pytest

from canvas import verbs
from canvas.brief.onetable import one_table
from canvas.brief.verdicts import questions
from tests.whole.boats import EXAMPLES


@pytest.fixture(scope="module")
def asked():
    rigging = verbs.rigging_of(EXAMPLES / "oddfellow.toml")
    names = ["bare", "wet watch", "harbour"]
    answers = {verb: getattr(verbs, verb)(rigging, sets=names).record() for verb in ("vane", "fit", "loads")}
    return rigging.model.design, answers


@pytest.fixture(scope="module")
def rows(asked):
    return {row["name"]: row for row in one_table(*asked)}


@pytest.mark.behaviour
def test_every_set_says_what_is_up_and_what_goes_first(asked, rows):
    loads = {one["name"]: one for one in asked[1]["loads"]["sets"]}
    fit = {one["name"]: one["checks"] for one in asked[1]["fit"]["sets"]}
    assert list(rows) == ["bare", "wet watch", "harbour"]
    assert rows["wet watch"]["up"] == "spray hood, weather cloth port, watch tent roof"
    for name in ("wet watch", "harbour"):
        assert rows[name]["first_to_go"] == loads[name]["parts"][0]["name"]
        assert rows[name]["strike_at_kn"] == loads[name]["strike_at_kn"]
        assert rows[name]["checks_failed"] == sum(check["verdict"] == "fail" for check in fit[name])
    assert rows["bare"]["up"] == "nothing"
    assert rows["bare"]["first_to_go"] == "not applicable"


@pytest.mark.behaviour
def test_at_anchor_no_vane_and_no_look_out_are_asked_and_the_wind_is_from_all_round(rows):
    at_anchor, under_way = rows["harbour"], rows["wet watch"]
    assert at_anchor["vane"] == at_anchor["look_out"] == at_anchor["striking"] == "not applicable"
    assert "sheers and swings" in at_anchor["wind_from"]
    assert "not applicable" not in (under_way["vane"], under_way["look_out"], under_way["striking"])


@pytest.mark.behaviour
def test_what_no_record_answers_is_unknown_never_a_pass(asked):
    design, _ = asked
    (row,) = one_table(design, {"vane": {"sets": [{"name": "wet watch", "courses": []}]}})
    assert row["vane"] == "unknown"
    assert row["checks"] is None
    assert row["holds"] is None


@pytest.mark.behaviour
def test_the_page_asks_about_water_and_striking(asked):
    found = {one.text: one.answers for one in questions(asked[1], close_hauled_deg=36.0)}
    assert found["Does water stand on it?"]["wet watch"].word in ("pass", "close", "fail")
    assert found["Can one person strike it?"]["wet watch"].note.startswith("striking, one person")

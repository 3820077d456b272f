"""Check the one table over all sets against the records it is picked from."""

import math
from datetime import date, time

import pytest

from canvas import verbs
from canvas.brief.onetable import one_table
from canvas.brief.verdicts import questions, shaded
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


def day_of(latitude, **shares):
    places = [{"name": name.replace("_", " "), "shade_share": share} for name, share in shares.items()]
    return {"day": "2026-06-15", "latitude_deg": latitude, "places": places}


@pytest.mark.analytic
def test_shade_is_told_by_seat_with_the_least_day_where_the_sun_was_up():
    days = [day_of(15.0, port_seat=0.5, helm=0.37, sole=0.1), day_of(-30.0, port_seat=0.7, helm=0.41, sole=0.1)]
    said = "In shade while the sun is up: port seat 60 %, helm 39 %; least helm, 37 %, on 2026-06-15 at 15° N."
    assert shaded({"days": days}) == said
    assert shaded({"days": [*days, day_of(80.0, port_seat=None, helm=None)]}) == said
    assert shaded({"days": days[1:]}).endswith("at 30° S.")
    assert shaded({"places": days[0]["places"]}) == "In shade: port seat 50 %, helm 37 %."
    assert shaded({"days": [day_of(80.0, helm=None)]}) == "The sun is down."


@pytest.mark.behaviour
@pytest.mark.parametrize(("clock", "said"), [(time(9, 30), "In shade: "), (time(23, 30), "The sun is down.")])
def test_shade_at_one_time_begins_with_the_seats_or_with_the_night(clock, said):
    asked = {"latitude": math.radians(12), "day": date(2026, 4, 2), "sun_time": clock}
    (one,) = verbs.shade(EXAMPLES / "oddfellow.toml", sets=["bare"], **asked).record()["sets"]
    assert one["sentence"].startswith(said)

"""Hold body sizes to the published percentiles and relations."""

import pytest

from canvas.design.schema.boat import Crew
from canvas.fit.people import bodies, body_width, percentile, person_of

MM = 1e-3
POOLED = "pooled_equal_weight"


@pytest.mark.published
def test_body_sizes_equal_the_published_percentiles(published):
    table = published("fit/ansur2_percentiles")
    rows = {row["dimension"]: row for row in table.rows if row["group"] == POOLED}
    for dimension in bodies()["percentiles"]:
        for which in ("p05", "p50", "p95"):
            assert abs(percentile(dimension, which) / MM - rows[dimension][which]) <= table.tolerance(which)


@pytest.mark.published
def test_eye_heights_follow_the_published_relation(published):
    table = published("fit/ansur2_relations")
    rows = [row for row in table.rows
            if row["predictor_mm"] == "sittingheight" and row["response_mm"] == "eyeheightsitting"]  # fmt: skip
    slope = sum(row["slope"] for row in rows) / 2
    spread = sum(row["residual_sd"] for row in rows) / 2
    low, high = (person_of(Crew(name="x", stature=1.7, sitting_height=height)) for height in (0.80, 0.95))
    assert (high.eye_sitting - low.eye_sitting) / 0.15 == pytest.approx(slope, rel=table.tolerance("slope"))
    assert low.eye_sitting_sd / MM == pytest.approx(spread, rel=table.tolerance("residual_sd"))


@pytest.mark.published
def test_the_median_of_women_and_men_has_the_published_eyes(published):
    table = published("fit/ansur2_percentiles")
    rows = {(row["dimension"], row["group"]): row["p50"] for row in table.rows}
    person = person_of(Crew(name="x", stature=rows["stature", POOLED] * MM,
                            sitting_height=rows["sitting_height", POOLED] * MM))  # fmt: skip
    assert abs(person.eye_sitting / MM - rows["eye_height_sitting", POOLED]) <= 3
    assert abs(person.eye_standing / MM - rows["eye_height_standing_derived", POOLED]) <= 3
    assert abs(person.shoulder_standing / MM - rows["shoulder_height_standing", POOLED]) <= 1


@pytest.mark.behaviour
def test_own_measures_are_taken_and_have_no_spread():
    own = person_of(Crew(name="x", stature=1.7, sitting_height=0.91, sitting_eye_height=0.8, eye_height=1.6, reach=0.7))
    assert (own.sitting, own.eye_sitting, own.eye_standing, own.reach) == (0.91, 0.8, 1.6, 0.7)
    assert own.sitting_sd is own.eye_sitting_sd is own.eye_standing_sd is None
    guessed = person_of(Crew(name="x", stature=1.7))
    assert guessed.sitting_sd == pytest.approx(0.0219, abs=1e-3)
    assert guessed.eye_sitting_sd > guessed.sitting_sd * 0.85


@pytest.mark.behaviour
def test_a_body_in_a_lifejacket_is_as_wide_as_broad_shoulders():
    assert body_width() == pytest.approx(0.553, abs=1e-3)

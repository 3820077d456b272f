"""Check what changed between designs, which value is called better, what an hour costs, and the order of pieces."""

import json
from types import SimpleNamespace

import numpy as np
import pytest

from canvas import verbs
from canvas.brief.pictures import pictures
from canvas.design.problems import DesignError
from canvas.study.changes import changed_inputs
from canvas.study.compare import KINDS, rows_of
from tests.design.design_texts import changed, example, read

PRICES = """[prices]
labour_hour = 60.0
cloth = { "awning cloth 200" = 20.0, "coated polyester 300" = 25.0, "clear sheet 0.75" = 60.0 }
fastening = { zip = 10.0, thread = 0.05, "webbing 25" = 2.0, "binding tape" = 1.0, "hook and loop 50" = 3.0 }
"""


@pytest.mark.behaviour
def test_changed_inputs_are_listed_by_name():
    first, second = (
        read(example()),
        read(changed(r'name = "watch tent roof" .*', 'name = "watch tent roof"\nwarp = "athwart"')),
    )
    (change,) = changed_inputs(first, second)
    assert change.key == 'panel "watch tent roof".warp'
    assert (change.first, change.second) == (None, "athwart")
    (gone,) = changed_inputs(second, first)
    assert (gone.first, gone.second) == ("athwart", None)
    assert changed_inputs(first, first) == ()


@pytest.mark.behaviour
def test_comments_and_order_do_not_count():
    text = example().replace("# what the vane has been sailed with", "# another remark")
    assert changed_inputs(read(example()), read(text)) == ()


def column(**values):
    return SimpleNamespace(values={kind.name: values.get(kind.name.split(",")[0].replace(" ", "_")) for kind in KINDS})


@pytest.mark.behaviour
def test_more_cloth_is_worse_more_shade_better_and_noise_the_same():
    rows = {row.name: row for row in rows_of([
        column(new_cloth=2.0, shade=0.50, checks_failed=3.0),
        column(new_cloth=2.5, shade=0.60, checks_failed=3.0),
        column(new_cloth=1.5, shade=0.505, checks_failed=None),
    ])}  # fmt: skip
    assert rows["new cloth"].words == ("", "worse", "better")
    assert rows["shade, helm"].words == ("", "better", "same")
    assert rows["checks failed"].words == ("", "same", "unknown")
    assert "cost, least" not in rows


@pytest.fixture(scope="module")
def priced():
    text = example()
    start, end = text.index("[prices]"), text.index("[[decision]]")
    return verbs.rigging_of(read(text[:start] + PRICES + "\n" + text[end:]))


@pytest.fixture(scope="module")
def sides(priced):
    return verbs.compare(priced, sets=["hood and bimini", "shade"])


@pytest.mark.analytic
def test_an_hour_costs_the_bill_over_the_hours_gained(sides, priced):
    (found,) = sides.results.values()
    shade = found.columns[1]
    gained = shade.with_it.seats("shade") - shade.existing.seats("shade")
    take, bill = verbs.buy(priced, sets=["shade"]).results["shade"]
    assert gained > 1
    assert shade.cost.work_low == pytest.approx(bill.hours_low)
    assert shade.cost.low == bill.total_low
    assert shade.values["work for an hour shaded"] == pytest.approx((bill.hours_low + bill.hours_high) / 2 / gained)
    assert bill.unpriced == ()
    expected = (bill.total_low + bill.total_high) / 2 / gained
    assert shade.values["cost of an hour shaded"] == pytest.approx(expected)
    # without the one new panel the set is the first one
    first = found.columns[0].with_it
    assert shade.existing.shade == pytest.approx(first.shade, abs=0.02 * first.hours)
    assert [panel.panel for panel in take.panels] == [step.panel for step in found.orders[1]]


@pytest.mark.behaviour
def test_the_order_of_pieces_adds_up_to_the_set(sides):
    (found,) = sides.results.values()
    shade, order = found.columns[1], found.orders[1]
    gained = shade.with_it.seats("shade") - shade.existing.seats("shade")
    assert sum(step.shade for step in order) == pytest.approx(gained)
    assert sum(step.cost.work_low for step in order) == pytest.approx(shade.cost.work_low)
    assert found.orders[0] == ()


@pytest.mark.behaviour
def test_the_record_marks_values_and_names_columns(sides):
    record = json.loads(json.dumps(sides.record(), allow_nan=False))
    (one,) = record["sets"]
    assert [column["name"] for column in one["columns"]] == ["hood and bimini", "shade"]
    rows = {row["measure"]: row for row in one["rows"]}
    assert rows["shade, starboard seat"]["values"][1]["word"] == "better"
    assert rows["new cloth"]["values"][1]["word"] == "worse"
    assert rows["new cloth"]["values"][1]["said"].endswith("worse")
    assert record["changes"] == []


@pytest.mark.behaviour
def test_two_revisions_say_first_what_changed(priced):
    lower = changed(r"tent_aft_port = .*", 'tent_aft_port = ["1.42 m", "-0.86 m", "1.10 m"]')
    answer = verbs.compare(read(example()), read(lower), sets=["blow coming"])
    record = answer.record()
    assert [change["key"] for change in record["changes"]] == ["marks.tent_aft_port"]
    assert list(record).index("changes") < list(record).index("sets")
    (found,) = answer.results.values()
    assert all(word in ("", "same", "unknown") for row in found.rows for word in row.words)
    assert np.isfinite(found.columns[0].with_it.shade).all()


@pytest.mark.behaviour
def test_nothing_to_compare_is_said_so():
    with pytest.raises(DesignError, match="second design, or --set twice"):
        verbs.compare(read(example()), sets=["shade"])


@pytest.mark.behaviour
def test_shares_are_drawn_side_by_side(sides):
    (picture,) = pictures(sides)
    assert "shade, helm" in picture.svg
    assert "hood and" in picture.svg

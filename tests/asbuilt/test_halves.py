"""Zip halves aboard against new canvas that runs on them, and port against starboard, as `survey` and `check` say."""

from pathlib import Path

import pytest

from canvas import verbs
from canvas.design.reading import parse_design
from canvas.design.schema.rig import ZipHalf
from canvas.survey.mating import mate_of

EXAMPLES = Path(__file__).parents[2] / "examples"
HALF = 'zip = { half = "left", gauge = 10, tooth = "moulded", slider_end = "start" }'


def _marrowgrass(*changes):
    text = (EXAMPLES / "marrowgrass.toml").read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    return parse_design(text, file="boat.toml", folder=EXAMPLES)


def _rows(source, name):
    return [row for row in verbs.survey(source).record()["zips"] if row["name"] == name]


@pytest.mark.behaviour
def test_a_zip_nobody_described_is_asked_for_and_a_described_one_tells_the_half_that_is_needed():
    rows = verbs.survey(_marrowgrass()).record()["zips"]
    assert {row["name"] for row in rows} == {
        "bridging piece: forward", "bridging piece: aft", "watch tent roof: forward", "tent side starboard: top",
        "tent side port: top", "tent back: top",
    }  # fmt: skip
    (roof,) = (row for row in rows if row["name"] == "watch tent roof: forward")
    assert (roof["needs_half"], roof["what"], roof["aboard"], roof["verdict"]) == (
        "right", "length", "not measured", "unknown",
    )  # fmt: skip
    (top,) = (row for row in rows if row["name"] == "tent back: top")
    assert (top["what"], top["needs_half"]) == ("zip", None)


@pytest.mark.behaviour
@pytest.mark.parametrize(
    ("own", "what", "aboard", "new"),
    [('half = "left"', "half", "left", "left"), ("gauge = 5", "gauge", "10", "5"),
     ('tooth = "coil"', "tooth", "moulded", "coil"), ('slider_end = "start"', "slider_end", "start", "end")],
)  # fmt: skip
def test_a_half_that_will_not_run_is_named_by_survey_and_warned_of_by_check(own, what, aboard, new):
    edge = 'to = "hood_top_stbd", finish = "zip with flap"'
    length = (HALF, HALF.replace(" }", ', length = "3.37 m" }'))
    source = _marrowgrass((edge, f"{edge}, zip = {{ {own} }}"), length)
    (row,) = _rows(source, "watch tent roof: forward")
    assert (row["what"], row["aboard"], row["new"], row["verdict"]) == (what, aboard, new, "fail")
    warnings = [one for one in verbs.check(source).record()["problems"] if one["code"] == "zips-do-not-mate"]
    (warning,) = warnings
    assert source.text.splitlines()[warning["line"] - 1].strip().startswith('{ name = "forward", along = "spray hood"')
    assert "spray hood: aft" in warning["wanted"]


@pytest.mark.behaviour
def test_a_zip_aboard_that_is_too_short_is_named_and_one_that_goes_on_past_is_not():
    short = _marrowgrass((HALF, HALF.replace(" }", ', length = "1.40 m" }')))
    (row,) = _rows(short, "watch tent roof: forward")
    assert (row["what"], row["aboard"], row["verdict"]) == ("length", "1400 mm", "fail")
    long = _marrowgrass((HALF, HALF.replace(" }", ', length = "3.37 m" }')))
    (row,) = _rows(long, "watch tent roof: forward")
    assert (row["what"], row["verdict"], row["aboard_length_m"]) == (None, "pass", 3.37)


@pytest.mark.analytic
def test_the_mate_is_the_other_half_with_the_slider_at_the_same_end_of_the_boat():
    aboard = ZipHalf(half="left", gauge=10, tooth="coil", slider_end="start")
    mate = mate_of(aboard)
    assert (mate.half, mate.gauge, mate.tooth) == ("right", 10, "coil")
    assert mate.slider_end == "end", "the two edges run opposite ways"
    own = mate_of(aboard, ZipHalf(gauge=8, length=2.0))
    assert (own.half, own.gauge, own.length) == ("right", 8, 2.0)
    assert mate_of(None) == ZipHalf()


@pytest.mark.behaviour
@pytest.mark.parametrize("name", ["marrowgrass", "oddfellow", "lantern-hill"])
def test_port_and_starboard_are_told_apart_pair_by_pair(name):
    answer = verbs.survey(EXAMPLES / f"{name}.toml")
    record, marks = answer.record(), answer.rigging.model.marks
    assert len(record["differences"]) >= 7
    for row in record["differences"]:
        port, starboard = marks.at(row["port"]), marks.at(row["starboard"])
        assert row["outboard_m"] == pytest.approx(abs(starboard[1]) - abs(port[1]), abs=1e-4)
        assert row["up_m"] == pytest.approx(starboard[2] - port[2], abs=1e-4)
        assert row["aft_m"] == pytest.approx(starboard[0] - port[0], abs=1e-4)
    known = [row for row in record["differences"] if row["up_sd_m"] is not None]
    assert bool(known) == (name == "oddfellow"), "coordinates of the others were typed in"
    for row in record["differences"]:
        assert (row["real"] is None) == (row not in known)
    if known:
        assert sum(row["real"] for row in known) >= 5, "no boat is the same both sides"

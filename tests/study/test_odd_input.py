"""Hold the verbs that compare and order to clear words: no wind, the pole, the date line, 31 February, no prices."""

import json

import pytest
from typer.testing import CliRunner

from canvas import verbs
from canvas.cli import app
from canvas.design.reading import parse_design
from canvas.verbs.maps import known_map, take_over
from tests.whole.boats import EXAMPLES, small_text

run = CliRunner()
ANSWERS = {}  # records, by verb and boat
SPEEDS = """
[sailing]
boat_speed = [
  { true_wind = "6 kn", close_hauled = "2.5 kn", reach = "3 kn", run = "2.5 kn" },
  { true_wind = "20 kn", close_hauled = "5 kn", reach = "6.5 kn", run = "6 kn" },
]
"""
WIND = 'wind = [{ speed = "12 kn", angle = "90 deg", share = "100 %" }]'
VARY = "marks.tent_aft_port[2] = 1.1 m .. 1.2 m, 2"
ASKED = {
    "passage": ["--strike", "20 kn", "--set", "bare"],
    "compare": ["--set", "spray hood", "--set", "wet watch"],
    "sweep": ["--vary", VARY, "--set", "wet watch", "--workers", "1"],
    "search": ["--vary", VARY, "--set", "wet watch", "--start", "2", "--rounds", "0", "--workers", "1"],
    "buy": [],
    "brief": ["-o", "out/brief.pdf"],
}


def leg(start=("10 N", "30 W"), end=("14 N", "30 W"), *, more=WIND, month=6):
    return f"""
[passage]
name = "there"

[[passage.legs]]
name = "there"
start_latitude = "{start[0]}"
start_longitude = "{start[1]}"
end_latitude = "{end[0]}"
end_longitude = "{end[1]}"
month = {month}
{more}
"""


def with_leg(*places, **ways):
    return small_text() + SPEEDS + leg(*places, **ways)


@pytest.fixture
def ask(tmp_path, monkeypatch):
    """Return a way to ask a verb about a text, which must end without a fault of the program."""
    monkeypatch.chdir(tmp_path)

    def asked(verb, text, *words):
        (tmp_path / "boat.toml").write_text(text, encoding="utf-8")
        done = run.invoke(app, [verb, "boat.toml", *ASKED[verb], *words])
        assert isinstance(done.exception, SystemExit | None), done.exception
        assert "fault in this program" not in done.stderr
        assert "Traceback" not in done.output
        return done

    return asked


SOUND = {
    "no wind": with_leg(more="wind = []"),
    "dead to windward": with_leg(more=WIND.replace("90 deg", "0 deg")),
    "to the pole along a great circle": with_leg(
        ("86 N", "30 W"), ("90 N", "30 W"), more=f'along = "great circle"\n{WIND}'
    ),
    "across the date line": with_leg(("10 N", "178 E"), ("10 N", "178 W")),
    "no prices": small_text() + SPEEDS + "\n[prices]\ncloth = {}\nfastening = {}\n" + leg(),
}
WRONG = {
    "calm": (with_leg(more=WIND.replace("12 kn", "0 kn")), "a value above zero"),
    "to the pole along a rhumb line": (with_leg(("86 N", "30 W"), ("90 N", "30 W")), "never reaches a pole"),
    "beyond the pole": (with_leg(("86 N", "30 W"), ("91 N", "30 W")), "at most 90 degrees"),
    "month 13": (with_leg(month=13), "month"),
    "31 February": (
        small_text() + '\n[[decision]]\ndate = "2026-02-31"\nwhat = "a tent"\nwhy = "rain"\n',
        "2026-02-31",
    ),
    "31 February as a TOML date": (small_text() + "\n[[decision]]\ndate = 2026-02-31\n", "invalid date"),
    "a price below nothing": (small_text() + '\n[prices]\nfastening = { "zip" = -1.0 }\n', "0 or more"),
    "an empty file": ("", "cockpit"),
}


@pytest.fixture
def answered(ask):
    """Return a way to get the record of a verb about one of the sound boats, asked once."""

    def record(verb, name):
        if (verb, name) not in ANSWERS:
            done = ask(verb, SOUND[name], "--json")
            assert done.exit_code == 0, done.output
            ANSWERS[verb, name] = json.loads(done.stdout)
        return ANSWERS[verb, name]

    return record


@pytest.mark.behaviour
@pytest.mark.parametrize("name", SOUND)
def test_an_odd_passage_gives_a_sound_answer(answered, name):
    found = answered("passage", name)
    planned = found["planned"]
    windless = name == "no wind"
    assert (planned["hours_h"] is None) == windless
    (whole,) = found["sets"]
    for place in (*planned["places"], *whole["places"]):
        assert place["shade_share"] is None or 0 <= place["shade_share"] <= 1
        assert (place["rain_reaches_share"] is None) == windless
    assert 0 < found["legs"][0]["distance_nm"] < 400
    if name == "to the pole along a great circle":
        assert planned["sun_up_h"] == pytest.approx(planned["hours_h"])  # June


@pytest.mark.behaviour
@pytest.mark.parametrize("verb", [verb for verb in ASKED if verb != "passage"])
@pytest.mark.parametrize("name", ["no wind", "to the pole along a great circle", "across the date line", "no prices"])
def test_verbs_answer_whatever_the_passage_and_prices(answered, verb, name):
    assert answered(verb, name)["sets"]


@pytest.mark.behaviour
@pytest.mark.parametrize("verb", ASKED)
@pytest.mark.parametrize("name", WRONG)
def test_what_cannot_be_is_said_with_its_place_and_ends_with_2(ask, tmp_path, verb, name):
    text, said = WRONG[name]
    done = ask(verb, text)
    if verb in ("sweep", "search") and name.endswith("rhumb line"):
        assert done.exit_code == 0, done.output  # only what sails the leg minds
    else:
        assert done.exit_code == 2
        assert said in done.stderr
        assert "boat.toml" in done.stderr
        assert not (tmp_path / "out").exists()


@pytest.mark.behaviour
@pytest.mark.parametrize(
    ("verb", "words", "said"),
    [
        ("passage", ["--leave", "2026-02-31"], "a day that exists"),
        ("passage", ["--strike", "0 kn"], "a wind above 0"),
        ("sweep", ["--vary", VARY], "each number once"),
        ("search", ["--vary", VARY], "each number once"),
        ("search", ["--start", "0"], "a power of two"),
        ("buy", ["--rate", "inf"], "--rate"),
        ("buy", ["--rate", "nan"], "--rate"),
        ("brief", ["--paper", "A0"], 'Did you mean "A4"'),
        ("compare", ["--set", "no such"], "Known"),
    ],
)
def test_odd_options_are_said_so(ask, verb, words, said):
    done = ask(verb, small_text() + SPEEDS + leg(), *words)
    assert done.exit_code == 2
    assert said in done.stderr


@pytest.mark.analytic
def test_a_leg_across_the_date_line_is_the_same_leg_elsewhere():
    def boat(start, end):
        text = with_leg(("10 N", start), ("12 N", end))
        return verbs.rigging_of(parse_design(text, file="b.toml", folder=EXAMPLES))

    boats = boat("3 W", "3 E"), boat("177 E", "177 W")
    known_map(boats[0], "bare")
    take_over(boats[1], boats[0])  # the same boat, whatever it sails
    here, there = (verbs.passage(one, sets=["bare"], strike=10.0).record() for one in boats)
    for key in ("distance_nm", "course_deg", "hours_h"):
        assert there["legs"][0][key] == pytest.approx(here["legs"][0][key], rel=1e-9)
    for one, other in zip(here["planned"]["places"], there["planned"]["places"], strict=True):
        assert other["shade_share"] == pytest.approx(
            one["shade_share"], abs=0.005
        )  # half a day of the sun's year apart


@pytest.mark.behaviour
def test_an_empty_price_list_says_what_is_not_known(answered):
    bought = answered("buy", "no prices")
    (made,) = [one for one in bought["sets"] if one["cloth"]]
    assert made["materials_cost"] is None
    assert made["total_low"] is None
    assert {one["name"] for one in made["cloth"]} <= set(made["unpriced"])
    assert made["hours_low"] > 1
    compared = answered("compare", "no prices")
    (both,) = compared["sets"]
    money = [row for row in both["rows"] if row["unit"].startswith("money")]
    assert [value["word"] for row in money for value in row["values"][1:]] == ["unknown"] * len(money)
    (step,) = both["partial_order"]
    assert step["cost_low"] is None
    assert step["work_per_shaded_h"] > 0

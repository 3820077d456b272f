"""Give the tests of the whole one small boat, the examples, and each verb's record, asked for once."""

import math
from datetime import date, time
from functools import cache
from pathlib import Path

from canvas import verbs
from canvas.design.guided import complete, design_text
from canvas.design.reading import parse_design

ROOT = Path(__file__).parents[2]
EXAMPLES = ROOT / "examples"
NAMES = ("marrowgrass", "oddfellow", "lantern-hill")
SMALL = "skua"  # a tiller boat with one new panel: the cheapest that has all
SUMMER = date(2026, 6, 21)
QUICK = (
    "check",
    "survey",
    "shade",
    "shade span",
    "rain",
    "vane",
    "fit",
    "loads",
    "life",
    "cut",
    "buy",
    "sheet",
    "mockup",
)
WHOLE = ("brief", "report")


def small_text():
    """Return the text of the small boat's design."""
    return design_text(complete({"name": "Skua", "bimini": "no", "steered_by": "tiller"}))


@cache
def boat(name):
    """Return a boat, built."""
    if name == SMALL:
        return verbs.rigging_of(parse_design(small_text(), file="skua.toml", folder=EXAMPLES))
    return verbs.rigging_of(EXAMPLES / f"{name}.toml")


@cache
def answer(name, verb):
    """Return the answer of a verb, asked in the cheapest way that fills all its keys."""
    rigging = boat(name)
    some = [rigging.model.design.set[0].name] if name == SMALL else ["bare"]
    questions = {
        "shade": lambda: verbs.shade(rigging, latitude=math.radians(-17.5), day=SUMMER, sun_time=time(9, 30)),
        "shade span": lambda: verbs.shade(rigging, sets=some, first=SUMMER, last=SUMMER, latitudes=[0.4]),
        "rain": lambda: verbs.rain(rigging, sets=some, aws=[10.0]),
        "buy": lambda: verbs.buy(rigging, rate=47.5),
        "mockup": lambda: verbs.mockup(rigging, sets=[rigging.model.design.set[1].name]),
        "report": lambda: verbs.report(rigging, sets=[rigging.model.design.set[1].name]),
    }
    return questions.get(verb, lambda: getattr(verbs, verb)(rigging))()


def record(name, verb):
    """Return the record of `answer`."""
    return answer(name, verb).record()

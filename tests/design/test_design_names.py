"""Hold the checks of names against one another: each wrong one is found at its place with the nearest right one."""

import pytest
from design_texts import changed, problems_of

CASES = [
    ("mark", r'^start = "hood_foot_port"', 'start = "hood_foot_prt"', "unknown-mark", 'tube "spray hood aft bow", start',
     'Did you mean "hood_foot_port"'),
    ("tube", 'along = "spray hood aft bow"', 'along = "spray hood bow"', "unknown-tube-or-panel", "edges[2].along",
     "Did you mean"),
    ("panel edge", 'along = "bimini", edge = "forward"', 'along = "bimini", edge = "front"', "unknown-edge", ".edge",
     'Known: "aft", "forward"'),
    ("edge not said", 'along = "bimini", edge = "forward"', 'along = "bimini"', "missing-key", "edges[2]",
     "Say which edge"),
    ("edge of a tube", 'along = "spray hood aft bow", finish', 'along = "spray hood aft bow", edge = "aft", finish',
     "no-meaning", ".edge", "take it out"),
    ("cloth", 'cloth = "awning cloth 200"', 'cloth = "awning 200"', "unknown-cloth", "cloth", '"awning cloth 200"'),
    ("finish", 'finish = "twist studs"', 'finish = "twist stud"', "unknown-finish", "finish", '"twist studs"'),
    ("finish not said", ', finish = "twist studs"', "", "missing-key", "edges", '"webbing hem"'),
    ("fastening", 'kind = "webbing and buckle"', 'kind = "webbing"', "unknown-fastening", "ties[0].kind", "buckle"),
    ("cut in no set", 'cut_in = "shade"', 'cut_in = "shades"', "unknown-set", "cut_in", 'Did you mean "shade"'),
    ("cut in where it is down", 'cut_in = "shade"', 'cut_in = "wet watch"', "two-ways", "cut_in", "in which this panel"),
    ("panel of a set", r'^up = \["spray hood", "bimini"\]', 'up = ["spray hod", "bimini"]', "unknown-panel", "up[0]",
     'Did you mean "spray hood"'),
    ("panel twice", r'^up = \["spray hood", "bimini"\]', 'up = ["bimini", "bimini"]', "double-name", "up[1]", "once"),
    ("no window to roll", r'^up = \["spray hood", "bimini"\]', 'up = [{ panel = "bimini", window = "rolled up" }]',
     "no-meaning", "window", "rolls_up = true"),
    ("which zip", r'^up = \["spray hood", "bimini"\]', 'up = [{ panel = "bimini", zip = "open" }]', "missing-key",
     "zip", "zip_edge"),
    ("no such zip", r'^up = \["spray hood", "bimini"\]',
     'up = [{ panel = "spray hood", zip = "open", zip_edge = "port" }]', "unknown-zipped-edge", "zip_edge", '"aft"'),
    ("zip closed", r'^up = \["spray hood", "bimini"\]', 'up = [{ panel = "spray hood", zip_edge = "aft" }]',
     "no-meaning", "zip_edge", "zip = "),
    ("zip half", r'^up = \["spray hood", "bimini"\]', 'up = [{ panel = "spray hood", zip = "open half" }]',
     "wrong-value", "zip", '"open 40 %"'),
    ("vane's set", 'steers_from_with = "hood and bimini"', 'steers_from_with = "hood"', "unknown-set",
     "vane.steers_from_with", "hood and bimini"),
    ("upright axis with a tilt", 'axis = "tilted"', 'axis = "upright"', "no-meaning", "vane.axis_tilt", "take it out"),
    ("crew's place", 'at = "port seat"', 'at = "port sea"', "unknown-place-or-mark", 'crew "Ines", at', '"port seat"'),
    ("leg's set", 'set = "shade"', 'set = "sun"', "unknown-set", "legs", '"shade"'),
    ("shares", 'share = "40 %" },', 'share = "90 %" },', "wrong-value", "wind", "add up to 100 %"),
    ("two tubes", 'name = "bimini aft bow"', 'name = "bimini forward bow"', "double-name", "name", "its own name"),
    ("panel like a tube", '^name = "bimini"$', 'name = "arch"', "double-name", 'panel "arch", name', "Edges run along"),
    ("two edges", 'name = "port", finish = "press studs"', 'name = "front", finish = "press studs"', "double-name",
     "edges[3].name", "once"),
    ("hollow and batten", 'finish = "batten pocket"', 'finish = "batten pocket", hollow = "3 %"', "two-ways",
     "edges[2]", "not both"),
    ("hollow on a hoop", 'along = "spray hood", edge = "aft", finish = "zip with flap"',
     'along = "spray hood", edge = "aft", finish = "zip with flap", hollow = "3 %"', "two-ways", "edges[0]", "none"),
    ("batten without pocket", 'finish = "batten pocket"', 'finish = "hem"', "two-ways", "batten", "batten pocket"),
    ("pierced by nothing", 'by = "backstay"', 'by = "back stay"', "unknown-tube", "pierced[0].by", '"backstay"'),
    ("slit to nothing", 'slit_to = "aft"', 'slit_to = "leech"', "unknown-edge", "slit_to", '"aft"'),
    ("over nothing", r'over = \["bimini middle bow"\]', 'over = ["mizzen boom"]', "unknown-tube-or-boom", "over[0]",
     '"boom"'),
    ("insets", r'inset = \["0.16 m", ', "inset = [", "wrong-value", "inset", "4: one for each edge"),
    ("rake of a rail", r'^kind = "rail"', 'kind = "rail"\nrake = "3 deg"', "no-meaning", "rake", "take it out"),
    ("strength of a hoop", r'^rake = "4 deg"', 'rake = "4 deg"\nstrength = "2 kN"', "no-meaning", "strength",
     "take it out"),
    ("hoop with one foot", r'^end = "hood_foot_stbd"\n', "", "missing-key", 'tube "spray hood aft bow"',
     "Give `start` and `end`"),
    ("hoop without crown", r'^crown = "0.96 m"\n', "", "missing-key", 'tube "spray hood aft bow"', "greatest height"),
    ("hoop both ways", r'^start = "hood_foot_port"', 'through = ["masthead", "backstay_foot"]\nstart = "hood_foot_port"',
     "two-ways", "through", "Give either"),
    ("price of no cloth", r'^currency = "EUR"', 'currency = "EUR"\ncloth = { silk = 90 }', "unknown-cloth",
     "prices.cloth.silk", "acrylic 300"),
    ("allowance of no finish", r"^\[prices\]", '[shop.allowance]\nhems = "30 mm"\n\n[prices]', "unknown-finish",
     "shop.allowance.hems", 'Did you mean "hem"'),
    ("assumed nothing", r'"hull.flare"', '"hull.flair"', "unknown-part-of-the-file", "assumed[0]", '"hull"'),
    ("reading of no mark", r"^\[hull\]", '[[reading]]\nkind = "tape"\nfrom = "mast"\nto = "masthead"\nlength = 3\n\n[hull]',
     "unknown-mark", "reading[0].from", '"masthead"'),
    ("reading in no set", r"^\[hull\]",
     '[[reading]]\nkind = "ribbon"\nset = "sun"\nawa = 0\nturn = 4\n\n[hull]', "unknown-set", "reading[0].set", '"shade"'),
    ("held without coordinates", r'^bimini_aft_stbd = .*', 'bimini_aft_stbd = "survey"\n[survey]\nheld = ["bimini_aft_stbd"]', "two-ways",
     "survey.held[0]", "needs coordinates"),
    ("canvas in bare", '^name = "hood and bimini"', 'name = "bare"', "two-ways", "up", "another name"),
    ("solid in no set", r"^power = 130", 'power = 130\nsets = ["sun"]', "unknown-set", "sets[0]", '"shade"'),
    ("own cloth like none", r"^\[marks\]", '[[cloth]]\nname = "x"\nkind = "cloth"\nlike = "silk"\n\n[marks]',
     "unknown-cloth", 'cloth "x", like', "acrylic 300"),
]  # fmt: skip


@pytest.mark.behaviour
@pytest.mark.parametrize(
    ("old", "new", "code", "key", "wanted"), [case[1:] for case in CASES], ids=[c[0] for c in CASES]
)
def test_a_wrong_name_is_found_with_what_would_do(old, new, code, key, wanted):
    problems = [problem for problem in problems_of(changed(old, new)) if problem.code == code]
    assert problems, "not found"
    assert key in problems[0].key
    assert wanted in problems[0].wanted
    assert problems[0].line is not None

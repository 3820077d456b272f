"""Check when to strike, what default strengths may promise, and that what is not known never passes."""

import re

import numpy as np
import pytest

from canvas import verbs
from canvas.air.wind import KNOT
from canvas.brief.records.loads import strike_sentence
from canvas.cloth.lines import points_at
from canvas.design.reading import parse_design
from canvas.design.tables import metals
from canvas.geometry.model import build_model
from canvas.jobs.failure import CouldNot
from canvas.strength import blown as blowing
from canvas.strength.frames import tube_section
from canvas.strength.hoops import bent
from canvas.strength.loads import set_loads
from canvas.strength.parts import MOST_UNDECLARED, PartLoad, Strength, joint_verdict
from canvas.strength.strike import RISE, made_stronger, strike
from canvas.verbs import rigging_of
from tests.whole.boats import EXAMPLES, NAMES

TEXT = (EXAMPLES / "marrowgrass.toml").read_text(encoding="utf-8")
WINDS = np.array([8.0, 12.0, 18.0])


def part(name, *, low_kn=None, high_kn=None, declared=False, kind="edge", panel=None):
    """Return a part whose load goes with the wind squared, and which reaches its strength at these winds."""
    strength = None
    if low_kn is not None:
        ends = [2.0 * (kn * KNOT) ** 2 for kn in (low_kn, high_kn or low_kn)]
        strength = Strength(low=ends[0], high=ends[1], declared=declared, source="test")
    return PartLoad(
        name=name, panel=panel, edge=None, kind=kind, each="each", case="sucked out", load=2.0 * 12.0**2, winds=WINDS,
        loads=2.0 * WINDS**2, strength=strength, limit_low=None if low_kn is None else low_kn * KNOT,
        limit_high=None if low_kn is None else (high_kn or low_kn) * KNOT,
    )  # fmt: skip


def boat(text=TEXT):
    return rigging_of(parse_design(text, file="boat.toml", folder=EXAMPLES))


@pytest.mark.analytic
def test_begin_to_strike_at_the_first_limit_less_the_rise_while_striking():
    found = strike([part("b", low_kn=50.0), part("a", low_kn=24.0, high_kn=40.0)], solved=True)
    assert found.first.name == "a"
    assert found.at == pytest.approx(24.0 * KNOT / RISE)
    assert found.governing == ("a",)  # 50 is more than half as much again as 24


@pytest.mark.analytic
def test_what_goes_first_made_stronger_brings_the_wind_of_what_goes_next():
    """Loads go with the wind squared: at 24 kn a tie that breaks at 12 carries four times what it breaks at."""
    ties = [
        part(f"tie {side}", low_kn=low, kind="tie", panel="tent") for side, low in (("port", 12.0), ("starboard", 15.0))
    ]
    parts = [*ties, part("stud", low_kn=24.0, panel="tent"), part("hoop", low_kn=90.0, kind="tube")]
    found = made_stronger(parts, strike(parts, solved=True))
    assert found.part.name == "stud"
    assert found.at == pytest.approx(24.0 * KNOT / RISE)
    assert found.carries == pytest.approx(4.0 * ties[0].strength.low)
    then = made_stronger(parts[2:], strike(parts[2:], solved=True))
    assert then.at == pytest.approx(MOST_UNDECLARED)  # no more on strengths that are not declared
    assert then.carries == pytest.approx(2.0 * (RISE * MOST_UNDECLARED) ** 2)


@pytest.mark.behaviour
def test_nothing_is_told_of_making_stronger_what_would_hardly_help_or_is_not_known():
    near = [part("stud", low_kn=24.0, panel="tent"), part("hoop", low_kn=26.0, kind="tube")]
    alone = [part("stud", low_kn=24.0, panel="tent"), part("strap", kind="strap")]
    for parts, solved in ((near, True), (alone, True), (near[:1], True), (near, False), ([], True)):
        assert made_stronger(parts, strike(parts, solved=solved)) is None
    hoops = [part("aft bow", low_kn=20.0, kind="tube"), part("forward bow", low_kn=20.5, kind="tube")]
    assert made_stronger(hoops, strike(hoops, solved=True)) is None  # each of a frame stands by itself


@pytest.mark.behaviour
def test_above_30_kn_only_where_all_that_governs_is_declared():
    strong = [part("a", low_kn=60.0, declared=True), part("b", low_kn=80.0, declared=True)]
    assert strike(strong, solved=True).at == pytest.approx(50.0 * KNOT)
    one_default = [*strong[:1], part("b", low_kn=80.0)]
    assert strike(one_default, solved=True).at == pytest.approx(MOST_UNDECLARED)
    far_default = [*strong[:1], part("b", low_kn=95.0)]  # goes long after the first: it does not govern
    assert strike(far_default, solved=True).at == pytest.approx(50.0 * KNOT)
    unknown = [*strong, part("strap")]
    found = strike(unknown, solved=True)
    assert found.at == pytest.approx(MOST_UNDECLARED)
    assert found.unknown == ("strap",)
    assert not found.declared


@pytest.mark.behaviour
def test_what_is_not_known_is_unknown_and_never_a_pass():
    assert part("strap").verdict(1.0) == "unknown"
    assert joint_verdict(["pass", "unknown", "pass"]) == "unknown"
    assert joint_verdict(["unknown", "fail"]) == "fail"
    assert part("a", low_kn=20.0, high_kn=28.0).verdict(25 * KNOT) == "close"
    assert part("a", low_kn=60.0).verdict(45 * KNOT) == "close"  # a default strength never passes above 30 kn
    assert part("a", low_kn=60.0, declared=True).verdict(45 * KNOT) == "pass"
    assert strike([part("strap")], solved=True).at is None
    assert strike([part("a", low_kn=24.0)], solved=False).at is None


@pytest.mark.behaviour
@pytest.mark.slow
@pytest.mark.parametrize("name", NAMES)
def test_no_45_kn_claim_can_be_printed_from_default_strengths(name):
    record = verbs.loads(EXAMPLES / f"{name}.toml", aws=45 * KNOT).record()
    for one in record["sets"]:
        if not one["parts"]:
            continue
        assert not one["strengths_declared"]
        assert one["verdict"] != "pass"
        assert one["strike_at_kn"] is None or one["strike_at_kn"] <= 30.0
        winds = [float(number) for number in re.findall(r"(\d+(?:\.\d+)?) kn", one["sentence"])]
        assert max(winds, default=0.0) <= 30.0
        assert "flogging" not in one["sentence"]
        assert all(part["declared"] or part["verdict"] != "pass" for part in one["parts"])


@pytest.mark.analytic
def test_loads_between_and_beyond_the_winds_solved_follow_their_power():
    one = part("a", low_kn=40.0)
    for wind in (5.0, 10.0, 17.0, 30.0):
        assert one.load_at(wind) == pytest.approx(2.0 * wind**2)


@pytest.mark.behaviour
def test_cloth_that_finds_no_rest_is_said_and_nothing_is_advised(monkeypatch):
    def fails(*_, what, **__):
        raise CouldNot(f"{what} did not come to rest under its load.", "Hold it along more of its outline.")

    monkeypatch.setattr(blowing, "settle", fails)
    found = set_loads(boat(), "blow coming", aws=25 * KNOT)
    assert found.strike.at is None
    assert found.verdict(25 * KNOT) == "unknown"
    assert 'When to strike is not known: "spray hood", pushed in at 15 kn' in strike_sentence(found)


@pytest.mark.behaviour
def test_a_corner_without_a_tie_is_said_and_its_strength_is_unknown():
    bare = re.sub(r'(?s)ties = \[\n  \{ at = "tent_aft_port".*?\n\]\n', "", TEXT)
    found = set_loads(boat(bare), "wet watch", aws=25 * KNOT)
    corners = [one for one in found.parts if one.name.endswith(": no tie")]
    assert {one.name for one in corners} == {
        "watch tent roof, tent_aft_port: no tie", "watch tent roof, tent_aft_stbd: no tie"
    }  # fmt: skip
    assert all(one.verdict(1.0) == "unknown" and one.load > 100.0 for one in corners)
    assert {one.name for one in corners} <= set(found.strike.unknown)


@pytest.mark.behaviour
def test_straps_and_tubes_of_declared_strength_are_taken_as_declared():
    bow = 'name = "spray hood aft bow"\n'
    told = TEXT.replace(bow, f'{bow}strength = "30 kN"\nstrap_strength = "2 kN"\n', 1)
    found = {one.name: one for one in set_loads(boat(told), "blow coming", aws=25 * KNOT).parts}
    bow, strap = found["spray hood aft bow, bending"], found["spray hood aft bow, strap or strut"]
    section = tube_section(diameter=0.025, wall=0.0015)
    assert bow.strength.declared
    assert bow.strength.low == pytest.approx(30e3 / section.area * section.modulus)
    assert (strap.strength.low, strap.strength.declared) == (2000.0, True)
    before = {one.name: one for one in set_loads(boat(), "blow coming", aws=25 * KNOT).parts}
    steel = metals()["stainless"]
    default = before["spray hood aft bow, bending"].strength
    assert (default.low, default.high) == pytest.approx(
        (steel.yield_stress * section.modulus, steel.yield_high * section.modulus)
    )
    assert not default.declared


@pytest.mark.analytic
def test_a_wire_carries_what_a_flat_parabola_gives():
    rigging = rigging_of(EXAMPLES / "oddfellow.toml")
    wire = rigging.model.tubes["guard wire port"]
    length = 1.5
    spots = points_at(wire.line, np.linspace(3.5, 3.5 + length, 20))
    run = blowing.AtWind(wind=10.0, panels=(), spots=spots, pulls=np.tile([0.0, 3.0, 0.0], (20, 1)))
    (found,) = [one for one in bent(rigging, np.zeros((0, 3)), [[run]]) if one.name == "guard wire port, pull"]
    stiff = 107e9 * 0.77 * np.pi / 4 * 0.005**2
    assert found.loads[0] == pytest.approx(((60.0 / length) ** 2 * length**2 * stiff / 24) ** (1 / 3), rel=1e-6)
    assert found.strength is None


@pytest.mark.behaviour
def test_a_hoop_with_one_foot_and_a_tube_without_thickness_are_refused_by_line():
    for old, new, said in (
        ('end = "hood_foot_stbd"\n', "", "Give `start` and `end`"),
        ('diameter = "32 mm"\n', 'diameter = "32 mm"\nwall = "0 mm"\n', "Write a length above zero"),
    ):
        with pytest.raises(Exception, match=said):
            build_model(parse_design(TEXT.replace(old, new, 1), file="boat.toml", folder=EXAMPLES))

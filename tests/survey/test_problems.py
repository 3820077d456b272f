"""Say what is wrong with a set of readings, by file, line and key, and what to do."""

from dataclasses import replace

import numpy as np
import pytest

from canvas.design.problems import DesignError
from canvas.jobs.failure import CouldNot
from canvas.survey.adjust import adjust
from canvas.survey.datum import Datum
from canvas.survey.readings import Height, OnPlane, OnTube, Side, Tape, Where
from tests.survey.boats import planned, started, taken


def _refused(readings, **how):
    with pytest.raises(DesignError) as refused:
        adjust(readings, **how)
    return refused.value.problems


def _placed(readings):
    where = [Where(file="boat.toml", line=100 + k, key=f"reading[{k}]") for k in range(len(readings))]
    return [replace(reading, where=place) for reading, place in zip(readings, where, strict=True)]


@pytest.fixture
def boat():
    return planned(0)


@pytest.fixture
def readings(boat):
    return _placed(taken(boat, np.random.default_rng(0)))


@pytest.mark.behaviour
def test_nothing_measured(boat):
    (problem,) = _refused([], datum=boat.datum)
    assert problem.code == "too-few-readings"
    assert "canvas sheet" in problem.wanted


@pytest.mark.behaviour
def test_reading_between_a_mark_and_itself(boat, readings):
    readings[5] = replace(readings[5], a="mark_1", b="mark_1")
    (problem,) = _refused(readings, datum=boat.datum)
    found = (problem.code, problem.file, problem.line, problem.key)
    assert found == ("reading-to-itself", "boat.toml", 105, "reading[5]")
    assert "two marks" in problem.wanted


@pytest.mark.behaviour
def test_every_problem_is_told_at_once(boat, readings):
    readings[5] = replace(readings[5], a="mark_1", b="mark_1")
    readings[6] = replace(readings[6], length=-1.0)
    readings[7] = replace(readings[7], length=float("nan"))
    readings[8] = replace(readings[8], sigma=0.0)
    assert [p.line for p in _refused(readings, datum=boat.datum)] == [105, 106, 107, 108]


@pytest.mark.behaviour
def test_too_few_readings_to_a_mark(boat, readings):
    few = [
        *readings,
        Tape(a="lone", b="mark_1", length=1.0, where=Where(file="boat.toml", line=300)),
        Tape(a="lone", b="mark_2", length=1.0),
    ]
    (problem,) = _refused(few, datum=boat.datum)
    found = (problem.code, problem.key, problem.line, problem.found)
    assert found == ("too-few-readings", "marks.lone", 300, '2 readings to "lone"')
    assert "needs 3 readings" in problem.wanted


@pytest.mark.behaviour
def test_unconnected_marks(boat, readings):
    apart = [
        Tape(a=f"far_{a}", b=f"far_{b}", length=1.0 + 0.1 * (a + b), where=Where(line=400))
        for a in range(5)
        for b in range(a)
    ]
    (problem,) = _refused([*readings, *apart], datum=boat.datum)
    assert problem.code == "unconnected-marks"
    assert all(f"far_{k}" in problem.found for k in range(5))
    assert problem.line == 400


@pytest.mark.behaviour
def test_marks_that_hang_by_a_hinge():
    """Two bodies that share two marks turn about the line through them: counting alone does not see it."""
    random = np.random.default_rng(2)
    places = {f"m{k}": random.uniform(0, 3, 3) for k in range(10)}
    bodies = ([f"m{k}" for k in (0, 1, 2, 3, 4, 5)], [f"m{k}" for k in (0, 1, 6, 7, 8, 9)])
    tapes = [
        Tape(a=a, b=b, length=float(np.linalg.norm(places[a] - places[b])))
        for body in bodies
        for k, a in enumerate(body)
        for b in body[:k]
    ]
    held = {f"m{k}": tuple(places[f"m{k}"]) for k in (0, 2, 3)}
    (problem,) = _refused(tapes, datum=Datum(held=held, rough={name: tuple(place) for name, place in places.items()}))
    assert problem.code == "undetermined-marks"
    assert all(name in problem.found for name in bodies[1][2:])
    assert "m4" not in problem.found


@pytest.mark.behaviour
@pytest.mark.parametrize(
    ("unit", "typed", "text", "meant"),
    [
        ("m", 12.0, "12", "in"),
        ("m", 41.0, "41", "in"),
        ("m", 95.0, "95", "cm"),
        ("mm", 1.15, "1.15", "m"),
        ("ft", 34.0, "34", "in"),
    ],
)
def test_a_number_in_another_unit_is_named(unit, typed, text, meant):
    size = {"in": 0.0254, "ft": 0.3048, "m": 1.0, "cm": 0.01, "mm": 0.001}
    true = typed * size[meant]
    random = np.random.default_rng(5)
    places = {f"m{k}": random.uniform(0, 1.5, 3) for k in range(7)}
    way = random.normal(size=3)
    places["m1"] = places["m0"] + true * way / np.linalg.norm(way)
    tapes = _placed(
        [
            Tape(a=a, b=b, length=float(np.linalg.norm(np.subtract(places[a], places[b]))))
            for k, a in enumerate(places)
            for b in list(places)[:k]
        ]
    )
    number = next(k for k, t in enumerate(tapes) if {t.a, t.b} == {"m0", "m1"})
    where = replace(tapes[number].where, text=text, unit=unit)
    tapes[number] = replace(tapes[number], length=typed * size[unit], where=where)
    (problem,) = _refused(tapes, datum=Datum(rough={name: tuple(place) for name, place in places.items()}))
    assert (problem.code, problem.line, problem.found) == ("mixed-units", 100 + number, text)
    assert f'write "{text} {meant}"' in problem.wanted


@pytest.mark.behaviour
def test_length_that_no_triangle_allows_is_named(boat, readings):
    number = next(k for k, r in enumerate(readings) if isinstance(r, Tape))
    readings[number] = replace(readings[number], length=7770.7)
    (problem,) = _refused(readings, datum=boat.datum)
    assert problem.code == "impossible-length"
    assert problem.line == 100 + number


@pytest.mark.behaviour
def test_no_datum(readings):
    (problem,) = _refused(readings, datum=Datum())
    assert problem.code == "no-datum"
    assert "three marks" in problem.wanted
    lone = Datum(rough={"mark_1": (1.0, 0.0, 0.0), "mark_2": (2.0, 0.0, 0.0)})
    (problem,) = _refused(readings, datum=lone)
    assert problem.code == "no-datum"


@pytest.mark.behaviour
def test_statement_about_an_unknown_mark_offers_the_nearest(boat, readings):
    (problem,) = _refused([*readings, Side(mark="mark_1x", of="mark_2", side="above")], datum=boat.datum)
    assert problem.code == "unknown-mark"
    assert 'Did you mean "mark_1"' in problem.wanted


@pytest.mark.behaviour
def test_plane_and_tube_need_enough_marks(boat, readings):
    few = [OnPlane(mark=f"mark_{k}", plane="seat") for k in range(3)]
    few += [OnTube(mark=f"mark_{k}", tube="rail") for k in (4, 5)]
    assert [p.key for p in _refused([*readings, *few], datum=boat.datum)] == ['plane "seat"', 'tube "rail"']


@pytest.mark.behaviour
def test_flat_survey_takes_no_heights():
    (problem,) = _refused([Height(mark="a", height=1.0, session="one")], datum=Datum(), dimension=2)
    assert problem.code == "not-flat"


@pytest.mark.behaviour
def test_nothing_is_lost_when_readings_are_refused(boat, readings):
    """The readings are as they were, and adjust once the wrong one is mended."""
    good = list(readings)
    readings[5] = replace(readings[5], length=-1.0)
    _refused(readings, datum=boat.datum)
    readings[5] = good[5]
    assert adjust(readings, datum=started(boat)).sigma0 < 2


@pytest.mark.behaviour
def test_lengths_that_fit_no_shape_could_not_be_adjusted():
    """Every triangle closes, and yet no ten marks have these lengths."""
    random = np.random.default_rng(1)
    names = [f"m{k}" for k in range(10)]
    tapes = [Tape(a=a, b=b, length=float(random.uniform(1.0, 1.9))) for k, a in enumerate(names) for b in names[:k]]
    with pytest.raises(CouldNot, match="do not settle on one shape") as refused:
        adjust(tapes, datum=Datum(rough={"m0": (0, 0, 0), "m1": (1, 0, 0), "m2": (0, 1, 0)}))
    assert "rough coordinates" in refused.value.advice

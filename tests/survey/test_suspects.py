"""Name wrong readings and say what they were; list those in which an error would not be seen."""

from dataclasses import replace

import numpy as np
import pytest

from canvas.survey.adjust import adjust
from canvas.survey.datum import Datum
from canvas.survey.readings import Height, Tape, Where
from canvas.survey.slips import probable_slip
from canvas.survey.suspects import critical_value, judge
from tests.survey.boats import planned, started, taken
from tests.survey.networks import network


@pytest.mark.behaviour
def test_the_published_network_with_a_blunder_names_it():
    from tests.conftest import read_table

    points, distances = read_table("survey/survey_points").rows, read_table("survey/survey_distances").rows
    found = network("hoepke_35_5_with_5cm_blunder", points, distances)
    marks = adjust(found.tapes, datum=found.datum, dimension=2)
    for sigma_known in (True, False):
        judgement = judge(marks, sigma_known=sigma_known)
        worst = judgement.suspects[0]
        assert {worst.reading.a, worst.reading.b} == {"1059", "75"}
        assert worst.found - worst.probable == pytest.approx(0.05, abs=0.004)
    assert len(judgement.suspects) == 1, "with the scatter estimated nothing else is out of line"
    clean = network("hoepke_35_5_free", points, distances)
    assert judge(adjust(clean.tapes, datum=clean.datum, dimension=2), sigma_known=False).suspects == ()


@pytest.mark.analytic
def test_critical_value_with_one_degree_of_freedom_is_the_normal_one():
    """All residuals are then one and the same number: 1 % two-sided is 2.576, whatever the count of readings."""
    direction = np.array([0.5, 0.5, 0.5, 0.5])
    found = critical_value(np.outer(direction, direction), 1, alarm=0.01, sigma_known=True)
    assert found == pytest.approx(2.576, abs=0.06)


@pytest.mark.analytic
def test_critical_value_of_independent_residuals_is_sidaks():
    """Independent rows: 1 - (1 - p)^20 = 0.01 gives 3.48."""
    assert critical_value(np.eye(20), 20, alarm=0.01, sigma_known=True) == pytest.approx(3.48, abs=0.08)


@pytest.mark.behaviour
@pytest.mark.parametrize(
    ("text", "unit", "true", "said"),
    [
        ("3.142 m", "m", 3.412, "digits swapped: 3.142 for 3.412"),
        ("2.512", "m", 2.412, "off by 100 mm"),
        ("2.312 m", "m", 2.412, "off by 100 mm"),
        ("2717 mm", "mm", 2.412, "off by a foot"),
        ("12", "m", 0.3048, "12 was in in"),
        ("95.0 in", "in", 0.95, "95.0 was in cm"),
        ("1.412 m", "m", 2.412, "off by a metre"),
        ("2.447 m", "m", 2.412, "held at the tape's hook or case instead of its zero"),
        ("2.377 m", "m", 2.412, "started past the tape's zero"),
        ("2.712 m", "m", 2.112, "one digit misread: 2.712 for 2.112"),
        ("2.845 m", "m", 2.412, None),
        ("6 ft 2 1/2 in", "ft", 1.5875, "off by a foot"),
    ],
)
def test_slip_is_named(text, unit, true, said):
    from canvas.design.units import length

    found = length(text if text[-1].isalpha() else float(text), bare=unit)
    reading = Tape(a="a", b="b", length=found, where=Where(text=text, unit=unit))
    assert probable_slip(reading, found=found, probable=true + 0.001, sd=0.0015) == said


@pytest.mark.behaviour
def test_slip_needs_agreement_within_its_error():
    reading = Tape(a="a", b="b", length=2.512, where=Where(text="2.512"))
    assert probable_slip(reading, found=2.512, probable=2.412, sd=0.003) == "off by 100 mm"
    assert probable_slip(reading, found=2.512, probable=2.427, sd=0.002) != "off by 100 mm"


@pytest.mark.behaviour
def test_wrong_height_is_named_with_its_line():
    boat = planned(3)
    readings = taken(boat, np.random.default_rng(3))
    number = next(k for k, r in enumerate(readings) if isinstance(r, Height) and r.mark.startswith("mark"))
    wrong = replace(readings[number], height=readings[number].height + 0.1, where=Where(file="boat.toml", line=41))
    readings[number] = wrong
    suspect = judge(adjust(readings, datum=started(boat))).suspects[0]
    assert suspect.reading is wrong
    assert suspect.reading.where.line == 41
    assert suspect.probable == pytest.approx(wrong.height - 0.1, abs=4 * suspect.probable_sd)
    assert suspect.slip == "off by 100 mm"


@pytest.mark.behaviour
def test_reading_that_nothing_checks_is_listed_and_planned_ones_are_not():
    boat = planned(4)
    readings = taken(boat, np.random.default_rng(4))
    assert judge(adjust(readings, datum=started(boat))).unseen == ()
    lone = [
        Tape(a="lone", b=name, length=float(np.linalg.norm(np.subtract((1.0, 0.2, 2.5), boat.places[name]))))
        for name in ("sole_aft", "mark_1", "mark_2")
    ]
    datum = Datum(conditions=boat.datum.conditions, rough={**boat.places, "lone": (1.0, 0.2, 2.5)})
    judgement = judge(adjust([*readings, *lone], datum=datum))
    assert {one.reading for one in judgement.unseen} == set(lone)
    assert all(one.redundancy < 1e-6 and one.least_seen is None for one in judgement.unseen)


@pytest.mark.behaviour
def test_least_seen_error_is_found_four_times_in_five():
    boat = planned(0)
    random = np.random.default_rng(80)
    marks = adjust(taken(boat, random), datum=started(boat))
    number = int(np.argmin(marks.redundancy))
    critical = judge(marks).critical
    size = (critical + 0.84) * marks.sigma[number] / np.sqrt(marks.redundancy[number])
    found = 0
    for _ in range(150):
        marks = adjust(taken(boat, random, blunders=[(number, size)]), datum=started(boat))
        found += abs(marks.standardised[number]) > critical
    assert 0.70 < found / 150 < 0.90


@pytest.mark.behaviour
def test_no_redundancy_gives_no_suspects():
    tapes = [Tape(a="p", b=name, length=length) for name, length in (("a", 5.0), ("b", 4.0))]
    marks = adjust(tapes, datum=Datum(held={"a": (0, 0, 0), "b": (3, 0, 0)}, rough={"p": (3, 4, 0)}), dimension=2)
    judgement = judge(marks)
    assert judgement.suspects == ()
    assert judgement.scatter is None
    assert marks.sigma0 is None
    assert len(judgement.unseen) == 2

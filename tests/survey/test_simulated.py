"""Survey invented boats many times over: are the errors stated right, are blunders named, are alarms rare.

The large counts are marked slow; smaller ones run always, with bounds four binomial standard deviations wide.
"""

import numpy as np
import pytest
from scipy.stats import chi2

from canvas.survey.adjust import adjust
from canvas.survey.suspects import judge
from tests.survey.boats import planned, started, taken

BOATS = 8
MM = 0.001
COUNTS = [pytest.param(200, id="200"), pytest.param(2000, id="2000", marks=pytest.mark.slow)]


def _bounds(share, count, *, wide=4.0):
    spread = wide * (share * (1 - share) / count) ** 0.5
    return share - spread, share + spread


def _surveys(count, seed, **how):
    for k in range(count):
        boat, random = planned(k % BOATS), np.random.default_rng(seed + k)
        yield boat, random, adjust(taken(boat, random, **how), datum=started(boat))


def _off(boat, marks):
    order = [marks.index(name) for name in boat.places]
    axes = (3 * np.array(order)[:, None] + np.arange(3)).ravel()
    return (marks.xyz[order] - boat.xyz).ravel(), marks.covariance[np.ix_(axes, axes)]


@pytest.mark.behaviour
@pytest.mark.parametrize("count", COUNTS)
def test_errors_of_all_marks_and_of_one_fall_within_what_is_stated(count):
    """In the boat's datum: one chi-square a network, and the ellipsoid of one mark drawn at random."""
    inside = one_inside = 0
    for boat, random, marks in _surveys(count, 20_000, heel=np.radians(1.5)):
        off, covariance = _off(boat, marks)
        values, vectors = np.linalg.eigh(covariance)
        known = values > 1e-12
        assert known.sum() == 3 * len(boat.places) - 6
        inside += ((vectors[:, known].T @ off) ** 2 / values[known]).sum() < chi2.ppf(0.95, known.sum())
        mark = slice(*(3 * int(random.integers(3, len(boat.places))) + np.array([0, 3])))
        one_inside += off[mark] @ np.linalg.solve(covariance[mark, mark], off[mark]) < chi2.ppf(0.95, 3)
    low, high = (0.94, 0.96) if count >= 2000 else _bounds(0.95, count)
    assert low <= inside / count <= high
    assert low <= one_inside / count <= high


@pytest.mark.behaviour
def test_list_while_levelling_leaves_marks_where_they_are():
    """1.5 deg of list: the mean error of every coordinate is within four of its standard errors of nothing."""
    count = 160
    offs = {}
    for k, (boat, _, marks) in enumerate(_surveys(count, 40_000, heel=np.radians(1.5))):
        off, covariance = _off(boat, marks)
        offs.setdefault(k % BOATS, []).append((off, np.diag(covariance)))
    for boat in offs.values():
        mean = np.mean([off for off, _ in boat], axis=0)
        error = np.sqrt(np.mean([variance for _, variance in boat], axis=0).clip(min=0) / len(boat))
        assert np.all(np.abs(mean) <= 4 * error + 1e-9)
        assert np.abs(mean).max() < 6 * MM


@pytest.mark.behaviour
@pytest.mark.parametrize("count", COUNTS)
def test_false_alarms_a_survey(count):
    """One in a hundred surveys without a wrong reading is asked for; 1.6 % allowed in 2,000."""
    alarms = sum(bool(judge(marks).suspects) for _, _, marks in _surveys(count, 60_000))
    assert alarms / count <= (0.016 if count >= 2000 else _bounds(0.01, count)[1])


@pytest.mark.behaviour
@pytest.mark.parametrize("count", [pytest.param(60, id="60"), pytest.param(500, id="500", marks=pytest.mark.slow)])
@pytest.mark.parametrize(("blunders", "share"), [(1, 0.95), (2, 0.80)])
def test_blunders_of_100_mm_are_named_first(count, blunders, share):
    named = 0
    for k in range(count):
        boat, random = planned(k % BOATS), np.random.default_rng(80_000 + k)
        wrong = random.choice(len(boat.readings), blunders, replace=False)
        errors = [(int(number), 0.1 * random.choice([-1, 1])) for number in wrong]
        marks = adjust(taken(boat, random, blunders=errors), datum=started(boat))
        first = judge(marks).suspects[:blunders]
        named += {id(one.reading) for one in first} == {id(marks.readings[number]) for number in wrong}
    assert named / count >= share

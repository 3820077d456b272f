"""Adjust the published networks and compare every printed digit."""

import numpy as np
import pytest

from canvas.survey.adjust import adjust
from tests.survey.networks import CASES, name, network

AXES = "xyz"


def _marks(case, published):
    points, distances = published("survey/survey_points").rows, published("survey/survey_distances").rows
    found = network(case, points, distances)
    return adjust(found.tapes, datum=found.datum, dimension=found.dimension)


@pytest.mark.published
@pytest.mark.parametrize("case", CASES)
def test_coordinates_and_deviations(case, published):
    marks = _marks(case, published)
    deviation = np.sqrt(np.diag(marks.covariance)).reshape(-1, 3) * marks.sigma0
    table = published("survey/survey_adjusted")
    compared = 0
    for row in table.rows:
        if row["case"] != case:
            continue
        k = marks.index(name(row["point"]))
        for axis in range(3):
            for source in ("published", "recomputed"):
                for column, value in (
                    (f"{AXES[axis]}_{source}", marks.xyz[k, axis]),
                    (f"sd_{AXES[axis]}_{source}", deviation[k, axis]),
                ):
                    if row[column] is not None:
                        assert value == pytest.approx(row[column], abs=table.tolerance(column), rel=0)
                        compared += 1
    assert compared >= 4


@pytest.mark.published
@pytest.mark.parametrize("case", CASES)
@pytest.mark.parametrize(
    ("column", "field"),
    [
        ("residual_adjusted_minus_observed", "residual"),
        ("redundancy_number", "redundancy"),
        ("standardised_residual", "standardised"),
    ],
)
def test_every_reading(case, column, field, published):
    table = published("survey/survey_distances")
    wanted = [row[column] for row in table.rows if row["case"] == case]
    found = getattr(_marks(case, published), field)
    assert len(wanted) == len(found)
    assert np.max(np.abs(found - wanted)) <= table.tolerance(column)


@pytest.mark.published
@pytest.mark.parametrize("case", CASES)
@pytest.mark.parametrize("column", ["degrees_of_freedom", "s0_a_posteriori", "largest_residual"])
def test_summary(case, column, published):
    marks = _marks(case, published)
    table = published("survey/survey_summary")
    row = next(row for row in table.rows if row["case"] == case)
    found = {
        "degrees_of_freedom": marks.degrees_of_freedom,
        "s0_a_posteriori": marks.sigma0,
        "largest_residual": np.abs(marks.residual).max(),
    }
    assert found[column] == pytest.approx(row[column], abs=table.tolerance(column), rel=0)

"""Compare a tape's own errors with the published tables."""

import re

import pytest

from canvas.survey.readings import Precision
from canvas.survey.tape import (
    crooked_correction,
    permitted_error,
    proportional_sd,
    sag_correction,
    warmth_correction,
)


@pytest.mark.published
def test_permitted_error(published):
    table = published("survey/tape_accuracy")
    assert len(table.rows) == 12
    for row in table.rows:
        found = permitted_error(row["length_m"], tape_class=row["case"].removeprefix("class_"))
        assert 1000 * found == pytest.approx(
            row["max_permissible_error"], abs=table.tolerance("max_permissible_error"), rel=0
        )


@pytest.mark.published
def test_corrections(published):
    table = published("survey/tape_corrections")
    assert len(table.rows) == 9
    for row in table.rows:
        says = {key: float(value) for key, value in re.findall(r"(\w+)=([\d.]+)", row["case"])}
        if row["effect"] == "sag":
            found = sag_correction(says["L"], pull=says["pull"], weight=says["weight"])
        elif row["effect"] == "temperature_steel":
            found = warmth_correction(says["L"], warmer=says["dT"])
        else:
            found = crooked_correction(says["L"], aside=says["offset"])
        assert 1000 * found == pytest.approx(row["correction"], abs=table.tolerance("correction"), rel=0)


@pytest.mark.behaviour
def test_default_proportional_part_covers_a_class_ii_tape_with_usual_sag():
    """The default is what a class II tape, 4 mm of sag and crookedness in 10 m, and rounding up leave."""
    assert (
        proportional_sd(tape_class="II", sag=0.0004)
        <= Precision().tape_proportional
        <= 2 * proportional_sd(tape_class="II", sag=0.0004)
    )

"""How long each set at an angle is averaged: what a mean's draw foretells, in made-up draws."""

from __future__ import annotations

import numpy as np
import pytest

from canvas.wind.blade import WIDEST, Felt, compare, half_width
from canvas.wind.flow.lengths import FASTER, MOST, lengthened

CELL = 0.04
ROOM = np.sqrt(WIDEST**2 - half_width("wake", CELL) ** 2)  # for what both draws may add to the speed ratio
SPEED = 0.82  # of a blade in a wake, not deep in one


def felt_of(drawn):
    """Return a run in a wake, two standard errors of whose mean are a share of the room."""
    # ten stretches of one value, of this standard error
    swing = 0.5 * drawn * ROOM * SPEED * 3.0 * np.resize([1.0, -1.0], 10)
    series = np.repeat(SPEED + swing, 7)
    zeros = np.zeros_like(series)
    return Felt(
        time=np.arange(series.size, dtype=float), along=series, across=zeros, speed=series, square=series**2,
        free_along=1.0, free_across=0.0,
    )  # fmt: skip


def plan(times=None, **drawn):
    felt = {name: felt_of(share) for name, share in drawn.items()}
    return lengthened(felt, times or dict.fromkeys(felt, 1), cell=CELL), felt


@pytest.mark.property
def test_draws_are_made_as_meant():
    _, felt = plan(bare=0.6, tent=0.8)
    wind = compare(felt["tent"], felt["bare"], cell=CELL)
    assert wind.where == "wake"
    assert wind.speed_ratio.high - 1.0 == pytest.approx(WIDEST)


@pytest.mark.behaviour
@pytest.mark.parametrize(
    ("drawn", "wanted"),
    [
        ({"bare": 0.5, "tent": 0.8}, {"bare": 1, "tent": 1}),  # known
        ({"bare": 0.2, "tent": 1.2}, {"bare": 1, "tent": 2}),  # the tent's draw is what is too wide
        ({"bare": 1.2, "tent": 0.2}, {"bare": 2, "tent": 1}),
        ({"bare": 0.2, "tent": 1.9}, {"bare": 1, "tent": 2}),  # four times, of which twice is shown first
        ({"bare": 0.2, "tent": 2.6}, {"bare": 1, "tent": 1}),  # more than can be
        ({"bare": 0.9, "tent": 0.9, "roof": 0.9}, {"bare": 2, "tent": 2, "roof": 2}),
        ({"bare": 1.2, "tent": 0.2, "roof": 0.3}, {"bare": 2, "tent": 1, "roof": 1}),  # one serves both
        ({"bare": 0.2, "tent": 2.6, "roof": 1.2}, {"bare": 1, "tent": 1, "roof": 2}),  # one is given up, not both
        ({"bare": 2.6, "tent": 0.2, "roof": 0.2}, {"bare": 1, "tent": 1, "roof": 1}),
    ],
)
def test_those_are_lengthened_that_settle_most_at_the_least_cost(drawn, wanted):
    assert plan(**drawn)[0] == wanted


@pytest.mark.behaviour
def test_none_is_averaged_over_more_than_the_most_nor_lengthened_faster_than_is_allowed():
    assert plan({"bare": 1, "tent": 5}, bare=0.2, tent=1.05)[0] == {"bare": 1, "tent": MOST}
    assert plan({"bare": 1, "tent": MOST}, bare=0.2, tent=1.05)[0] == {"bare": 1, "tent": MOST}
    assert plan({"bare": 1, "tent": 2}, bare=0.2, tent=1.6)[0]["tent"] == FASTER * 2
    assert plan({"bare": 3, "tent": 1}, bare=0.5, tent=0.5)[0] == {"bare": 3, "tent": 1}

"""Hold what stands between marks to boxes whose edges are known: a wall, a post, a mark on the wall itself."""

import pytest

from canvas.geometry.sightlines import BACK, BESIDE, hidden_pairs
from tests.hand_built import box

FORE, AFT = (-1.0, 0.0, 0.5), (1.0, 0.0, 0.5)


def wall(half, *, top=2.0):
    return box("wall", [-0.02, -half, -1.0], [0.02, half, top], kind="boat")


@pytest.mark.analytic
@pytest.mark.parametrize(
    ("half", "hidden"),
    [(0.5, True), (max(BESIDE) + 0.005, True), (max(BESIDE) - 0.005, False), (0.01, False)],
)
def test_a_wall_hides_marks_that_no_tape_held_a_hand_beside_them_passes(half, hidden):
    assert hidden_pairs([wall(half)], {"fore": FORE, "aft": AFT}) == ((("fore", "aft"),) if hidden else ())


@pytest.mark.analytic
@pytest.mark.parametrize(("top", "hidden"), [(0.5 + max(BESIDE) + 0.005, True), (0.5 + max(BESIDE) - 0.005, False)])
def test_a_tape_may_pass_over_it(top, hidden):
    assert bool(hidden_pairs([wall(0.5, top=top)], {"fore": FORE, "aft": AFT})) == hidden


@pytest.mark.behaviour
def test_a_mark_on_the_wall_is_seen_from_its_own_side_and_not_through_it():
    places = {"fore": FORE, "on it": (0.02, 0.0, 0.5), "aft": AFT, "in it, near": (0.02 - BACK / 2, 0.3, 0.5)}
    found = hidden_pairs([box("wall", [-1.0, -2, -1], [0.02, 2, 2], kind="boat")], {**places, "fore": (-1.5, 0, 0.5)})
    assert ("on it", "aft") not in found
    assert ("aft", "in it, near") not in found  # a mark measured into the solid a little is not hidden by it
    assert ("fore", "aft") in found
    assert ("fore", "on it") in found


@pytest.mark.behaviour
def test_without_solids_or_pairs_nothing_is_hidden():
    assert hidden_pairs([], {"fore": FORE, "aft": AFT}) == ()
    assert hidden_pairs([wall(1.0)], {"fore": FORE}) == ()

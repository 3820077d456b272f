"""Carry the marks' errors to lengths and edges; port against starboard; zip halves; tubes that move."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from canvas.design.problems import DesignError
from canvas.design.schema.rig import ZipHalf
from canvas.survey.adjust import adjust
from canvas.survey.carry import Followers, carried_length, carried_place, edge_fit
from canvas.survey.marks import Marks, given_marks, joined
from canvas.survey.mating import mismatches
from canvas.survey.symmetry import pairs_by_name, port_starboard
from tests.survey.boats import planned, started, taken

MM = 0.001


def _marks(places, sd=0.0):
    marks = given_marks(places)
    return replace(marks, covariance=np.eye(marks.xyz.size) * sd**2)


def _line(marks, names, *, plays=None, ways=()):
    """Return marks as a line whose points follow one mark each, and tubes as said."""
    shares = np.zeros((len(names), len(marks.names)))
    for row, name in enumerate(names):
        shares[row, marks.index(name)] = 1.0
    ways = np.reshape(np.array(ways, dtype=float), (-1, 3))
    moves = np.zeros((len(names), len(ways))) if plays is None else np.array(plays)
    return Followers(points=marks.xyz[[marks.index(name) for name in names]], shares=shares, plays=moves, ways=ways)


def length_between(marks, names, **tubes):
    return carried_length(_line(marks, names, **tubes), marks.covariance)


@pytest.mark.analytic
def test_length_between_two_free_marks_has_root_two_of_their_deviation():
    marks = _marks({"a": (0, 0, 0), "b": (3, 4, 0)}, sd=0.005)
    found = length_between(marks, ["a", "b"])
    assert found.value == pytest.approx(5.0, abs=1e-9)
    assert found.sd == pytest.approx(0.005 * 2**0.5, rel=1e-6)
    assert found.high - found.low == pytest.approx(4 * found.sd)


@pytest.mark.analytic
def test_what_marks_share_drops_out_of_the_length_between_them():
    """Both known to 20 mm, but together: their distance is known far better."""
    own, shared = 0.001, 0.020
    block = np.eye(3) * (own**2 + shared**2)
    covariance = np.block([[block, np.eye(3) * shared**2], [np.eye(3) * shared**2, block]])
    marks = Marks(names=("a", "b"), xyz=np.array([[0, 0, 0], [2, 0, 0]]), covariance=covariance)
    assert length_between(marks, ["a", "b"]).sd == pytest.approx(own * 2**0.5, rel=1e-6)
    assert marks.largest_sd() == pytest.approx([(own**2 + shared**2) ** 0.5] * 2)


@pytest.mark.behaviour
def test_carried_deviation_is_what_repeated_surveys_scatter_by():
    boat = planned(2)
    path = ["mark_0", "mark_3", "mark_6"]
    lengths, said = [], []
    for k in range(150):
        marks = adjust(taken(boat, np.random.default_rng(900 + k)), datum=started(boat))
        found = length_between(marks, path)
        lengths.append(found.value)
        said.append(found.sd)
    assert np.std(lengths) == pytest.approx(np.mean(said), rel=0.25)


@pytest.mark.analytic
def test_play_is_the_movement_along_the_length_and_adds_up_over_tubes():
    marks = _marks({"foot": (0, 0, 0), "bow": (2, 0, 1), "arch": (4, 0, 1)})
    names, aft, aside, up = ["bow", "arch"], (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)
    one = [[0.03], [0.0]]
    assert length_between(marks, names, plays=one, ways=[aft]).play == pytest.approx(0.03, rel=1e-6)
    assert length_between(marks, names, plays=one, ways=[aside]).play == pytest.approx(0.0, abs=1e-9)
    both = [[0.03, 0.0], [0.0, 0.01]]
    assert length_between(marks, names, plays=both, ways=[aft, aft]).play == pytest.approx(0.04, rel=1e-6)
    together = [[0.03], [0.03]]
    assert length_between(marks, names, plays=together, ways=[aft]).play == pytest.approx(0.0, abs=1e-9)
    found = carried_place(_line(marks, names, plays=one, ways=[up]), 0, np.array([0.0, 0.0, 2.0]), marks.covariance)
    assert (found.sd, found.play, found.low) == (0.0, pytest.approx(0.03), pytest.approx(-0.03))


@pytest.mark.behaviour
@pytest.mark.parametrize(
    ("sd", "play", "tolerance", "zipped", "measured", "fit", "long_by"),
    [
        (0.001, 0.0, 0.003, True, True, "final", 0.0),
        (0.001, 0.0, 0.003, True, False, "long", 0.005),
        (0.0, 0.0, 0.003, True, False, "long", 0.005),
        (0.003, 0.0, 0.006, False, False, "final", 0.0),
        (0.0031, 0.0, 0.006, False, False, "long", 0.010),
        (0.007, 0.0, 0.015, False, False, "final", 0.0),
        (0.004, 0.010, 0.006, False, False, "long", 0.020),
        (0.004, 0.030, 0.006, False, False, "on board", 0.040),
        (0.010, 0.0, 0.003, True, False, "on board", 0.020),
        (None, 0.0, 0.006, False, False, "on board", 0.015),
    ],
)
def test_edge_is_final_long_or_for_on_board(sd, play, tolerance, zipped, measured, fit, long_by):
    found = edge_fit(sd=sd, play=play, tolerance=tolerance, zipped=zipped, measured=measured)
    assert found.fit == fit
    assert found.long_by == pytest.approx(long_by)


@pytest.mark.property
@given(st.floats(0, 0.05), st.floats(0, 0.05), st.sampled_from([0.003, 0.006, 0.015]))
def test_a_zip_from_marks_alone_is_never_final(sd, play, tolerance):
    found = edge_fit(sd=sd, play=play, tolerance=tolerance, zipped=True, measured=False)
    assert found.fit != "final"
    assert found.long_by >= max(2 * sd + play, tolerance) - 1e-9


@pytest.mark.analytic
def test_port_and_starboard_differ_and_are_not_averaged():
    places = {"rail_port": (1.0, -1.20, 0.60), "rail_stbd": (1.04, 1.18, 0.605), "lone_port": (0, -1, 0)}
    marks = _marks(places, sd=0.004)
    (one,) = port_starboard(marks)
    assert (one.port, one.starboard) == ("rail_port", "rail_stbd")
    assert (one.aft, one.outboard, one.up) == pytest.approx((0.04, -0.02, 0.005))
    assert one.sd == pytest.approx([0.004 * 2**0.5] * 3)
    assert one.real
    assert marks.at("rail_port")[1] == -1.20
    (same,) = port_starboard(_marks({"a_port": (1, -1, 0.5), "a_stbd": (1.002, 1.001, 0.5)}, sd=0.004))
    assert not same.real
    assert pairs_by_name(["port_winch", "stbd_winch", "deck_starboard", "deck_port"]) == (
        ("port_winch", "stbd_winch"), ("deck_port", "deck_starboard"),
    )  # fmt: skip


@pytest.mark.behaviour
def test_zip_halves_mate_or_say_why_not():
    aboard = ZipHalf(half="left", gauge=10, tooth="moulded", length=2.400, slider_end="start")
    new = ZipHalf(half="right", gauge=10, tooth="moulded", slider_end="start")
    assert mismatches(aboard, new, new_length=2.402) == ()
    wrong = {
        "half": {"half": "left"},
        "gauge": {"gauge": 5},
        "tooth": {"tooth": "coil"},
        "slider_end": {"slider_end": "end"},
    }
    for what, change in wrong.items():
        (found,) = mismatches(aboard, new.model_copy(update=change), new_length=2.400)
        assert (found.what, found.known) == (what, True)
    (found,) = mismatches(aboard, new, new_length=2.404)
    assert (found.what, found.aboard, found.new) == ("length", "2400 mm", "2404 mm")
    unknown = mismatches(aboard.model_copy(update={"gauge": None, "half": None}), new, new_length=2.400)
    assert [(one.what, one.aboard, one.known) for one in unknown] == [
        ("half", "not measured", False), ("gauge", "not measured", False),
    ]  # fmt: skip


@pytest.mark.behaviour
def test_marks_keep_their_covariance_when_joined_with_given_ones():
    surveyed = adjust(taken(planned(1), np.random.default_rng(1)), datum=started(planned(1)))
    order = ("stem", *reversed(surveyed.names))
    marks = joined(surveyed, {"stem": (-6.0, 0.0, 1.0)}, order=order)
    assert marks.at("stem") == pytest.approx([-6.0, 0.0, 1.0])
    assert not marks.joint(["stem"]).any()
    pair = ("mark_2", "mark_5")
    assert np.array_equal(marks.joint(pair), surveyed.joint(pair))
    with pytest.raises(DesignError, match='Did you mean "mark_2"'):
        marks.at("mark_2x")
    with pytest.raises(ValueError, match="read-only"):
        marks.xyz[0, 0] = 1.0

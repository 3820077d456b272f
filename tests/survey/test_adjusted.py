"""Hold the adjustment to small networks that can be solved by hand."""

import numpy as np
import pytest

from canvas.design.problems import DesignError
from canvas.survey.adjust import _against_most, _largest_part, _levels, _shape, adjust, all_conditions, system_for
from canvas.survey.datum import Condition, Datum, rigid_motions
from canvas.survey.readings import Height, Offset, Plumb, Precision, Session, Tape

SIGMA = 0.003
CROSS = {"west": (-1.0, 0.0, 0.0), "east": (1.0, 0.0, 0.0), "south": (0.0, -1.0, 0.0), "north": (0.0, 1.0, 0.0)}
SQUARE = {"a": (0.0, 0.0, 0.0), "b": (2.0, 0.0, 0.0), "c": (2.0, 1.5, 0.0), "d": (0.0, 1.5, 0.0)}


def crossed(west=1.0, east=1.0, south=1.0, north=1.0):
    lengths = {"west": west, "east": east, "south": south, "north": north}
    return [Tape(a=name, b="mid", length=length, sigma=SIGMA) for name, length in lengths.items()]


def solved(readings, *, held=CROSS, rough=(("mid", (0.0, 0.0, 0.0)),), **more):
    return adjust(readings, datum=Datum(held=held, rough=dict(rough)), dimension=2, **more)


@pytest.mark.analytic
def test_a_point_between_four_held_ones_goes_to_the_mean_of_what_the_tapes_say():
    marks = solved(crossed(west=1.004))
    assert marks.at("mid") == pytest.approx([0.002, 0.0, 0.0], abs=1e-6)
    assert np.abs(marks.residual) == pytest.approx([0.002, 0.002, 0.0, 0.0], abs=3e-6)
    assert marks.redundancy == pytest.approx([0.5] * 4, abs=1e-4)
    assert marks.degrees_of_freedom == 2
    weighted = 0.002 / SIGMA
    assert marks.sigma0 == pytest.approx(np.sqrt(2 * weighted**2 / 2), rel=1e-3)
    assert np.abs(marks.standardised[:2]) == pytest.approx([weighted / np.sqrt(0.5)] * 2, rel=1e-3)
    row = 3 * marks.index("mid")
    wanted = np.diag([SIGMA**2 / 2, SIGMA**2 / 2, 0.0])
    assert np.allclose(marks.covariance[row : row + 3, row : row + 3], wanted, atol=1e-3 * SIGMA**2)
    for name, place in CROSS.items():
        assert marks.at(name) == pytest.approx(place, abs=1e-12)


@pytest.mark.analytic
def test_a_reading_of_twice_the_error_counts_a_quarter():
    first, *others = crossed(west=1.005)
    doubtful = [Tape(a="west", b="mid", length=first.length, sigma=2 * SIGMA), *others]
    assert solved(doubtful).at("mid")[0] == pytest.approx(0.001, abs=1e-6)


@pytest.mark.analytic
def test_a_point_that_nothing_checks_has_no_sigma0_and_no_standardised_residuals():
    marks = solved([tape for tape in crossed(west=1.004, south=0.997) if tape.a in {"west", "south"}])
    assert marks.at("mid")[:2] == pytest.approx([0.004, -0.003], abs=2e-5)
    assert marks.degrees_of_freedom == 0
    assert marks.sigma0 is None
    assert marks.redundancy == pytest.approx([0.0, 0.0], abs=1e-9)
    assert list(marks.standardised) == [0.0, 0.0]


@pytest.mark.analytic
def test_one_reading_too_many_gives_a_sigma0():
    marks = solved([tape for tape in crossed(west=1.004) if tape.a != "north"])
    assert marks.degrees_of_freedom == 1
    assert marks.sigma0 == pytest.approx(np.sqrt(2) * 0.002 / SIGMA, rel=1e-3)


@pytest.mark.analytic
def test_a_slack_path_that_is_long_enough_says_nothing():
    readings = [*crossed(west=1.004), Tape(a="west", b="mid", length=1.5, slack=True, sigma=SIGMA)]
    marks = solved(readings)
    assert list(marks.active) == [True, True, True, True, False]
    assert marks.standardised[4] == 0.0
    assert marks.sigma0 == pytest.approx(0.002 / SIGMA, rel=1e-3)
    assert marks.at("mid") == pytest.approx([0.002, 0.0, 0.0], abs=1e-6)


def all_tapes():
    """Return tapes between all corners of the square."""
    names = list(SQUARE)
    return [
        Tape(a=a, b=b, length=float(np.hypot(*np.subtract(SQUARE[a], SQUARE[b])[:2])), sigma=SIGMA)
        for k, a in enumerate(names) for b in names[:k]
    ]  # fmt: skip


@pytest.mark.analytic
def test_a_net_without_held_marks_keeps_to_the_rough_places():
    """Inner constraints: the net is not moved, turned or stretched away from where it was said to be."""
    tapes = all_tapes()
    turned = {name: (x - 0.01 * y + 0.3, y + 0.01 * x - 0.2, 0.0) for name, (x, y, _) in SQUARE.items()}
    marks = adjust(tapes, datum=Datum(rough=turned), dimension=2)
    scale = np.hypot(1.0, 0.01)
    middle = np.mean(list(turned.values()), axis=0)
    for name, place in turned.items():
        assert marks.at(name) == pytest.approx(middle + (np.array(place) - middle) / scale, abs=2e-6)
    assert marks.degrees_of_freedom == 6 - (8 - 3)


@pytest.mark.analytic
def test_only_the_marks_chosen_for_it_lay_a_free_net_into_the_axes():
    tapes = all_tapes()
    rough = {**SQUARE, "d": (0.2, 1.5, 0.0), "c": (2.0, 1.7, 0.0)}
    marks = adjust(tapes, datum=Datum(rough=rough, inner=("a", "b")), dimension=2)
    for name, place in SQUARE.items():
        assert marks.at(name) == pytest.approx(place, abs=1e-6)
    with pytest.raises(DesignError) as refused:
        adjust(tapes, datum=Datum(rough=rough, inner=("a",)), dimension=2)
    assert [problem.code for problem in refused.value.problems] == ["no-datum"]
    with pytest.raises(DesignError) as refused:
        adjust(tapes, datum=Datum(rough=rough, inner=("nobody",)), dimension=2)
    assert [problem.code for problem in refused.value.problems] == ["no-datum"]


def system(names, readings, places, datum, *, dimension=3, sessions=()):
    return system_for(
        tuple(names), readings, np.array([places[name] for name in names]), datum,
        sessions=sessions, precision=Precision(), dimension=dimension,
    )  # fmt: skip


@pytest.mark.behaviour
@pytest.mark.parametrize("dimension", [2, 3])
def test_what_may_move_is_every_coordinate_of_marks_not_held(dimension):
    tapes = [Tape(a="a", b="b", length=2.0), Tape(a="b", b="c", length=1.5)]
    readings, level = [*tapes, Height(mark="c", height=0.1, session="s")], Session(name="s", level=True)
    datum = Datum(held={"b": SQUARE["b"]}, conditions=(Condition(terms=(("a", "y", 0.5), ("c", "y", 0.5))),))
    one = system(["a", "b", "c"], readings, SQUARE, datum, dimension=dimension, sessions=(level,))
    upright = dimension == 3
    assert list(one.free[:9]) == [True, True, upright, False, False, False, True, True, upright]
    assert not one.free[one.equations.held_tilts].any()
    assert len(one.equations.held_tilts)
    assert list(np.flatnonzero(one.conditions.matrix[0])) == [1, 7]
    assert one.dimension == dimension
    assert one.names == ("a", "b", "c")


@pytest.mark.analytic
@pytest.mark.parametrize(("dimension", "free"), [(2, 3), (3, 6)])
def test_inner_conditions_are_as_many_as_the_ways_a_free_net_moves(dimension, free):
    places = {**SQUARE, "e": (1.0, 0.7, 1.2)} if dimension == 3 else SQUARE
    names = list(places)
    tapes = [
        Tape(a=a, b=b, length=float(np.linalg.norm(np.subtract(places[a], places[b]))))
        for k, a in enumerate(names) for b in names[:k]
    ]  # fmt: skip
    datum = Datum(rough=places)
    one = system(names, tapes, places, datum, dimension=dimension)
    unknowns = one.settled(np.array(list(places.values())), datum)
    rows = all_conditions(one, unknowns, datum)
    assert rows.matrix.shape == (free, one.equations.size)
    assert rows.matrix @ unknowns == pytest.approx(rows.values, abs=1e-9)
    held = Datum(held={name: places[name] for name in names})
    none = all_conditions(system(names, tapes, places, held, dimension=dimension), unknowns, held)
    assert len(none.matrix) == len(none.values) == 0


@pytest.mark.analytic
def test_moves_of_the_whole_are_none_of_a_single_mark():
    places = np.array([*SQUARE.values(), (1.0, 0.7, 1.2), (0.4, 0.9, 0.6), (1.5, 0.2, 0.8)])
    motions = rigid_motions(places, dimension=3)
    assert np.abs(_against_most(np.linalg.qr(motions)[0], motions)).max() < 1e-9
    loose = np.zeros((21, 1))
    loose[12] = 1.0
    moves = np.hstack([motions @ np.array([[0.3], [0.1], [-0.2], [0.5], [0.1], [0.2]]) + loose, motions])
    rest = _against_most(np.linalg.qr(moves)[0], motions)
    size = np.linalg.norm(rest.reshape(7, 3, -1), axis=(1, 2))
    assert size[4] > 0.1
    assert np.delete(size, 4).max() < 1e-3


@pytest.mark.behaviour
@pytest.mark.parametrize(
    ("pairs", "largest"),
    [
        ([(0, 1), (3, 4), (4, 2)], [2, 3, 4]), ([(0, 1), (2, 3)], [0, 1]), ([(2, 3), (0, 1), (1, 2)], [0, 1, 2, 3]),
        ([(4, 0), (1, 2), (2, 3), (3, 1)], [1, 2, 3]), ([], [0]),
    ],
)  # fmt: skip
def test_the_largest_group_that_tapes_join(pairs, largest):
    assert _largest_part(5, pairs) == largest


@pytest.mark.analytic
def test_a_first_shape_puts_lone_marks_by_their_partners_and_takes_lengths_between_held_ones():
    names = [*SQUARE, "bob", "off", "nowhere"]
    tapes = [Tape(a=a, b=b, length=float(np.hypot(*np.subtract(SQUARE[a], SQUARE[b])[:2])))
             for a, b in (("a", "b"), ("b", "c"), ("a", "c"), ("c", "d"), ("a", "d"))]  # fmt: skip
    others = [Plumb(a="c", b="bob", session="s"), Offset(mark="off", offset=0.4, of="d"), Offset(mark="a", offset=0.0)]
    bent = Tape(a="a", b="nowhere", length=9.0, via=("b",))
    slack = Tape(a="b", b="nowhere", length=9.0, slack=True)
    others += [Plumb(a="a", b="b", session="s"), Offset(mark="c", offset=0.4, of="d")]  # both ends are taped already
    datum = Datum(held={name: SQUARE[name] for name in ("b", "d")})
    shape = _shape(names, [*tapes, *others, bent, slack], datum, precision=Precision(), dimension=2, seed=1)
    for k, a in enumerate(SQUARE):
        for other, b in enumerate(SQUARE):
            wanted = np.linalg.norm(np.subtract(SQUARE[a], SQUARE[b]))
            assert np.linalg.norm(shape[k] - shape[other]) == pytest.approx(wanted, abs=1e-3)
    assert shape[4] - shape[2] == pytest.approx([0.0, 0.0, 0.1])
    assert shape[5] - shape[3] == pytest.approx([0.0, 0.0, 0.1])
    assert shape[6] == pytest.approx(shape[:4].mean(axis=0))


@pytest.mark.analytic
def test_a_session_finds_its_tilt_with_the_sign_of_heel_and_trim():
    """Heights are over a plane turned by small angles: a mark to starboard reads low where starboard is down."""
    heel, trim = 0.02, 0.01
    places = {**SQUARE, "e": (1.0, 0.7, 0.9), "f": (3.0, -0.5, 0.2)}
    over = {name: z - np.sin(heel) * y - np.sin(trim) * x for name, (x, y, z) in places.items()}
    readings = [Height(mark=name, height=float(z), session="s", sigma=SIGMA) for name, z in over.items()]
    (tilt,) = adjust(readings, datum=Datum(held=places)).tilts
    assert tilt.session == "s"
    assert (tilt.heel, tilt.trim) == (pytest.approx(heel, abs=2e-4), pytest.approx(trim, abs=2e-4))
    rows = np.array([[-x, -y, 1.0] for x, y, _ in places.values()])
    sd = SIGMA * np.sqrt(np.diag(np.linalg.inv(rows.T @ rows)))
    assert (tilt.trim_sd, tilt.heel_sd) == (pytest.approx(sd[0], rel=1e-2), pytest.approx(sd[1], rel=1e-2))
    (level,) = adjust(readings, datum=Datum(held=places), sessions=(Session(name="s", level=True),)).tilts
    assert (level.heel, level.trim, level.heel_sd, level.trim_sd) == (0.0, 0.0, 0.0, 0.0)


@pytest.mark.analytic
def test_each_session_has_a_tilt_of_its_own():
    places = {**SQUARE, "e": (1.0, 0.7, 0.9), "f": (3.0, -0.5, 0.2)}
    tilts = {"first": (0.02, 0.01), "second": (-0.015, 0.03)}
    readings = [
        Height(mark=name, height=float(z - np.sin(heel) * y - np.sin(trim) * x), session=session, sigma=SIGMA)
        for session, (heel, trim) in tilts.items()
        for name, (x, y, z) in places.items()
    ]
    found = {one.session: (one.heel, one.trim) for one in adjust(readings, datum=Datum(held=places)).tilts}
    assert found == {name: pytest.approx(both, abs=6e-4) for name, both in tilts.items()}


@pytest.mark.behaviour
def test_levels_are_those_of_the_marks_that_tapes_join():
    readings = [
        Height(mark="a", height=0.1, session="noon"), Tape(a="a", b="b", length=1.0),
        Height(mark="far", height=0.7, session="noon"), Height(mark="b", height=0.3, session="dusk"),
    ]  # fmt: skip
    levels = _levels(readings, {"a": 0, "b": 1})
    assert list(levels.mark) == [0, 1]
    assert list(levels.session) == [0, 1]
    assert list(levels.height) == [0.1, 0.3]
    assert _levels(readings, {"other": 0}) is None
    assert _levels([], {"a": 0}) is None


@pytest.mark.behaviour
def test_without_a_tape_a_first_shape_is_one_spot():
    readings = [Height(mark=name, height=0.1, session="s") for name in "ab"]
    shape = _shape(["a", "b"], readings, Datum(), precision=Precision(), dimension=3, seed=1)
    assert np.array_equal(shape, np.zeros((2, 3)))

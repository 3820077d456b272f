"""Adjust invented surveys: against an independent solver, from no coordinates, mirrored, levelled, on planes."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import least_squares

from canvas.design.problems import DesignError
from canvas.survey.adjust import adjust
from canvas.survey.datum import Datum
from canvas.survey.readings import Offset, OnPlane, OnTube, Plumb, Precision, Session, Side, Tape
from tests.survey.boats import PRECISION, cockpit, five_hundred, planned, started, taken, tapes_between

MM = 0.001
CORNERS = ((0.2, 0.1), (1.5, 0.0), (1.4, 0.8), (0.3, 0.9), (0.8, 0.4), (1.0, 0.7), (0.5, 0.2))


def _in_order(marks, places):
    return np.array([marks.at(name) for name in places])


@pytest.mark.analytic
def test_free_network_in_three_dimensions_equals_an_independent_solver():
    """scipy minimises readings plus a slight pull to the rough places, which is what inner constraints are."""
    random = np.random.default_rng(3)
    places = cockpit(3, marks=9)
    tapes = tapes_between(places, random)
    rough = {name: tuple(np.array(place) + random.normal(scale=0.01, size=3)) for name, place in places.items()}
    marks = adjust(tapes, datum=Datum(rough=rough))
    start = np.array(list(rough.values()))
    row = {name: k for k, name in enumerate(rough)}

    def misfit(x, pull):
        xyz = x.reshape(-1, 3)
        lengths = [np.linalg.norm(xyz[row[t.a]] - xyz[row[t.b]]) for t in tapes]
        return np.concatenate([(np.array(lengths) - [t.length for t in tapes]) / 0.003, pull * (x - start.ravel())])

    fit = least_squares(misfit, start.ravel(), args=(1.0,), method="lm", x_scale=1.0, xtol=1e-14, ftol=1e-14)
    assert np.abs(_in_order(marks, places) - fit.x.reshape(-1, 3)).max() < 0.01 * MM
    normal = fit.jac[: len(tapes)].T @ fit.jac[: len(tapes)]
    order = [3 * marks.index(name) + axis for name in places for axis in range(3)]
    assert np.allclose(marks.covariance[np.ix_(order, order)], np.linalg.pinv(normal, rcond=1e-9), atol=1e-9)


@pytest.mark.analytic
@pytest.mark.parametrize("seed", range(12))
def test_exact_lengths_give_the_boat_back_from_no_coordinates(seed):
    places = cockpit(seed, marks=12)
    boat = planned(seed, marks=12)
    exact = [
        replace(t, length=float(np.linalg.norm(np.subtract(places[t.a], places[t.b])))) for t in tapes_between(places)
    ]
    marks = adjust([*exact, Side(mark="mark_2", of="bulkhead_foot", side="above")], datum=boat.datum)
    assert np.abs(_in_order(marks, places) - list(places.values())).max() < 0.001 * MM
    assert marks.sigma0 < 1e-6


@pytest.mark.behaviour
@pytest.mark.parametrize("seed", range(20))
def test_planned_survey_needs_no_coordinates_and_survives_a_blunder(seed):
    boat = planned(seed)
    random = np.random.default_rng(seed)
    readings = taken(boat, random, heel=np.radians(1.5), blunders=[(int(random.integers(len(boat.readings))), 0.1)])
    above = Side(mark="mark_2", of="bulkhead_foot", side="above")
    cold = adjust([*readings, above], datum=boat.datum)
    warm = adjust(readings, datum=started(boat))
    assert np.abs(cold.xyz - warm.xyz).max() < 0.01 * MM


@pytest.mark.behaviour
def test_levels_alone_settle_the_mirror():
    boat = planned(1)
    readings = taken(boat, np.random.default_rng(1))
    marks = adjust(readings, datum=boat.datum)
    assert np.abs(_in_order(marks, boat.places) - boat.xyz).max() < 30 * MM


@pytest.mark.behaviour
def test_mirror_is_asked_about_and_one_statement_settles_it():
    places = cockpit(4, marks=10)
    datum = planned(4, marks=10).datum
    tapes = tapes_between(places, np.random.default_rng(4))
    with pytest.raises(DesignError, match=r"lies above or below of") as refused:
        adjust(tapes, datum=datum)
    assert refused.value.problems[0].code == "mirror-ambiguity"
    for side, sign in (("above", 1), ("below", -1)):
        marks = adjust([*tapes, Side(mark="mark_2", of="bulkhead_foot", side=side)], datum=datum)
        assert sign * marks.at("mark_2")[2] > 0.5


@pytest.mark.behaviour
def test_single_mark_with_three_lengths_is_asked_about():
    places = {"a": (0, 0, 0), "b": (2, 0, 0), "c": (0, 1, 0), "d": (0.3, 0.2, 1.5), "e": (1.5, -0.4, 0.7)}
    tapes = [t for t in tapes_between(places) if {t.a, t.b} != {"d", "e"}]
    held = {name: places[name] for name in "abc"}
    with pytest.raises(DesignError, match='"[de]" lies above or below'):
        adjust([*tapes], datum=Datum(held=held))
    sides = [Side(mark="d", of="a", side="above"), Side(mark="e", of="a", side="above")]
    marks = adjust([*tapes, *sides], datum=Datum(held=held))
    assert np.abs(_in_order(marks, places) - list(places.values())).max() < 0.001 * MM


@pytest.mark.behaviour
def test_contradicting_statement_is_named():
    places = cockpit(4, marks=10)
    with pytest.raises(DesignError, match="turn round the one that is wrong"):
        adjust(
            [*tapes_between(places), Side(mark="sole_aft", of="bulkhead_foot", side="forward")],
            datum=planned(4, marks=10).datum,
        )


@pytest.mark.analytic
def test_session_finds_its_tilt_and_a_level_one_has_none():
    boat = planned(2)
    heel, trim = np.radians(1.5), np.radians(-0.6)
    exact = taken(boat, _Still(), heel=heel, trim=trim)
    marks = adjust(exact, datum=started(boat))
    assert marks.tilts[0].heel == pytest.approx(heel, abs=1e-6)
    assert marks.tilts[0].trim == pytest.approx(trim, abs=1e-6)
    assert np.abs(_in_order(marks, boat.places) - boat.xyz).max() < 0.001 * MM
    level = adjust(taken(boat, _Still()), datum=started(boat), sessions=[Session(name="level", level=True)])
    assert level.tilts[0].heel == 0
    assert level.tilts[0].heel_sd == 0
    leaning = adjust(exact, datum=started(boat), sessions=[Session(name="level", level=True)])
    assert leaning.sigma0 > 1, "a list that is denied must show in readings without any error"


class _Still:
    """Draws no errors."""

    def normal(self, scale=1.0):
        return 0.0


@pytest.mark.analytic
def test_plumb_line_offsets_share_the_sessions_vertical():
    """A line hung 2 m high in a boat that lists 1.5 deg swings 52 mm; the mark below is found where it is."""
    boat = planned(5)
    heel = np.radians(1.5)
    exact = taken(boat, _Still(), heel=heel)
    low = boat.places["sole_stbd"]
    high = (low[0], low[1] - 2.0 * np.tan(heel), 2.0)
    readings = [
        *exact,
        Plumb(a="hung", b="sole_stbd", session="level"),
        Tape(a="hung", b="bulkhead_foot", length=float(np.linalg.norm(high))),
        Tape(a="hung", b="sole_aft", length=float(np.linalg.norm(np.subtract(high, boat.places["sole_aft"])))),
    ]
    datum = replace_rough(started(boat), hung=(low[0], low[1], 1.9))
    marks = adjust(readings, datum=datum)
    assert np.abs(marks.at("hung") - high).max() < 0.01 * MM
    third = Tape(a="hung", b="mark_3", length=float(np.linalg.norm(np.subtract(high, boat.places["mark_3"]))))
    for along, wanted in (("aft", 0.0), ("starboard", 0.0)):
        one = [*exact, *readings[-2:], third, replace(readings[-3], along=along, offset=wanted)]
        assert np.abs(adjust(one, datum=datum).at("hung") - high).max() < 0.01 * MM
    level = [
        *exact,
        *readings[-2:],
        third,
        Plumb(a="hung", b="bulkhead_foot", session="level", offset=float(np.hypot(low[0], low[1]))),
    ]
    assert np.abs(adjust(level, datum=datum).at("hung") - high).max() < 1 * MM


def replace_rough(datum, **places):
    return replace(datum, rough={**datum.rough, **places})


@pytest.mark.behaviour
def test_plane_and_tube_pull_marks_onto_them():
    random = np.random.default_rng(8)
    places = cockpit(8, marks=8)
    tube = {f"tube_{k}": (0.5 + 0.5 * k, -1.0 + 0.05 * k, 1.5 + 0.1 * k) for k in range(5)}
    face = {f"face_{k}": (x, y, 0.3 + 0.2 * x) for k, (x, y) in enumerate(CORNERS)}
    places |= tube | face
    tapes = tapes_between(places, random, sigma=0.015)
    known = [OnTube(mark=name, tube="rail", sigma=0.001) for name in tube]
    known += [OnPlane(mark=name, plane="seat", sigma=0.001) for name in face]
    datum = replace(planned(8, marks=8).datum, rough=places)
    plain, helped = adjust(tapes, datum=datum), adjust([*tapes, *known], datum=datum)
    for names, free in ((tube, 2), (face, 1)):
        spread = [
            np.linalg.svd(rows - rows.mean(axis=0), compute_uv=False)[-free:].max() / len(names) ** 0.5
            for rows in (_in_order(plain, names), _in_order(helped, names))
        ]
        assert spread[1] < 1.2 * MM < 2 * MM < spread[0]
    for name in (*tube, *face):
        assert helped.largest_sd()[helped.index(name)] < plain.largest_sd()[plain.index(name)]


@pytest.mark.behaviour
def test_slack_path_counts_only_where_it_is_too_short():
    boat = planned(6)
    exact = taken(boat, _Still())
    pair = ("mark_0", "mark_5")
    length = float(np.linalg.norm(np.subtract(boat.places[pair[0]], boat.places[pair[1]])))
    for slack, active in ((length + 0.2, False), (length - 0.02, True)):
        tape = Tape(a=pair[0], b=pair[1], length=slack, slack=True)
        marks = adjust([*exact, tape], datum=started(boat))
        assert bool(marks.active[-1]) is active
        off = np.abs(_in_order(marks, boat.places) - boat.xyz).max()
        assert bool(off > 1 * MM) is active


@pytest.mark.analytic
def test_path_over_a_mark_is_the_sum_of_its_stretches():
    boat = planned(6)
    over = ("mark_0", "mark_3", "mark_5")
    length = sum(float(np.linalg.norm(np.subtract(boat.places[a], boat.places[b]))) for a, b in pairwise(over))
    marks = adjust(
        [*taken(boat, _Still()), Tape(a=over[0], b=over[-1], via=(over[1],), length=length)], datum=started(boat)
    )
    assert abs(marks.residual[-1]) < 0.001 * MM


@pytest.mark.analytic
def test_offsets_stand_square_off_the_boats_axes():
    boat = planned(7)
    random = np.random.default_rng(7)
    readings = taken(boat, random)
    offsets = [
        Offset(mark=name, axis=axis, offset=boat.places[name]["xyz".index(axis)], sigma=1e-5)
        for name in ("mark_0", "mark_1")
        for axis in "xyz"
    ]
    offsets.append(
        Offset(
            mark="mark_2", of="mark_0", axis="x", sigma=1e-5, offset=boat.places["mark_2"][0] - boat.places["mark_0"][0]
        )
    )
    marks = adjust([*readings, *offsets], datum=started(boat))
    for name in ("mark_0", "mark_1"):
        assert np.abs(marks.at(name) - boat.places[name]).max() < 0.2 * MM
    assert marks.at("mark_2")[0] == pytest.approx(boat.places["mark_2"][0], abs=0.2 * MM)


@pytest.mark.property
@settings(max_examples=20, deadline=None)
@given(seed=st.integers(0, 7), order=st.randoms(use_true_random=False), unit=st.sampled_from([1.0, 3.0]))
def test_order_of_readings_and_direction_of_tapes_do_not_matter(seed, order, unit):
    boat = planned(seed)
    readings = taken(boat, np.random.default_rng(seed))
    shuffled = [replace(r, a=r.b, b=r.a) if isinstance(r, Tape) and order.random() < 0.5 else r for r in readings]
    order.shuffle(shuffled)
    one, other = adjust(readings, datum=started(boat)), adjust(shuffled, datum=started(boat))
    assert np.abs(_in_order(one, boat.places) - _in_order(other, boat.places)).max() < 0.001 * MM
    finer = Precision(**{name: getattr(PRECISION, name) / unit for name in PRECISION.__slots__})
    scaled = adjust(readings, datum=started(boat), precision=finer)
    assert np.allclose(scaled.covariance * unit**2, one.covariance, rtol=1e-4, atol=1e-12)


@pytest.mark.behaviour
def test_five_hundred_readings_need_no_coordinates():
    boat = five_hundred()
    marks = adjust(boat.readings, datum=boat.datum)
    assert np.abs(_in_order(marks, boat.places) - boat.xyz).max() < 12 * MM

"""Hold the short ways of asking rays and of finding tubes that cross to the long ones."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from canvas import verbs
from canvas.geometry import checks, panorama, rays

pytestmark = pytest.mark.property


@pytest.fixture(scope="module")
def rigging():
    return verbs.rigging_of("examples/marrowgrass.toml")


def test_few_rays_are_answered_as_many_are(rigging, monkeypatch):
    scene = rigging.rig("closed tent").scene
    towards = np.random.default_rng(4).normal(size=(40, 3))
    towards /= np.linalg.norm(towards, axis=1, keepdims=True)
    points = scene.blade.points
    ask = np.random.default_rng(5).random((len(points), len(towards))) < 0.8
    tracers = [rays.tracer_of(surface) for surface in scene.surfaces if surface.kind != "vane"]
    answers = []
    for cost in (0.0, np.inf):  # every ray by itself, then none
        monkeypatch.setattr(rays, "FACES_A_RAY", cost)
        answers.append([tracer.occluded_grid(points, towards, ask=ask) for tracer in tracers])
    assert all(np.array_equal(one, other) for one, other in zip(*answers, strict=True))
    assert 0 < sum(one.sum() for one in answers[0]) < len(tracers) * ask.sum()


def seen(vertices, faces, point, towards):
    """Return which directions from a point meet a mesh."""
    met = np.empty((1, len(towards)), dtype=bool)
    panorama.mark_met(panorama.shell_of(vertices, np.asarray(faces)), point[None], panorama.spread(towards), met)
    return met[0]


@pytest.mark.parametrize("spread_out", [0.05, 0.5, 5.0])  # faces within a cell, over some, all round
def test_a_face_is_met_by_the_directions_between_its_corners(spread_out):
    chance = np.random.default_rng(6)
    middles = chance.normal(scale=2.0, size=(60, 1, 3))
    corners = middles + chance.normal(scale=spread_out, size=(60, 3, 3))
    towards = chance.normal(size=(4000, 3))
    for three in corners:
        shares = np.linalg.solve(three.T, towards.T)  # of the corners, in each direction
        assert np.array_equal(seen(three, [[0, 1, 2]], np.zeros(3), towards), (shares > 0.0).all(axis=0))


CUBE = np.array([[x, y, z] for x in (-1.0, 1.0) for y in (-1.0, 1.0) for z in (-1.0, 1.0)])
SIDES = [
    [0, 1, 3], [0, 3, 2], [4, 6, 7], [4, 7, 5], [0, 4, 5], [0, 5, 1],
    [2, 3, 7], [2, 7, 6], [0, 2, 6], [0, 6, 4], [1, 5, 7], [1, 7, 3],
]  # fmt: skip


def test_no_direction_slips_out_of_a_body_through_its_edges():
    turn = np.linalg.qr(np.random.default_rng(7).normal(size=(3, 3)))[0]
    share = np.linspace(0.0, 1.0, 12)[1:-1, None]
    edges = [CUBE[a] * (1.0 - share) + CUBE[b] * share for x, y, z in SIDES for a, b in ((x, y), (y, z), (z, x))]
    for inside in np.random.default_rng(8).uniform(-0.99, 0.99, size=(40, 3)):
        assert seen(CUBE @ turn, SIDES, inside @ turn, (np.concatenate(edges) - inside) @ turn).all()


def test_a_body_is_met_alike_by_all_its_faces_and_by_those_seen_from_within():
    chance = np.random.default_rng(9)
    points, towards = chance.normal(scale=3.0, size=(50, 3)), chance.normal(size=(3000, 3))
    whole = panorama.shell_of(CUBE, np.asarray(SIDES))
    assert whole.closed
    every, some = (np.empty((len(points), len(towards)), dtype=bool) for _ in range(2))
    panorama.mark_met(whole, points, panorama.spread(towards), some)
    panorama.mark_met(replace(whole, closed=False), points, panorama.spread(towards), every)
    assert np.array_equal(every, some)
    assert 0.05 < some.mean() < 0.5
    assert not panorama.shell_of(CUBE, np.asarray(SIDES[:-1])).closed


def test_a_point_on_a_wall_sees_away_from_it():
    towards = np.random.default_rng(10).normal(size=(2000, 3))
    met = seen(CUBE, SIDES, np.array([1.0, 0.25, -0.5]), towards)
    assert np.array_equal(met, towards[:, 0] < 0.0)


@pytest.mark.parametrize("shift", [0.0, 0.01, 0.02, 0.5, 5.0])
def test_tubes_whose_boxes_are_apart_are_rightly_left_out(rigging, monkeypatch, shift):
    model = rigging.model
    first, second = [one for one in model.tubes.values() if one.kind == "hoop"][:2]
    tubes = {**model.tubes, second.name: replace(second, line=turned(first.line) + np.array([0.0, 0.0, shift]))}

    def found() -> list[str]:
        return [one.found for one in checks.geometry_problems(model.design, tubes=tubes, marks=model.marks)]

    short = found()
    monkeypatch.setattr(checks, "_boxes_apart", lambda *_: 0.0)
    assert found() == short
    assert bool(short) == (shift < 0.6 * 0.025)  # of two tubes of 25 mm


def turned(line):
    """Return a line turned a quarter round the upright through its middle: it crosses itself there."""
    middle = line[len(line) // 2]
    return (line - middle) @ np.array([[0.0, 1.0, 0.0], [-1.0, 0.0, 0.0], [0.0, 0.0, 1.0]]) + middle

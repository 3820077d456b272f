"""Hold the short ways of asking rays and of finding tubes that cross to the long ones."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from canvas import verbs
from canvas.geometry import checks, rays, reach

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
    assert ask.size <= rays.FEW
    tracers = [rays.tracer_of(surface) for surface in scene.surfaces if surface.kind != "vane"]
    few = [tracer.occluded_grid(points, towards, ask=ask) for tracer in tracers]
    monkeypatch.setattr(rays, "FEW", 0)
    many = [tracer.occluded_grid(points, towards, ask=ask) for tracer in tracers]
    assert all(np.array_equal(one, other) for one, other in zip(few, many, strict=True))
    assert 0 < sum(one.sum() for one in few) < len(tracers) * ask.sum()


def test_long_triangles_are_halved_into_the_same_surface():
    triangles = np.random.default_rng(6).normal(scale=3.0, size=(30, 3, 3))
    short = reach.short_edged(triangles)
    assert np.linalg.norm(short - short[:, [1, 2, 0]], axis=2).max() <= reach.LONG < np.ptp(triangles)
    crossed, before = (np.cross(one[:, 1] - one[:, 0], one[:, 2] - one[:, 0]) for one in (short, triangles))
    assert crossed.sum(axis=0) == pytest.approx(before.sum(axis=0))  # none is turned over
    assert np.linalg.norm(crossed, axis=1).sum() == pytest.approx(np.linalg.norm(before, axis=1).sum())
    assert np.array_equal(reach.short_edged(triangles / 100.0), triangles / 100.0)


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

"""Hold the short ways of asking rays and of finding tubes that cross to the long ones."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from canvas import verbs
from canvas.geometry import checks, rays

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

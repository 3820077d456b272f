"""Hold the dial and the paths of the air to what canvas computes."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from canvas import verbs
from canvas.jobs.progress import SILENT
from canvas.wind.sector import sector
from viewer import answers, blowing, charts
from viewer.blowing import BladeSight, flow_of, nearest, paths, saved_flow
from viewer.stage import Stage


@pytest.fixture(scope="module")
def scene():
    return verbs.rigging_of("examples/marrowgrass.toml").rig("wet watch").scene


@pytest.mark.behaviour
@pytest.mark.parametrize(("awa", "heel"), [(0.0, 0.0), (-0.6, 0.2), (1.2, -0.2), (3.0, 0.0)])
def test_points_of_the_blade_that_see_the_wind_are_those_of_the_sector(scene, awa, heel):
    found = BladeSight(scene).at(awa, heel=heel)
    assert float(found.clear.mean()) == pytest.approx(float(sector(scene, awa=[awa], heel=heel).clear_share[0]))
    assert np.linalg.norm(found.upwind) == pytest.approx(1.0)


@pytest.mark.behaviour
def test_run_nearest_to_the_dial_is_taken_round_the_circle():
    assert nearest([np.radians(170), np.radians(30)], np.radians(-175)) == np.radians(170)
    assert nearest([], 0.0) is None


@pytest.mark.behaviour
def test_paths_are_drawn_as_far_as_they_go_and_taken_away():
    lines = np.full((2, 4, 3), np.nan)
    lines[0] = np.arange(12).reshape(4, 3)
    lines[1, :2] = [[0, 0, 0], [1, 1, 1]]
    stage = Stage(["roof"])
    stage.streams(paths(lines))
    assert stage.plotter.actors["streams"].mapper.dataset.n_points == 6
    stage.streams(())
    assert "streams" not in stage.plotter.actors


@pytest.mark.behaviour
def test_rim_marks_only_where_the_estimate_is_not_clear():
    arcs = charts.rim([-15, 0, 15], ["clear", "in wake", "edge of wake"], 15)
    assert [arc["word"] for arc in arcs] == ["in wake", "edge of wake"]
    assert arcs[0]["d"].startswith("M-6.9 -52.5")


@pytest.mark.behaviour
def test_fine_runs_are_told_before_coarse_ones_and_cells_are_said(monkeypatch):
    def kept(cells):
        angles = [{"awa_deg": 30.0 * k, "cell_m": cell} for k, cell in enumerate(cells)]
        record = {"sets": [{"name": "tent", "sentence": "", "angles": angles, "courses": []}]}
        return SimpleNamespace(record=lambda: record, results={"tent": SimpleNamespace(outcomes={})})

    saved = {None: kept([0.04, 0.2]), blowing.COARSE: kept([0.2, 0.2])}
    monkeypatch.setattr(blowing, "vane_kept", lambda *_, cell, **__: saved[cell])
    fine = saved_flow(None, "tent", 0.0)
    assert "(air flow, cells of 4 to 20 cm; apparent wind)" in answers.flow_cell(fine.record, "tent").ask
    assert answers.cells_said([fine.row(np.radians(29))]) == "cells of 20 cm"
    saved[None] = None
    coarse = saved_flow(None, "tent", 0.0)
    assert "(air flow, cells of 20 cm; apparent wind)" in answers.flow_cell(coarse.record, "tent").ask


@pytest.mark.behaviour
def test_saved_runs_of_the_shape_are_found_without_a_run(monkeypatch, tmp_path):
    """Runs cut short, at three angles and one course, stand for saved ones; nothing may be run to find them."""
    from canvas.verbs import flow
    from canvas.wind.flow import runner

    march, courses = runner.march, flow.courses
    monkeypatch.setenv("CANVAS_CACHE", str(tmp_path))
    monkeypatch.setattr(flow, "ROSE_STEP", 120)
    monkeypatch.setattr(flow, "courses", lambda sailing: courses(sailing)[:1])
    rigging = verbs.rigging_of("examples/marrowgrass.toml")
    assert saved_flow(rigging, "wet watch", 0.0) is None
    monkeypatch.setattr(runner, "march", lambda *what, **how: march(*what, **{**how, "settle": 0.01, "average": 0.03}))
    made = flow_of(rigging, "wet watch", 0.0, SILENT)
    monkeypatch.setattr(runner, "march", None)
    found = saved_flow(rigging, "wet watch", 0.0)
    assert found is not None
    assert found.record == made.record
    assert sorted(found.outcomes) == sorted(made.outcomes)

"""The committed tables of long runs: that they are of the present solver, and what they show."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from canvas.wind.blade import half_width
from canvas.wind.flow.solver_hash import solver_hash

FOLDER = Path(__file__).parents[1] / "benchmarks" / "flow"


def rows(name):
    with (FOLDER / name).open(newline="", encoding="utf-8") as stream:
        return list(csv.DictReader(stream))


def cases():
    return {
        (r["boat"], r["set"], int(r["awa_deg"]), float(r["cell_m"]), int(r["turned_deg"]), int(r["seed"])): r
        for r in rows("cases.csv")
    }


def ratio(held, boat, name, awa, cell, turned=0):
    canvas, bare = held[boat, name, awa, cell, turned, 1], held[boat, "bare", awa, cell, turned, 1]
    return float(canvas["speed_ratio_free"]) / float(bare["speed_ratio_free"])


def where(held, boat, name, awa, cell):
    canvas, bare = held[boat, name, awa, cell, 0, 1], held[boat, "bare", awa, cell, 0, 1]
    speed = [float(r["speed_ratio_free"]) for r in (canvas, bare)]
    if max(speed) < 0.80:
        return "deep"
    unsteady = max(float(r["unsteadiness"]) for r in (canvas, bare)) > 0.08
    return "wake" if unsteady or min(speed) < 0.85 else "clear"


@pytest.mark.regression
def test_tables_are_of_this_solver():
    assert (FOLDER / "solver.txt").read_text(encoding="utf-8").split()[0] == solver_hash()


@pytest.mark.regression
def test_band_at_4_cm_covers_the_answer_at_3_cm():
    held = cases()
    pairs = [k for k in held if k[3] == 0.03 and k[1] != "bare" and (*k[:3], 0.04, 0, 1) in held]
    missed = []
    for boat, name, awa, *_ in pairs:
        apart = abs(ratio(held, boat, name, awa, 0.04) - ratio(held, boat, name, awa, 0.03))
        if apart > half_width(where(held, boat, name, awa, 0.04), 0.04):
            missed.append((boat, name, awa, apart))
    assert len(pairs) >= 15
    assert len(missed) <= 1, missed


@pytest.mark.regression
@pytest.mark.parametrize("awa", [8, 15, 30])
def test_closed_tent_is_far_worse_than_the_aft_open_tent(awa):
    held = cases()
    closed, open_ = (ratio(held, "marrowgrass", name, awa, 0.03) for name in ("closed tent", "wet watch"))
    assert closed < 0.65 * open_


@pytest.mark.regression
def test_upright_closed_face_slows_the_wind_from_astern():
    held = cases()
    assert ratio(held, "marrowgrass", "closed tent", 180, 0.04) < 0.80
    assert ratio(held, "marrowgrass", "wet watch", 180, 0.04) > 0.90


@pytest.mark.regression
@pytest.mark.parametrize("name", ["hood and bimini", "wet watch"])
def test_boat_turned_on_the_grid_gives_the_same(name):
    held = cases()
    turned, straight = (ratio(held, "marrowgrass", name, 15, 0.04, t) for t in (30, 0))
    assert abs(turned - straight) < 0.07


@pytest.mark.published
def test_porous_strips_against_steiros_and_hultmark(published):
    table = published("flow/porous_plate_by_loss")
    wanted = {row["k_face"]: row["SH_c_D"] for row in table.rows}
    found = {float(r["loss"]): float(r["c_D"]) for r in rows("drag.csv") if r["shape"] == "strip"}
    checked = [loss for loss in found if loss in wanted and loss <= 1.0]
    assert len(checked) == 2
    for loss in checked:
        assert found[loss] == pytest.approx(wanted[loss], rel=table.tolerance("SH_c_D"))


@pytest.mark.regression
def test_plate_drag_does_not_depend_on_the_cells():
    drag = np.array([float(r["c_D"]) for r in rows("drag.csv") if r["shape"] == "square plate"])
    assert len(drag) == 4
    assert drag.max() - drag.min() < 0.05


def checked(**wanted):
    found = [r for r in rows("checks.csv") if all(r[key] == value for key, value in wanted.items())]
    assert len(found) == 1
    return float(found[0]["speed_ratio_free"])


@pytest.mark.property
def test_mirrored_boat_at_the_mirrored_angle():
    held = cases()
    mirrored = checked(set="wet watch", mirrored="yes") / checked(set="bare", mirrored="yes")
    assert abs(mirrored - ratio(held, "marrowgrass", "wet watch", 32, 0.04)) < 0.03


@pytest.mark.regression
def test_present_solver_gives_the_saved_answer_again():
    held = cases()
    for name in ("bare", "wet watch"):
        saved = float(held["marrowgrass", name, 15, 0.06, 0, 1]["speed_ratio_free"])
        assert checked(set=name, cell_m="0.06") == pytest.approx(saved, abs=1e-4)


@pytest.mark.behaviour
def test_a_slightly_larger_box_runs_where_the_first_ran_away():
    assert ("lantern-hill", "closed in", 180, 0.04, 0, 1) not in cases()
    assert 0.5 < checked(boat="lantern-hill", set="closed in", grown_m="0.12") < 1.2

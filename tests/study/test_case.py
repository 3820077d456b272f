"""Cases for OpenFOAM are whole and are read back into what the blade feels; what was not run is named."""

import json
import shutil
import subprocess
from importlib import resources

import jsonschema
import numpy as np
import pytest

from canvas import verbs
from canvas.design.problems import DesignError
from canvas.jobs.failure import CouldNot
from canvas.verbs import casing
from canvas.wind.flow.run import rose
from tests.asbuilt import scans

BOAT = scans.ROOT / "examples" / "marrowgrass.toml"
ANGLE = float(np.radians(32.0))


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    folder = tmp_path_factory.mktemp("case")
    answer = verbs.case(BOAT, awa=[ANGLE], sets=["wet watch"], cell=0.24, steps=60)
    answer.save(folder)
    return answer, folder


def put_probes(folder, one, *, factor, steps=50):
    """Write probes as OpenFOAM does: the undisturbed wind by height, slowed by a factor."""
    free = factor * np.array(one["free"])
    path = folder / one["folder"] / "postProcessing" / "blade" / "0" / "U"
    path.parent.mkdir(parents=True)
    rows = ["# Probe 0 (0 0 0)", "#       Time"]
    for step in range(1, steps + 1):
        rows.append(f"{step:>12} " + " ".join(f"({u:.6g} {v:.6g} 0)" for u, v in free))
    path.write_text("\n".join(rows) + "\n")


@pytest.mark.behaviour
def test_case_holds_all_that_openfoam_needs(written):
    _, folder = written
    cases = json.loads((folder / "canvas.json").read_text())["cases"]
    assert [one["set"] for one in cases] == ["bare", "hood and bimini", "wet watch"]
    for one in cases:
        here = folder / one["folder"]
        for name in ("blockMeshDict", "snappyHexMeshDict", "controlDict", "fvSchemes", "fvSolution"):
            assert (here / "system" / name).stat().st_size > 50
        snappy = (here / "system" / "snappyHexMeshDict").read_text()
        for stl in (here / "constant" / "triSurface").glob("*.stl"):
            assert f"{stl.name} {{ type triSurfaceMesh" in snappy
        assert ("faceType baffle" in snappy) == (one["set"] != "bare")
        assert (here / "system" / "controlDict").read_text().count("\n            (") == len(one["free"])


@pytest.mark.analytic
def test_probes_that_hold_the_free_wind_read_back_as_ratios(written, tmp_path):
    _, folder = written
    shutil.copytree(folder, tmp_path / "case")
    cases = json.loads((folder / "canvas.json").read_text())["cases"]
    for one, factor in zip(cases, (1.0, 0.9, 0.6), strict=True):
        put_probes(tmp_path / "case", one, factor=factor)
    found = verbs.read_case(BOAT, tmp_path / "case")
    for name, factor in (("bare", 1.0), ("hood and bimini", 0.9), ("wet watch", 0.6)):
        (row,) = found.results[name]
        assert row.wind.speed_ratio.value == pytest.approx(factor, abs=1e-6)
        assert row.wind.force_ratio.value == pytest.approx(factor**2, abs=1e-6)
        assert row.wind.turn == pytest.approx(0.0, abs=1e-6)
    record = json.loads(json.dumps(found.record(), allow_nan=False))
    schema = (resources.files("canvas.brief.records") / "schemas" / "case.json").read_text()
    jsonschema.validate(record, json.loads(schema))
    assert record["method"] == "openfoam"
    assert "OpenFOAM" in record["label"]
    rows = [row for one in record["sets"] for row in one["angles"]]
    assert all(0 <= row["clear_share"] <= 1 for row in rows)
    assert {row["wake_word"] for row in rows} <= {"clear", "edge of wake", "in wake"}
    assert all(row["own_speed_ratio"] is None and row["speed_ratio_difference"] is None for row in rows)


@pytest.mark.behaviour
def test_own_flow_over_what_the_case_holds_stands_beside_it(written, tmp_path, monkeypatch):
    _, folder = written
    shutil.copytree(folder, tmp_path / "case")
    for one, factor in zip(json.loads((folder / "canvas.json").read_text())["cases"], (1.0, 0.9, 0.6), strict=True):
        put_probes(tmp_path / "case", one, factor=factor)
    ran = []

    def short(scenes, *asked, folder, **more):
        ran.append((scenes, folder.name))
        return rose(scenes, *asked, folder=tmp_path / "flow", settle=0.01, average=0.03, **more)

    monkeypatch.setattr(casing, "rose", short)
    found = verbs.read_case(BOAT, tmp_path / "case", own_flow=True)
    ((scenes, place),) = ran
    assert [scene.set_name for scene in scenes] == ["bare", "hood and bimini", "wet watch"]
    assert {s.kind for scene in scenes for s in scene.surfaces} <= {"boat", "solid", "crew", "cloth", "vane", "spar"}
    assert place == "flow-as-exported"  # runs without sails are never taken for the boat's own
    record = found.record()
    schema = json.loads((resources.files("canvas.brief.records") / "schemas" / "case.json").read_text())
    jsonschema.validate(json.loads(json.dumps(record, allow_nan=False)), schema)
    for one in record["sets"]:
        (row,) = one["angles"]
        gap = row["speed_ratio_free"] - row["own_speed_ratio_free"]
        assert row["speed_ratio_free_difference"] == pytest.approx(gap, abs=2e-4)
        assert row["own_speed_ratio_low"] <= row["own_speed_ratio"] <= row["own_speed_ratio_high"]
        assert "own flow" in one["sentence"]


@pytest.mark.behaviour
def test_cases_not_run_and_strange_folders_are_named(written, tmp_path):
    _, folder = written
    with pytest.raises(CouldNot, match="Allrun"):
        verbs.read_case(BOAT, folder)
    with pytest.raises(DesignError, match=r"canvas\.json"):
        verbs.read_case(BOAT, tmp_path)
    shutil.copytree(folder, tmp_path / "case")
    one = json.loads((folder / "canvas.json").read_text())["cases"][0]
    put_probes(tmp_path / "case", one, factor=1.0)
    found = verbs.read_case(BOAT, tmp_path / "case")
    assert {problem.code for problem in found.problems} == {"case-not-run"}
    other = verbs.read_case(scans.ROOT / "examples" / "oddfellow.toml", tmp_path / "case")
    assert "case-of-another-design" in {problem.code for problem in other.problems}


@pytest.mark.slow
@pytest.mark.behaviour
@pytest.mark.skipif(shutil.which("simpleFoam") is None, reason="OpenFOAM is not installed: apt install openfoam")
def test_a_coarse_case_runs_in_openfoam_and_stands_beside_the_own_flow(tmp_path):
    """Bare and with the watch tent, 30 cm, 60 steps, the same parts: OpenFOAM within the bands of the own flow.

    Finer and longer: `tests/benchmarks/flow/README.md`.
    """
    verbs.case(BOAT, awa=[ANGLE], sets=["wet watch"], cell=0.3, steps=60).save(tmp_path)
    for one in json.loads((tmp_path / "canvas.json").read_text())["cases"]:
        if one["set"] != "hood and bimini":
            script = str(tmp_path / one["folder"] / "Allrun")
            done = subprocess.run(["sh", script], capture_output=True, text=True, check=False)
            assert done.returncode == 0, done.stderr
    found = verbs.read_case(BOAT, tmp_path, own_flow=True)
    bare, tent = (found.results[name][0] for name in ("bare", "wet watch"))
    assert bare.wind.speed_ratio.value == pytest.approx(1.0)
    assert bare.own.speed_ratio.value == pytest.approx(1.0)
    assert 0.6 < bare.wind.speed_ratio_free.value < 1.2
    free, ratio = bare.own.speed_ratio_free, tent.own.speed_ratio
    assert free.low < bare.wind.speed_ratio_free.value < free.high
    assert ratio.low < tent.wind.speed_ratio.value < ratio.high
    assert abs(tent.wind.turn - tent.own.turn) < np.radians(10.0)
    (row,) = next(one for one in found.record()["sets"] if one["name"] == "wet watch")["angles"]
    assert row["clear_share"] is not None
    gap = tent.wind.speed_ratio.value - tent.own.speed_ratio.value
    assert row["speed_ratio_difference"] == pytest.approx(gap, abs=2e-4)

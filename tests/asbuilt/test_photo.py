"""Photographs of coded targets give marks; what moved, is blurred or is no photograph is named; errors are honest."""

import csv
import json
import subprocess
import sys
from importlib import resources

import jsonschema
import numpy as np
import pymupdf
import pytest
from typer.testing import CliRunner

cv2 = pytest.importorskip("cv2")

from canvas import verbs  # noqa: E402
from canvas.asbuilt import targets as targets_module  # noqa: E402
from canvas.asbuilt.camera import project  # noqa: E402
from canvas.asbuilt.photographs import take_photographs  # noqa: E402
from canvas.asbuilt.stuck import read_list  # noqa: E402
from canvas.asbuilt.targets import look, look_at, pattern  # noqa: E402
from canvas.cli import app  # noqa: E402
from canvas.design.problems import DesignError  # noqa: E402
from tests.asbuilt import photos, scans  # noqa: E402
from tests.benchmarks.photo import study  # noqa: E402

BOAT = scans.ROOT / "examples" / "marrowgrass.toml"


@pytest.mark.property
@pytest.mark.parametrize("seed", [0, 1, pytest.param(2, marks=pytest.mark.slow)])
def test_rendered_photographs_give_marks_and_name_what_moved(seed):
    made, seen = study.one_set(seed)
    for tapes, most in ((0, 5.0), (3, 3.0)):
        largest, missed, wrong, marks, _ = study.judged(made, seen, tapes=tapes, seed=seed)
        assert largest < most  # mm
        assert (missed, wrong) == (0, 0)
        assert marks >= 16


@pytest.mark.property
def test_rendered_sets_of_the_study_were_within_what_is_asked():
    with (study.FOLDER / "sets.csv").open(newline="") as stream:
        rows = list(csv.DictReader(stream))
    for tapes, most in (("0", 5.0), ("3", 3.0)):
        own = [row for row in rows if row["tapes"] == tapes]
        assert len({row["seed"] for row in own}) == len(own) == 50
        assert max(float(row["largest_error_mm"]) for row in own) < most
        assert sum(int(row["moved_not_named"]) for row in own) == 0
        assert sum(int(row["still_named"]) for row in own) == 0
        assert min(int(row["marks"]) for row in own) >= 16


@pytest.mark.property
def test_stated_covariance_is_honest():
    made = photos.made_set(study.places_for(0), seed=0, photos=24)
    found = np.array([study.inside(seed, made=made) for seed in range(5000, 5025)]).sum(axis=0)
    assert 0.91 < found[0] / found[1] < 0.985  # 25 sets of some 20 marks that err together


@pytest.mark.property
def test_simulated_sets_of_the_study_had_an_honest_covariance():
    with (study.FOLDER / "covariance.csv").open(newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert len({row["seed"] for row in rows}) == len(rows) == 1000
    assert 0.94 < sum(int(row["inside"]) for row in rows) / sum(int(row["of"]) for row in rows) < 0.96


@pytest.mark.analytic
def test_slopes_of_the_camera_are_those_of_differences():
    rng = np.random.default_rng(1)
    points = rng.uniform([-0.5, -0.5, 1.0], [0.5, 0.5, 2.0], (5, 3))
    values = np.tile([900.0, 640.0, 480.0, 0.08, -0.03, 0.001, -0.002], (5, 1))
    got = project(points, values)
    for axis in range(3):
        step = np.zeros(3)
        step[axis] = 1e-6
        slope = (project(points + step, values).spots - project(points - step, values).spots) / 2e-6
        assert np.allclose(got.by_point[:, :, axis], slope, rtol=1e-5, atol=1e-3)
    for axis, by in enumerate((1e-3, 1e-3, 1e-3, 1e-6, 1e-6, 1e-6, 1e-6)):
        step = np.zeros(7)
        step[axis] = by
        slope = (project(points, values + step).spots - project(points, values - step).spots) / (2 * by)
        assert np.allclose(got.by_camera[:, :, axis], slope, rtol=1e-5, atol=1e-4)


@pytest.mark.analytic
def test_sides_find_the_corner_of_a_blurred_square_that_corners_alone_miss():
    drawn = np.full((400, 400), 235, np.uint8)
    drawn[120:280, 120:280] = np.where(np.kron(pattern(7), np.ones((20, 20))) > 0, 25, 235)
    seen = look_at(cv2.GaussianBlur(drawn, (0, 0), 2.0), file="square")
    true = np.array([[119.5, 119.5], [279.5, 119.5], [279.5, 279.5], [119.5, 279.5]])
    assert np.abs(seen.corners[0] - true).max() < 0.05


@pytest.mark.behaviour
def test_printed_targets_are_read_at_their_own_size(tmp_path):
    answer = verbs.target_sheet(BOAT, size=0.06, ties=3)
    answer.save(tmp_path)
    stuck = read_list(tmp_path / "targets.csv")
    pages = pymupdf.open(tmp_path / "targets.pdf")
    found = {}
    for page in pages:
        drawn = page.get_pixmap(dpi=150, colorspace="gray")
        grey = np.frombuffer(drawn.samples, np.uint8).reshape(drawn.h, drawn.stride)[:, : drawn.w]
        seen = look_at(grey, file="page")
        for number, corners in zip(seen.numbers.tolist(), seen.corners, strict=True):
            side = float(np.linalg.norm(corners[1] - corners[0])) / 150 * 0.0254
            if side > 0.05:  # those in the pictures of how to stick are small
                found[number] = side
    assert sorted(found) == [one.number for one in stuck]
    assert all(abs(side - 0.06) < 0.0003 for side in found.values())


def shot(folder, made, count):
    for p in range(count):
        cv2.imwrite(str(folder / f"{p:02d}.png"), photos.rendered(made, p))


@pytest.mark.behaviour
def test_photographs_go_into_the_design_and_bad_ones_are_named(tmp_path):
    rigging = scans.boat("marrowgrass")
    names = rigging.model.marks.names
    made = photos.made_set(rigging.model.marks.xyz[:16], seed=4, photos=16)
    shot(tmp_path, made, 16)
    blurred = cv2.GaussianBlur(cv2.imread(str(tmp_path / "03.png")), (0, 0), 25)
    cv2.imwrite(str(tmp_path / "03.png"), blurred)
    cv2.imwrite(str(tmp_path / "20.png"), np.random.default_rng(1).integers(0, 255, (1200, 1600), np.uint8))
    (tmp_path / "21.jpg").write_bytes(b"no picture at all")
    lines = [f"{k + 1},{names[k]},80" for k in range(16)]
    (tmp_path / "list.csv").write_text("number,mark,size_mm\n" + "\n".join(lines) + "\n")
    answer = verbs.photo(rigging, [tmp_path], targets=tmp_path / "list.csv")
    said = {str(one.file).rsplit("/", maxsplit=1)[-1]: one for one in answer.problems}
    assert "blurred" in said["03.png"].found
    assert "no target" in said["20.png"].found
    assert "no picture" in said["21.jpg"].found
    assert all(one.wanted for one in answer.problems)
    schema = json.loads((resources.files("canvas.brief.records") / "schemas" / "photo.json").read_text())
    jsonschema.validate(json.loads(json.dumps(answer.record(), allow_nan=False)), schema)
    answer.save(tmp_path)
    text = (tmp_path / "marrowgrass-photographed.toml").read_text()
    assert set(rigging.model.source.text.split("\n")) <= set(text.split("\n"))
    again = verbs.rigging_of(tmp_path / "marrowgrass-photographed.toml").model.marks
    kept = [n for n, count in zip(answer.top.marks.names, answer.top.views, strict=True) if n in names and count > 1]
    assert len(kept) >= 12
    for name in kept:
        assert np.linalg.norm(again.at(name) - answer.top.marks.at(name)) < 0.001


@pytest.mark.behaviour
def test_tape_read_wrongly_is_named():
    made = photos.made_set(study.places_for(1), seed=1, photos=24)
    survey = photos.survey_for(made, tapes=4)
    wrong = photos.replace(survey.entries[1], length=survey.entries[1].length + 0.05)
    spoilt = photos.replace(survey, entries=(survey.entries[0], wrong, *survey.entries[2:]))
    found = take_photographs(photos.ideal(made, noise=0.15, seed=1), made.stuck, survey=spoilt, size_sd=0.002)
    assert found.disagreements[0].reading is wrong


@pytest.mark.behaviour
@pytest.mark.parametrize("what", ["nothing", "no files", "something else"])
def test_no_photograph_of_use_is_named(what, tmp_path):
    if what == "something else":
        for k in range(3):
            cv2.imwrite(str(tmp_path / f"{k}.png"), np.random.default_rng(k).integers(0, 255, (600, 800), np.uint8))
    asked = [tmp_path / "gone.jpg"] if what == "no files" else [tmp_path]
    with pytest.raises(DesignError) as error:
        verbs.photo(BOAT, asked)
    assert error.value.problems[0].code in {"no-photos", "photo-missing", "photo-not-used"}
    assert error.value.problems[0].wanted


@pytest.mark.behaviour
@pytest.mark.parametrize("content", [b"", b"\x89PNG\r\n\x1a\n" + b"\0" * 50, b"\0\0\0\x18ftypheic" + b"\0" * 50])
def test_file_that_is_no_photograph_is_named(content, tmp_path):
    (tmp_path / "a.jpg").write_bytes(content)
    with pytest.raises(DesignError) as error:
        look(tmp_path / "a.jpg")
    assert error.value.problems[0].code in {"photo-unreadable", "photo-type"}


@pytest.mark.behaviour
def test_without_opencv_a_sentence_says_what_to_install(monkeypatch, tmp_path):
    monkeypatch.setitem(sys.modules, "cv2", None)
    (tmp_path / "a.jpg").write_bytes(b"x")
    said = CliRunner().invoke(app, ["photo", str(BOAT), str(tmp_path / "a.jpg"), "-o", str(tmp_path / "out")])
    assert said.exit_code == 3
    assert "pip install" in said.output


@pytest.mark.behaviour
def test_opencv_is_not_loaded_by_other_verbs():
    code = "import sys; from canvas.verbs import capture, boat; import canvas.cli; sys.exit('cv2' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], cwd=scans.ROOT, check=False).returncode == 0
    assert targets_module.COUNT == 587

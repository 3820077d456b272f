"""The command line of `canvas cut`: files, trial, changes since an earlier cut, closer nests, papers."""

import json
from functools import partial

import pymupdf
import pytest
from typer.testing import CliRunner

from canvas.cli import app
from canvas.cutting.closer import closer_nest
from canvas.cutting.dxf import read_dxf
from canvas.design.guided import complete, design_text

TENT = "watch tent roof"


@pytest.fixture(scope="module")
def boat(tmp_path_factory):
    """Return the file of a small boat with one new panel."""
    path = tmp_path_factory.mktemp("boat") / "skua.toml"
    path.write_text(design_text(complete({"name": "Skua", "bimini": "no", "steered_by": "tiller"})))
    return path


def cut(*words):
    done = CliRunner().invoke(app, ["cut", *(str(word) for word in words), "--json"])
    assert done.exit_code == 0, done.output
    return json.loads(done.stdout)


@pytest.fixture(scope="module")
def first(boat):
    """Return the record of the first cut and its folder."""
    folder = boat.parent / "first"
    return cut(boat, "-o", folder), folder


def later(boat, tmp_path, *swaps):
    """Return a file with the boat as revised."""
    text = boat.read_text()
    for old, new in swaps:
        assert old in text
        text = text.replace(old, new, 1)
    path = tmp_path / "later.toml"
    path.write_text(text)
    return path


def words_in(path):
    return " ".join(one.text for one in read_dxf(path).texts)


@pytest.mark.behaviour
def test_every_file_named_is_there_and_none_besides(first):
    record, folder = first
    assert sorted(record["files"]) == sorted(path.name for path in folder.iterdir())
    for ending in (".dxf", "-numbered.dxf", "-nest.dxf", "-nest.svg", "-a4.pdf"):
        assert f"coated-polyester-300{ending}" in record["files"]
    assert {"net.dxf", "sewing-order.txt", "sections.svg", "strain.svg", "parts.json"} <= set(record["files"])


@pytest.mark.behaviour
def test_the_width_that_wastes_least_is_said_with_the_others(first):
    record, _ = first
    for cloth in {row["cloth"] for row in record["rolls"]}:
        rows = [row for row in record["rolls"] if row["cloth"] == cloth]
        assert [row["wastes_least"] for row in rows] == [True] + [False] * (len(rows) - 1)
        assert rows[0]["area_m2"] == min(row["area_m2"] for row in rows)
        assert all(0 < row["used_share"] < 1 for row in rows)


@pytest.mark.behaviour
def test_cut_against_itself_changes_nothing(boat, first, tmp_path):
    record = cut(boat, "-o", tmp_path / "again", "--against", first[1])
    assert {one["what"] for one in record["changes"]} == {"same"}
    assert "no part changed" in (tmp_path / "again" / "changes.svg").read_text()


@pytest.mark.behaviour
def test_a_lowered_leech_changes_the_roof_and_its_revision_is_on_the_label(boat, first, tmp_path):
    text = boat.read_text()
    revised = 'revision = "B"\n' + "\n".join(row for row in text.splitlines() if not row.startswith("revision"))
    revised = revised.replace('hollow = "3 %"', 'hollow = "5 %"')
    path = tmp_path / "later.toml"
    path.write_text(revised)
    record = cut(path, "-o", tmp_path / "b", "--against", first[1])
    changed = [one for one in record["changes"] if one["what"] == "changed"]
    assert any(TENT in one["part"] and one["finished_by_mm"] > 5 for one in changed)
    drawn = (tmp_path / "b" / "changes.svg").read_text()
    assert "recut, up to" in drawn
    assert "revision B against A" in drawn
    assert "revision B" in words_in(tmp_path / "b" / "coated-polyester-300.dxf")
    assert "revision A" in words_in(first[1] / "coated-polyester-300.dxf")


@pytest.mark.behaviour
def test_a_folder_without_a_cut_is_refused_and_nothing_written(boat, tmp_path):
    done = CliRunner().invoke(app, ["cut", str(boat), "-o", str(tmp_path / "b"), "--against", str(tmp_path / "none")])
    assert done.exit_code == 2
    assert "earlier canvas cut" in " ".join(done.output.split())
    assert not (tmp_path / "b").exists()


@pytest.mark.behaviour
def test_a_trial_has_margins_and_says_so(boat, first, tmp_path):
    record = cut(boat, "-o", tmp_path / "trial", "--trial")
    roof = [one for one in record["sets"][-1]["parts"] + record["sets"][0]["parts"] if TENT in one["name"]]
    real = {one["name"]: one for made in first[0]["sets"] for one in made["parts"]}
    assert all(one["area_m2"] > real[one["name"]]["area_m2"] for one in roof)  # not compensated
    assert "trim to the lines on board" in words_in(tmp_path / "trial" / "coated-polyester-300.dxf")


@pytest.mark.behaviour
def test_a_closer_nest_is_kept_beside_the_design(boat, first, tmp_path, monkeypatch):
    path = later(boat, tmp_path)
    monkeypatch.setattr("canvas.cutting.cut.closer_nest", partial(closer_nest, seconds=1))
    one = cut(path, "-o", tmp_path / "one", "--better-nest")
    kept = sorted((tmp_path / "nests").glob("nest-*.json"))
    assert kept
    assert all(a["length_m"] <= b["length_m"] for a, b in zip(one["rolls"], first[0]["rolls"], strict=True))
    before = [path.read_bytes() for path in kept]
    two = cut(path, "-o", tmp_path / "two", "--better-nest")
    assert two["rolls"] == one["rolls"]
    assert [path.read_bytes() for path in kept] == before


@pytest.mark.behaviour
@pytest.mark.parametrize("paper", ["Letter", "A3", "A1", "roll"])
def test_pages_are_on_the_shops_paper(boat, tmp_path, paper):
    path = tmp_path / "boat.toml"
    path.write_text(boat.read_text() + f'\n[shop]\npaper = "{paper}"\n')
    record = cut(path, "-o", tmp_path / "out")
    (pages,) = (name for name in record["files"] if name.startswith("coated") and name.endswith(".pdf"))
    assert pages == f"coated-polyester-300-{paper.lower()}.pdf"
    map_page, first_tile = list(pymupdf.open(tmp_path / "out" / pages))[:2]
    short = {"Letter": 215.9, "A3": 297.0, "A1": 594.0, "roll": 914.0}[paper]
    assert [page.rect.width * 25.4 / 72 for page in (map_page, first_tile)] == pytest.approx([short] * 2, abs=0.2)


@pytest.mark.behaviour
@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('finish = "zip with flap"', 'finish = "zip with flap", zip = { length = "0.5 m" }', "longer zip"),
        ('finish = "webbing hem", hollow = "3 %"', 'finish = "webing hem", hollow = "3 %"', "webbing hem"),
    ],
)
def test_what_cannot_be_cut_is_named_and_nothing_is_written(boat, tmp_path, old, new, said):
    path = later(boat, tmp_path, (old, new))
    done = CliRunner().invoke(app, ["cut", str(path), "-o", str(tmp_path / "out")])
    assert done.exit_code == 2
    assert said in " ".join(done.output.split())
    assert not (tmp_path / "out").exists()

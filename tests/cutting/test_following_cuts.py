import dataclasses
import json

import numpy as np
import pytest

from canvas.cutting.changes import RECORD, changes_sheet, changes_since
from canvas.cutting.choices import CutOptions
from canvas.cutting.closer import closer_nest, fits
from canvas.cutting.cut import cut_panels
from canvas.cutting.files import cut_files, write_files
from canvas.cutting.finish import read_finishes
from canvas.cutting.nest import SELVEDGE, SPACING, nest_outlines
from canvas.cutting.order import sewing_order
from canvas.cutting.part import FlatPart
from canvas.cutting.piece import Joint
from canvas.cutting.sections import section_sheet
from canvas.cutting.sheet import Layer, Line
from canvas.design.problems import DesignError
from tests.cutting import cut_shapes as shapes
from tests.cutting.test_nesting import random_parts

FINISHES = read_finishes()
MM = 0.001


def two_panels(length=1.0, finish="hem"):
    fore = shapes.plate("fore", length, 1.0, finishes=(finish, "zip", finish, "hem"))
    aft = shapes.plate("aft", 0.8, 1.0, at=length, finishes=("hem", "batten pocket", "hem", "zip"))
    joint = Joint(name="z", kind="zip", panel_a="aft", edge_a="near", panel_b="fore", edge_b="far")
    return cut_panels([fore, aft], [joint], finishes=FINISHES)


@pytest.mark.behaviour
def test_only_changed_parts_are_named_and_by_how_much(tmp_path):
    write_files(cut_files(two_panels(), papers=()), tmp_path)
    later = dataclasses.replace(two_panels(length=1.012), revision="B")
    changes = changes_since(later, tmp_path)
    by_name = {part.name: part for part in changes.parts}
    assert by_name["aft"].what == "same"
    assert by_name["fore"].what == "changed"
    assert by_name["fore"].finished_by == pytest.approx(
        6 * MM, abs=0.2 * MM
    )  # laid on, the 12 mm falls half on either side
    assert changes.recut == ("fore",)
    assert (changes.earlier, changes.revision) == ("A", "B")


@pytest.mark.behaviour
def test_a_changed_allowance_changes_the_cut_line_alone(tmp_path):
    write_files(cut_files(two_panels(), papers=()), tmp_path)
    changes = changes_since(two_panels(finish="hook and loop"), tmp_path)
    fore = next(part for part in changes.parts if part.name == "fore")
    assert fore.what == "changed"
    assert fore.finished_by < 0.01 * MM
    assert fore.cut_by == pytest.approx(13 * MM, abs=1.5 * MM)


@pytest.mark.property
def test_a_part_moved_and_turned_is_the_same_part(tmp_path):
    result = two_panels()
    write_files(cut_files(result, papers=()), tmp_path)
    turn = np.array([[np.cos(0.3), -np.sin(0.3)], [np.sin(0.3), np.cos(0.3)]])
    moved = tuple(
        dataclasses.replace(part, finished=part.finished @ turn.T + 0.7, cut=part.cut @ turn.T + 0.7)
        for part in result.parts
    )
    changes = changes_since(dataclasses.replace(result, parts=moved), tmp_path)
    assert all(part.what == "same" for part in changes.parts)


@pytest.mark.behaviour
def test_new_and_gone_parts_are_said_and_drawn(tmp_path):
    result = two_panels()
    write_files(cut_files(result, papers=()), tmp_path)
    fore = dataclasses.replace(result.part("fore"), name="fore, shortened")
    changes = changes_since(dataclasses.replace(result, parts=(fore, result.part("aft"))), tmp_path)
    assert [(part.name, part.what) for part in changes.parts] == [
        ("fore, shortened", "new"), ("aft", "same"), ("fore", "gone"),
    ]  # fmt: skip
    sheet = changes_sheet(changes)
    assert sum(isinstance(i, Line) and i.layer is Layer.CUT for i in sheet.items) == 1
    assert sum(isinstance(i, Line) and i.dashed for i in sheet.items) == 1


@pytest.mark.behaviour
@pytest.mark.parametrize("text", [None, "", "{}", '{"revision": "A", "parts": [{"name": "x"}]}', "[1, 2]"])
def test_a_folder_without_a_cut_is_named(tmp_path, text):
    if text is not None:
        (tmp_path / RECORD).write_text(text)
    with pytest.raises(DesignError, match=r"parts\.json.*Name the folder of an earlier canvas cut"):
        changes_since(two_panels(), tmp_path)


@pytest.mark.behaviour
@pytest.mark.parametrize(
    "outline",
    [
        "[[0, 0], [0, 0], [0, 0]]", "[[0, 0], [9, 9], [9, 0], [0, 9]]", "[[0, 0], [1e12, 0], [0, 1e12]]",
        "[[NaN, 0], [9, 0], [0, 9]]", "[[0, 0], [9, 0]]", '"all round"', "[[0, 0, 0], [9, 0, 0], [0, 9, 0]]",
    ],
)  # fmt: skip
def test_a_record_with_an_impossible_outline_is_named_in_words(tmp_path, outline):
    write_files(cut_files(two_panels(), papers=()), tmp_path)
    text = (tmp_path / RECORD).read_text(encoding="utf-8")
    data = json.loads(text)
    data["parts"][0]["cut_mm"] = "SPOILT"
    (tmp_path / RECORD).write_text(json.dumps(data).replace('"SPOILT"', outline), encoding="utf-8")
    with pytest.raises(DesignError, match="no list of parts as canvas cut writes it"):
        changes_since(two_panels(), tmp_path)


@pytest.mark.behaviour
def test_files_say_changes_order_and_sections(tmp_path):
    write_files(cut_files(two_panels(), papers=()), tmp_path)
    files = {f.name: f for f in cut_files(two_panels(1.012), papers=(), finishes=FINISHES, earlier=tmp_path)}
    assert b"recut, up to" in files["changes.svg"].content
    order = files["sewing-order.txt"].content.decode().split("\n\naft\n")[1]
    assert order.index("as hem") < order.index("as batten pocket") < order.index("as zip")
    assert b">batten pocket<" in files["sections.svg"].content
    assert json.loads(files[RECORD].content)["revision"] == "A"


@pytest.mark.behaviour
def test_sewing_goes_from_flat_to_closed():
    wide = shapes.plate("wide", 1.2, 2.4, finishes=("press studs", "zip with flap", "hem", "tube pocket"))
    result = cut_panels([wide], [], finishes=FINISHES)
    steps = sewing_order(result, finishes=FINISHES)
    assert [step.number for step in steps] == list(range(1, len(steps) + 1))

    def where(word):
        return next(k for k, step in enumerate(steps) if word in step.does)

    assert where('Sew "wide seam 1"') < where("as hem") < where("as tube pocket") < where("as zip with flap")
    assert where("as zip with flap") < where("Set press studs")
    assert {step.finish for step in steps} - {""} <= set(FINISHES)


@pytest.mark.behaviour
@pytest.mark.parametrize("name", sorted(FINISHES))
def test_each_finish_has_a_section_of_its_own(name):
    sheet = section_sheet(FINISHES[name])
    cloth = [item for item in sheet.items if isinstance(item, Line) and item.layer is Layer.CUT]
    rows = [item for item in sheet.items if isinstance(item, Line) and item.layer is Layer.SEW]
    assert cloth
    assert len(rows) == len(FINISHES[name].sews)
    turned = sum(shapes.polyline_length(line.points) for line in cloth)
    assert turned >= 0.09 + FINISHES[name].allowance - 1e-9
    same = [n for n in FINISHES if n != name and drawn(n) == drawn(name)]
    assert same == []


def drawn(name):
    items = section_sheet(FINISHES[name]).items
    return [item.points.round(6).tolist() for item in items if isinstance(item, Line)] + [FINISHES[name].section]


@pytest.mark.behaviour
def test_a_trial_piece_keeps_margins_and_lines_to_trim_to():
    plate = shapes.plate("p", 1.2, 1.0, finishes=("tube pocket", "zip", "hem", "press studs"), sd=0.02)
    trial = cut_panels([plate], [], finishes=FINISHES, options=CutOptions(trial=True))
    part = trial.parts[0]
    assert trial.trial
    assert np.ptp(part.finished, axis=0) == pytest.approx([1.2, 1.0], abs=1e-6)  # not compensated
    assert np.ptp(part.cut, axis=0) == pytest.approx([1.3, 1.1], abs=1e-5)  # 50 mm all round
    assert any(getattr(item, "text", "").startswith("trial") for item in part.items)
    assert all(edge.finish.startswith("trim to line") for edge in part.edges)


@pytest.mark.behaviour
def test_a_closer_nest_is_found_once_and_used_again(tmp_path):
    outlines = random_parts(0, 8)
    own = nest_outlines(outlines, width=1.52)
    first = closer_nest(outlines, width=1.52, folder=tmp_path, seconds=3)
    assert first.length <= own.length
    assert fits(first, outlines, SPACING, SELVEDGE)
    (saved,) = tmp_path.glob("nest-*.json")
    before = saved.read_bytes()
    again = closer_nest(outlines, width=1.52, folder=tmp_path, seconds=3)
    assert again.x.tobytes() == first.x.tobytes()
    assert saved.read_bytes() == before
    closer_nest([o * 1.001 for o in outlines[:3]], width=1.52, folder=tmp_path, seconds=1)
    assert len(list(tmp_path.glob("nest-*.json"))) == 2


@pytest.mark.behaviour
@pytest.mark.parametrize(
    "text", ["", "{}", '{"length_m": 1, "parts": [[0, 0, false]]}', '{"length_m": NaN, "parts": []}']
)
def test_a_damaged_saved_layout_is_searched_for_again(tmp_path, text):
    outlines = random_parts(1, 3)
    first = closer_nest(outlines, width=1.52, folder=tmp_path, seconds=1)
    (saved,) = tmp_path.glob("nest-*.json")
    saved.write_text(text)
    again = closer_nest(outlines, width=1.52, folder=tmp_path, seconds=1)
    assert fits(again, outlines, SPACING, SELVEDGE)
    assert again.length == pytest.approx(first.length, rel=0.2)


@pytest.mark.behaviour
def test_a_part_wider_than_the_roll_never_reaches_the_packer(tmp_path):
    with pytest.raises(DesignError, match=r"2.000 m across the warp on a roll of 1.52 m"):
        closer_nest([np.array([[0, 0], [1, 0], [1, 2.0], [0, 2.0]])], width=1.52, folder=tmp_path)


@pytest.mark.property
def test_everything_cut_is_a_flat_part():
    assert all(isinstance(part, FlatPart) and part.cut_area >= part.area for part in two_panels().parts)

"""Sheets on paper: complete, to scale, the same bytes, and cords that lead to the corner."""

from __future__ import annotations

import numpy as np
import pymupdf
import pytest
from scipy.optimize import least_squares
from shapely.geometry import Polygon

from canvas.asbuilt.tomeasure import Shortfall, ToMeasure
from canvas.brief.blocks import Bullets, Document, Figure, Grid, Heading, Prose
from canvas.brief.dimensions import dimension
from canvas.brief.drawing import MM, Pen, Stroke, Words, drawing_of
from canvas.brief.maker import BriefContents, maker_brief
from canvas.brief.measuring import measuring_sheet
from canvas.brief.mockup import cord_text, mockup_sheet
from canvas.brief.paper import pdf_of
from canvas.brief.pictures import drafter_of
from canvas.brief.rigging_steps import rigging_steps
from canvas.brief.rolls import roll_drawing
from canvas.brief.sections import section_drawing
from canvas.brief.tubeschedule import bend_of
from canvas.brief.webpage import html_of
from canvas.cloth.rigging import Rigging
from canvas.cutting.finish import read_finishes
from canvas.design.units import length_text
from canvas.geometry.tubes import TubeLine
from canvas.jobs.failure import CouldNot
from canvas.materials.quantities import take_off
from canvas.survey.plan import Advice, Plan
from canvas.survey.readings import Height, Offset, Tape
from canvas.verbs.making import cut_result
from canvas.verbs.sheets import _file_names

READINGS = (
    Tape(a="hood_foot_port", b="hood_foot_stbd", length=2.1),
    Tape(a="hood_foot_port", b="bimini_foot_stbd", length=2.5),
    Height(mark="tent_aft_port", height=1.1, session="first"),
    Offset(mark="tent_aft_stbd", offset=0.85, axis="y"),
)
ASKED = (
    "Which side is out?", "Where is forward?", "face out", "right half on the new panel", "gauge 10, moulded",
    "side window", "bimini aft bow", "Signed", "carbon monoxide", "aft-open tent, not a closed one",
)  # fmt: skip


def to_take(readings: tuple[Tape | Height | Offset, ...]) -> ToMeasure:
    """Return readings as a plan of which the second is entered."""
    names = tuple(dict.fromkeys(mark for reading in readings for mark in reading.marks))
    plan = Plan(
        readings=readings, effort=4.0, redundancy=np.full(len(readings), 0.4), names=names,
        sd=np.full(len(names), 0.004), touching=np.ones(len(names), dtype=int),
    )  # fmt: skip
    entered = tuple("2.503 m" if k == 1 else None for k in range(len(readings)))
    advice = (Advice(reading=Tape(a=names[0], b=names[-1], length=1.0), worst_before=0.0061, worst_after=0.0042),)
    short = (Shortfall(name=names[0], why="hidden by the cabin"),)
    return ToMeasure(plan=plan, left_out=(), short=short, entered=entered, advice=advice)


def text_of(pdf: bytes) -> str:
    with pymupdf.open(stream=pdf, filetype="pdf") as document:
        return "\n".join(page.get_text() for page in document)


@pytest.fixture(scope="module")
def brief(sloop: Rigging) -> Document:
    cut = cut_result(sloop)
    return maker_brief(BriefContents(rigging=sloop, cut=cut, takes=take_off(cut, sloop.model.design)))


@pytest.mark.analytic
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_a_drawing_is_printed_at_its_own_size(paper: str) -> None:
    line = drawing_of("line", [Stroke(lines=(np.array([[0.0, 0.0], [0.1, 0.0]]),), pen=Pen(width=0.2 * MM))])
    pdf = pdf_of(Document(title="t", foot="f", blocks=(Figure(drawing=line),)), paper=paper)
    with pymupdf.open(stream=pdf, filetype="pdf") as document:
        (path,) = document[0].get_drawings()
        assert path["rect"].width / 72 * 25.4 == pytest.approx(100.0, abs=0.4)  # a pen's width more
        assert document[0].rect.width / 72 * 25.4 == pytest.approx({"A4": 210.0, "Letter": 215.9}[paper], abs=0.1)


@pytest.mark.behaviour
def test_a_drawing_too_large_is_refused_by_name() -> None:
    line = drawing_of("the whole roll", [Stroke(lines=(np.array([[0.0, 0.0], [0.5, 0.0]]),))])
    with pytest.raises(CouldNot, match="the whole roll does not fit the page"):
        pdf_of(Document(title="t", foot="f", blocks=(Figure(drawing=line),)))


@pytest.mark.property
def test_a_document_gives_the_same_bytes() -> None:
    blocks = (
        Heading(text="H"),
        Prose(text="å < ½"),
        Bullets(items=("x",)),
        Grid(heads=("a",), rows=(("b",),), shares=(1.0,)),
    )
    document = Document(title="t", foot="f", blocks=blocks)
    assert pdf_of(document) == pdf_of(document)
    assert "å < ½" in text_of(pdf_of(document))
    assert "å &lt; ½" in html_of(document)


@pytest.mark.behaviour
@pytest.mark.parametrize(("paper", "units", "about"), [("A4", "m", "2.10 m"), ("Letter", "ft", "6 ft 10 1/2 in")])
def test_measuring_sheet_asks_every_reading(sloop: Rigging, paper: str, units: str, about: str) -> None:
    text = text_of(pdf_of(measuring_sheet(sloop, to_take(READINGS), paper=paper, units=units), paper=paper))
    flat = " ".join(text.split())
    for name in sloop.model.marks.names:
        assert name.replace("_", " ") in flat
    assert about in flat
    assert "Session: first" in flat
    assert "to starboard" in flat
    assert "zero at" in flat
    assert "1 of them are entered" in flat
    assert "2.503 m" in flat
    assert {"m": "6.1 mm, then 4.2 mm", "ft": "1/4 in, then 3/16 in"}[units] in flat
    assert "hood foot port: hidden by the cabin." in flat


@pytest.mark.analytic
def test_cords_lead_back_to_the_corner(sloop: Rigging) -> None:
    (panel,) = rigging_steps(sloop, "wet watch")
    assert [corner.mark for corner in panel.corners] == ["tent_aft_stbd", "tent_aft_port"]
    for corner in panel.corners:
        assert len(corner.cords) == 3

        def off(at: np.ndarray, corner=corner) -> np.ndarray:
            return np.array([np.linalg.norm(at - cord.start) - cord.length for cord in corner.cords])

        found = least_squares(off, corner.at + np.array([0.1, -0.1, 0.1])).x
        assert found == pytest.approx(corner.at, abs=1e-6)


@pytest.mark.behaviour
def test_mockup_gives_whole_centimetres_or_quarter_inches(sloop: Rigging) -> None:
    assert cord_text(1.2349, units="m") == "1.23 m"
    assert cord_text(1.2349, units="in") == "48 1/2 in"
    text = " ".join(text_of(pdf_of(mockup_sheet(sloop, "wet watch"))).split())
    for corner in rigging_steps(sloop, "wet watch")[0].corners:
        for cord in corner.cords:
            assert f"cord from {cord.name.replace('_', ' ')} {cord_text(cord.length, units='m')}" in text
    assert "webbing and buckle at tent aft port, 0.40 m long" in text
    bare = " ".join(text_of(pdf_of(mockup_sheet(sloop, "hood and bimini"))).split())
    assert "nothing to mock up" in bare


@pytest.mark.behaviour
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_brief_answers_the_maker(sloop: Rigging, brief: Document, paper: str) -> None:
    text = " ".join(text_of(pdf_of(brief, paper=paper)).split())
    cut = cut_result(sloop)
    for edge in cut.edges:
        assert length_text(edge.length, "m") in text
    for panel in sloop.model.design.panel:
        if not panel.existing:
            assert panel.name in text
    for said in ASKED:
        assert said in text
    for name in ("zip with flap", "batten pocket", "twist studs", "seam"):
        assert read_finishes()[name].section[:30] in text


@pytest.mark.behaviour
def test_brief_as_a_page_says_the_same(brief: Document) -> None:
    page = html_of(brief)
    for block in brief.blocks:
        if isinstance(block, Grid):
            assert all(f">{head}<" in page for head in block.heads if head)
    assert "<script" not in page
    assert page == html_of(brief)


@pytest.mark.behaviour
def test_brief_without_parts_says_so(sloop: Rigging) -> None:
    document = maker_brief(BriefContents(rigging=sloop, cut=None))
    assert any(isinstance(block, Prose) and "flat parts are not ready" in block.text for block in document.blocks)


@pytest.mark.analytic
def test_half_circle_in_the_bending_schedule() -> None:
    turn = np.linspace(np.pi, 0, 721)
    line = np.c_[np.zeros(721), np.cos(turn), np.sin(turn)]
    bend = bend_of(TubeLine(name="hoop", kind="hoop", line=line, diameter=0.025, wall=0.0015, play=0.0))
    assert bend.developed == pytest.approx(np.pi, abs=1e-4)
    assert bend.chord == pytest.approx(2.0)
    assert bend.highest == pytest.approx(1.0)
    assert bend.offset == pytest.approx(np.sqrt(1 - (bend.station - 1) ** 2), abs=2e-3)


@pytest.mark.behaviour
def test_every_finish_has_a_section_that_says_its_allowance() -> None:
    for name, finish in read_finishes().items():
        said = [item.text for item in section_drawing(finish, units="m").items if hasattr(item, "text")]
        assert name in said
        if finish.allowance > 0.001:
            assert any(f"allowance {finish.allowance * 1000:.0f} mm" in text for text in said)


@pytest.mark.behaviour
def test_each_panel_of_the_mock_up_is_drawn_as_large_as_it_fits(sloop: Rigging) -> None:
    boat = drafter_of(sloop, paper=0.18)
    panels = sloop.rig("wet watch").scene.of_kind("cloth")
    cloth = np.vstack([one.vertices for one in panels if one.panel == "watch tent roof"])
    near = boat.closer(cloth, paper=0.1)
    assert all(near.frame.holds(corner) for corner in cloth)
    assert near.sheet.scale < boat.sheet.scale
    assert (near.frame.high - near.frame.low)[:2].max() / near.sheet.scale <= 0.1


@pytest.mark.analytic
def test_words_of_a_dimension_never_leave_by_an_end_where_they_have_no_room() -> None:
    def words(low: float) -> Words:
        drawn = dimension((0, 0), (0, 0.005), text="blade 4 ft 3 in, assumed", lane=-0.01, size=0.002, upright=True,
                          room=(low, 0.015))  # fmt: skip
        return next(item for item in drawn if isinstance(item, Words))

    long = words(-1.0).width
    assert words(-0.005 - long - 0.001).anchor == "end"  # all of it stands before the first end
    assert words(-0.005 - long + 0.001).anchor == "start"
    assert words(-0.005 - long + 0.001).at[1] > 0.005


@pytest.mark.behaviour
@pytest.mark.parametrize(("name", "files"), [("Rig", ("Rig-a", "Rig-a-2")), ("a.b.pdf", ("a.b-a.pdf", "a.b-a-2.pdf"))])
def test_sheets_of_several_sets_stand_beside_what_was_asked_for(name: str, files: tuple[str, ...]) -> None:
    assert _file_names(name, ["a", "A/"]) == list(files)
    assert _file_names(name, ["a"]) == [name]


@pytest.mark.property
def test_names_of_parts_on_the_roll_keep_off_its_title_and_its_length(sloop: Rigging) -> None:
    cut, panels = cut_result(sloop), [panel.name for panel in sloop.model.design.panel]
    for roll in cut.rolls:
        drawing = roll_drawing(cut, roll, paper=60 * MM, units="m", panels=panels)
        words = [item for item in drawing.items if isinstance(item, Words)]
        round_it = [one for one in words if one.text == roll.cloth or "of roll" in one.text]
        assert len(round_it) == 2
        names = [Polygon(one.corners()) for one in words if one.halo and one not in round_it]
        assert not any(Polygon(one.corners()).intersects(name) for one in round_it for name in names)

"""The report page: offline, whole, and no number that is not in a record."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from types import SimpleNamespace

import numpy as np
import pytest

from canvas import verbs
from canvas.brief.answer import Answer
from canvas.brief.inputs import input_rows
from canvas.brief.markup import Column, element, plot, table, text
from canvas.brief.page import ReportContents, ReportFile, report_page
from canvas.brief.pictures import write_pictures
from canvas.brief.recordtables import cell, head, wetted
from canvas.brief.verdicts import lead, questions, worst
from canvas.cloth.rigging import Rigging
from canvas.design.reading import parse_design
from canvas.fit.checks import ponding

VOID = {"meta", "br", "img", "hr", "path"}


class Reader(HTMLParser):
    """Collects ids, links, text and whether elements close as they opened."""

    def __init__(self) -> None:
        super().__init__()
        self.ids: list[str] = []
        self.links: list[str] = []
        self.open: list[str] = []
        self.text: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        found = dict(attrs)
        self.ids += [found["id"]] if found.get("id") else []
        self.links += [value for key in ("href", "src", "xlink:href") if (value := found.get(key))]
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self.open.pop()

    def handle_endtag(self, tag: str) -> None:
        if tag not in VOID:
            assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.text.append(data)


@pytest.fixture(scope="module")
def answers(sloop: Rigging) -> dict[str, Answer]:
    return {"vane": verbs.vane(sloop)}


@pytest.fixture(scope="module")
def page(sloop: Rigging, answers: dict[str, Answer]) -> str:
    files = (ReportFile(name="parts.dxf", what="all parts at 1:1"),)
    return report_page(ReportContents(rigging=sloop, answers=answers, files=files))


@pytest.fixture(scope="module")
def read(page: str) -> Reader:
    reader = Reader()
    reader.feed(page)
    return reader


@pytest.mark.behaviour
def test_page_opens_offline(page: str, read: Reader) -> None:
    assert read.open == []
    assert "<script" not in page
    assert len(read.ids) == len(set(read.ids))
    inside = {f"#{one}" for one in read.ids}
    assert {link for link in read.links if not link.startswith("#")} == {"parts.dxf"}
    assert {link for link in read.links if link.startswith("#")} <= inside
    outside = set(re.findall(r"https?://[^\"'\s<)]+", page))
    assert all(address.startswith("http://www.w3.org/") for address in outside)  # names of SVG's own words, not links
    assert "@import" not in page
    assert "url(http" not in page


@pytest.mark.behaviour
def test_every_set_and_every_caution_is_on_it(sloop: Rigging, read: Reader) -> None:
    text = " ".join(read.text)
    for name in sloop.model.design.set_names():
        assert f"Set: {name}" in text
    for caution in verbs.vane(sloop).record()["sets"][0]["cautions"]:
        assert caution in text
    for word in ("measured", "given", "assumed", "default"):
        assert word in text


@pytest.mark.behaviour
def test_table_of_the_vane_is_the_records(answers: dict[str, Answer], page: str) -> None:
    record = answers["vane"].record()
    rows = re.findall(r'<tr><th scope="row">(0|[+-]\d+)</th>(.*?)</tr>', page)
    assert len(rows) == 24
    shown = {int(awa): re.findall(r'<td class="n">(.*?)</td>', cells) for awa, cells in rows}
    for awa, cells in shown.items():
        wanted = [next(r["clear_share"] for r in one["angles"] if r["awa_deg"] == awa) for one in record["sets"]]
        assert cells == [f"{100 * share:.0f}" for share in wanted]


@pytest.mark.property
def test_page_is_the_same_each_time(sloop: Rigging, answers: dict[str, Answer], page: str) -> None:
    files = (ReportFile(name="parts.dxf", what="all parts at 1:1"),)
    assert report_page(ReportContents(rigging=sloop, answers=answers, files=files)) == page


@pytest.mark.behaviour
def test_inputs_say_how_they_are_known(sloop: Rigging) -> None:
    source = sloop.model.source
    rows = {(row.part, row.key): row for row in input_rows(source, sloop.model.marks)}
    assert rows["hull", "flare"].standing == "assumed"
    assert rows["hull", "waterline"].standing == "given"
    assert rows["hull", "waterline"].value == "-0.44 m"
    fell_back = next(row for row in rows.values() if row.standing == "default" and row.note)
    assert fell_back.value
    text = source.text.replace('waterline = "-0.44 m"', 'waterline = "-0.46 m"').replace('flare = "9 deg"\n', "")
    text = text.replace('assumed = ["hull.flare", ', "assumed = [")
    other = parse_design(text, file="boat.toml", folder=source.folder)
    again = {(row.part, row.key): row for row in input_rows(other, sloop.model.marks)}
    assert again["hull", "waterline"].value == "-0.46 m"
    assert again["hull", "flare"].standing == "default"
    assert again["hull", "flare"].value == "8 deg"


@pytest.mark.behaviour
def test_answers_come_from_the_records() -> None:
    angles = [{"awa_deg": a, "clear_share": c} for a, c in ((-30, 0.9), (0, 0.1), (30, 0.4), (180, 1.0))]
    sunny = [{"name": "helm", "shade_share": 0.2}]
    places = [{"name": "helm", "shade_share": 0.5}, {"name": "helm, heads", "shade_share": 0.1}]
    records = {
        "vane": {"sets": [{"name": "tent", "angles": angles, "courses": []}]},
        "shade": {"sets": [{"name": "tent", "places": places}, {"name": "hood", "places": sunny}]},
        "buy": {"sets": [{"name": "tent", "cloth": [
            {"name": "acrylic", "area_m2": 2.0, "roll_length_m": 1.5, "mass_kg": 0.6}]}]},
    }  # fmt: skip
    asked = questions(records, close_hauled_deg=31)
    by_text = {one.text.split("?")[0]: one.answers for one in asked}
    vane = by_text["Does the vane still get its wind"]["tent"]
    assert vane.word == "unknown"
    assert "40 %" in vane.note  # the worse tack
    assert "least 10 %, with the wind at 0°" in vane.note
    assert by_text["Are the seats in shade"]["tent"].word == "50 %"
    assert "hood" not in by_text["How much cloth, and what does it weigh"]
    said = lead(asked, under_way=["tent", "hood"])
    assert "“tent” keeps most sun off the seats: 50 %, against 20 % with “hood”" in said[0]
    assert "not known from line of sight" in said[1]


@pytest.mark.behaviour
def test_roof_that_holds_no_water_and_is_close_says_why() -> None:
    worst = SimpleNamespace(mass=0.0, volume=0.0, where=None, lying="upright")
    roof = {
        "panel": "bimini", "worst": worst, "flattest": np.zeros(3), "flat_share": 1.0, "least_slope": 0.0,
        "drain": None, "factor": 0.26,
    }  # fmt: skip
    said = {}
    for stable in (False, True):
        check = ponding._one(SimpleNamespace(**roof, stable=stable))
        row = {key: getattr(check, key) for key in ("name", "value", "unit", "verdict", "note")}
        (one,) = questions({"fit": {"sets": [{"name": "tent", "checks": [row]}]}}, close_hauled_deg=31)[-1:]
        said[one.answers["tent"].word] = one.answers["tent"].note
    assert said == {
        "close": "standing water, bimini: 0 kg; soft: a puddle would sink it were water 0.26 times as heavy as it is; "
        "set it up harder",
        "pass": "standing water, bimini: 0 kg",
    }


@pytest.mark.behaviour
def test_the_vane_is_told_by_the_air_flow_where_it_was_solved_and_at_anchor_apart() -> None:
    def solved(name: str, *verdicts: str) -> dict[str, object]:
        rows = [
            {"name": course, "verdict": word} for course, word in zip(("reach", "at anchor"), verdicts, strict=True)
        ]
        return {"name": name, "angles": [{"awa_deg": 90}], "courses": rows}

    sight = [{"name": name, "angles": [{"awa_deg": 0, "clear_share": 0.4}], "courses": []} for name in ("tent", "hood")]
    records = {"vane": {"sets": sight}, "flow": {"sets": [solved("tent", "pass", "fail")]}}
    (asked,) = questions(records, close_hauled_deg=31)
    assert {name: cell.word for name, cell in asked.answers.items()} == {"tent": "pass", "hood": "unknown"}
    assert asked.answers["tent"].note == "reach pass, at anchor fail"
    assert asked.answers["hood"].note.startswith("by line of sight: ")
    assert "line of sight only" not in asked.text
    assert lead([asked], under_way=["tent", "hood"]) == (
        "By the air flow, an estimate, the vane steers on every course with “tent”.",
        "Only line of sight is known, until “canvas vane --method flow” solves the air, with “hood”.",
    )
    (asked,) = questions({"vane": {"sets": [solved("tent", "close", "pass")]}}, close_hauled_deg=31)
    assert asked.answers["tent"].word == "close"
    (asked,) = questions({"vane": {"sets": sight}}, close_hauled_deg=31)
    assert "“canvas vane --method flow”" in lead([asked], under_way=["tent", "hood"])[0]


@pytest.mark.behaviour
def test_when_it_must_come_down_is_when_to_begin_to_strike() -> None:
    weak = {"name": "roof, buckle", "limit_aws_kn_low": 16.2, "limit_aws_kn_high": 35.1}
    sets = [{"name": "tent", "parts": [weak], "strike_at_kn": 13.0},
            {"name": "hood", "parts": [{**weak, "limit_aws_kn_high": None}], "strike_at_kn": None}]  # fmt: skip
    (asked,) = questions({"loads": {"sets": sets}}, close_hauled_deg=31)
    assert asked.answers["tent"].word == "13 kn"
    assert asked.answers["tent"].note.endswith("first to go, at 16 to 35 kn: roof, buckle")
    assert asked.answers["hood"].word == "unknown"
    assert "at 16 kn or more: roof" in asked.answers["hood"].note


@pytest.mark.behaviour
def test_a_verdict_is_never_better_than_its_worst_part() -> None:
    assert worst(["pass", "close", "fail"]) == "fail"
    assert worst(["pass", "unknown", "close"]) == "unknown"
    assert worst([]) == "unknown"


@pytest.mark.analytic
def test_wetted_share_is_meant_over_wind_speeds() -> None:
    rows = [
        {"awa_deg": 30, "aws_kn": k, "places": [{"name": "helm", "wetted_share": w}]} for k, w in ((10, 0.2), (20, 0.4))
    ]
    assert wetted(rows, "helm") == [{"awa_deg": 30.0, "mean": pytest.approx(0.3), "low": 0.2, "high": 0.4}]


@pytest.mark.behaviour
def test_heads_carry_units_and_unknown_is_a_dash() -> None:
    assert head("limit_aws_kn_low") == "limit apparent wind, kn, low"
    assert head("area_m2") == "area, m²"
    assert head("shade_share") == "shade, %"
    assert head("aloft_moment_kgm") == "aloft moment, kg m"
    assert cell("mass_kg", None) == "–"
    assert cell("lowest_tws_kn", 8.6207) == "8.6"
    assert cell("turn_deg", -0.06) == "0"
    assert cell("shade_share", 0.256) == "26"


@pytest.mark.behaviour
def test_markup_escapes_and_keeps_names_in_plots_apart() -> None:
    assert element("p", "a < b & c") == "<p>a &lt; b &amp; c</p>"
    assert "&lt;b&gt;" in table([Column(head="<b>")], [["<b>"]])
    inner = '<path id="a"/><use xlink:href="#a"/><g clip-path="url(#a)"/>'
    svg = f'<?xml version="1.0"?><svg width="10pt" height="5pt">{inner}</svg>'
    shown = plot(svg, key="k")
    assert 'id="k-a"' in shown
    assert 'xlink:href="#k-a"' in shown
    assert "url(#k-a)" in shown
    assert "<?xml" not in shown


@pytest.mark.behaviour
def test_pictures_are_written_where_asked(sloop: Rigging, answers: dict[str, Answer], tmp_path) -> None:
    written = write_pictures(answers["vane"], tmp_path)
    assert [path.name for path in written] == ["vane-clear-share.svg"]
    assert written[0].read_text(encoding="utf-8").count("<svg") == 1


@pytest.mark.parametrize(
    ("said", "shown"),
    [
        ("all winds 33 % wet", "all winds 33\u00a0% wet"),
        ("measured ± 5.9 mm", "measured ±\u00a05.9\u00a0mm"),
        ("6 ft 2 1/2 in & more", "6\u00a0ft 2\u00a01/2\u00a0in &amp; more"),
        ("1.2 m², 50 N/m, 5 mm/h, 12 kn", "1.2\u00a0m², 50\u00a0N/m, 5\u00a0mm/h, 12\u00a0kn"),
        ("3 marks, 4 knots, 2 metres", "3 marks, 4 knots, 2 metres"),
    ],
)
@pytest.mark.analytic
def test_a_number_keeps_its_unit_on_its_line(said: str, shown: str) -> None:
    assert text(said) == shown
    assert element("td", text(said)) == f"<td>{shown}</td>"

"""Write the report: one HTML page that opens offline, the answers first.

Computes: nothing; lays out records, drawings and plots.
Units: as the records' keys end, said in every head.
Source: none.
Limits: no script and no link outside; plots and drawings stand in the page, files beside it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from importlib.resources import files as resources
from typing import Any

from canvas.brief.answer import Answer
from canvas.brief.cautions import cautions_for
from canvas.brief.drawing import Drawing
from canvas.brief.inputs import InputRow, input_rows
from canvas.brief.markup import SIGNS, Column, Html, badge, drawing, element, items, join, plot, standing, table
from canvas.brief.pictures import VIEWS, drafter_of, pictures
from canvas.brief.recordtables import record_tables
from canvas.brief.verdicts import FLOW, Question, lead, questions
from canvas.cloth.rigging import Rigging
from canvas.design.problems import Problem
from canvas.design.schema.design import BARE, Design
from canvas.design.schema.rig import PanelUp
from canvas.jobs.files import slug

EVIDENCE = ("vane", FLOW, "rain", "shade", "fit", "loads")  # told before the sets are drawn; the rest after
TOLD = ("fit",)  # better told in tables than drawn
SECTIONS: Mapping[str, tuple[str, str]] = {
    "vane": ("Wind at the vane", "How much of the air blade has a clear line upwind, by apparent wind angle."),
    FLOW: ("Air flow at the vane", "What the blade feels of the wind, by runs of the air flow that were made before."),
    "rain": ("Rain", "Share of each place that driving rain wets, by apparent wind angle."),
    "shade": ("Shade", "Share of each place out of direct sun; heads are at the height of a sitting head."),
    "fit": ("Room, sight and handling", "Headroom, look-out, winches, boom, ways out."),
    "loads": ("Loads", "The wind at which each part reaches its limit, weakest first."),
    "cut": ("Parts to cut", "Flat sizes and how each edge is cut; the DXF files beside this page are at 1:1."),
    "buy": ("What to buy", "By the home set of each new panel, so that sums over sets are totals."),
    "survey": ("Measuring", "The marks as the readings put them, and the readings most likely wrong."),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportFile:
    """A file beside the page: its name in the same folder and what it holds."""

    name: str
    what: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ReportContents:
    """All that a report shows.

    Attributes
    ----------
    rigging : Rigging
        The boat.
    answers : mapping of str to Answer
        By verb, and of the air flow that was solved before by `FLOW`; what is absent leaves its section out.
    files : tuple of ReportFile
        Written beside the page.
    problems : tuple of Problem
        Warnings and notes about the design.
    """

    rigging: Rigging
    answers: Mapping[str, Answer]
    files: tuple[ReportFile, ...] = ()
    problems: tuple[Problem, ...] = ()

    @property
    def design(self) -> Design:
        """The design reported."""
        return self.rigging.model.design


def report_page(contents: ReportContents) -> str:
    """Return the page as text.

    Raises
    ------
    CouldNot
        When a set's canvas has no shape in balance.
    """
    design = contents.design
    records = {verb: answer.record() for verb, answer in contents.answers.items()}
    asked = questions(records, close_hauled_deg=math.degrees(design.sailing.close_hauled_awa))
    sections = [verb for verb in SECTIONS if verb in contents.answers]
    body = [
        _header(design),
        _contents_list(sections, design),
        element(
            "main",
            _verdict(asked, design),
            _problems(contents.problems),
            *(_section(verb, contents.answers[verb], records[verb]) for verb in sections if verb in EVIDENCE),
            *_sets(contents),
            *(_section(verb, contents.answers[verb], records[verb]) for verb in sections if verb not in EVIDENCE),
            _inputs(contents),
            _log(design),
            _files(contents.files),
        ),
        _footer(contents),
    ]
    style = resources("canvas.brief").joinpath("page.css").read_text(encoding="utf-8")
    head = element(
        "head",
        Html('<meta charset="utf-8">'),
        Html('<meta name="viewport" content="width=device-width, initial-scale=1">'),
        element("title", f"{design.name}: cockpit canvas report"),
        element("style", Html(style)),
    )
    return f"<!DOCTYPE html>\n{element('html', head, element('body', join(body)), lang='en')}\n"


def _header(design: Design) -> Html:
    sets = len([name for name in design.set_names() if name != BARE])
    return element(
        "header",
        element("h1", design.name),
        element("p", f"Cockpit canvas, revision {design.revision}: {sets} sets compared.", class_="sub"),
    )


def _contents_list(sections: Sequence[str], design: Design) -> Html:
    links = [("#first", "Answers"), *((f"#{verb}", SECTIONS[verb][0]) for verb in sections if verb in EVIDENCE)]
    links += [(f"#{slug('set', name)}", f"Set: {name}") for name in design.set_names()]
    links += [(f"#{verb}", SECTIONS[verb][0]) for verb in sections if verb not in EVIDENCE]
    links += [("#inputs", "What it rests on"), ("#files", "Files")]
    return element("nav", items(element("a", said, href=link) for link, said in links))


def _verdict(asked: Sequence[Question], design: Design) -> Html:
    names = [name for name in design.set_names() if any(name in question.answers for question in asked)]
    rows = [[question.text, *(_cell(question, name) for name in names)] for question in asked]
    columns = [Column(head=""), *(Column(head=name) for name in names)]
    under_way = [name for name in names if name != BARE and "under way" in design.set_named(name).used]
    said = lead(asked, under_way=under_way)
    warnings = cautions_for("report")
    return element(
        "section",
        element("h2", "Answers first"),
        *(element("p", sentence, class_="lead") for sentence in said),
        element("div", table(columns, rows), class_="verdicts"),
        element("div", items(warnings), class_="warn"),
        id="first",
    )


def _cell(question: Question, name: str) -> Html:
    cell = question.answers.get(name)
    if cell is None:
        return element("div", element("span", "–"), data_set=name)
    word = badge(cell.word) if cell.word in SIGNS else element("strong", cell.word)
    return element("div", word, element("small", cell.note) if cell.note else "", data_set=name)


def _problems(problems: Sequence[Problem]) -> Html:
    shown = [problem for problem in problems if problem.severity != "error"]
    if not shown:
        return Html("")
    told = [f"{one.key or one.file}: {one.found}. {one.wanted}" for one in shown]
    return element("details", element("summary", f"{len(told)} notes on the design"), items(told))


def _sets(contents: ReportContents) -> list[Html]:
    drafter = drafter_of(contents.rigging)
    parts = []
    for name in contents.design.set_names():
        scene = contents.rigging.rig(name).scene
        drawings = [drafter.view(scene, view) for view in VIEWS]
        parts.append(_set(contents, name, drawings))
    return parts


def _set(contents: ReportContents, name: str, drawings: Sequence[Drawing]) -> Html:
    design = contents.design
    used = " and ".join(design.set_named(name).used)
    ups = design.panels_up(name)
    about = "No canvas up; existing canvas is down too." if name == BARE else f"Used {used}."
    rig = contents.rigging.rig(name)
    rows = [
        [
            up.panel,
            "aboard" if design.panel_named(up.panel).existing else "new",
            design.panel_named(up.panel).cloth or "",
            f"{rig.formed.panel(up.panel).area():.2f}",
            _state(up),
        ]
        for up in ups
    ]
    columns = [Column(head="panel"), Column(head=""), Column(head="cloth"), Column(head="area, m²", numbers=True),
               Column(head="state")]  # fmt: skip
    return element(
        "section",
        element("h2", f"Set: {name}"),
        element("p", about),
        element("div", *(drawing(one) for one in drawings), class_="views"),
        table(columns, rows) if rows else "",
        class_="set",
        id=slug("set", name),
    )


def _state(up: PanelUp) -> str:
    states = []
    if up.window != "closed":
        states.append(f"window {up.window}")
    if up.zip > 0:
        states.append(f"zip {100 * up.zip:.0f} % open")
    return ", ".join(states)


def _section(verb: str, answer: Answer, record: Mapping[str, Any]) -> Html:
    title, about = SECTIONS[verb]
    shown = pictures(answer) if verb not in TOLD else ()
    figures = [plot(one.svg, key=one.name, caption=one.title) for one in shown]
    sentences = [element("p", record["sentence"])] if record.get("sentence") else []
    sentences += [
        element("p", element("strong", f"{one['name']}: "), one["sentence"])
        for one in record["sets"]
        if one.get("sentence")
    ]
    told = [caution for caution in cautions_for(verb) if caution not in cautions_for("report")]
    return element(
        "section",
        element("h2", title),
        element("p", about),
        *sentences,
        *figures,
        *record_tables(answer.verb, record),
        element("div", items(told), class_="warn") if told else "",
        id=verb,
    )


def _inputs(contents: ReportContents) -> Html:
    rows = input_rows(contents.rigging.model.source, contents.rigging.model.marks)
    counts = {word: sum(row.standing == word for row in rows) for word in ("measured", "given", "assumed", "default")}
    told = [
        join([standing(word), f" {counts[word]}: {meaning}"], "")
        for word, meaning in (
            ("measured", "found from readings, with how well it is known"),
            ("given", "typed in by the crew"),
            ("assumed", "guessed, and said to be in the file"),
            ("default", "not given: the program's own value, from the source beside it"),
        )
    ]
    weak = [row for row in rows if row.standing == "assumed"]
    groups: dict[str, list[InputRow]] = {}
    for row in rows:
        groups.setdefault(row.part, []).append(row)
    details = [
        element("details", element("summary", f"{part} ({len(group)})"), _input_table(group))
        for part, group in groups.items()
    ]
    return element(
        "section",
        element("h2", "What it rests on"),
        items(told),
        element("h3", "Assumed") if weak else "",
        _input_table(weak, parts=True) if weak else "",
        element("h3", "Every input"),
        *details,
        id="inputs",
    )


def _input_table(rows: Sequence[InputRow], *, parts: bool = False) -> Html:
    columns = [Column(head="input"), Column(head="value"), Column(head="how known"), Column(head="source")]
    return table(
        columns,
        [[f"{row.part}: {row.key}" if parts else row.key, row.value, standing(row.standing), row.note] for row in rows],
    )


def _log(design: Design) -> Html:
    if not design.decision:
        return Html("")
    entries = [
        part
        for one in design.decision
        for part in (element("dt", f"{one.date}: {one.what}"), element("dd", f"because {one.why}"))
    ]
    return element("section", element("h2", "Decided so far"), element("dl", *entries, class_="log"))


def _files(files: Sequence[ReportFile]) -> Html:
    if not files:
        return Html("")
    links = [join([element("a", one.name, href=one.name), f": {one.what}"], "") for one in files]
    return element("section", element("h2", "Files beside this page"), items(links), id="files")


def _footer(contents: ReportContents) -> Html:
    source = contents.rigging.model.source
    said = f"Made from a design file with the hash {source.sha256[:16]}; the same file gives this page again."
    return element("footer", element("p", said))

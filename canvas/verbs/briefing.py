"""Answer what a maker asks for on paper: the brief.

Computes: drawings, schedules, acceptance checks, what is final and what is fitted on board, as one document.
Units: SI and radians in and out; records carry their units in their keys.
Source: the layers below.
Limits: uses saved flow runs, never starts one; parts that cannot be cut are said, not hidden.
"""

from __future__ import annotations

from collections.abc import Sequence

from canvas.brief.answer import Answer
from canvas.brief.maker import BriefContents, maker_brief
from canvas.brief.paper import paper_of, pdf_of
from canvas.brief.records import Record
from canvas.brief.records import making as making_records
from canvas.brief.verdicts import FLOW
from canvas.brief.webpage import html_of
from canvas.cloth.rigging import Rigging
from canvas.cutting.ordered import cut_result
from canvas.cutting.result import CutResult
from canvas.design.problems import DesignError, Problem
from canvas.jobs.files import renamed
from canvas.jobs.progress import SILENT, Progress
from canvas.materials.quantities import take_off
from canvas.verbs.asking import DesignLike, rigging_of
from canvas.verbs.making import to_carry
from canvas.verbs.safety import fit
from canvas.verbs.wind import vane, vane_kept


def brief(
    design: DesignLike,
    *,
    paper: str | None = None,
    units: str | None = None,
    name: str = "brief.pdf",
    progress: Progress = SILENT,
) -> Answer:
    """Write the maker's brief: drawings, schedules, acceptance checks, what is final and what is fitted on board.

    Parameters
    ----------
    design : path, Source or Rigging
    paper : str, optional
        ``A4`` or ``Letter``; the shop's own where absent.
    units : str, optional
        ``m``, ``mm``, ``ft`` or ``in``; the design's own where absent.
    name : str
        Of the file; the same brief goes beside it as a page for a browser.
    progress : Progress
    """
    rigging = rigging_of(design)
    steps = 3
    progress.step("cutting", 0, steps)
    result, problems = _cut_or_problems(rigging)
    takes = () if result is None else take_off(result, rigging.model.design, tubes=rigging.model.tubes)
    progress.step("checking", 1, steps)
    homes = [one.set_name for one in takes]
    records = {verb: _that_apply(answer.record()) for verb, answer in _asked(rigging, homes).items()}
    carried = None if result is None else making_records.carried_record(to_carry(rigging, result, takes))
    progress.step("drawing", 2, steps)
    contents = BriefContents(rigging=rigging, cut=result, takes=takes, records=records, carried=carried)
    size = paper_of(rigging.model.design.shop, paper)
    document = maker_brief(contents, paper=size, units=units)
    page = renamed(name, "html")
    return Answer(
        verb="brief",
        rigging=rigging,
        results=dict.fromkeys(rigging.model.design.set_names()),
        files={name: pdf_of(document, paper=size), page: html_of(document).encode("utf-8")},
        problems=problems,
        writer=making_records.brief_record,
    )


def _cut_or_problems(rigging: Rigging) -> tuple[CutResult | None, tuple[Problem, ...]]:
    """Return the panels cut, or why they cannot be: a brief is wanted then too, to talk about it."""
    try:
        result = cut_result(rigging)
    except DesignError as refused:
        return None, refused.problems
    return result, result.cautions


def _asked(rigging: Rigging, sets: Sequence[str]) -> dict[str, Answer]:
    """Return the answers that a fitting is accepted by, for the sets that get new canvas; at anchor no vane steers."""
    if not sets:
        return {}
    asked = {"fit": fit(rigging, sets=sets)}
    sailed = [name for name in sets if "under way" in rigging.model.design.set_named(name).used]
    if sailed:
        asked["vane"] = vane(rigging, sets=sailed)
        solved = vane_kept(rigging, sets=sailed)
        asked |= {} if solved is None else {FLOW: solved}
    return asked


def _that_apply(record: Record) -> Record:
    """Return a record without the checks that do not apply to their set."""
    sets = [
        {**one, "checks": [check for check in one.get("checks", ()) if check["verdict"] != "not applicable"]}
        for one in record["sets"]
    ]
    return {**record, "sets": sets}

"""Answer what the maker asks: flat parts and what to buy.

Computes: every new panel cut in its home set, files for the maker, quantities and cost.
Units: SI and radians in and out; records carry their units in their keys.
Source: the layers below.
Limits: nothing is printed or drawn here but the files that `cut` is asked for.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from pathlib import Path

from canvas.brief.answer import Answer
from canvas.brief.maker import BriefContents, maker_brief
from canvas.brief.paper import pdf_of
from canvas.brief.records import Record
from canvas.brief.records import making as making_records
from canvas.brief.webpage import html_of
from canvas.cloth.rigging import Rigging
from canvas.cutting.changes import changes_since
from canvas.cutting.cut import CutOptions, cut_panels
from canvas.cutting.files import cut_files
from canvas.cutting.finish import Finish, read_finishes, with_allowance
from canvas.cutting.gather import gather
from canvas.cutting.result import CutResult
from canvas.design.problems import DesignError, Problem
from canvas.jobs.progress import SILENT, Progress
from canvas.materials.cost import bill
from canvas.materials.quantities import take_off
from canvas.verbs.asking import DesignLike, chosen_sets, rigging_of
from canvas.verbs.safety import fit
from canvas.verbs.wind import vane


def cut(
    design: DesignLike,
    *,
    out: Path | None = None,
    sets: Sequence[str] | None = None,
    trial: bool = False,
    against: Path | None = None,
    better_nest: Path | None = None,
) -> Answer:
    """Cut every new panel in its home set: flat parts with allowances, marks and labels, laid on the roll.

    Parameters
    ----------
    design : path, Source or Rigging
    out : Path, optional
        Folder for the DXF, SVG and PDF files; where absent they stay in the answer, see `Answer.save`.
    sets : sequence of str, optional
        Only panels whose home set is one of these.
    trial : bool
        A trial piece: margins left on, no compensation.
    against : Path, optional
        Folder of an earlier cut: what changed since is drawn too.
    better_nest : Path, optional
        Folder of saved layouts: nest closer, which takes half a minute a cloth the first time.

    Raises
    ------
    DesignError
        With every part that cannot be cut, and what to change.
    """
    rigging = rigging_of(design)
    names = chosen_sets(rigging, sets, bare=False)
    result = cut_result(rigging, trial=trial, better_nest=better_nest)
    changes = None if against is None else changes_since(result, against)
    papers = (rigging.model.design.shop.paper,)
    files = cut_files(result, papers=papers, finishes=shop_finishes(rigging), earlier=against)
    answer = Answer(
        verb="cut",
        rigging=rigging,
        results=dict.fromkeys(names, result),
        files={file.name: file.content for file in files},
        problems=result.cautions,
        writer=partial(making_records.cut_record, changes=changes),
    )
    if out is not None:
        answer.save(out)
    return answer


def shop_finishes(rigging: Rigging) -> dict[str, Finish]:
    """Return the edge finishes with the allowances of the design's shop."""
    own = rigging.model.design.shop.allowance
    return {name: with_allowance(f, own[name]) if name in own else f for name, f in read_finishes().items()}


def cut_result(rigging: Rigging, *, trial: bool = False, better_nest: Path | None = None) -> CutResult:
    """Return all new panels of a boat cut; see `cut`."""
    shop = rigging.model.design.shop
    gathered = gather(rigging)
    widths = {} if shop.roll_width is None else {panel.cloth.name: shop.roll_width for panel in gathered.panels}
    options = CutOptions(
        revision=rigging.model.design.revision,
        roll_widths=widths,
        seams={name: (points,) for name, points in gathered.seam_points.items()},
        trial=trial,
        closer=better_nest,
    )
    return cut_panels(gathered.panels, gathered.joints, finishes=shop_finishes(rigging), options=options)


def buy(
    design: DesignLike,
    *,
    sets: Sequence[str] | None = None,
    rate: float | None = None,
    result: CutResult | None = None,
) -> Answer:
    """Count cloth, zips, tapes, fastenings, thread, weight, labour and cost of the new panels, by home set.

    Parameters
    ----------
    design : path, Source or Rigging
    sets : sequence of str, optional
    rate : float, optional
        Of an hour in the shop, in the design's currency.
    result : CutResult, optional
        The panels, where they were cut already.
    """
    rigging = rigging_of(design)
    names = chosen_sets(rigging, sets, bare=False)
    plan = rigging.model.design
    takes = take_off(result if result is not None else cut_result(rigging), plan, tubes=rigging.model.tubes)
    results = {take.set_name: (take, bill(take, plan, rate=rate)) for take in takes if take.set_name in names}
    return Answer(
        verb="buy",
        rigging=rigging,
        results={name: results.get(name) for name in names},
        writer=making_records.buy_record,
    )


def brief(
    design: DesignLike,
    *,
    paper: str = "A4",
    units: str | None = None,
    name: str = "brief.pdf",
    progress: Progress = SILENT,
) -> Answer:
    """Write the maker's brief: drawings, schedules, acceptance checks, what is final and what is fitted on board.

    Parameters
    ----------
    design : path, Source or Rigging
    paper : str
        ``A4`` or ``Letter``.
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
    progress.step("drawing", 2, steps)
    contents = BriefContents(rigging=rigging, cut=result, takes=takes, records=records)
    document = maker_brief(contents, paper=paper, units=units)
    page = f"{name.rpartition('.')[0] or name}.html"
    return Answer(
        verb="brief",
        rigging=rigging,
        results=dict.fromkeys(rigging.model.design.set_names()),
        files={name: pdf_of(document, paper=paper), page: html_of(document).encode("utf-8")},
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
    """Return the answers that a fitting is accepted by, for the sets that get new canvas."""
    return {"fit": fit(rigging, sets=sets), "vane": vane(rigging, sets=sets)} if sets else {}


def _that_apply(record: Record) -> Record:
    """Return a record without the checks that do not apply to their set."""
    sets = [
        {**one, "checks": [check for check in one.get("checks", ()) if check["verdict"] != "not applicable"]}
        for one in record["sets"]
    ]
    return {**record, "sets": sets}

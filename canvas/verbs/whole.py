"""Answer the whole job in one go.

Computes: every verb's answer for every set, and the report page with the files beside it.
Units: SI and radians in and out; records carry their units in their keys.
Source: the layers below.
Limits: uses saved flow runs, never starts one; parts that cannot be cut are said on the page, not hidden.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

from canvas.brief.answer import Answer
from canvas.brief.page import ReportContents, ReportFile, report_page
from canvas.brief.records.whole import report_record
from canvas.cutting.result import CutResult
from canvas.design.problems import DesignError, Problem
from canvas.jobs.progress import SILENT, Progress
from canvas.materials.order import order_csv
from canvas.verbs.asking import DesignLike, chosen_sets, rigging_of
from canvas.verbs.boat import check, survey
from canvas.verbs.making import buy, cut
from canvas.verbs.safety import fit, loads
from canvas.verbs.sky import rain, shade
from canvas.verbs.wind import vane

PAGE = "report.html"


def report(
    design: DesignLike,
    *,
    out: Path | None = None,
    sets: Sequence[str] | None = None,
    progress: Progress = SILENT,
) -> Answer:
    """Answer every verb for every set and lay it out on one page, with the cut files and tables beside it.

    Parameters
    ----------
    design : path, Source or Rigging
    out : Path, optional
        Folder for the files; where absent they stay in the answer, see `Answer.save`.
    sets : sequence of str, optional
    progress : Progress

    Raises
    ------
    DesignError
        With every problem of the design.
    """
    rigging = rigging_of(design)
    names = chosen_sets(rigging, sets)
    answers: dict[str, Answer] = {}
    steps: Mapping[str, Callable[[], Answer]] = {
        "check": lambda: check(rigging, sets=names),
        "vane": lambda: vane(rigging, sets=names),
        "shade": lambda: shade(rigging, sets=names),
        "rain": lambda: rain(rigging, sets=names),
        "fit": lambda: fit(rigging, sets=names),
        "loads": lambda: loads(rigging, sets=names),
        "survey": lambda: survey(rigging),
    }
    for number, (verb, ask) in enumerate(steps.items()):
        progress.step(verb, number, len(steps) + 1)
        answers[verb] = ask()
    progress.step("cut", len(steps), len(steps) + 1)
    problems = list(answers["check"].problems)
    files: dict[str, bytes] = {}
    try:
        answers["cut"] = cut(rigging, sets=names)
    except DesignError as refused:
        problems += refused.problems
    else:
        result: CutResult = next(iter(answers["cut"].results.values()))
        answers["buy"] = buy(rigging, sets=names, result=result)
        files = dict(answers["cut"].files)
        takes = [take for take, _ in filter(None, answers["buy"].results.values())]
        files["to-buy.csv"] = order_csv(takes).encode("utf-8")
        problems += result.cautions
    for verb, answer in answers.items():
        text = json.dumps(answer.record(), ensure_ascii=False, allow_nan=False, separators=(",", ":"))
        files[f"{verb}.json"] = f"{text}\n".encode()
    page = report_page(
        ReportContents(
            rigging=rigging,
            answers={verb: answer for verb, answer in answers.items() if verb != "check"},
            files=tuple(ReportFile(name=name, what=_what(name)) for name in files),
            problems=_once(problems),
        )
    )
    answer = Answer(
        verb="report",
        rigging=rigging,
        results=answers["check"].results,
        top=answers,
        files={PAGE: page.encode("utf-8"), **files},
        problems=_once(problems),
        writer=report_record,
    )
    if out is not None:
        answer.save(out)
    return answer


def _once(problems: Sequence[Problem]) -> tuple[Problem, ...]:
    return tuple(dict.fromkeys(problems))


def _what(name: str) -> str:
    """Return what a file beside the page holds."""
    kinds = {
        "strain.svg": "how far flat cloth must stretch, by part",
        "sections.svg": "edges and seams in section",
        "sewing-order.txt": "the order to sew in",
        "parts.json": "this cut's parts, to compare a later cut with",
        "-nest.dxf": "parts as they lie on the roll",
        "-numbered.dxf": "parts, layers by ASTM D6673 number",
        "net.dxf": "finished outlines without allowances",
        ".dxf": "parts at 1:1, layers by name",
        ".svg": "the roll, as a picture",
        ".pdf": "parts at 1:1 on pages",
        ".csv": "what to buy",
        ".json": "this page's numbers, for programs",
    }
    return next((what for ending, what in kinds.items() if name.endswith(ending)), "notes for the maker")

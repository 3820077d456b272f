"""Answer the whole job in one go.

Computes: every verb's answer for every set, and the report page with the files beside it.
Units: SI and radians in and out; records carry their units in their keys.
Source: the layers below.
Limits: uses saved flow runs, never starts one; parts that cannot be cut are said on the page, not hidden.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any

from canvas.brief.answer import Answer
from canvas.brief.page import ReportContents, ReportFile, report_page
from canvas.brief.records.whole import report_record
from canvas.brief.verdicts import FLOW
from canvas.cloth.rigging import Rigging
from canvas.cutting.result import CutResult
from canvas.design.problems import DesignError, Problem
from canvas.design.reading import Source
from canvas.jobs.beside import Beside
from canvas.jobs.progress import SILENT, Progress
from canvas.jobs.shelf import Shelf
from canvas.materials.order import order_csv
from canvas.verbs.asking import DesignLike, chosen_sets, rigging_of
from canvas.verbs.boat import check, survey
from canvas.verbs.making import buy, cut
from canvas.verbs.safety import fit
from canvas.verbs.sky import rain, shade
from canvas.verbs.strength import loads
from canvas.verbs.wind import vane, vane_kept

PAGE = "report.html"

Task = tuple[Source | Rigging, Shelf | None, Sequence[str]]  # a boat, its shelf, and the sets asked about
HERE: Mapping[str, Callable[[Rigging, Sequence[str]], Answer]] = {  # what the process that asks works out itself
    "check": lambda rigging, names: check(rigging, sets=names),
    "vane": lambda rigging, names: vane(rigging, sets=names),
    "shade": lambda rigging, names: shade(rigging, sets=names),
    "rain": lambda rigging, names: rain(rigging, sets=names),
    "survey": lambda rigging, _: survey(rigging),
}


def report(
    design: DesignLike,
    *,
    out: Path | None = None,
    sets: Sequence[str] | None = None,
    cores: int = 1,
    progress: Progress = SILENT,
) -> Answer:
    """Answer every verb for every set and lay it out on one page, with the cut files and tables beside it.

    Parameters
    ----------
    design : path, Source or Rigging
    out : Path, optional
        Folder for the files; where absent they stay in the answer, see `Answer.save`.
    sets : sequence of str, optional
    cores : int
        With two or more, half of the work is done in a process of its own; whoever asks for it from a script of
        their own keeps it under ``if __name__ == "__main__"``.
    progress : Progress

    Raises
    ------
    DesignError
        With every problem of the design.
    """
    rigging = rigging_of(design)
    names = chosen_sets(rigging, sets)
    answers: dict[str, Answer] = {}
    apart = cores > 1 and not isinstance(design, Rigging)
    task: Task = (rigging, rigging.shelf, names)
    with Beside(_strength_and_parts, task, sent=(rigging.model.source, rigging.shelf, names), apart=apart) as beside:
        for number, (verb, ask) in enumerate(HERE.items()):
            progress.step(verb, number, len(HERE) + 1)
            answers[verb] = ask(rigging, names)
        solved = vane_kept(rigging, sets=names)
        answers |= {} if solved is None else {FLOW: solved}
        progress.step("fit, loads and cut", len(HERE), len(HERE) + 1)
        rest = beside.result()
    answers |= {verb: Answer(rigging=rigging, **parts) for verb, parts in rest.parts.items()}
    problems = _once([*answers["check"].problems, *rest.problems])
    files = _files(answers)
    contents = ReportContents(
        rigging=rigging,
        answers={verb: answer for verb, answer in answers.items() if verb != "check"},
        files=tuple(ReportFile(name=name, what=_what(name)) for name in files),
        problems=problems,
    )
    answer = Answer(
        verb="report",
        rigging=rigging,
        results=answers["check"].results,
        top=answers,
        files={PAGE: report_page(contents).encode("utf-8"), **files},
        problems=problems,
        writer=report_record,
    )
    if out is not None:
        answer.save(out)
    return answer


def _files(answers: Mapping[str, Answer]) -> dict[str, bytes]:
    """Return the files beside the page: those of cutting, the list to buy from, each verb's record."""
    files: dict[str, bytes] = {}
    if "cut" in answers:
        files = dict(answers["cut"].files)
        takes = [take for take, _ in filter(None, answers["buy"].results.values())]
        files["to-buy.csv"] = order_csv(takes).encode("utf-8")
    for verb, answer in answers.items():
        text = json.dumps(answer.record(), ensure_ascii=False, allow_nan=False, separators=(",", ":"))
        files[f"{verb}.json"] = f"{text}\n".encode()
    return files


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StrengthAndParts:
    """Answers about strength and parts, without the boat, which does not travel between processes.

    Attributes
    ----------
    parts : mapping of str to mapping
        By verb, the fields of its `Answer`.
    problems : tuple of Problem
        Of cutting, or why nothing could be cut.
    """

    parts: Mapping[str, Mapping[str, Any]]
    problems: tuple[Problem, ...]


def _strength_and_parts(asked: Task) -> StrengthAndParts:
    """Answer what needs no map of the sky, for a design and some of its sets."""
    design, shelf, names = asked
    rigging = rigging_of(design, shelf=shelf)
    answers = [fit(rigging, sets=names), loads(rigging, sets=names)]
    problems: tuple[Problem, ...] = ()
    try:
        cuts = cut(rigging, sets=names)
    except DesignError as refused:
        problems = refused.problems
    else:
        result: CutResult = next(iter(cuts.results.values()))
        answers += [cuts, buy(rigging, sets=names, result=result if rigging.shelf is None else None)]
        problems = tuple(result.cautions)
    parts = {
        answer.verb: {one.name: getattr(answer, one.name) for one in fields(answer) if one.name != "rigging"}
        for answer in answers
    }
    return StrengthAndParts(parts=parts, problems=problems)


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

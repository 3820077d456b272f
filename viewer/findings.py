"""List what `check` and `fit` found, each with the place that it is about.

Computes: the part or the points that a finding names.
Units: metres, boat frame; the boat's own and per cent in words.
Source: none.
Limits: a finding about the file as a whole has no place in the picture.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from canvas.brief.answer import Answer
from canvas.brief.markup import unbroken
from canvas.brief.verdicts import place_in_list
from canvas.cloth.rigging import Rigging
from canvas.design.problems import Problem
from canvas.design.units import length_text
from canvas.fit.result import CheckResult
from canvas.geometry.surface import Floats
from viewer import handles

NOWHERE: Floats = np.zeros((0, 3))
TONES = {"pass": "good", "close": "close", "fail": "bad", "unknown": "unknown"}
WORDS = {"error": "wrong", "warning": "odd", "note": "note"}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Found:
    """One finding.

    Attributes
    ----------
    said : str
        In a sentence.
    word : str
        Verdict, or how grave it is.
    tone : str
    value, limit : str
        With their unit, the limit with "at least" or "at most"; empty where there are none.
    name : str or None
        Surface or panel of the picture that it is about.
    part : str
        Key of the part that can be changed; empty for none.
    points : (n, 3) ndarray
        Where in the picture [m].
    """

    said: str
    word: str
    tone: str
    value: str = ""
    limit: str = ""
    name: str | None = None
    part: str = ""
    points: Floats

    def as_dict(self) -> dict[str, Any]:
        """Return the finding for the page."""
        leads = bool(self.name or self.part or len(self.points))
        return {
            "said": unbroken(self.said), "word": self.word, "tone": self.tone, "value": unbroken(self.value),
            "limit": unbroken(self.limit), "leads": leads,
        }  # fmt: skip


def of_design(rigging: Rigging, problems: Iterable[Problem]) -> tuple[Found, ...]:
    """Return what `check` lists of the design itself."""
    return tuple(_of_problem(rigging, one) for one in problems)


def problem_said(problem: Problem) -> str:
    """Return a complaint as a page says it that knows its file."""
    place = [f"line {problem.line}"] if problem.line is not None else []
    return ": ".join([*place, *filter(None, [problem.key]), f"{problem.found}. {problem.wanted}"])


def _of_problem(rigging: Rigging, problem: Problem) -> Found:
    said = problem_said(problem)
    key = _part_in(rigging, problem.key)
    name = handles.name_of(rigging, key) if key else None
    tone = {"error": "bad", "warning": "close"}.get(problem.severity, "unknown")
    return Found(said=said, word=WORDS[problem.severity], tone=tone, name=name, part=key, points=NOWHERE)


def _part_in(rigging: Rigging, text: str) -> str:
    """Return the key of the part that a place in the file names; empty for none."""
    match = re.match(r'(panel|tube|solid|set) "([^"]+)"', text)
    if match:
        return handles.part_named(rigging, match[2]) or ""
    mark = re.match(r"marks\.([\w-]+)", text)
    return f"marks:{mark[1]}" if mark and mark[1] in rigging.model.design.marks else ""


def of_fit(rigging: Rigging, answer: Answer, set_name: str) -> tuple[Found, ...]:
    """Return the checks of a set that apply, as they are listed, each with the points where it was found."""
    rows = [one for one in answer.results[set_name] if one.verdict != "not applicable"]
    return tuple(_of_check(rigging, one) for one in sorted(rows, key=lambda one: place_in_list(one.verdict)))


def _of_check(rigging: Rigging, check: CheckResult) -> Found:
    picture = check.picture
    blocks = [picture.points, *picture.lines, *picture.regions]
    points = np.vstack([np.reshape(block, (-1, 3)) for block in blocks]) if blocks else NOWHERE
    finite = points[np.isfinite(points).all(axis=1)]
    surface = next(iter(picture.surfaces), None)
    name = surface or _named_in(rigging, f"{check.name} {check.note}")
    key = handles.part_named(rigging, name) if name else None
    units = rigging.model.design.units
    return Found(
        said=f"{check.name}. {check.note}", word=check.verdict, tone=TONES[check.verdict],
        value=_figure(check.value, check.unit, units), limit=f"{check.sense} {_figure(check.limit, check.unit, units)}",
        name=name, part=key or "", points=finite,
    )  # fmt: skip


def _named_in(rigging: Rigging, text: str) -> str | None:
    """Return the longest name of a panel, tube or solid that a sentence holds."""
    design = rigging.model.design
    names = [*(p.name for p in design.panel), *(t.name for t in design.tube), *(s.name for s in design.solid)]
    return max((name for name in names if name in text), key=len, default=None)


def _figure(value: float | None, unit: str, units: str) -> str:
    """Return a number with its unit: lengths in the boat's own, shares in per cent, counts bare."""
    if value is None:
        return "–"
    if unit == "m":
        return length_text(value, units)
    return f"{100 * value:.0f} %" if unit == "share" else f"{value:.3g} {unit}".removesuffix(" count")


def rows(found: Mapping[str, tuple[Found, ...]]) -> list[dict[str, Any]]:
    """Return all findings for the page, numbered through."""
    return [{**one.as_dict(), "kind": kind} for kind, listed in found.items() for one in listed]

"""Turn answers into records: the JSON objects that programs read, and that tables for people are made from.

Computes: the envelope of every verb, numbers rounded once.
Units: every key ends in its unit.
Source: JSON Schemas in this folder, one a verb.
Limits: keys are only ever added.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from canvas.brief.cautions import cautions_for
from canvas.design.problems import Problem
from canvas.design.reading import Source

VERSION = 1

Record = dict[str, Any]


def envelope(
    verb: str,
    source: Source,
    *,
    sets: Mapping[str, Record],
    top: Record | None = None,
    problems: Sequence[Problem] = (),
) -> Record:
    """Return the record of an answer.

    Parameters
    ----------
    verb : str
    source : Source
        The design that was asked about.
    sets : mapping of str to record
        The verb's keys by set, in order.
    top : record or None
        What does not depend on a set.
    problems : sequence of Problem
        Warnings and notes; errors never get this far.
    """
    cautions = list(cautions_for(verb))
    return {
        "schema": f"cockpit-canvas/{verb}",
        "version": VERSION,
        "design": source.design.name,
        "design_sha256": source.sha256,
        "problems": [problem_record(problem) for problem in problems],
        **_rounded(top or {}),
        "sets": [
            {"name": name, **_rounded(keys), "cautions": cautions, "problems": keys.get("problems", [])}
            for name, keys in sets.items()
        ],
    }


def failure(verb: str, problems: Sequence[Problem]) -> Record:
    """Return the record of input that is wrong: all problems on top, no sets."""
    return {
        "schema": f"cockpit-canvas/{verb}",
        "version": VERSION,
        "design": None,
        "design_sha256": None,
        "problems": [problem_record(problem) for problem in problems],
        "sets": [],
    }


def problem_record(problem: Problem) -> Record:
    """Return a problem as a record."""
    return {
        "code": problem.code,
        "severity": problem.severity,
        "file": problem.file,
        "line": problem.line,
        "key": problem.key,
        "found": problem.found,
        "wanted": problem.wanted,
    }


def _rounded(value: Any, *, key: str = "") -> Any:
    """Return a record with every number rounded: lengths to 0.1 mm, all else to five significant digits.

    Numbers that are not finite become null; arrays become lists.
    """
    if isinstance(value, Mapping):
        return {name: _rounded(part, key=name) for name, part in value.items()}
    if isinstance(value, list | tuple):
        return [_rounded(part, key=key) for part in value]
    if hasattr(value, "tolist"):
        return _rounded(value.tolist(), key=key)
    if isinstance(value, float):
        return _number(value, key=key)
    return value


def _number(value: float, *, key: str) -> float | None:
    if not math.isfinite(value):
        return None
    if key.endswith(("_m", "_mm")):
        return round(value, 4 if key.endswith("_m") else 1) + 0.0
    if value == 0:
        return 0.0
    digits = 4 - math.floor(math.log10(abs(value)))
    if key.endswith("_deg"):
        return round(value, max(digits, 4)) + 0.0
    return round(value, digits) + 0.0


Writer = Callable[[Any], Record]

"""Write the record of `fit`.

Computes: nothing; picks from results.
Units: each check names its own in `unit`.
Source: none.
Limits: what is not known is null with the verdict "unknown", never a pass.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from canvas.brief.records import Record, envelope
from canvas.fit.table import first_to_fail

if TYPE_CHECKING:
    from canvas.brief.answer import Answer
    from canvas.fit.result import CheckResult


def fit_record(answer: Answer) -> Record:
    """Return the record of `fit`: checks in the order of the table."""
    sets = {
        name: {"sentence": _sentence(results), "checks": [_check(one) for one in results]}
        for name, results in answer.results.items()
    }
    return envelope("fit", answer.source, sets=sets, problems=answer.problems)


def _check(one: CheckResult) -> Record:
    return {
        "name": one.name,
        "value": one.value,
        "unit": one.unit,
        "limit": one.limit,
        "margin": one.margin,
        "sd": one.sd,
        "verdict": one.verdict,
        "note": one.note,
        "source": one.source,
    }


def _sentence(results: Sequence[CheckResult]) -> str:
    counts = {word: sum(one.verdict == word for one in results) for word in ("pass", "close", "fail", "unknown")}
    worst = first_to_fail(results)
    said = ", ".join(f"{count} {word}" for word, count in counts.items() if count)
    return f"{said}." if worst is None else f"{said}. First to mend: {worst.name}. {worst.note}"

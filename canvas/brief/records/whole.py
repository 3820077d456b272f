"""Write the record of `report`: the files made.

Computes: nothing.
Units: none.
Source: none.
Limits: the numbers stand in each verb's own record, beside the page.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from canvas.brief.records import Record, envelope

if TYPE_CHECKING:
    from canvas.brief.answer import Answer


def report_record(answer: Answer) -> Record:
    """Return the record of `report`."""
    sets: dict[str, Record] = {name: {} for name in answer.results}
    return envelope("report", answer.source, sets=sets, top={"files": list(answer.files)}, problems=answer.problems)

"""Write the record of `report`: the files made, and the one table over all sets.

Computes: nothing.
Units: as the keys end.
Source: none.
Limits: the numbers stand in each verb's own record, beside the page.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from canvas.brief.onetable import one_table
from canvas.brief.records import Record, envelope
from canvas.brief.verdicts import FLOW, best_of_vane

if TYPE_CHECKING:
    from canvas.brief.answer import Answer

TABLED = ("vane", FLOW, "rain", "fit", "loads")


def report_record(answer: Answer) -> Record:
    """Return the record of `report`."""
    sets: dict[str, Record] = {name: {} for name in answer.results}
    records = {verb: answer.top[verb].record() for verb in TABLED if verb in answer.top}
    records["vane"] = best_of_vane(records)
    top = {"files": list(answer.files), "table": one_table(answer.source.design, records)}
    return envelope("report", answer.source, sets=sets, top=top, problems=answer.problems)

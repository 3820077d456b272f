"""Write the records of `sheet` and `mockup`.

Computes: nothing; picks from results.
Units: as the keys end.
Source: none.
Limits: the sheets themselves are files.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from canvas.asbuilt.tomeasure import ToMeasure
from canvas.brief.measuring import summary
from canvas.brief.records import Record, envelope
from canvas.survey.readings import describe

if TYPE_CHECKING:
    from canvas.brief.answer import Answer


def sheet_record(answer: Answer) -> Record:
    """Return the record of `sheet`: the planned readings, how well they pin each mark, what to take next."""
    found: ToMeasure = answer.top
    plan = found.plan
    top = {
        "sentence": summary(found, answer.source.design.units),
        "next": [
            {
                "reading": describe(one.reading),
                "worst_before_m": one.worst_before,
                "worst_after_m": one.worst_after,
            }
            for one in found.advice
        ],
        "left_out": [{"name": one.name, "why": one.why} for one in found.left_out],
        "short": [{"name": one.name, "why": one.why} for one in found.short],
        "marks": [
            {"name": name, "sd_m": float(sd), "readings": touching}
            for name, sd, touching in zip(plan.names, plan.sd, plan.touching.tolist(), strict=True)
        ],
        "readings": [
            {
                "reading": describe(reading),
                "redundancy": float(redundancy),
                "entered": text,
            }
            for reading, redundancy, text in zip(plan.readings, plan.redundancy, found.entered, strict=True)
        ],
        "files": list(answer.files),
    }
    return envelope("sheet", answer.source, sets={}, top=top, problems=answer.problems)


def mockup_record(answer: Answer) -> Record:
    """Return the record of `mockup`: its files."""
    sets: dict[str, Record] = {name: {} for name in answer.results}
    return envelope("mockup", answer.source, sets=sets, top={"files": list(answer.files)}, problems=answer.problems)

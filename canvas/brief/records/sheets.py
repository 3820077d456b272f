"""Write the records of `sheet` and `mockup`.

Computes: nothing; picks from results.
Units: as the keys end.
Source: none.
Limits: the sheets themselves are files.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from canvas.brief.records import Record, envelope
from canvas.survey.readings import describe

if TYPE_CHECKING:
    from canvas.brief.answer import Answer


def sheet_record(answer: Answer) -> Record:
    """Return the record of `sheet`: the planned readings, how well they pin each mark, what to take next."""
    plan, advice = answer.top
    top = {
        "sentence": (
            f"{len(plan.readings)} readings, about {plan.effort:.0f} minutes for two; worst mark within "
            f"{1000 * float(plan.sd.max()):.0f} mm (one standard deviation)."
        ),
        "readings": [
            {"reading": describe(reading), "redundancy": float(redundancy)}
            for reading, redundancy in zip(plan.readings, plan.redundancy, strict=True)
        ],
        "marks": [{"name": name, "sd_m": float(sd)} for name, sd in zip(plan.names, plan.sd, strict=True)],
        "next": [{"reading": describe(one.reading)} for one in advice],
        "files": list(answer.files),
    }
    return envelope("sheet", answer.source, sets={}, top=top, problems=answer.problems)


def mockup_record(answer: Answer) -> Record:
    """Return the record of `mockup`: its files."""
    sets: dict[str, Record] = {name: {} for name in answer.results}
    return envelope("mockup", answer.source, sets=sets, top={"files": list(answer.files)}, problems=answer.problems)

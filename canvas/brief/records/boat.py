"""Write the records of `check` and `survey`: marks and panels.

Computes: nothing; picks from results.
Units: as the keys end.
Source: none.
Limits: see `canvas.brief.records`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from canvas.brief.records import Record, envelope
from canvas.survey.marks import Marks

if TYPE_CHECKING:
    from canvas.brief.answer import Answer


def mark_rows(marks: Marks) -> list[Record]:
    """Return the marks with their standard deviation along the longest axis."""
    return [
        {"name": name, "x_m": float(place[0]), "y_m": float(place[1]), "z_m": float(place[2]), "sd_m": float(sd)}
        for name, place, sd in zip(marks.names, marks.xyz, marks.largest_sd(), strict=True)
    ]


def check_record(answer: Answer) -> Record:
    """Return the record of `check`: panels with their areas, marks."""
    sets = {
        name: {"panels": [{"name": shape.name, "area_m2": shape.area()} for shape in rig.formed.panels]}
        for name, rig in answer.results.items()
    }
    top = {"marks": mark_rows(answer.rigging.model.marks)}
    return envelope("check", answer.source, sets=sets, top=top, problems=answer.problems)

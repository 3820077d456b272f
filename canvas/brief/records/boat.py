"""Write the records of `check` and `survey`: marks, panels, readings.

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
    from canvas.survey.suspects import Judgement


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


def survey_record(answer: Answer) -> Record:
    """Return the record of `survey`: marks, suspects, readings in which an error would not be seen."""
    marks, judgement = answer.top
    top = {
        "marks": mark_rows(marks),
        "suspects": [
            {
                "reading": suspect.name,
                "line": suspect.reading.where.line,
                "found_m": suspect.found,
                "probable_m": suspect.probable,
                "probable_sd_m": suspect.probable_sd,
                "slip": suspect.slip,
                "standardised": suspect.standardised,
                "critical": suspect.critical,
            }
            for suspect in judgement.suspects
        ],
        "unseen": [
            {
                "reading": unseen.name,
                "line": unseen.reading.where.line,
                "redundancy": unseen.redundancy,
                "least_seen_m": unseen.least_seen,
            }
            for unseen in judgement.unseen
        ],
        "sigma0": marks.sigma0,
        "degrees_of_freedom": marks.degrees_of_freedom,
        "sentence": _survey_sentence(len(marks.readings), judgement),
    }
    return envelope("survey", answer.source, sets={}, top=top, problems=answer.problems)


def _survey_sentence(readings: int, judgement: Judgement) -> str:
    if readings == 0:
        return "No readings: every mark stands as typed, and nothing checks it."
    if judgement.suspects:
        worst = judgement.suspects[0]
        slip = f" ({worst.slip})" if worst.slip else ""
        return (
            f"{len(judgement.suspects)} of {readings} readings disagree with the others. "
            f"Most likely wrong: {worst.name}, read {worst.found:.3f} m, probably {worst.probable:.3f} m{slip}. "
            "Measure it again."
        )
    return f"{readings} readings agree with one another; in {len(judgement.unseen)} of them an error would hardly show."

"""Answer what is there: check and survey.

Computes: answers about the design itself.
Units: SI and radians in and out; records carry their units in their keys.
Source: the layers below.
Limits: nothing is printed or drawn here.
"""

from __future__ import annotations

from collections.abc import Sequence

from canvas.brief.answer import Answer
from canvas.brief.records import boat as boat_records
from canvas.design.oddities import oddities
from canvas.survey.suspects import judge
from canvas.verbs.asking import DesignLike, chosen_sets, rigging_of


def check(design: DesignLike, *, sets: Sequence[str] | None = None) -> Answer:
    """Read a design, build it, form its canvas, and list what is missing or odd.

    Parameters
    ----------
    design : path, Source or Rigging
    sets : sequence of str, optional
        Only these sets.

    Raises
    ------
    DesignError
        With every problem; nothing is guessed.
    CouldNot
        When a panel has no shape in balance.
    """
    rigging = rigging_of(design)
    return Answer(
        verb="check",
        rigging=rigging,
        results=rigging.rigs(chosen_sets(rigging, sets)),
        problems=oddities(rigging.model.source),
        writer=boat_records.check_record,
    )


def survey(design: DesignLike) -> Answer:
    """Adjust the readings to marks, name the readings most likely wrong and those nothing checks.

    Raises
    ------
    DesignError
        When readings are missing or make no survey; each with its line.
    CouldNot
        When they do not settle on one shape.
    """
    rigging = rigging_of(design)
    marks = rigging.model.marks
    return Answer(
        verb="survey", rigging=rigging, results={}, top=(marks, judge(marks)), writer=boat_records.survey_record
    )

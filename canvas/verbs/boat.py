"""Answer what is there: check and survey.

Computes: answers about the design itself.
Units: SI and radians in and out; records carry their units in their keys.
Source: the layers below.
Limits: nothing is printed or drawn here.
"""

from __future__ import annotations

from collections.abc import Sequence

from canvas.asbuilt.built import boat_as_built
from canvas.asbuilt.halves import half_problems, zip_halves
from canvas.brief.answer import Answer
from canvas.brief.records import boat as boat_records
from canvas.design.oddities import oddities
from canvas.survey.suspects import judge
from canvas.survey.symmetry import port_starboard
from canvas.verbs.asking import DesignLike, boat_to_measure, chosen_sets, rigging_of


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
        problems=(*oddities(rigging.model.source), *half_problems(rigging)),
        writer=boat_records.check_record,
    )


def survey(design: DesignLike) -> Answer:
    """Adjust the readings to marks, name the readings most likely wrong and those nothing checks.

    Says too how port differs from starboard, which zip halves aboard the new canvas will not run with, and how canvas
    that was measured came out against its design. Where tubes or canvas do not fit the marks as measured, it says so
    and goes on without them.

    Raises
    ------
    DesignError
        When readings are missing or make no survey; each with its line.
    CouldNot
        When they do not settle on one shape.
    """
    boat = boat_to_measure(design, unfinished=False)
    rigging = boat.rigging
    marks = rigging.model.marks
    found = boat_records.Surveyed(
        marks=marks,
        judgement=judge(marks),
        differences=port_starboard(marks),
        halves=zip_halves(rigging),
        built=boat_as_built(rigging.model).panels if rigging.measured else {},
    )
    return Answer(
        verb="survey", rigging=rigging, results={}, top=found, problems=boat.problems, writer=boat_records.survey_record
    )

"""Answer each question about a design with one function: what a notebook calls, and the command line and viewer too.

Computes: for each verb an `Answer`: the results by set, and the record that is printed or written.
Units: SI and radians in and out; records carry their units in their keys.
Source: the layers below.
Limits: nothing is printed or drawn here.

Example
-------
>>> from canvas import verbs
>>> answer = verbs.check("examples/marrowgrass.toml", sets=["shade"])
>>> [panel["name"] for panel in answer.record()["sets"][0]["panels"]]
['spray hood', 'bimini', 'bridging piece']
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from canvas.brief.answer import Answer
from canvas.brief.records import boat as boat_records
from canvas.cloth.rigging import Rigging
from canvas.design.oddities import oddities
from canvas.design.problems import DesignError, Problem, nearest
from canvas.design.reading import Source, read_design
from canvas.design.schema.design import BARE
from canvas.geometry.model import build_model
from canvas.survey.suspects import judge

DesignLike = str | Path | Source | Rigging


def rigging_of(design: DesignLike) -> Rigging:
    """Return the boat of a design, built; a boat that is built already is taken as it is.

    Raises
    ------
    DesignError
        With every problem of the file and of the geometry.
    """
    if isinstance(design, Rigging):
        return design
    return Rigging(build_model(design if isinstance(design, Source) else read_design(design)))


def chosen_sets(rigging: Rigging, sets: Sequence[str] | None, *, bare: bool = True) -> tuple[str, ...]:
    """Return the sets asked for, all where none is named; `bare` says whether the bare boat is one of all.

    Raises
    ------
    DesignError
        When a set is not in the design.
    """
    known = rigging.model.design.set_names()
    unknown = [name for name in sets or () if name not in known]
    if unknown:
        raise DesignError(
            [
                Problem(code="unknown-set", key="--set", found=f'"{name}"', wanted=nearest(name, known))
                for name in unknown
            ]
        )
    if sets:
        return tuple(dict.fromkeys(sets))
    return known if bare else tuple(name for name in known if name != BARE)


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

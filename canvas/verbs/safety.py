"""Answer whether people and gear have room, sight and a way out.

Computes: the checks of every set.
Units: SI and radians in and out; records carry their units in their keys.
Source: the layers below.
Limits: nothing is printed or drawn here.
"""

from __future__ import annotations

from collections.abc import Sequence

from canvas.brief.answer import Answer
from canvas.brief.records import safety as safety_records
from canvas.fit.table import check_set
from canvas.jobs.beside import by_halves
from canvas.jobs.progress import SILENT, Progress
from canvas.verbs.asking import DesignLike, canvas_up, chosen_sets, rigging_of


def fit(design: DesignLike, *, sets: Sequence[str] | None = None, progress: Progress = SILENT) -> Answer:
    """Check headroom, look-out, winches, boom, ways out and handling of every set.

    Parameters
    ----------
    design : path, Source or Rigging
    sets : sequence of str, optional
    progress : Progress

    Raises
    ------
    DesignError
        When the design is wrong.
    CouldNot
        When a set's canvas has no shape in balance.
    """
    rigging = rigging_of(design)
    names = chosen_sets(rigging, sets)
    progress.step("checking room and sight", 0, len(names))
    results = by_halves(check_set, rigging, names, effort=canvas_up(rigging))
    return Answer(verb="fit", rigging=rigging, results=results, writer=safety_records.fit_record)

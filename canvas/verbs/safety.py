"""Answer whether people and gear have room, sight and a way out, and what each part carries.

Computes: the checks of every set; loads and limits of its parts, water on its roofs.
Units: SI and radians in and out; records carry their units in their keys.
Source: the layers below.
Limits: nothing is printed or drawn here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from canvas.air.wind import KNOT
from canvas.brief.answer import Answer
from canvas.brief.records import safety as safety_records
from canvas.fit.table import check_set
from canvas.jobs.progress import SILENT, Progress
from canvas.strength.loads import SetLoads, set_loads
from canvas.strength.ponding import RoofWater, roof_water
from canvas.verbs.asking import DesignLike, chosen_sets, rigging_of

USUAL_WIND = 25.0 * KNOT  # mean wind asked about where none is named [m/s]


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
    results = {}
    for number, name in enumerate(names):
        progress.step("checking room and sight", number, len(names))
        results[name] = check_set(rigging, name)
    return Answer(verb="fit", rigging=rigging, results=results, writer=safety_records.fit_record)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Carried:
    """Loads of one set, and the water its roofs would hold.

    Attributes
    ----------
    loads : SetLoads
    water : tuple of RoofWater
    """

    loads: SetLoads
    water: tuple[RoofWater, ...]


def loads(
    design: DesignLike,
    *,
    aws: float = USUAL_WIND,
    sets: Sequence[str] | None = None,
    progress: Progress = SILENT,
) -> Answer:
    """Load the canvas of every set with wind, and find what goes first and when to strike.

    Parameters
    ----------
    design : path, Source or Rigging
    aws : float
        Mean apparent wind at the instrument, gusts come on top [m/s].
    sets : sequence of str, optional
    progress : Progress
    """
    rigging = rigging_of(design)
    names = chosen_sets(rigging, sets)
    results = {}
    for number, name in enumerate(names):
        progress.step("loading the canvas", number, len(names))
        results[name] = Carried(loads=set_loads(rigging, name, aws=aws), water=roof_water(rigging, name))
    return Answer(verb="loads", rigging=rigging, results=results, top=aws, writer=safety_records.loads_record)

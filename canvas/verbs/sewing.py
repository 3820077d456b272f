"""Answer how long the sewing of the new canvas lasts.

Computes: by home set, the life of every edge, seam and window under ultraviolet.
Units: SI and radians in and out; records carry their units in their keys.
Source: the layers below.
Limits: nothing is printed or drawn here.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from canvas.brief.answer import Answer
from canvas.brief.records.life import life_record
from canvas.jobs.progress import SILENT, Progress
from canvas.materials.sewn_life import TROPICS, sewn_life
from canvas.verbs.asking import DesignLike, chosen_sets, rigging_of


def life(
    design: DesignLike,
    *,
    sets: Sequence[str] | None = None,
    latitude: float | None = None,
    progress: Progress = SILENT,
) -> Answer:
    """Say how much ultraviolet the new sewing gets, when to sew it again, and what is worth a cover strip.

    Parameters
    ----------
    design : path, Source or Rigging
    sets : sequence of str, optional
        A panel stands in its home set only.
    latitude : float, optional
        North positive [rad]; the mean of the passage where absent, 15 deg where there is none.
    progress : Progress

    Raises
    ------
    CouldNot
        When a panel has no shape in balance.
    """
    rigging = rigging_of(design)
    names = chosen_sets(rigging, sets, bare=False)
    plan = rigging.model.design
    if latitude is None:
        legs = plan.passage.legs if plan.passage is not None else []
        ends = [end for leg in legs for end in (leg.start_latitude, leg.end_latitude)]
        latitude = float(np.mean(ends)) if ends else float(TROPICS)
    progress.step("a year of sun", 0, 1)
    home = {panel.name: plan.home_set(panel) for panel in plan.panel}
    parts = sewn_life(rigging, latitude=latitude)
    results = {name: tuple(one for one in parts if home[one.panel] == name) for name in names}
    return Answer(verb="life", rigging=rigging, results=results, top=latitude, writer=life_record)

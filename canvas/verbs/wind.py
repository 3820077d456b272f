"""Answer what wind reaches the vane's air blade.

Computes: line of sight round the rose, by set.
Units: SI and radians in and out; records carry their units in their keys.
Source: the layers below.
Limits: nothing is printed or drawn here.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from canvas.brief.answer import Answer
from canvas.brief.records import wind as wind_records
from canvas.verbs.asking import DesignLike, chosen_sets, rigging_of
from canvas.wind.sector import sector

Method = Literal["sector"]


def vane(
    design: DesignLike,
    *,
    method: Method = "sector",
    sets: Sequence[str] | None = None,
    awa: Sequence[float] | None = None,
    heel: float = 0.0,
) -> Answer:
    """Say what the air blade sees or feels of the wind, by apparent wind angle.

    Parameters
    ----------
    design : path, Source or Rigging
    method : str
        ``sector``: line of sight, a fact and no verdict.
    sets : sequence of str, optional
    awa : sequence of float, optional
        Apparent wind angles [rad]; every 5 deg where absent.
    heel : float
        Positive starboard side down [rad].
    """
    rigging = rigging_of(design)
    results = {name: sector(rigging.rig(name).scene, awa=awa, heel=heel) for name in chosen_sets(rigging, sets)}
    return Answer(verb="vane", rigging=rigging, results=results, top=method, writer=wind_records.vane_record)

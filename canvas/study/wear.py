"""Say how much of its life the sewing of each panel spends on a passage.

Computes: for each edge, seam and window of the new panels, the share of its life that the hours under way use up.
Units: years; shares 0..1.
Source: yearly doses and lives after canvas/materials/sewn_life.py; ultraviolet on open deck after canvas/sky.
Limits: a panel wears only on the legs sailed with a set that has it up; at anchor and below it counts as dark.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from canvas.cloth.rigging import Rigging
from canvas.materials.sewn_life import TROPICS, SewnPart, sewn_life
from canvas.sky.instants import mean_solar_times
from canvas.sky.sun import sun_positions
from canvas.study.legs import YEAR, LegPlan
from canvas.study.passage import open_dose

DAYS_A_MONTH = 365.25 / 12
A_YEAR = 365.25 * 86400.0  # [s]


@dataclass(frozen=True, slots=True, kw_only=True)
class Wear:
    """One edge, seam or window on the passage.

    Attributes
    ----------
    part : SewnPart
    used, used_low, used_high : float or None
        Share of its life; None where no ultraviolet reaches it.
    """

    part: SewnPart
    used: float | None
    used_low: float | None
    used_high: float | None


def wear(rigging: Rigging, plans: Sequence[LegPlan]) -> tuple[Wear, ...]:
    """Return what the passage takes off the life of all new sewing, worst first.

    Parameters
    ----------
    rigging : Rigging
    plans : sequence of LegPlan
        As they are sailed; legs without hours or without a set take nothing.
    """
    counted = [one for one in plans if one.duration is not None and one.set_name is not None]
    if not counted:
        return ()
    latitude = float(np.mean(np.concatenate([one.route.latitude for one in counted])))
    year = _open_year(latitude)
    years: dict[str, float] = {}
    for plan in counted:
        for up in rigging.model.design.panels_up(plan.set_name or ""):
            years[up.panel] = years.get(up.panel, 0.0) + open_dose(plan.sun) * plan.weight / year
    found = [
        Wear(
            part=part,
            used=_share(years.get(part.panel, 0.0), part.life),
            used_low=_share(years.get(part.panel, 0.0), part.life_high),
            used_high=_share(years.get(part.panel, 0.0), part.life_low),
        )
        for part in sewn_life(rigging, latitude=latitude)
    ]
    return tuple(sorted(found, key=lambda one: -(one.used or 0.0)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Spent:
    """What a passage, or a year in the tropics where there is none, takes off the life of all new sewing.

    Attributes
    ----------
    over : str
        The passage, or the year, in words.
    years : float
        How long.
    used : mapping of (str, str) to float
        Share of life by panel and by edge, seam or window, the short life taken.
    """

    over: str
    years: float
    used: dict[tuple[str, str], float]


def spent(rigging: Rigging, plans: Sequence[LegPlan]) -> Spent:
    """Return what is taken off the life of all new sewing by the passage, or by a year where it has no hours."""
    hours = [one.duration for one in plans if one.duration is not None]
    if hours:
        return Spent(
            over="the passage",
            years=sum(hours) / A_YEAR,
            used={(one.part.panel, one.part.name): one.used_high or 0.0 for one in wear(rigging, plans)},
        )
    return Spent(
        over="a year in the tropics, always up",
        years=1.0,
        used={
            (part.panel, part.name): 0.0 if part.life_low is None else 1.0 / part.life_low
            for part in sewn_life(rigging, latitude=float(TROPICS))
        },
    )


def _share(years: float, life: float | None) -> float | None:
    return None if life is None else years / life


def _open_year(latitude: float) -> float:
    """Return the dose of a year on open deck, by the fifteenth of each month [SED]."""
    days = [date(YEAR, month, 15) for month in range(1, 13)]
    times = np.concatenate([mean_solar_times(day, day) for day in days])
    return open_dose(sun_positions(times, latitude=latitude, longitude=0.0)) * DAYS_A_MONTH

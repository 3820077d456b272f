"""Answer what wind reaches the vane's air blade.

Computes: by set and apparent wind angle, line of sight, the wake estimate, or the flow's speeds, forces and verdicts.
Units: SI and radians in and out; records carry their units in their keys.
Source: the layers below.
Limits: nothing is printed or drawn here. Line of sight gives no verdict; the wake estimate gives words.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from canvas.air.wind import KNOT
from canvas.brief.answer import Answer
from canvas.brief.records import wind as wind_records
from canvas.cloth.rigging import Rigging
from canvas.design.schema.design import BARE
from canvas.design.tables import default
from canvas.jobs.progress import SILENT, Progress
from canvas.study.courses import Course, courses, true_wind_for
from canvas.verbs.asking import DesignLike, chosen_sets, rigging_of
from canvas.wind.blade import BladeWind, Estimate, Steering, steering
from canvas.wind.flow.run import COARSE, FINE, Angle, Conditions, rose
from canvas.wind.sector import rose_angles, sector
from canvas.wind.wake import Wake, wake

Method = Literal["sector", "wake", "flow"]
ASKED_WIND = 12.0 * KNOT  # apparent wind the flow is run in [m/s]; ratios hardly depend on it
ROSE_STEP = 15  # degrees between angles of the flow's rose


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FlowAngle:
    """What the blade feels at one angle with one set.

    Attributes
    ----------
    awa, cell : float
        [rad], finest cell it was run with [m].
    wind : BladeWind
    steering : Steering
    """

    awa: float
    cell: float
    wind: BladeWind
    steering: Steering


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OnCourse:
    """What a set does to a course.

    Attributes
    ----------
    course : Course
    steering : Steering
    true_wind : Estimate or None
        Lowest true wind in which the vane steers there [m/s].
    """

    course: Course
    steering: Steering
    true_wind: Estimate | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FlowFound:
    """The flow's answer for one set.

    Attributes
    ----------
    angles : tuple of FlowAngle
    courses : tuple of OnCourse
    """

    angles: tuple[FlowAngle, ...]
    courses: tuple[OnCourse, ...]


def vane(
    design: DesignLike,
    *,
    method: Method = "sector",
    sets: Sequence[str] | None = None,
    awa: Sequence[float] | None = None,
    heel: float = 0.0,
    cell: float | None = None,
    progress: Progress = SILENT,
) -> Answer:
    """Say what the air blade sees or feels of the wind, by apparent wind angle.

    Parameters
    ----------
    design : path, Source or Rigging
    method : str
        ``sector``: line of sight, a fact and no verdict. ``wake``: an estimate in words. ``flow``: the air solved.
    sets : sequence of str, optional
    awa : sequence of float, optional
        Apparent wind angles [rad]; all round where absent.
    heel : float
        Positive starboard side down [rad].
    cell : float, optional
        Finest cell of the flow for every angle [m]; coarse first and fine where the blade is near a wake where absent.
    progress : Progress

    Raises
    ------
    CouldNot
        When the flow does not fit in memory, or a run fails.
    """
    rigging = rigging_of(design)
    names = chosen_sets(rigging, sets)
    if method == "sector":
        results: Mapping[str, object] = {n: sector(rigging.rig(n).scene, awa=awa, heel=heel) for n in names}
    elif method == "wake":
        angles = rose_angles() if awa is None else np.asarray(awa, dtype=float)
        results = {n: wake(rigging.rig(n).scene, awa=angles, heel=heel) for n in names}
    else:
        results = _flow(rigging, names, awa=awa, heel=heel, cell=cell, progress=progress)
    return Answer(verb="vane", rigging=rigging, results=results, top=method, writer=wind_records.vane_record)


def _flow(
    rigging: Rigging,
    names: Sequence[str],
    *,
    awa: Sequence[float] | None,
    heel: float,
    cell: float | None,
    progress: Progress,
) -> dict[str, FlowFound]:
    design = rigging.model.design
    sailed = design.vane.steers_from_with
    run = tuple(dict.fromkeys((BARE, sailed, *names)))
    asked = courses(design.sailing)
    if awa is None:
        ring = [float(np.radians(a)) for a in range(-180 + ROSE_STEP, 181, ROSE_STEP)]
        angles = tuple(dict.fromkeys(round(a, 9) for a in (*ring, *(course.awa for course in asked))))
    else:
        angles = tuple(round(float(a), 9) for a in awa)
    found = rose(
        [rigging.rig(name).scene for name in run],
        Conditions(aws=ASKED_WIND, instrument_height=rigging.model.instrument_height, heel=heel),
        angles=angles,
        gain_angles=tuple(round(course.awa, 9) for course in asked),
        coarse=COARSE if cell is None else cell,
        fine=FINE if cell is None else None,
        progress=progress,
    )
    need = design.vane.must_steer_from or default("vane_must_steer_factor") * design.vane.steers_from
    return {name: _felt(name, found.angles, asked, rigging, sailed=sailed, need=need) for name in names}


def _felt(
    name: str, angles: Sequence[Angle], asked: Sequence[Course], rigging: Rigging, *, sailed: str, need: float
) -> FlowFound:
    design = rigging.model.design
    rows = []
    for one in angles:
        wind: BladeWind = one.wind[name]
        steers = steering(
            wind,
            reference=one.wind[sailed],
            steers_from=design.vane.steers_from,
            must_steer_from=need,
        )
        rows.append(FlowAngle(awa=one.awa, cell=one.cell, wind=wind, steering=steers))
    on = []
    for course in asked:
        row = next((row for row in rows if abs(row.awa - course.awa) < 1e-6), None)
        if row is not None:
            on.append(OnCourse(course=course, steering=row.steering, true_wind=_true(course, row.steering, rigging)))
    return FlowFound(angles=tuple(rows), courses=tuple(on))


def _true(course: Course, steers: Steering, rigging: Rigging) -> Estimate | None:
    if steers.lowest is None:
        return None
    sailing = rigging.model.design.sailing
    ends = [
        true_wind_for(course, speed, sailing=sailing)
        for speed in (steers.lowest.value, steers.lowest.low, steers.lowest.high)
    ]
    if any(end is None for end in ends):
        return None
    value, low, high = (float(end) for end in ends if end is not None)
    return Estimate(value=value, low=low, high=high)


__all__ = ["FlowAngle", "FlowFound", "OnCourse", "Wake", "vane"]

"""Answer by the air flow solved what the vane's blade feels: by angle and course, with readings taken aboard and cures.

Computes: rose, verdicts, turns of the course, readings beside the flow, drift from outlets, cures.
Units: SI and radians in and out; records carry their units in their keys.
Source: the layers below.
Limits: nothing is printed or drawn here.
"""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from canvas.air.wind import KNOT
from canvas.cloth.rigging import Rigging
from canvas.design.schema.design import BARE
from canvas.jobs.progress import SILENT, Progress
from canvas.study.courses import Course, courses, true_wind_for
from canvas.wind.blade import BladeWind, CourseTurn, Estimate, Steering, course_turn, rule_of, steering
from canvas.wind.cures import Cures, behind, cures
from canvas.wind.flow.backend import Device
from canvas.wind.flow.need import Need
from canvas.wind.flow.outcome import Outcome, packed
from canvas.wind.flow.run import COARSE, FINE, Angle, Rose, rose
from canvas.wind.flow.runner import Conditions, NotKept
from canvas.wind.readings import Compared, Measured, measured, moved, near

ASKED_WIND = 12.0 * KNOT  # apparent wind the flow is run in [m/s]; ratios hardly depend on it
ROSE_STEP = 15  # degrees between angles of the flow's rose


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FlowAngle:
    """What the blade feels at one angle with one set, readings taken in.

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
    turned : CourseTurn or None
        How setting the canvas turns the course with the vane left alone; None for the bare boat.
    """

    course: Course
    steering: Steering
    true_wind: Estimate | None
    turned: CourseTurn | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FlowFound:
    """The flow's answer for one set.

    Attributes
    ----------
    angles : tuple of FlowAngle
    courses : tuple of OnCourse
    readings : tuple of Compared
        Those taken with this set, each beside the nearest angle run.
    outcomes : mapping of float to Outcome
        By apparent wind angle [rad], where kept.
    cures : tuple of Cures
        Where asked for.
    need : Need
        What the run was said to take.
    updates : int
        Lattice updates done for all sets together, saved ones not counted.
    device : {"cpu", "card"}
        Where they were done.
    no_card : str or None
        Why a card that was asked for did not do them.
    """

    angles: tuple[FlowAngle, ...]
    courses: tuple[OnCourse, ...]
    readings: tuple[Compared, ...]
    outcomes: Mapping[float, Outcome]
    cures: tuple[Cures, ...]
    need: Need
    updates: int
    device: Device
    no_card: str | None


def flow_found(
    rigging: Rigging,
    names: Sequence[str],
    *,
    awa: Sequence[float] | None,
    heel: float,
    cell: float | None,
    cured: bool = False,
    device: Device = "auto",
    progress: Progress = SILENT,
) -> dict[str, FlowFound]:
    """Return the flow's answer by set.

    Parameters
    ----------
    rigging : Rigging
    names : sequence of str
    awa : sequence of float or None
        Apparent wind angles [rad]; all round, and those of the courses, where absent.
    heel : float
        [rad]
    cell : float or None
        Finest cell for every angle [m].
    cured : bool
        Whether cures are run, at the first angle of each set that does not pass.
    device : {"auto", "cpu", "card"}
    progress : Progress
    """
    asked = courses(rigging.model.design.sailing)
    found = _rose(rigging, names, awa=awa, heel=heel, cell=cell, device=device, progress=progress)
    made = {name: _found(name, found, asked, rigging) for name in names}
    if not cured:
        return made
    conditions = _conditions(rigging, heel)
    return {name: _cured(name, one, rigging, conditions, progress) for name, one in made.items()}


def flow_kept(
    rigging: Rigging, names: Sequence[str], *, heel: float = 0.0, cell: float | None = None
) -> dict[str, FlowFound]:
    """Return what `flow_found` found all round before; sets it was not asked lack.

    Nothing is run: answers are those of runs kept on disk, of these sets together or one by one.

    Parameters
    ----------
    rigging : Rigging
    names : sequence of str
    heel : float
        [rad]
    cell : float or None
        Finest cell for every angle [m].
    """
    asked = courses(rigging.model.design.sailing)
    kept: dict[str, FlowFound] = {}
    for together in dict.fromkeys((tuple(names), *((name,) for name in names))):
        if kept.keys() >= set(together):
            continue
        try:
            found = _rose(rigging, together, heel=heel, cell=cell, device="cpu", saved_only=True)
        except NotKept:
            continue
        kept |= {name: _found(name, found, asked, rigging) for name in together}
    return {name: kept[name] for name in names if name in kept}


def _conditions(rigging: Rigging, heel: float) -> Conditions:
    return Conditions(aws=ASKED_WIND, instrument_height=rigging.model.instrument_height, heel=heel)


def _rose(
    rigging: Rigging, names: Sequence[str], *, awa: Sequence[float] | None = None, heel: float = 0.0,
    cell: float | None = None, device: Device, progress: Progress = SILENT, saved_only: bool = False,
) -> Rose:  # fmt: skip
    """Return the rose of the bare boat, the set the vane has been sailed with, and those named."""
    model = rigging.model
    design = model.design
    asked = courses(design.sailing)
    run = tuple(dict.fromkeys((BARE, design.vane.steers_from_with, *names)))
    return rose(
        [rigging.rig(name).scene for name in run],
        _conditions(rigging, heel),
        angles=_angles(awa, asked),
        gain_angles=tuple(round(course.awa, 9) for course in asked),
        coarse=COARSE if cell is None else cell,
        fine=FINE if cell is None else None,
        keep=tuple(round(course.awa, 9) for course in asked) if awa is None else _angles(awa, asked),
        outlets={outlet.name: model.at(outlet.at) for outlet in design.outlet},
        device=device,
        progress=progress,
        saved_only=saved_only,
    )


def _angles(awa: Sequence[float] | None, asked: Sequence[Course]) -> tuple[float, ...]:
    if awa is not None:
        return tuple(round(float(a), 9) for a in awa)
    ring = [float(np.radians(a)) for a in range(-180 + ROSE_STEP, 181, ROSE_STEP)]
    return tuple(dict.fromkeys(round(a, 9) for a in (*ring, *(course.awa for course in asked))))


def _found(name: str, found: Rose, asked: Sequence[Course], rigging: Rigging) -> FlowFound:
    design = rigging.model.design
    taken = measured(design.reading)
    rows: list[FlowAngle] = []
    said: list[Compared] = []
    for one in found.angles:
        wind, compared = _read(one, name, taken)
        reference, _ = _read(one, design.vane.steers_from_with, taken)
        said += compared
        steers = steering(
            wind,
            reference=wind if name == design.vane.steers_from_with else reference,
            steers_from=design.vane.steers_from,
            must_steer_from=design.vane.needed_from,
            rule=rule_of(design.vane.axis),
        )
        rows.append(FlowAngle(awa=one.awa, cell=one.cell, wind=wind, steering=steers))
    on = []
    for course in asked:
        row = next((row for row in rows if abs(row.awa - course.awa) < 1e-6), None)
        if row is not None:
            turned = None if name == BARE else course_turn(row.wind, awa=row.awa)
            true = _true(course, row.steering, rigging)
            on.append(OnCourse(course=course, steering=row.steering, true_wind=true, turned=turned))
    return FlowFound(
        angles=tuple(rows), courses=tuple(on), readings=_once(name, taken, said),
        outcomes={one.awa: one.outcome[name] for one in found.angles if name in one.outcome},
        cures=(), need=found.need, updates=found.updates, device=found.device, no_card=found.no_card,
    )  # fmt: skip


def _read(one: Angle, name: str, taken: Sequence[Measured]) -> tuple[BladeWind, tuple[Compared, ...]]:
    here = [reading for reading in taken if reading.set_name == name and near(reading, one.awa)]
    return moved(one.wind[name], here, bare=name == BARE)


def _once(name: str, taken: Sequence[Measured], said: Sequence[Compared]) -> tuple[Compared, ...]:
    """Return each reading of a set once: as at the first angle where it disagrees, else the first; or as not run."""
    kept = []
    for one in taken:
        if one.set_name == name:
            mine = sorted((c for c in said if c.measured is one), key=lambda c: c.says != "disagrees")
            kept.append(mine[0] if mine else Compared(measured=one, flow=None, after=None, says="not run"))
    return tuple(kept)


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


def _cured(name: str, one: FlowFound, rigging: Rigging, conditions: Conditions, progress: Progress) -> FlowFound:
    """Return the answer with cures at the worst angle of a set that does not pass everywhere."""
    failing = [row for row in one.angles if row.steering.verdict != "pass"]
    if name == BARE or not failing:
        return one
    worst = min(failing, key=lambda row: row.wind.speed_ratio.value)
    scene = rigging.rig(name).scene
    got = cures(
        rigging.rig(BARE).scene, scene, conditions, awa=worst.awa, things=behind(scene), cell=worst.cell,
        device=one.device, progress=progress,
    )  # fmt: skip
    return replace(one, cures=(got,))


def arrays(results: Mapping[str, FlowFound]) -> dict[str, bytes]:
    """Return the kept outcomes as files of plain arrays (npz), by name: slices, streamlines, pressures, drift."""
    files = {}
    for name, one in results.items():
        for awa, told in one.outcomes.items():
            stream = io.BytesIO()
            np.savez_compressed(stream, awa=np.array(awa), **packed(told))
            title = "".join(c if c.isalnum() else "-" for c in name)
            files[f"flow-{title}-{np.degrees(awa):+04.0f}.npz"] = stream.getvalue()
    return files

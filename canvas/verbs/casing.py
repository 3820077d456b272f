"""Hand the flow to a bigger machine, and take its answer back.

Computes: OpenFOAM cases of a boat bare and with sets; from their probes, what the vane feels, beside what this program
    itself says of the same angles.
Units: SI and radians in and out; records carry their units in their keys.
Source: the layers below.
Limits: OpenFOAM is not run here; the files stay in the answer until saved.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from canvas.brief.answer import Answer
from canvas.brief.records import casing as case_records
from canvas.cloth.rigging import Rigging
from canvas.design.problems import DesignError, Problem
from canvas.design.schema.design import BARE
from canvas.jobs.cache import cache_folder
from canvas.jobs.progress import SILENT, Progress
from canvas.study.foamcase import STEPS, ReadAngle, as_exported, read_cases, write_cases
from canvas.verbs.asking import DesignLike, chosen_sets, rigging_of
from canvas.verbs.flow import ASKED_WIND
from canvas.wind.blade import BladeWind, Steering, steering
from canvas.wind.flow.backend import Device
from canvas.wind.flow.run import rose
from canvas.wind.flow.runner import Conditions
from canvas.wind.sector import sector
from canvas.wind.wake import wake


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Elsewhere:
    """What the blade feels at one angle with one set, as the other program has it.

    Attributes
    ----------
    awa, cell : float
        [rad], finest cell [m].
    wind : BladeWind
    steering : Steering or None
        None where the set that the vane is known with was not run.
    clear_share : float
        Of the blade, by line of sight.
    wake_word : str
        Of this program's wake estimate.
    own : BladeWind or None
        By this program's own flow over the same parts at the same cell; None where it was not asked for.
    """

    awa: float
    cell: float
    wind: BladeWind
    steering: Steering | None
    clear_share: float
    wake_word: str
    own: BladeWind | None


def case(
    design: DesignLike,
    *,
    awa: Sequence[float],
    sets: Sequence[str] | None = None,
    heel: float = 0.0,
    cell: float = 0.06,
    steps: int = STEPS,
) -> Answer:
    """Write the boat, bare and with sets, as ready OpenFOAM cases.

    Parameters
    ----------
    design : path, Source or Rigging
    awa : sequence of float
        Apparent wind angles [rad].
    sets : sequence of str, optional
    heel : float
        Positive starboard side down [rad].
    cell : float
        Finest cell [m].
    steps : int
        Of the steady solver.

    Raises
    ------
    DesignError
        ``wrong-option`` where no wind angle is asked.
    """
    rigging = rigging_of(design)
    names = tuple(dict.fromkeys((BARE, rigging.model.design.vane.steers_from_with, *chosen_sets(rigging, sets))))
    if not awa:
        raise DesignError(
            [Problem(code="wrong-option", key="--awa", found="no wind angle", wanted='Such as "32, -32".')]
        )
    files = write_cases(
        [rigging.rig(name).scene for name in names],
        Conditions(aws=ASKED_WIND, instrument_height=rigging.model.instrument_height, heel=heel),
        angles=tuple(awa), cell=cell, sha256=rigging.model.source.sha256, steps=steps,
    )  # fmt: skip
    return Answer(
        verb="case", rigging=rigging, results={}, top=(names, tuple(awa)), files=files, writer=case_records.case_record
    )


def read_case(
    design: DesignLike,
    folder: Path,
    *,
    own_flow: bool = False,
    device: Device = "auto",
    progress: Progress = SILENT,
) -> Answer:
    """Read the results of cases that were run, beside this program's own answers.

    Parameters
    ----------
    design : path, Source or Rigging
    folder : Path
        As saved by `case`.
    own_flow : bool
        Whether this program's own flow is run too, over what the case holds (no sails, no tubes, mesh as closed cloth),
        at the case's cell.
    device : {"auto", "cpu", "card"}
        Where it runs.
    progress : Progress

    Raises
    ------
    DesignError
        When it holds no cases.
    CouldNot
        When none of them was run.
    """
    rigging = rigging_of(design)
    plan = rigging.model.design
    found = read_cases(folder, sha256=rigging.model.source.sha256)
    results: dict[str, tuple[Elsewhere, ...]] = {}
    for number, one in enumerate(found.angles):
        part = progress.within("own flow", number, len(found.angles)) if own_flow else progress
        own = _own_flow(rigging, one, device=device, progress=part) if own_flow else {}
        sailed = one.wind.get(plan.vane.steers_from_with)
        for name, wind in one.wind.items():
            known = (
                None
                if sailed is None
                else steering(
                    wind, reference=sailed, steers_from=plan.vane.steers_from, must_steer_from=plan.vane.needed_from
                )
            )
            scene = rigging.rig(name).scene
            row = Elsewhere(
                awa=one.awa, cell=one.cell, wind=wind, steering=known, own=own.get(name),
                clear_share=float(sector(scene, awa=[one.awa], heel=one.heel).clear_share[0]),
                wake_word=wake(scene, awa=np.array([one.awa]), heel=one.heel).words[0],
            )  # fmt: skip
            results[name] = (*results.get(name, ()), row)
    return Answer(
        verb="case", rigging=rigging, results=results, top=None, problems=found.problems,
        writer=case_records.read_record,
    )  # fmt: skip


def _own_flow(rigging: Rigging, one: ReadAngle, *, device: Device, progress: Progress) -> Mapping[str, BladeWind]:
    """Return by set what the blade feels by this program's flow over what the case holds; kept apart on disk."""
    conditions = Conditions(aws=ASKED_WIND, instrument_height=rigging.model.instrument_height, heel=one.heel)
    found = rose(
        [as_exported(rigging.rig(name).scene) for name in one.wind], conditions, angles=[one.awa], coarse=one.cell,
        fine=None, device=device, folder=cache_folder() / "flow-as-exported", progress=progress,
    )  # fmt: skip
    return found.angles[0].wind

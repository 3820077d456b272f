"""Answer what wind reaches the vane's air blade.

Computes: by set and apparent wind angle, line of sight, the wake estimate, or the flow's speeds, forces and verdicts.
Units: SI and radians in and out; records carry their units in their keys.
Source: the layers below.
Limits: nothing is printed or drawn here. Line of sight gives no verdict; the wake estimate gives words.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Literal

import numpy as np

from canvas.brief.answer import Answer
from canvas.brief.records import wind as wind_records
from canvas.design.problems import Problem
from canvas.jobs.progress import SILENT, Progress
from canvas.verbs.asking import DesignLike, chosen_sets, rigging_of
from canvas.wind.sector import rose_angles, sector
from canvas.wind.wake import wake

if TYPE_CHECKING:
    from canvas.verbs.flow import FlowFound
    from canvas.wind.flow.backend import Device

Method = Literal["sector", "wake", "flow"]


def vane(
    design: DesignLike,
    *,
    method: Method = "sector",
    sets: Sequence[str] | None = None,
    awa: Sequence[float] | None = None,
    heel: float = 0.0,
    cell: float | None = None,
    cures: bool = False,
    device: Device = "auto",
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
    cures : bool
        With the flow: take each panel and each thing abaft the canvas down in turn, raise the blade, bear away, at the
        worst angle of each set that does not pass.
    device : {"auto", "cpu", "card"}
        Where the flow runs: on a graphics card where there is one, or one of the two. Where a card was asked for and is
        not there or fails, the processor does the work and a note says so.
    progress : Progress

    Raises
    ------
    CouldNot
        When the flow does not fit in memory, or a run fails.
    """
    rigging = rigging_of(design)
    names = chosen_sets(rigging, sets)
    files: dict[str, bytes] = {}
    problems: tuple[Problem, ...] = ()
    if method == "sector":
        results: Mapping[str, object] = {n: sector(rigging.rig(n).scene, awa=awa, heel=heel) for n in names}
    elif method == "wake":
        angles = rose_angles() if awa is None else np.asarray(awa, dtype=float)
        results = {n: wake(rigging.rig(n).scene, awa=angles, heel=heel) for n in names}
    else:
        from canvas.verbs.flow import arrays, flow_found

        found = flow_found(rigging, names, awa=awa, heel=heel, cell=cell, cured=cures, device=device, progress=progress)
        results, files, problems = found, arrays(found), _without_card(found)
    return Answer(
        verb="vane", rigging=rigging, results=results, top=method, files=files, problems=problems,
        writer=wind_records.vane_record,
    )  # fmt: skip


def vane_kept(
    design: DesignLike, *, sets: Sequence[str] | None = None, heel: float = 0.0, cell: float | None = None
) -> Answer | None:
    """Say what the air blade feels by the flow where `vane` solved it all round before; nothing is run.

    Parameters
    ----------
    design : path, Source or Rigging
    sets : sequence of str, optional
    heel, cell : float
        As `vane` was asked [rad, m].

    Returns
    -------
    Answer or None
        Of the sets that were solved; None where none was.
    """
    from canvas.verbs.flow import flow_kept

    rigging = rigging_of(design)
    found = flow_kept(rigging, chosen_sets(rigging, sets), heel=heel, cell=cell)
    if not found:
        return None
    return Answer(verb="vane", rigging=rigging, results=found, top="flow", writer=wind_records.vane_record)


def _without_card(found: Mapping[str, FlowFound]) -> tuple[Problem, ...]:
    said = next((one.no_card for one in found.values() if one.no_card is not None), None)
    if said is None:
        return ()
    wanted = "The processor did the work: the same answer, slower. See that its driver is there, or leave --device out."
    return (Problem(code="no-card", severity="note", key="--device", found=f"no graphics card: {said}", wanted=wanted),)

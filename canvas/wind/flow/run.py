"""Run a rose of wind angles for a boat bare and with sets: coarse first, fine where in a wake, longer where still open.

Computes: what the blade feels at each angle and set, compared with the bare boat; which angles are run fine or longer.
Units: radians, metres; winds as ratios to the undisturbed wind at the blade.
Source: see `runner` and `canvas.wind.blade`.
Limits: those of `runner`; coarse cells may pass over a wake that fine ones show.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from canvas.geometry.scene import Scene
from canvas.jobs.progress import SILENT, Progress
from canvas.wind.blade import BladeWind, Felt, compare, place_of, wrapped
from canvas.wind.flow.backend import Device
from canvas.wind.flow.lengths import lengthened
from canvas.wind.flow.march import AVERAGE, SETTLE
from canvas.wind.flow.need import Need, refuse_if_too_large
from canvas.wind.flow.outcome import Outcome
from canvas.wind.flow.runner import Conditions, Runner

COARSE, FINE = 0.2, 0.04
NEAR_UNSTEADINESS, NEAR_SPEED = 0.04, 0.05  # past these a coarse angle is run fine
AMONG = float(np.radians(20.0))  # an angle with others in or near a wake this near on both sides is taken to lie in it


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Angle:
    """One angle of the rose.

    Attributes
    ----------
    awa : float
        Apparent wind angle at the instrument [rad].
    cell : float
        Finest cell it was last run with [m].
    felt : mapping of str to Felt
        By set, ``bare`` among them.
    wind : mapping of str to BladeWind
        The same, compared.
    outcome : mapping of str to Outcome
        What else the mean flow tells, by set; empty where it was not kept.
    """

    awa: float
    cell: float
    felt: Mapping[str, Felt]
    wind: Mapping[str, BladeWind]
    outcome: Mapping[str, Outcome]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rose:
    """All angles.

    Attributes
    ----------
    angles : tuple of Angle
    updates : int
        Lattice updates done in this run, saved ones not counted.
    need : Need
        What it was said to take at most, every angle fine and none averaged longer.
    device : {"cpu", "card"}
        Where it was run, or would have been had anything been left to run.
    no_card : str or None
        Why a card that was asked for did not do it.
    """

    angles: tuple[Angle, ...]
    updates: int
    need: Need
    device: Device
    no_card: str | None


def rose(
    scenes: Sequence[Scene],
    conditions: Conditions,
    *,
    angles: Sequence[float],
    gain_angles: Sequence[float] = (),
    coarse: float = COARSE,
    fine: float | None = FINE,
    device: Device = "auto",
    folder: Path | None = None,
    progress: Progress = SILENT,
    settle: float = SETTLE,
    average: float = AVERAGE,
    keep: Sequence[float] = (),
    outlets: Mapping[str, npt.ArrayLike] | None = None,
    saved_only: bool = False,
) -> Rose:
    """Run a rose: every angle coarse, then fine where the coarse one shows the blade of any set in or near a wake.

    Fine angles whose band is too wide for a verdict, and need not be but for the draw of the means, are averaged on:
    each set over as many times the way as is foretold to do (`lengths`). Their gains stay.

    Parameters
    ----------
    scenes : sequence of Scene
        Bare boat first, then the sets.
    conditions : Conditions
    angles : sequence of float
        Apparent wind angles at the instrument [rad].
    gain_angles : sequence of float
        Angles at which the gain is run.
    coarse, fine : float
        Finest cells [m]; no refining where `fine` is None.
    device : str
    folder : Path, optional
        Where results are kept.
    progress : Progress
    settle, average : float
        Flow-throughs of 14 m; shorter than the defaults is for trials only.
    keep : sequence of float
        Angles at which slices, pressures, drift and streamlines are kept from the same runs.
    outlets : mapping of str to (3,) array_like, optional
        Exhaust and heater outlets [m].
    saved_only : bool
        Whether to march nothing.

    Raises
    ------
    CouldNot
        When it does not fit in memory, or a run fails.
    NotKept
        When a run is not on disk and only saved ones were asked for.
    Stopped
        When the user stops it; what is done stays on disk.
    """
    runner = Runner(
        scenes, conditions, device=device, folder=folder, settle=settle, average=average, outlets=outlets,
        saved_only=saved_only,
    )  # fmt: skip
    if saved_only:
        runner.felt(runner.scenes[0], angles[0], coarse)  # told at once where nothing is kept
    need = runner.need(angles, coarse if fine is None else min(coarse, fine), gain_angles=gain_angles)
    if not saved_only:
        refuse_if_too_large(need)
    progress.step(need.said(), 0, len(angles))
    found = _coarse_then_fine(runner, angles, coarse, fine, gain_angles=gain_angles, keep=keep, progress=progress)
    return Rose(
        angles=tuple(found[awa] for awa in angles), updates=runner.updates, need=need, device=runner.device,
        no_card=runner.no_card,
    )  # fmt: skip


def _coarse_then_fine(
    runner: Runner, angles: Sequence[float], coarse: float, fine: float | None, *, gain_angles: Sequence[float],
    keep: Sequence[float], progress: Progress,
) -> dict[float, Angle]:  # fmt: skip
    found: dict[float, Angle] = {}
    coarse_gains = gain_angles if fine is None else ()
    runner.side_by_side(
        angles, coarse, keep=keep, gain_angles=coarse_gains, what="coarse rose", progress=progress
    )  # fmt: skip
    for number, awa in enumerate(angles):
        part = progress.within("coarse rose", number, len(angles))
        gains = _gains(runner, awa, coarse, progress=part) if awa in coarse_gains else {}
        found[awa] = _angle(runner, awa, coarse, gains=gains, keep=awa in keep, progress=part)
    near = _near_wakes(found) if fine is not None else set()
    again = [awa for awa in angles if awa in near]
    for number, awa in enumerate(again):
        part = progress.within("fine angles", number, len(again))
        with runner.pausing():
            found[awa] = _fine(runner, awa, fine or coarse, gain=awa in gain_angles, keep=awa in keep, progress=part)
    return found


def _fine(runner: Runner, awa: float, cell: float, *, gain: bool, keep: bool, progress: Progress) -> Angle:
    """Run an angle fine, and on for as long as it takes for every set to have a verdict, if that is foretold to do."""
    told, sides = [awa] if keep else [], [awa] if gain else []
    runner.side_by_side([awa], cell, keep=told, gain_angles=sides, what="all sets", progress=progress)
    gains = _gains(runner, awa, cell, progress=progress) if gain else {}
    found = _angle(runner, awa, cell, gains=gains, keep=keep, progress=progress)
    times = dict.fromkeys(found.felt, 1)
    while (longer := lengthened(found.felt, times, cell=cell)) != times:
        runner.times = times = longer
        runner.side_by_side([awa], cell, keep=told, what="averaged longer", progress=progress)
        found = _angle(runner, awa, cell, gains=gains, keep=keep, progress=progress)
    return found


def _near_wakes(found: Mapping[float, Angle]) -> set[float]:
    """Return the angles in or near a wake: by their own coarse run, or with such angles close on both sides."""
    shown = np.array([awa for awa, angle in found.items() if _in_wake(angle)])

    def among(awa: float) -> bool:
        off = wrapped(shown - awa)
        return bool(((off >= 0) & (off <= AMONG)).any() and ((off <= 0) & (off >= -AMONG)).any())

    return {awa for awa in found if among(awa)}


def _in_wake(angle: Angle) -> bool:
    """Return whether a coarse angle shows any set in or near a wake; coarse cells show too little, so ask little."""
    bare = angle.felt[next(iter(angle.felt))]
    near = any(max(one.unsteadiness, bare.unsteadiness) > NEAR_UNSTEADINESS for one in angle.felt.values())
    moved = any(abs(wind.speed_ratio.value - 1.0) > NEAR_SPEED for wind in angle.wind.values())
    return near or moved or any(place_of(one, bare) != "clear" for one in angle.felt.values())


def _gains(runner: Runner, awa: float, cell: float, *, progress: Progress) -> dict[str, float | None]:
    return {scene.set_name: runner.gain(scene, awa, cell, progress=progress) for scene in runner.scenes}


def _angle(
    runner: Runner, awa: float, cell: float, *, gains: Mapping[str, float | None], keep: bool, progress: Progress
) -> Angle:
    scenes = runner.scenes
    told = {s.set_name: runner.outcome(s, awa, cell, progress=progress) for s in scenes} if keep else {}
    found = {s.set_name: runner.felt(s, awa, cell, progress=progress) for s in scenes}
    bare = next(iter(found.values()))
    wind = {
        name: compare(blade, bare, cell=cell, same=blade is bare, gain=gains.get(name)) for name, blade in found.items()
    }
    return Angle(awa=awa, cell=cell, felt=found, wind=wind, outcome=told)

"""Run a rose of wind angles for a boat bare and with sets: coarse first, fine where in a wake, longer where still open.

Computes: for each angle and set the reduced series at the blade, kept on disk and taken up again where a run was cut
off; the runs a few degrees either side that tell whether the blade's wind follows; memory and time beforehand.
Units: radians, metres; winds as ratios to the undisturbed wind at the blade.
Source: see `march` and `canvas.wind.blade`.
Limits: waves, gusts, roll and leeway are not modelled; sails are eased by one rule (`canvas.wind.trim`), on the lee
side, and are down with the wind within 20 deg of the bow.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from canvas.air.profile import apparent_at
from canvas.air.wind import Wind
from canvas.geometry.scene import Scene
from canvas.jobs.cache import flow_folder, key_of, load, placed, save
from canvas.jobs.failure import CouldNot
from canvas.jobs.progress import SILENT, Progress
from canvas.wind.blade import WIDEST, BladeWind, Felt, compare, felt, gain_of, half_width, place_of
from canvas.wind.flow.backend import CardFailed, Device, takes_card
from canvas.wind.flow.domain import Layout, lay
from canvas.wind.flow.march import AVERAGE, LATTICE_SPEED, LENGTH, SETTLE, Record, march
from canvas.wind.flow.need import BYTES_A_CELL, Need, refuse_if_too_large, updates_a_second
from canvas.wind.flow.outcome import Outcome, outcome, packed, unpacked
from canvas.wind.flow.pressures import keep_pressures
from canvas.wind.flow.solver_hash import solver_hash
from canvas.wind.trim import eased

Floats = npt.NDArray[np.float64]
COARSE, FINE = 0.2, 0.04
NEAR_UNSTEADINESS, NEAR_SPEED = 0.04, 0.05  # past these a coarse angle is run fine
LONGER = (2.0, 4.0)  # times the usual way over which an angle is averaged again whose mean was drawn too loosely
EITHER_SIDE = float(np.radians(5.0))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Conditions:
    """The wind and how the boat lies in it.

    Attributes
    ----------
    aws : float
        Apparent wind at the instrument [m/s].
    instrument_height : float
        Above the water [m].
    boat_speed : float
        [m/s]; it turns the apparent wind with height.
    heel, trim : float
        [rad]
    """

    aws: float
    instrument_height: float
    boat_speed: float = 0.0
    heel: float = 0.0
    trim: float = 0.0


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
        What it was said to take at most, every angle fine.
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


class Runner:
    """Marches sets at angles, keeping what was done.

    Parameters
    ----------
    scenes : sequence of Scene
        Bare boat first, then the sets.
    conditions : Conditions
    device : {"auto", "cpu", "card"}
        A card that is not there, or fails, is replaced by the processor; `no_card` says so.
    folder : Path, optional
        Where results are kept.
    settle, average : float
        Flow-throughs of 14 m.
    outlets : mapping of str to (3,) array_like, optional
        Exhaust and heater outlets, whose drift outcomes tell [m].
    """

    def __init__(
        self,
        scenes: Sequence[Scene],
        conditions: Conditions,
        *,
        device: Device = "auto",
        folder: Path | None = None,
        settle: float = SETTLE,
        average: float = AVERAGE,
        outlets: Mapping[str, npt.ArrayLike] | None = None,
    ) -> None:
        if not np.isfinite(conditions.aws) or not 0.5 <= conditions.aws <= 60.0:
            raise CouldNot(
                f"An apparent wind of {conditions.aws:.1f} m/s cannot be run.", "Give one between 0.5 and 60 m/s."
            )
        self.scenes, self.conditions = tuple(scenes), conditions
        self.device: Device = "card" if takes_card(device) else "cpu"
        self.no_card = "there is none that numba can use" if device == "card" and self.device == "cpu" else None
        self.folder = flow_folder() if folder is None else folder
        self.settle, self.average = settle, average
        self.outlets = {name: np.asarray(spot, dtype=float) for name, spot in (outlets or {}).items()}
        self.updates = 0

    def layout(self, awa: float, cell: float, *, grow: float = 0.0) -> Layout:
        """Return the grids at an angle, boxes grown a little where asked."""
        lies = self.conditions
        return lay(self.scenes, awa=awa, heel=lies.heel, trim=lies.trim, cell=cell, grow=grow)

    def wind_at(self, awa: float, *, shift: float = 0.0) -> tuple[float, Callable[[Floats], Floats]]:
        """Return the undisturbed wind angle at the blade, and by height the velocity along and across it, turned."""
        lies = self.conditions
        seen = Wind(speed=np.asarray(lies.aws), angle=np.asarray(awa))

        def at(height: npt.ArrayLike) -> Wind:
            return apparent_at(
                seen, height=height, instrument_height=lies.instrument_height, boat_speed=lies.boat_speed
            )

        first = self.scenes[0]
        here = float(at(first.blade.points[:, 2].mean() - first.water_z).angle)

        def velocity(heights: Floats) -> Floats:
            blow = at(heights)
            off = blow.angle - here + shift
            return np.stack([blow.speed * np.cos(off), -blow.speed * np.sin(off)], axis=1)

        return here, velocity

    def felt(self, scene: Scene, awa: float, cell: float, *, shift: float = 0.0, progress: Progress = SILENT) -> Felt:
        """Return what the blade feels of one set at one angle, from disk where it was run before."""
        key = self._key(scene, awa, cell, shift)
        held = load(self.folder, key)
        if held is not None:
            return _unpacked(held)
        got, _ = self._march(scene, awa, cell, shift=shift, means=False, progress=progress)
        return self._saved(key, got)

    def outcome(self, scene: Scene, awa: float, cell: float, *, progress: Progress = SILENT) -> Outcome:
        """Return air speed over places, pressure on panels, drift, slices and streamlines of one set at one angle.

        What the blade feels is saved from the same run.
        """
        key = self._key(scene, awa, cell, 0.0)
        place = key_of(key, "outcome", *self.outlets, *self.outlets.values(), *(p.points for p in scene.places))
        held = load(self.folder, place)
        if held is not None:
            return unpacked(held)
        got, layout = self._march(scene, awa, cell, shift=0.0, means=True, progress=progress)
        if load(self.folder, key) is None:
            self._saved(key, got)
        told = outcome(scene, got, layout.pose, outlets=self.outlets)
        save(self.folder, place, packed(told))
        return told

    def _saved(self, key: str, got: Record) -> Felt:
        blade = felt(time=got.time, velocity=got.velocity, free=got.free)
        save(self.folder, key, _packed(blade))
        return blade

    def _march(
        self, scene: Scene, awa: float, cell: float, *, shift: float, means: bool, progress: Progress
    ) -> tuple[Record, Layout]:
        here, velocity = self.wind_at(awa, shift=shift)
        for grow in (0.0, 0.12, 0.3):
            layout = self.layout(here, cell, grow=grow)
            try:
                got = self._run(layout, eased(scene, here), velocity, means=means, progress=progress)
                break
            except CouldNot as error:
                if "unstable" not in error.what or grow == 0.3:
                    raise
        self.updates += got.updates
        if shift == 0.0:
            keep_pressures(scene, got, awa=awa, cell=cell, folder=self.folder)
        return got, layout

    def _run(
        self, layout: Layout, scene: Scene, velocity: Callable[[Floats], Floats], *, means: bool, progress: Progress
    ) -> Record:
        """March on the card, or on the processor where there is none or it fails; then the rest runs there too."""
        asked: dict[str, Any] = {"settle": self.settle, "average": self.average, "means": means, "progress": progress}
        try:
            return march(layout, scene, wind=velocity, device=self.device, **asked)
        except CardFailed as error:
            self.device, self.no_card = "cpu", f"it failed: {str(error).strip() or type(error.__cause__).__name__}"
        return march(layout, scene, wind=velocity, device=self.device, **asked)

    def _key(self, scene: Scene, awa: float, cell: float, shift: float) -> str:
        lies = self.conditions
        parts: list[Any] = [solver_hash(), awa, cell, shift, self.settle, self.average, placed(scene.water_z)]
        parts += [lies.aws, lies.instrument_height, lies.boat_speed, lies.heel, lies.trim]
        for surface in eased(scene, self.wind_at(awa)[0]).surfaces:
            parts += [surface.kind, placed(surface.vertices), surface.faces, surface.wind_loss, surface.closed]
        parts += [placed(s.vertices) for other in self.scenes for s in other.surfaces if s.kind == "cloth"]
        return key_of(*parts, placed(scene.blade.points))

    def gain(self, scene: Scene, awa: float, cell: float, *, progress: Progress = SILENT) -> float:
        """Return the gain of a set at an angle, from runs 5 deg either side on the same grid."""
        low, high = (self.felt(scene, awa, cell, shift=s, progress=progress) for s in (-EITHER_SIDE, EITHER_SIDE))
        return gain_of(low, high)

    def need(self, angles: Sequence[float], cell: float, runs: int) -> Need:
        """Return what running some angles will take."""
        layouts = [self.layout(self.wind_at(awa)[0], cell) for awa in angles]
        updates = sum(layout.updates((self.settle + self.average) * LENGTH, LATTICE_SPEED) for layout in layouts) * runs
        cells = max(layout.cells for layout in layouts)
        seconds = updates / updates_a_second(self.device, cells)
        return Need(cells=cells, memory=float(cells * BYTES_A_CELL), updates=updates, seconds=seconds)


def _packed(blade: Felt) -> dict[str, Any]:
    names = ("time", "along", "across", "speed", "square", "free_along", "free_across")
    return {name: getattr(blade, name) for name in names}


def _unpacked(held: Mapping[str, Any]) -> Felt:
    return Felt(
        time=held["time"],
        along=held["along"],
        across=held["across"],
        speed=held["speed"],
        square=held["square"],
        free_along=float(held["free_along"]),
        free_across=float(held["free_across"]),
    )


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
) -> Rose:
    """Run a rose: every angle coarse, then fine where the coarse one shows the blade of any set in or near a wake.

    Fine angles whose band is too wide for a verdict, and need not be but for the draw of the mean, are run again and
    averaged over twice the way, and four times where that would do and twice did not.

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

    Raises
    ------
    CouldNot
        When it does not fit in memory, or a run fails.
    Stopped
        When the user stops it; what is done stays on disk.
    """
    runner = Runner(
        scenes, conditions, device=device, folder=folder, settle=settle, average=average, outlets=outlets
    )  # fmt: skip
    need = runner.need(angles, coarse if fine is None else min(coarse, fine), len(scenes))
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
    for number, awa in enumerate(angles):
        gain = fine is None and awa in gain_angles
        part = progress.within("coarse rose", number, len(angles))
        found[awa] = _angle(runner, awa, coarse, gain=gain, keep=awa in keep, progress=part)
    again = [awa for awa in angles if fine is not None and _in_wake(found[awa])]
    for number, awa in enumerate(again):
        part = progress.within("fine angles", number, len(again))
        found[awa] = _angle(runner, awa, fine or coarse, gain=awa in gain_angles, keep=awa in keep, progress=part)
    usual, done = runner.average, 1.0
    for times in LONGER:
        again = [awa for awa in again if _drawn_loosely(found[awa], longest=LONGER[-1] / done)]
        runner.average, done = times * usual, times
        for number, awa in enumerate(again):
            part = progress.within(f"averaged {times:g} times as long", number, len(again))
            found[awa] = _angle(runner, awa, fine or coarse, gain=awa in gain_angles, keep=awa in keep, progress=part)
    return found


def _drawn_loosely(angle: Angle, *, longest: float) -> bool:
    """Return whether a set has no verdict for the draw of its mean alone, and would have one `longest` times as long.

    The draw falls with the root of the way that is averaged; what the cells leave open stays.
    """
    for wind in angle.wind.values():
        cells = half_width(wind.where, angle.cell)
        drawn = (wind.speed_ratio.high - wind.speed_ratio.value) ** 2 - cells**2
        if not wind.known and cells**2 + drawn / longest <= WIDEST**2:
            return True
    return False


def _in_wake(angle: Angle) -> bool:
    """Return whether a coarse angle shows any set in or near a wake; coarse cells show too little, so ask little."""
    bare = angle.felt[next(iter(angle.felt))]
    near = any(max(one.unsteadiness, bare.unsteadiness) > NEAR_UNSTEADINESS for one in angle.felt.values())
    moved = any(abs(wind.speed_ratio.value - 1.0) > NEAR_SPEED for wind in angle.wind.values())
    return near or moved or any(place_of(one, bare) != "clear" for one in angle.felt.values())


def _angle(runner: Runner, awa: float, cell: float, *, gain: bool, keep: bool, progress: Progress) -> Angle:
    scenes = runner.scenes
    told = {s.set_name: runner.outcome(s, awa, cell, progress=progress) for s in scenes} if keep else {}
    found = {s.set_name: runner.felt(s, awa, cell, progress=progress) for s in scenes}
    bare = next(iter(found.values()))
    gains = {s.set_name: runner.gain(s, awa, cell, progress=progress) if gain else None for s in scenes}
    wind = {
        name: compare(blade, bare, cell=cell, same=blade is bare, gain=gains[name]) for name, blade in found.items()
    }
    return Angle(awa=awa, cell=cell, felt=found, wind=wind, outcome=told)

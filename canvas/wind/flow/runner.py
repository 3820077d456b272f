"""March sets at wind angles, keeping what was done: one run, or many side by side.

Computes: for an angle and set the reduced series at the blade, and what else the mean flow tells, kept on disk and
found again; the runs a few degrees either side that tell whether the blade follows; memory and time beforehand.
Units: radians, metres; winds as ratios to the undisturbed wind at the blade.
Source: see `march` and `canvas.wind.blade`.
Limits: waves, gusts, roll and leeway are not modelled; sails are eased by one rule (`canvas.wind.trim`), on the lee
side, and are down with the wind within 20 deg of the bow.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import FIRST_EXCEPTION, ThreadPoolExecutor, wait
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from itertools import product
from pathlib import Path
from threading import Event, Lock
from typing import Any

import numba
import numpy as np
import numpy.typing as npt

from canvas.air.profile import apparent_at
from canvas.air.wind import Wind
from canvas.geometry.scene import Scene
from canvas.jobs.cache import flow_folder, key_of, load, placed, save
from canvas.jobs.failure import CouldNot
from canvas.jobs.progress import SILENT, Progress
from canvas.wind.blade import Felt, felt, gain_of
from canvas.wind.flow.backend import CardFailed, Device, takes_card
from canvas.wind.flow.domain import COARSE_FROM, Layout, lay
from canvas.wind.flow.march import AVERAGE, SETTLE, Pause, Record, march, updates
from canvas.wind.flow.need import BYTES_A_CELL, BYTES_PAUSED, FREE, Need, at_once, free_memory, updates_a_second
from canvas.wind.flow.outcome import Outcome, outcome, packed, unpacked
from canvas.wind.flow.pressures import keep_pressures
from canvas.wind.flow.solver_hash import solver_hash
from canvas.wind.trim import eased

Floats = npt.NDArray[np.float64]
_March = tuple[str, float, float, bool]  # set, angle, finest cell, and whether means are kept
SIDES = (-float(np.radians(5.0)), float(np.radians(5.0)))  # how far the wind is turned for a gain


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


class NotKept(Exception):
    """Raised where a run would have to be made and saved ones alone were asked for."""


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
    saved_only : bool
        Whether a run that is not kept raises `NotKept` instead of being made.

    Attributes
    ----------
    times : mapping of str to int
        By set, over how many times `average` it is averaged; once where it is not named.
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
        saved_only: bool = False,
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
        self.saved_only = saved_only
        self.times: Mapping[str, int] = {}
        self.updates = 0
        self._paused: dict[_March, Pause] | None = None  # nothing is paused
        self._one_at_a_time = Lock()

    def layout(self, awa: float, cell: float) -> Layout:
        """Return the grids at an angle, the same for all sets."""
        lies = self.conditions
        return lay(self.scenes, awa=awa, heel=lies.heel, trim=lies.trim, cell=cell)

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
        place = self._outcome_key(scene, key)
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
        if self.saved_only:
            raise NotKept
        here, velocity = self.wind_at(awa, shift=shift)
        layout, name = self.layout(here, cell), (scene.set_name, awa, cell, means)
        held = None if self._paused is None or shift != 0.0 else self._paused
        got = self._run(
            layout, eased(scene, here), velocity, means=means, after=None if held is None else held.pop(name, None),
            pause=held is not None and self._has_room(layout), progress=progress,
        )  # fmt: skip
        with self._one_at_a_time:
            self.updates += got.updates
            if held is not None and got.pause is not None:
                held[name] = got.pause
            if shift == 0.0:
                keep_pressures(scene, got, awa=awa, cell=cell, folder=self.folder)
        return got, layout

    @contextmanager
    def pausing(self) -> Iterator[None]:
        """While it lasts, runs averaged longer go on from where they stood, as far as there is memory for that.

        When it ends, all sets are averaged over the usual way again.
        """
        self._paused = {}
        try:
            yield
        finally:
            self._paused, self.times = None, {}

    def _way(self, scene: Scene) -> float:
        """Return over how many flow-throughs a set is averaged."""
        return self.times.get(scene.set_name, 1) * self.average

    def _has_room(self, layout: Layout) -> bool:
        """Return whether a paused march can be held beside those that run."""
        running = self._at_once(layout.cells, layout.grids[-1].cell) * BYTES_A_CELL
        return (running + BYTES_PAUSED) * layout.cells < FREE * free_memory()

    def _run(self, layout: Layout, scene: Scene, velocity: Callable[[Floats], Floats], **asked: Any) -> Record:
        """March on the card, or on the processor where there is none or it fails; then the rest runs there too."""
        asked |= {"settle": self.settle, "average": self._way(scene)}
        try:
            return march(layout, scene, wind=velocity, device=self.device, **asked)
        except CardFailed as error:
            self.device, self.no_card = "cpu", f"it failed: {str(error).strip() or type(error.__cause__).__name__}"
        return march(layout, scene, wind=velocity, device=self.device, **asked)

    def side_by_side(
        self, angles: Sequence[float], cell: float, *, keep: Sequence[float], gain_angles: Sequence[float] = (),
        what: str, progress: Progress = SILENT,
    ) -> None:  # fmt: skip
        """March several runs at once, so that they are found on disk; one may be left that would go alone.

        Parameters
        ----------
        angles : sequence of float
            [rad]
        cell : float
            [m]
        keep : sequence of float
            Angles of which outcomes are told.
        gain_angles : sequence of float
            Those that are run on either side too.
        what : str
            What they are run for, as the user reads it.
        """
        if self.device != "cpu" or self.saved_only:
            return
        asked: list[Callable[..., object]] = []
        for awa, scene in product(angles, self.scenes):
            told = awa in keep
            if not self._is_saved(scene, awa, cell, told=told):
                asked.append(partial(self.outcome if told else self.felt, scene, awa, cell))
            asked += [
                partial(self.felt, scene, awa, cell, shift=shift)
                for shift in (SIDES if awa in gain_angles else ())
                if not self._is_saved(scene, awa, cell, shift=shift)
            ]
        many = self._at_once(max(self.layout(self.wind_at(awa)[0], cell).cells for awa in angles), cell) if asked else 1
        if many == 1:
            return
        if len(asked) % many == 1:
            asked.pop()  # left to all threads together
        leave, come = Event(), [0.0] * len(asked)
        pool = ThreadPoolExecutor(many, initializer=numba.set_num_threads, initargs=(numba.get_num_threads() // many,))
        try:
            waiting = {
                pool.submit(run, progress=Progress(partial(_note, come, at), stopping=leave.is_set))
                for at, run in enumerate(asked)
            }
            while waiting:
                progress.step(f"{what}, percent of {len(asked)} runs", int(100 * np.mean(come)), 100)
                done, waiting = wait(waiting, timeout=0.5, return_when=FIRST_EXCEPTION)
                for run in done:
                    run.result()
        finally:
            leave.set()
            pool.shutdown(cancel_futures=True)

    def _at_once(self, cells: int, cell: float) -> int:
        on_card = self.device != "cpu"
        return 1 if on_card else at_once(numba.get_num_threads(), cells, coarse=cell >= COARSE_FROM)

    def _is_saved(self, scene: Scene, awa: float, cell: float, *, shift: float = 0.0, told: bool = False) -> bool:
        key = self._key(scene, awa, cell, shift)
        return load(self.folder, self._outcome_key(scene, key) if told else key) is not None

    def _outcome_key(self, scene: Scene, key: str) -> str:
        return key_of(key, "outcome", *self.outlets, *self.outlets.values(), *(p.points for p in scene.places))

    def _key(self, scene: Scene, awa: float, cell: float, shift: float) -> str:
        lies = self.conditions
        parts: list[Any] = [solver_hash(), awa, cell, shift, self.settle, self._way(scene), placed(scene.water_z)]
        parts += [lies.aws, lies.instrument_height, lies.boat_speed, lies.heel, lies.trim]
        for surface in eased(scene, self.wind_at(awa)[0]).surfaces:
            parts += [surface.kind, placed(surface.vertices), surface.faces, surface.wind_loss, surface.closed]
        parts += [placed(s.vertices) for other in self.scenes for s in other.surfaces if s.kind == "cloth"]
        return key_of(*parts, placed(scene.blade.points))

    def gain(self, scene: Scene, awa: float, cell: float, *, progress: Progress = SILENT) -> float:
        """Return the gain of a set at an angle, from runs 5 deg either side on the same grid."""
        low, high = (self.felt(scene, awa, cell, shift=s, progress=progress) for s in SIDES)
        return gain_of(low, high)

    def need(self, angles: Sequence[float], cell: float, *, gain_angles: Sequence[float] = ()) -> Need:
        """Return what running all sets at some angles will take, and either side of those whose gain is asked."""
        layouts = [self.layout(self.wind_at(awa)[0], cell) for awa in angles]
        marched = [updates(layout, settle=self.settle, average=self.average) for layout in layouts]
        runs = [1 + len(SIDES) * (awa in gain_angles) for awa in angles]
        taken = float(np.dot(marched, runs)) * len(self.scenes)
        cells = max(layout.cells for layout in layouts)
        seconds = taken / updates_a_second(self.device, cells)
        memory = float(self._at_once(cells, cell) * cells * BYTES_A_CELL)
        return Need(cells=cells, memory=memory, updates=taken, seconds=seconds)


def _note(come: list[float], at: int, _what: str, done: int, total: int) -> None:
    """Note how far a run has come that others go beside."""
    come[at] = done / total


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

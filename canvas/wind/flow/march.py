"""March one set at one wind angle and record what the blade feels.

Computes: velocity at points of the blade against time, mean flow, forces on surfaces.
Units: velocities over the undisturbed apparent wind at the blade; metres; forces in newtons a pascal of its dynamic
pressure, that is square metres.
Source: see `solver`.
Limits: one heel, flat sea, wind that does not gust; ratios do not depend on the wind's strength in this range.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from canvas.geometry.scene import Scene
from canvas.jobs.failure import CouldNot
from canvas.jobs.progress import SILENT, Progress
from canvas.wind.blade import BATCHES
from canvas.wind.flow.backend import Device
from canvas.wind.flow.domain import LATTICE_SPEED, Layout, sheets_of
from canvas.wind.flow.solver import Flow, RanAway, Stand

Floats = npt.NDArray[np.float64]
VISCOSITY = 1e-5  # of the outermost grid, lattice units; air itself would be about 5e-7
LENGTH = 14.0  # what one flow-through means [m]
SETTLE, AVERAGE = 1.2, 2.0  # flow-throughs
FINEST = 0.2  # of those to settle that the finest grid takes part in, filled from the one round it
SPEEDS = (LATTICE_SPEED, 0.1, 0.07)  # of the wind on the lattice: the usual, and slower ones where the flow runs away
POINTS = 30  # of the blade that are recorded
MEANS_EVERY = 8  # outermost steps between two sums for the mean flow


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Field:
    """Mean flow on one grid, in wind axes; not a number where the grid does not hold it.

    Attributes
    ----------
    origin : (3,) ndarray
        Centre of the first cell [m].
    cell : float
        [m]
    velocity : (3, z, y, x) ndarray
        Over the undisturbed wind at the blade.
    speed : (z, y, x) ndarray
        Mean of the speed.
    pressure : (z, y, x) ndarray
        Coefficient on the undisturbed dynamic pressure at the blade.
    """

    origin: Floats
    cell: float
    velocity: npt.NDArray[np.float32]
    speed: npt.NDArray[np.float32]
    pressure: npt.NDArray[np.float32]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pause:
    """Where a march ended, so that it can be averaged longer without being made again.

    Attributes
    ----------
    speed : float
        Of the wind on the lattice.
    flow : Stand
    readings : ndarray
        Of the probes so far.
    """

    speed: float
    flow: Stand
    readings: npt.NDArray[np.float32]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Record:
    """What one run gave.

    Attributes
    ----------
    set_name : str
    awa : float
        Undisturbed wind angle at the blade [rad].
    cell : float
        Finest [m].
    time : (t,) ndarray
        Way of the undisturbed wind since the start of averaging [m].
    velocity : (t, n, 3) ndarray
        At points of the blade, level axes (x aft, y starboard, z up), over the undisturbed wind at the blade.
    free : (n, 3) ndarray
        Undisturbed, the same.
    surfaces : tuple of str
        What stood in the flow.
    force : (surfaces, 3) ndarray
        Mean force over the undisturbed dynamic pressure at the blade, boat frame [m2].
    updates : int
        Lattice updates done, but for runs that ran away before it and what was done before a pause.
    fields : tuple of Field
        Mean flow, outermost first; empty where none was asked for.
    pause : Pause or None
        Where it stands, if that was asked for.
    """

    set_name: str
    awa: float
    cell: float
    time: Floats
    velocity: Floats
    free: Floats
    surfaces: tuple[str, ...]
    force: Floats
    updates: int
    fields: tuple[Field, ...] = ()
    pause: Pause | None = None


class Probes:
    """Points read by linear interpolation in the finest grid.

    Parameters
    ----------
    flow : Flow
    points : (n, 3) ndarray
        In wind axes [m].
    rows : int
        How many readings there will be.
    """

    def __init__(self, flow: Flow, points: Floats, *, rows: int) -> None:
        level = flow.levels[-1]
        place = (points - level.grid.origin) / level.grid.cell
        corner = np.floor(place).astype(np.int64)
        if not level.grid.holds(corner).all():
            raise CouldNot("The blade lies outside the finest grid.", "Report the design: this should not happen.")
        part = place - corner
        steps = np.array([[i & 1, (i >> 1) & 1, i >> 2] for i in range(8)])
        cells = level.grid.flat(corner[:, None, :] + steps[None])
        share = np.where(steps[None] == 1, part[:, None, :], 1.0 - part[:, None, :]).prod(axis=2)
        known, entry = np.unique(cells, return_inverse=True)
        self._flow, self._share, self._entry = flow, share, entry.reshape(cells.shape)
        self._where = flow.device.array(known)
        self._count, self._row = len(known), 0
        self._out = flow.device.array(np.zeros(rows * len(known) * 4, dtype=np.float32))

    def resume(self, readings: npt.NDArray[np.float32]) -> None:
        """Go on after readings made before."""
        device = self._flow.device
        out = np.array(device.host(self._out))
        out[: len(readings)] = readings
        self._out, self._row = device.array(out), len(readings) // (4 * self._count)

    def read(self) -> None:
        """Record the present velocity."""
        level = self._flow.levels[-1]
        self._flow.device.call("probe", self._count, level.f, level.at, self._where, self._out, self._row)
        self._row += 1

    def readings(self) -> npt.NDArray[np.float32]:
        """Return all readings so far, flat."""
        return np.array(self._flow.device.host(self._out)[: self._row * self._count * 4])

    def series(self) -> Floats:
        """Return velocity (t, n, 3) in lattice units."""
        held = self.readings().reshape(-1, self._count, 4)
        return np.asarray(np.einsum("tnkc,nk->tnc", held[:, self._entry, 1:].astype(float), self._share))


def updates(layout: Layout, *, settle: float = SETTLE, average: float = AVERAGE) -> float:
    """Return how many cell updates a march takes, flow-throughs as in `march`."""
    without = max(settle - FINEST, 0.0) if len(layout.grids) > 1 else 0.0
    return layout.updates((settle + average - without) * LENGTH) + layout.updates(without * LENGTH, grids=-1)


def march(
    layout: Layout,
    scene: Scene,
    *,
    wind: Callable[[Floats], Floats],
    device: Device = "auto",
    settle: float = SETTLE,
    average: float = AVERAGE,
    means: bool = False,
    after: Pause | None = None,
    pause: bool = False,
    progress: Progress = SILENT,
    seed: int = 1,
) -> Record:
    """March one set; where the flow runs away, again on the same grids with a slower wind on the lattice.

    Parameters
    ----------
    layout : Layout
        Grids at this wind angle.
    scene : Scene
        Boat and canvas.
    wind : callable
        Undisturbed velocity (n, 2), wind axes, at heights (n,) above the water, any unit.
    settle, average : float
        Flow-throughs of 14 m.
    means : bool
        Whether mean flow is kept.
    after : Pause, optional
        Where the same march stood that was averaged less long: it goes on from there, to the same end.
    pause : bool
        Whether to tell where it stands at its end.

    Raises
    ------
    CouldNot
        When the blade is inside something, or the flow runs away even so.
    """

    def at(speed: float) -> Record:
        return _march(
            layout, scene, speed, wind=wind, device=device, settle=settle, average=average, means=means,
            after=after if after is not None and after.speed == speed else None, pause=pause, progress=progress,
            seed=seed,
        )  # fmt: skip

    for speed in SPEEDS[:-1]:
        if after is not None and speed > after.speed:  # with it the flow ran away before
            continue
        try:
            return at(speed)
        except RanAway:
            continue
    return at(SPEEDS[-1])


def _march(
    layout: Layout, scene: Scene, speed: float, *, wind: Callable[[Floats], Floats], device: Device, settle: float,
    average: float, means: bool, after: Pause | None, pause: bool, progress: Progress, seed: int,
) -> Record:  # fmt: skip
    names, sheets = sheets_of(scene, layout.pose)
    every = max(len(layout.blade) // POINTS, 1)
    points = layout.blade[::every]
    reference = float(np.linalg.norm(wind(points[:, 2]), axis=1).mean())

    def inflow(heights: Floats) -> Floats:
        return layout.pose.on_grid(wind(heights)) * (speed / reference)

    flow = Flow(
        layout.grids, sheets, wind=inflow, viscosity=VISCOSITY, floor=(0.0, 0.0), grip=0.0, sponge=3.0, device=device,
        seed=seed,
    )  # fmt: skip
    per_step = speed * layout.grids[0].cell
    first, rest = round(settle * LENGTH / per_step), max(round(average * LENGTH / per_step), BATCHES)
    before = 0 if after is None else after.flow.steps - first
    left = (rest - before) * per_step / LENGTH
    total = updates(layout, settle=settle if after is None else 0.0, average=left) * LATTICE_SPEED / speed

    def tell() -> None:
        progress.step(scene.set_name, min(int(100 * flow.updates / total), 100), 100)

    probes = Probes(flow, points, rows=rest)
    if after is None:
        _settle(flow, first, together=round(FINEST * LENGTH / per_step), tell=tell)
    else:
        flow.resume(after.flow)
        probes.resume(after.readings)
    for done in range(before, rest):
        if done % 50 == 0:
            tell()
        flow.advance(1)
        probes.read()
        if means and done % MEANS_EVERY == 0:
            flow.collect()
    velocity = probes.series() / speed
    if not np.isfinite(velocity).all():
        raise RanAway("The air flow became unstable.", "Use other cells.")
    flow.check()
    free = np.concatenate([layout.pose.on_grid(wind(points[:, 2])) / reference, np.zeros((len(points), 1))], axis=1)
    return Record(
        set_name=scene.set_name,
        awa=layout.pose.awa,
        cell=layout.grids[-1].cell,
        time=per_step * np.arange(rest, dtype=float),
        velocity=layout.pose.level(velocity),
        free=layout.pose.level(free),
        surfaces=names,
        force=layout.pose.boat(flow.force() * (2.0 * layout.grids[-1].cell ** 2 / speed**2)),
        updates=flow.updates,
        fields=tuple(_field(flow, number, speed) for number in range(len(layout.grids))) if means else (),
        pause=Pause(speed=speed, flow=flow.stand(), readings=probes.readings()) if pause else None,
    )


def _settle(flow: Flow, steps: int, *, together: int, tell: Callable[[], None]) -> None:
    """March the coarser grids, then the last few steps together with the finest, filled from the one round it."""
    coarser = len(flow.levels) - 1
    last = min(together, steps) if coarser else steps
    for count, grids in ((steps - last, coarser), (last, coarser + 1)):
        if grids > coarser and 0 < last < steps:
            flow.refine()
        for done in range(0, count, 50):
            tell()
            flow.advance(min(50, count - done), grids=grids)
    flow.check()
    flow.forget()


def _field(flow: Flow, number: int, speed: float) -> Field:
    grid, *finer = (level.grid for level in flow.levels[number : number + 2])
    mean = np.where(grid.known(*finer), flow.mean(number), np.nan).astype(np.float32)
    return Field(
        origin=grid.origin, cell=grid.cell, velocity=mean[1:4] / np.float32(speed),
        speed=mean[4] / np.float32(speed), pressure=mean[0] * np.float32(2 / 3 / speed**2),
    )  # fmt: skip

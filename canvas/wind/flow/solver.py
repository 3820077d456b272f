"""March the flow on nested grids and record what is asked for.

Computes: populations on every grid, sub-cycled in time; velocity at probes after each coarse step; running means;
what each cut link took from the air.
Units: lattice units of velocity throughout (the same on every grid), density 1; lengths in metres.
Source: large-eddy simulation with Smagorinsky's model on D3Q19 (see `cells`); cut links turn populations back half-way;
screens by pressure loss K rho u^2 / 2; refinement by moments with stress rescaled, density and velocity unchanged.
Limits: Mach number under 0.3; the far field is the undisturbed wind, held on all outer sides and drawn to in a sponge.
"""
# mypy: disable-error-code="no-untyped-call"

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from canvas.jobs.failure import CouldNot
from canvas.wind.flow import cells
from canvas.wind.flow.backend import Device, backend
from canvas.wind.flow.cut import Sheet, cut_links, inside
from canvas.wind.flow.grid import Grid, own
from canvas.wind.flow.levels import Joint, Level, Passage, Sides

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Single = np.float32
SMAGORINSKY = 0.07  # frozen before any drag or wake was computed with this solver
NOISE = 0.02  # of the free stream, so that a symmetric flow does not stay falsely steady
FASTEST = 0.5  # lattice velocity past which the run counts as unstable


class RanAway(CouldNot):
    """Raised when a flow became unstable."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stand:
    """Where a flow stands, so that one made alike can go on from there.

    Attributes
    ----------
    steps, since, summed : int
        Steps so far, those when the sums began, and how many flows are in the means.
    levels : tuple of tuple of arrays
        Of each grid the populations, whether they stand as after an odd number of steps, what solid and porous links
        took, and the sums for means or None; host's memory.
    """

    steps: int
    since: int
    summed: int
    levels: tuple[tuple[Any, bool, Any, Any, Any], ...]


class Flow:
    """A flow ready to be marched.

    Parameters
    ----------
    grids : sequence of Grid
        Outermost first.
    sheets : sequence of Sheet
        What the air meets [m].
    wind : callable
        Undisturbed velocity (n, 2) at heights (n,) above the floor, lattice units.
    viscosity : float
        Of the outermost grid, lattice units; doubled on each finer one.
    floor : (2,) array or None
        Velocity of the floor, lattice units; None leaves the undisturbed wind below.
    grip : float
        1 for a floor the air sticks to, 0 for one it slides along.
    periodic : tuple of int
        Axes along which the outermost grid repeats.
    smagorinsky : float
        Subgrid constant; 0 for laminar flow.
    sponge : float
        Width of the layer at the outer sides in which the flow is drawn to the undisturbed wind [m].
    seed : int
        Of the first small noise.
    """

    def __init__(
        self,
        grids: Sequence[Grid],
        sheets: Sequence[Sheet],
        *,
        wind: Callable[[Floats], Floats],
        viscosity: float,
        floor: npt.ArrayLike | None = None,
        grip: float = 1.0,
        periodic: tuple[int, ...] = (),
        smagorinsky: float = SMAGORINSKY,
        sponge: float = 0.0,
        seed: int = 1,
        noise: float = NOISE,
        device: Device = "auto",
    ) -> None:
        self.device = backend(device)
        self.c2 = Single(smagorinsky**2)
        self.wind, self.sheets = wind, tuple(sheets)
        self.levels: list[Level] = []
        self.updates = 0
        self.steps = 0
        self.summed = 0
        self._since = 0
        self._grip = Single(grip)
        self._wall = None if floor is None else self.device.array(np.asarray(floor, dtype=Single))
        random = np.random.default_rng(seed)
        for number, grid in enumerate(grids):
            links = cut_links(sheets, origin=grid.origin, cell=grid.cell, shape=grid.shape).met(grid.stepped)
            tau = 0.5 + 3.0 * viscosity * 2**number
            level = Level(grid, self.device, links, tau)
            self._fill(level, random, noise)
            self.levels.append(level)
        self._joints = [Joint(a, b, self.device) for a, b in zip(self.levels, self.levels[1:], strict=False)]
        self._sides = Sides(self.levels[0], periodic, self.device)
        self._sponge = self._soak(sponge)

    def _free(self, grid: Grid) -> Floats:
        heights = grid.origin[2] + grid.cell * np.arange(grid.shape[2])
        return np.asarray(self.wind(np.maximum(heights, 0.25 * grid.cell)))

    def _fill(self, level: Level, random: np.random.Generator, noise: float) -> None:
        grid = level.grid
        free = self._free(grid)
        start = np.zeros((10, grid.shape[2], grid.shape[1] * grid.shape[0]), dtype=Single)
        start[1:3] = free.T[:, :, None]
        outer = np.stack(cells.populations(*start)).reshape(19, *grid.shape[::-1])
        scale = noise * float(np.hypot(free[:, 0], free[:, 1]).max(initial=0.0))
        start[1:4] += (scale * random.standard_normal((3, *start.shape[1:]))).astype(Single)
        held = inside(self.sheets, origin=grid.origin, cell=grid.cell, shape=grid.shape)
        start[:, held.reshape(start.shape[1:])] = 0
        level.air = ~held
        filled = np.stack(cells.populations(*start)).reshape(19, *grid.shape[::-1])
        within = (slice(None), slice(1, -1), slice(1, -1), slice(1, -1))
        outer[within] = filled[within]
        level.f = self.device.array(level.laid(outer.reshape(19, -1)))

    def _soak(self, width: float) -> tuple[Any, Any, Any, int]:
        grid = self.levels[0].grid
        axes = [np.arange(1, n - 1) for n in grid.shape]
        z, y, x = np.meshgrid(axes[2], axes[1], axes[0], indexing="ij")
        nx, ny, nz = grid.shape
        away = np.minimum.reduce([x - 0.5, nx - 1.5 - x, y - 0.5, ny - 1.5 - y, nz - 1.5 - z]) * grid.cell
        depth = np.clip(1.0 - away / max(width, 1e-9), 0.0, 1.0)
        wet = depth > 0
        where = (x + nx * (y + ny * z))[wet].astype(np.int64)
        free = self._free(grid)[z[wet]]
        held = np.zeros((len(where), 4), dtype=Single)
        held[:, 1:3] = free
        strength = (0.1 * depth[wet] ** 2).astype(Single)
        return self.device.array(where), self.device.array(strength), self.device.array(held.ravel()), len(where)

    def advance(self, steps: int, *, grids: int | None = None) -> None:
        """March by a number of steps of the outermost grid: all grids, or the first few, as if there were no more."""
        for _ in range(steps):
            self._step(0, len(self.levels) if grids is None else grids)
            self.steps += 1

    def refine(self) -> None:
        """Fill the finest grid, all but its sides, from the one round it."""
        coarse, fine = self.levels[-2:]
        self._hand_down(coarse, fine, Passage(coarse, fine, own(fine.grid), self.device))

    def stand(self) -> Stand:
        """Return where the flow stands; on the processor its own arrays, so nothing may be marched after."""
        host = self.device.host
        levels = tuple(
            (
                host(one.f), one.odd, host(one.gained), host(one.screen_gained),
                None if one.sums is None else host(one.sums),
            )
            for one in self.levels
        )  # fmt: skip
        return Stand(steps=self.steps, since=self._since, summed=self.summed, levels=levels)

    def resume(self, stand: Stand) -> None:
        """Go on from where a flow of the same grids and sheets stood; updates done by it are not counted here."""
        self.steps, self._since, self.summed = stand.steps, stand.since, stand.summed
        for level, (f, odd, gained, screen_gained, sums) in zip(self.levels, stand.levels, strict=True):
            level.f, level.odd, level.gained = self.device.array(f), odd, self.device.array(gained)
            level.screen_gained = self.device.array(screen_gained)
            level.sums = None if sums is None else self.device.array(sums)

    def _step(self, number: int, grids: int) -> None:
        level, on = self.levels[number], self.device
        joint = self._joints[number] if number + 1 < grids else None
        left = level if joint is None else joint
        if joint is not None:
            self._hand_down(level, self.levels[number + 1], joint.down)
        if number == 0:
            sides = self._sides
            on.call("hold", sides.kept, level.f, sides.odd if level.odd else sides.even, sides.values)
            on.call("repeat", sides.repeated, level.f, level.at, sides.target, sides.source)
            where, strength, free, count = self._sponge
            on.call("calm", count, level.f, level.at, where, strength, free)
        if self._wall is not None and (number == 0 or level.grid.ghosts[2] == 1):
            on.call("floor", level.nx * level.ny, level.f, level.at, level.nx, level.ny, self._wall, self._grip)
        if level.porous:
            on.call(
                "screen", level.porous, level.f, level.at, level.here, level.there, level.normal, level.loss,
                level.screen_share,
            )  # fmt: skip
            links = level.across(level.screen_ahead, level.screen_back)
            on.call("exchange", level.porous, level.f, *links, level.screen_share, level.screen_gained)
        links = level.across(level.ahead, level.back)
        on.call("exchange", level.first_porous, level.f, *links, level.solid_share, level.gained)
        on.call(
            "step", level.grid.size, level.f, level.at, level.nx, level.ny, level.nz, left.rows, level.tau, self.c2
        )
        level.odd = not level.odd
        self.updates += left.updates
        if joint is not None:
            self._step(number + 1, grids)
            self._step(number + 1, grids)
            self._hand_up(level, self.levels[number + 1], joint)

    def _hand_down(self, coarse: Level, fine: Level, down: Passage) -> None:
        self.device.call("gather", down.count, coarse.f, coarse.at, down.known, down.buffer)
        threads = down.parents * (8 if self.device.name == "cuda" else 1)
        self.device.call(
            "prolong", threads, down.buffer, down.entry, down.slopes, down.child, fine.f, fine.at, fine.nx,
            fine.nx * fine.ny, coarse.tau, fine.tau, self.c2,
        )  # fmt: skip

    def _hand_up(self, coarse: Level, fine: Level, joint: Joint) -> None:
        self.device.call(
            "restrict", joint.under_count, fine.f, fine.at, joint.under_child, fine.nx, fine.nx * fine.ny,
            coarse.f, coarse.at, joint.under, fine.tau, coarse.tau, self.c2,
        )  # fmt: skip

    def impose(self, number: int, *, velocity: Floats, excess: Floats | float = 0.0) -> None:
        """Set velocity (3, z, y, x) and density less one of a grid, with no stress beyond equilibrium."""
        level = self.levels[number]
        start = np.zeros((10, *level.grid.shape[::-1]), dtype=Single)
        start[0] = excess
        start[1:4] = velocity * (1.0 + start[0])
        populations = np.stack(cells.populations(*start)).reshape(19, -1)
        level.f, level.odd = self.device.array(level.laid(populations)), False
        if number == 0:
            self._sides.keep(level)

    def collect(self) -> None:
        """Add the present flow to the running means of every grid."""
        for level in self.levels:
            if level.sums is None:
                level.sums = self.device.array(np.zeros(5 * level.grid.size, dtype=Single))
            self.device.call("collect", level.grid.size, level.f, level.at, level.grid.size, level.sums)
        self.summed += 1

    def mean(self, number: int) -> Any:
        """Return mean density less one, velocity and speed of a grid, (5, z, y, x) [lattice units]."""
        level = self.levels[number]
        return self.device.host(level.sums).reshape(5, *level.grid.shape[::-1]) / max(self.summed, 1)

    def now(self, number: int) -> Any:
        """Return density less one and velocity of a grid at this moment, (4, z, y, x) [lattice units]."""
        level = self.levels[number]
        f = self.device.host(level.f)
        found = cells.moments(*(f[at : at + level.grid.size] for at in self.device.host(level.at)))
        density = 1 + found[0]
        return np.stack([found[0], *(found[axis] / density for axis in (1, 2, 3))]).reshape(4, *level.grid.shape[::-1])

    def forget(self) -> None:
        """Start the running sums on links and cells again."""
        for level in self.levels:
            level.gained = self.device.array(np.zeros(level.first_porous))
            level.screen_gained = self.device.array(np.zeros(level.porous))
            level.sums = None
        self.summed = 0
        self._since = self.steps

    def force(self, number: int | None = None) -> Floats:
        """Return the mean force on each sheet since `forget`, by links of one grid (the finest by default).

        Returns
        -------
        (sheets, 3) ndarray
            In rho u^2 cell^2 of that grid, lattice units.
        """
        number = len(self.levels) - 1 if number is None else number
        level = self.levels[number]
        steps = max((self.steps - self._since) * 2**number, 1)
        solid, screens = self.device.host(level.gained), self.device.host(level.screen_gained)
        taken = np.concatenate([solid[: level.first_porous], screens[: level.porous]])
        c = np.stack([cells.CX, cells.CY, cells.CZ], axis=1)[level.links.direction]
        own = level.grid.inside.ravel()[level.links.cell]  # sides that repeat count once
        force = np.zeros((len(self.sheets), 3))
        np.add.at(force, level.links.owner[own], 2.0 * taken[own, None] / steps * c[own])
        return force

    def check(self) -> None:
        """Raise where the flow has run away; cells under a finer grid, and inside closed bodies, do not count.

        Raises
        ------
        RanAway
            When a velocity is past any bound or is not a number.
        """
        finer = (*(level.grid for level in self.levels[1:]), None)
        for number, (level, fine) in enumerate(zip(self.levels, finer, strict=True)):
            counted = level.grid.marched(fine) & level.air
            speed = np.where(counted, np.abs(self.now(number)).max(axis=0), 0.0)
            worst = int(np.argmax(np.where(np.isnan(speed), np.inf, speed)))
            if not speed.flat[worst] < FASTEST:
                index = np.array(np.unravel_index(worst, speed.shape))[::-1]
                where = ", ".join(f"{value:.2f}" for value in level.grid.origin + level.grid.cell * index)
                raise RanAway(
                    f"The air flow became unstable at {where} m in wind axes ({level.grid.cell:.2f} m cells).",
                    "Use other cells; tell the author of the program which design this was.",
                )

"""Solve elastic cloth: where it comes to rest under its loads.

Computes: places in balance, stresses, wrinkled and slack faces, reactions, energies.
Units: metres, newtons, newtons a metre.
Source: Newton's method with a damped step and a search along it for the point where the residual does no more work.
Limits: dynamics are left out: flogging is not modelled; among several states in balance the one reached is returned.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from canvas.cloth.banded import factorise, narrow_order, substitute
from canvas.cloth.loads import Loads
from canvas.cloth.membrane import Assembly, Forces, Membrane
from canvas.geometry.surface import Bools, Floats, Ints
from canvas.jobs.compiled import compiled
from canvas.jobs.failure import CouldNot

STEPS = 200
BALANCED = 1e-6  # greatest residual, as a share of the greatest force of an element
STILL = 1e-7  # a step shorter than this with the residual below NEARLY ends the search [m]
NEARLY = 1e-4
FLOPPY, FLOPPIER = 40, 100  # steps after which cloth out of balance by less than FAINT, or FAINTLY, counts as at rest
FAINT, FAINTLY = 0.5, 3.0  # a sixth of the weight of light cloth, and its weight [Pa]
ROUGH_STEPS = 25
PATIENCE = 20  # steps after which a residual that hardly falls is damped more
LONGEST = 0.3  # no step moves a vertex farther than this [m]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Loaded:
    """Elastic cloth in balance with its loads.

    Attributes
    ----------
    vertices : (n, 3) ndarray
        [m]
    stress : (m, 3) ndarray
        Along warp, along weft and shear [N/m].
    state : (m,) ndarray of int
        0 taut, 1 wrinkled, 2 slack.
    reactions : (n, 3) ndarray
        What holds each held vertex pushes on it with; zero elsewhere [N].
    line_tensions : tuple of (k - 1,) ndarray
        Of each line [N].
    energy : float
        Strain energy [J].
    residual : float
        Greatest force out of balance [N].
    steps : int
    """

    vertices: Floats
    stress: Floats
    state: Ints
    reactions: Floats
    line_tensions: tuple[Floats, ...]
    energy: float
    residual: float
    steps: int


@np.errstate(over="ignore", invalid="ignore")  # a trial step that runs away is seen by its size and taken back
def settle(
    membrane: Membrane,
    start: Floats,
    *,
    loads: Loads | None = None,
    what: str = "The cloth",
    rough: bool = False,
    balanced: float = BALANCED,
) -> Loaded:
    """Return where elastic cloth comes to rest.

    Parameters
    ----------
    membrane : Membrane
    start : (n, 3) ndarray
        Where its vertices start; held ones stay there [m].
    loads : Loads or None
    what : str
        How a failure names it.
    rough : bool
        On the way to another state: whatever is reached in ROUGH_STEPS is enough.
    balanced : float
        Greatest force out of balance, over the greatest force of one element, at which it counts as at rest.

    Raises
    ------
    CouldNot
        When no balance is found.
    """
    solver = _Newton(membrane, loads or Loads(), balanced)
    places = np.array(start, dtype=np.float64)
    found = solver.forces(places)
    for step in range(1, STEPS + 1):
        if solver.rests(found, step) or (rough and step > ROUGH_STEPS):
            return _result(membrane, places, found, step)
        way = solver.direction(found)
        if way is None:
            break
        before = found
        share, found = solver.search(places, before, way)
        moved = share * way
        places = places + moved
        if step > PATIENCE and share == 1.0:
            solver.dampen(before, found)
        if not np.isfinite(found.scale):
            break
        if np.abs(moved).max() < STILL and solver.worst(found) <= NEARLY * found.scale:
            return _result(membrane, places, found, step)
    raise CouldNot(
        f"{what} did not come to rest under its load.",
        "Hold it along more of its outline, or load it in smaller steps.",
    )


class _Newton:
    """The damped Newton iteration."""

    def __init__(self, membrane: Membrane, loads: Loads, balanced: float) -> None:
        self.balanced = balanced
        self.assembly = Assembly(membrane)
        self.loads = loads
        self.free = ~membrane.held
        count = len(membrane.held)
        local = np.full(count, -1, dtype=np.int64)
        links = self.assembly.node_links()
        links = links[self.free[links].all(axis=1)]
        index = np.flatnonzero(self.free)
        local[index] = np.arange(len(index))
        self.order = index[np.argsort(narrow_order(local[links], len(index)), kind="stable")]
        self.local = np.full(count, -1, dtype=np.int64)
        self.local[self.order] = np.arange(len(self.order))
        gap = np.abs(self.local[links[:, 0]] - self.local[links[:, 1]]).max(initial=0)
        self.band = 3 * (int(gap) + 1) - 1
        self.damping = 1e-7
        sheet = self.assembly.sheet
        self.share = np.bincount(sheet.faces.ravel(), weights=np.repeat(sheet.area / 3, 3), minlength=count)

    def forces(self, places: Floats) -> Forces:
        """Return what the membrane feels, with its stiffness."""
        return self.assembly.forces(places, self.loads, stiffness=True)

    def worst(self, found: Forces) -> float:
        """Return the greatest residual on a free vertex [N]."""
        return float(np.abs(found.residual[self.free]).max(initial=0.0))

    def rests(self, found: Forces, step: int) -> bool:
        """Return whether the cloth is in balance; slack cloth, which hardly resists, within a faint pressure."""
        if self.worst(found) <= self.balanced * found.scale:
            return True
        faint = FAINTLY if step > FLOPPIER else FAINT
        return step > FLOPPY and bool((np.abs(found.residual) <= faint * self.share[:, None])[self.free].all())

    def direction(self, found: Forces) -> Floats | None:
        """Return the damped Newton step (n, 3), or None where no damping makes the matrix positive."""
        band = np.zeros((3 * len(self.order), self.band + 1))
        for vertices, blocks in found.blocks:
            add_to_band(band, self.local, vertices, blocks)
        scale = float(np.median(np.abs(band[:, 0]))) + 1e-9
        for _ in range(24):
            damped = band.copy()
            damped[:, 0] += self.damping * scale
            if not factorise(damped):
                self.damping = max(10 * self.damping, 1e-7)
                continue
            step = found.residual[self.order].reshape(-1, 1)
            substitute(damped, step)
            self.damping = max(self.damping / 3, 1e-9)
            way = np.zeros_like(found.residual)
            way[self.order] = step.reshape(-1, 3)
            longest = float(np.linalg.norm(way, axis=1).max())
            return way if longest <= LONGEST else way * (LONGEST / longest)
        return None

    def dampen(self, before: Forces, found: Forces) -> None:
        """Raise the damping where a whole step hardly lowered the residual: cloth that is slack and taut by turns."""
        old, new = (float(np.linalg.norm(each.residual[self.free])) for each in (before, found))
        if new > 0.7 * old:
            self.damping = min(10 * self.damping, 1e2)

    def search(self, places: Floats, found: Forces, way: Floats) -> tuple[float, Forces]:
        """Return the share of a step at which the residual does little more work along it, and the forces there."""
        tried = found

        def work(share: float) -> float:
            nonlocal tried
            tried = self.forces(places + share * way)
            return float((tried.residual * way).sum())

        return _root(work, float((found.residual * way).sum())), tried


def _root(work: Callable[[float], float], first: float) -> float:
    """Return the share in 0..1, the last asked about, at which `work`, `first` at 0, is within half of that, or 1."""
    low, high, at_low, at_high = 0.0, 1.0, first, work(1.0)
    if at_high > -0.5 * first:
        return 1.0
    share = 1.0
    for _ in range(12):
        share = low + (high - low) * at_low / (at_low - at_high)
        share = min(max(share, low + 0.05 * (high - low)), high - 0.05 * (high - low))
        value = work(share)
        if abs(value) <= 0.5 * first:
            return share
        if value > 0:
            low, at_low, at_high = share, value, at_high / 2
        else:
            high, at_high, at_low = share, value, at_low / 2
    return share


@compiled
def add_to_band(band: Floats, local: Ints, vertices: Ints, blocks: Floats) -> None:
    """Add element matrices (k, 3 v, 3 v) to lower band storage, leaving held vertices out.

    Parameters
    ----------
    band : (b, 3 f) ndarray
        Lower band storage of the free vertices' matrix, changed in place: entry (i, j) at ``band[j, i - j]`` [N/m].
    local : (n,) ndarray of int
        Number of each vertex among the free ones, negative where it is held.
    vertices : (k, v) ndarray of int
        Of each element.
    blocks : (k, 3 v, 3 v) ndarray
        [N/m]
    """
    count = vertices.shape[1]
    for k in range(len(vertices)):
        for a in range(count):
            row = local[vertices[k, a]]
            if row < 0:
                continue
            for b in range(count):
                column = local[vertices[k, b]]
                if column < 0 or column > row:
                    continue
                for p in range(3):
                    for q in range(3):
                        i, j = 3 * row + p, 3 * column + q
                        if i >= j:
                            band[j, i - j] += blocks[k, 3 * a + p, 3 * b + q]


def _result(membrane: Membrane, places: Floats, found: Forces, steps: int) -> Loaded:
    held: Bools = membrane.held
    cuts = np.cumsum([len(line.rest) for line in membrane.lines])[:-1]
    return Loaded(
        vertices=places,
        stress=found.stress,
        state=found.state,
        reactions=np.where(held[:, None], -found.residual, 0.0),
        line_tensions=tuple(np.split(found.tensions, cuts)) if membrane.lines else (),
        energy=found.energy,
        residual=float(np.abs(found.residual[~held]).max(initial=0.0)),
        steps=steps,
    )

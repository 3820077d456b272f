"""Search the numbers of a design: most shade and dryness for least cloth, the vane's loss under a limit.

Computes: the trade-off front of one set over varied numbers, by canvas/study/front.py and canvas/study/sweeping.py.
Units: as the measures; shares 0..1.
Source: see those modules.
Limits: ranked by few rays and the wake sum, which is rough and cannot show gains. Besides the space-filling start, the
    middle and both ends of each number are tried: shapes that the wake sum does not favour, such as falling roofs.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from canvas.design.reading import Source
from canvas.geometry.surface import Floats
from canvas.jobs.pool import Pool
from canvas.jobs.progress import SILENT, Progress
from canvas.study.front import Tried, search_front
from canvas.study.measures import BETTER_MORE, Measures
from canvas.study.numbers import Vary
from canvas.study.sweeping import Effect, Sweep, Variant, effects, try_all


@dataclass(frozen=True, slots=True, kw_only=True)
class Aims:
    """What is wanted of a set.

    Attributes
    ----------
    names : tuple of str
        Measures to be made large, or small where less is better.
    least_speed_ratio : float
        Of the wind that the bare boat has at the blade, least over courses.
    least_headroom : float or None
        Under new cloth [m].
    """

    names: tuple[str, ...]
    least_speed_ratio: float
    least_headroom: float | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Search:
    """What a search found.

    Attributes
    ----------
    varies : tuple of Vary
    aims : Aims
    variants : tuple of Variant
        All that were tried, in order.
    front : tuple of int
        Places of those on the front.
    effects : tuple of Effect
    reran : int
    """

    varies: tuple[Vary, ...]
    aims: Aims
    variants: tuple[Variant, ...]
    front: tuple[int, ...]
    effects: tuple[Effect, ...]
    reran: int


def search_design(
    source: Source,
    varies: Sequence[Vary],
    *,
    set_name: str,
    aims: Aims,
    pool: Pool,
    start: int = 16,
    rounds: int = 4,
    seed: int = 0,
    costed: bool = False,
    progress: Progress = SILENT,
) -> Search:
    """Search for the front of one set.

    Parameters
    ----------
    source : Source
    varies : sequence of Vary
        Their steps do not count.
    set_name : str
    aims : Aims
    pool : Pool
    start, rounds, seed : int
        As in `search_front`.
    costed : bool
        As in `try_all`.
    progress : Progress
    """
    sweeps: list[Sweep] = []

    def trial(points: Floats) -> Tried:
        rows = [[one.first + p * (one.last - one.first) for one, p in zip(varies, row, strict=True)] for row in points]
        sweep = try_all(source, varies, rows, sets=(set_name,), pool=pool, costed=costed, progress=progress)
        sweeps.append(sweep)
        return judged(sweep.variants, aims)

    found = search_front(trial, numbers=len(varies), first=_ends(len(varies)), start=start, rounds=rounds, seed=seed)
    variants = tuple(one for sweep in sweeps for one in sweep.variants)
    return Search(
        varies=tuple(varies),
        aims=aims,
        variants=variants,
        front=tuple(int(k) for k in found.front),
        effects=effects(varies, variants),
        reran=sum(sweep.reran for sweep in sweeps),
    )


def judged(variants: Sequence[Variant], aims: Aims) -> Tried:
    """Return the aims of variants, all to be made small, and by how much they break the limits."""
    rows, excess = [], []
    for one in variants:
        if one.problem is not None:
            rows.append([np.nan] * len(aims.names))
            excess.append(np.inf)
            continue
        found = one.measures[0]
        rows.append([_small(found, name) for name in aims.names])
        excess.append(_excess(found, aims))
    return Tried(aims=np.array(rows, dtype=float), excess=np.array(excess, dtype=float))


def _small(found: Measures, name: str) -> float:
    value = found.named(name)
    if value is None:
        return 0.0
    return -value if BETTER_MORE[name] else value


def _excess(found: Measures, aims: Aims) -> float:
    broken = max(aims.least_speed_ratio - found.speed_ratio, 0.0)
    if aims.least_headroom is not None and found.headroom_m is not None:
        broken += max(aims.least_headroom - found.headroom_m, 0.0)
    return broken


def _ends(numbers: int) -> Floats:
    """Return the middle, and each number at both ends with the others in the middle."""
    points = np.full((1 + 2 * numbers, numbers), 0.5)
    for k in range(numbers):
        points[1 + 2 * k, k], points[2 + 2 * k, k] = 0.0, 1.0
    return points

"""Confirm a search by the air flow: some variants coarse, the best of them fine, and where flow and wake sum disagree.

Computes: for chosen variants and apparent wind angles, the wind at the blade over the bare boat's by the flow, beside
    the wake sum of the same angle; whether each keeps the limit.
Units: radians, metres; ratios of speeds.
Source: canvas/wind/flow/run.py, with its bands; canvas/wind/wake.py.
Limits: only the angles asked. The flow is run for a space-filling dozen, for the ends of every number (shapes that the
    wake sum does not favour, such as roofs that fall aft) and for the first of the front, not for all.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from canvas.design.reading import Source
from canvas.design.schema.design import BARE
from canvas.geometry.scene import Scene
from canvas.jobs.progress import SILENT, Progress
from canvas.study.front import beats
from canvas.study.numbers import variant_texts
from canvas.study.searching import Search, judged
from canvas.study.sweeping import task_of, variant_rigging
from canvas.wind.blade import Estimate
from canvas.wind.flow.backend import Device
from canvas.wind.flow.march import AVERAGE, SETTLE
from canvas.wind.flow.run import rose
from canvas.wind.flow.runner import Conditions
from canvas.wind.wake import wake

DOZEN = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Flown:
    """One variant at one angle by the flow.

    Attributes
    ----------
    variant : int
        Its place in the search.
    awa, cell : float
        [rad], finest cell [m].
    flow : Estimate
        Speed at the blade over the bare boat's, with its band.
    wake : float
        The same by the wake sum.
    verdict : str
        ``keeps`` the limit, ``breaks`` it, or ``close``: the band holds the limit.
    agrees : bool
        Whether the wake sum lies within the flow's band.
    """

    variant: int
    awa: float
    cell: float
    flow: Estimate
    wake: float
    verdict: str
    agrees: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class FlowAsked:
    """How a search is confirmed.

    Attributes
    ----------
    angles : tuple of float
        Apparent wind angles [rad].
    coarse : float
        Finest cell for all that are run [m].
    fine : float or None
        Finest cell for the best few; none are run again where absent [m].
    seeds : int
        Space-filling variants that are run whatever the wake sum says of them.
    best : int
        How many of the front are run, and run again fine.
    device : str
    folder : Path or None
        Where results are kept.
    settle, average : float
        Flow-throughs; shorter than the defaults is for trials only.
    """

    angles: tuple[float, ...]
    coarse: float
    fine: float | None = None
    seeds: int = DOZEN
    best: int = 3
    device: Device = "auto"
    folder: Path | None = None
    settle: float = SETTLE
    average: float = AVERAGE


def flown_first(search: Search, *, start: int, asked: FlowAsked) -> tuple[int, ...]:
    """Return which variants the flow is run for: first of the front, a space-filling few, the ends of each number.

    Parameters
    ----------
    search : Search
    start : int
        How many of its first variants fill the space; the middle and both ends of each number follow.
    asked : FlowAsked

    Returns
    -------
    tuple of int
        Numbers of variants, each once.
    """
    built = [k for k, one in enumerate(search.variants) if one.problem is None]
    filling = [k for k in built if k < start][: asked.seeds]
    ends = [k for k in built if start <= k < start + 1 + 2 * len(search.varies)] if asked.seeds else []
    return tuple(dict.fromkeys([*search.front[: asked.best], *filling, *ends]))


def confirm(
    source: Source,
    search: Search,
    *,
    set_name: str,
    start: int,
    conditions: Conditions,
    asked: FlowAsked,
    progress: Progress = SILENT,
) -> tuple[Flown, ...]:
    """Return what the flow finds of some variants of a search, fine runs last.

    Parameters
    ----------
    source : Source
    search : Search
    set_name : str
    start : int
        How many of its variants fill the space evenly: the first ones.
    conditions : Conditions
        The wind.
    asked : FlowAsked
    progress : Progress

    Raises
    ------
    CouldNot
        When the flow does not fit in memory, or fails.
    """
    chosen = flown_first(search, start=start, asked=asked)
    if not chosen:
        return ()
    bare, scenes = _scenes(source, search, set_name, chosen)
    limit = search.aims.least_speed_ratio
    found = flown(bare, scenes, conditions, cell=asked.coarse, limit=limit, asked=asked, progress=progress)
    if asked.fine is None:
        return found
    best = best_by_flow(search, found)[: asked.best]
    if not best:
        return found
    fewer = {k: scenes[k] for k in best}
    return (*found, *flown(bare, fewer, conditions, cell=asked.fine, limit=limit, asked=asked, progress=progress))


def flown(
    bare: Scene,
    scenes: Mapping[int, Scene],
    conditions: Conditions,
    *,
    cell: float,
    limit: float,
    asked: FlowAsked,
    progress: Progress = SILENT,
) -> tuple[Flown, ...]:
    """Return what the flow finds of some scenes against the bare boat's, by the number of their variant.

    Parameters
    ----------
    bare : Scene
    scenes : mapping of int to Scene
        By the number of their variant.
    conditions : Conditions
    cell : float
        Finest cell [m].
    limit : float
        Share of the bare boat's wind that must be kept.
    asked : FlowAsked
    progress : Progress
    """
    named = [replace(scene, set_name=f"variant {k}") for k, scene in scenes.items()]
    run = rose(
        [replace(bare, set_name=BARE), *named], conditions, angles=asked.angles, coarse=cell, fine=None,
        device=asked.device, folder=asked.folder, settle=asked.settle, average=asked.average, progress=progress,
    )  # fmt: skip
    rows = []
    for angle in run.angles:
        left = max(float(wake(bare, awa=angle.awa).speed_ratio_free[0]), 1e-9)
        for k, scene in scenes.items():
            felt = angle.wind[f"variant {k}"].speed_ratio
            rough = float(wake(scene, awa=angle.awa).speed_ratio_free[0]) / left
            verdict = "keeps" if felt.low >= limit else "breaks" if felt.high < limit else "close"
            rows.append(
                Flown(
                    variant=k, awa=angle.awa, cell=cell, flow=felt, wake=rough, verdict=verdict,
                    agrees=felt.low <= rough <= felt.high,
                )
            )  # fmt: skip
    return tuple(rows)


def best_by_flow(search: Search, found: Sequence[Flown]) -> tuple[int, ...]:
    """Return the flown variants that no other beats, of those whose limit the flow's band does not rule out."""
    highest: dict[int, float] = {}
    for one in found:
        highest[one.variant] = min(highest.get(one.variant, np.inf), one.flow.high)
    kept = [
        replace(search.variants[k], measures=(replace(search.variants[k].measures[0], speed_ratio=ratio),))
        for k, ratio in highest.items()
    ]
    tried = judged(kept, search.aims)
    unbeaten = ~beats(tried).any(axis=0) & (tried.excess <= 0.0)
    order = np.lexsort(tried.aims.T[::-1])
    names = list(highest)
    return tuple(names[k] for k in order if unbeaten[k])


def _scenes(source: Source, search: Search, set_name: str, chosen: Sequence[int]) -> tuple[Scene, dict[int, Scene]]:
    """Return the bare boat and each chosen variant with its set up."""
    rows = [search.variants[k].values for k in chosen]
    texts = variant_texts(source, search.varies, rows)
    riggings = [
        variant_rigging(task_of(source, row, text, sets=(set_name,))) for row, text in zip(rows, texts, strict=True)
    ]
    return riggings[0].rig(BARE).scene, {
        k: rigging.rig(set_name).scene for k, rigging in zip(chosen, riggings, strict=True)
    }

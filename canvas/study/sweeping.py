"""Try variants of a design: one task each, run by any pool.

Computes: the measures of each variant, or why it cannot be; how much each number moves each measure.
Units: as the measures.
Source: canvas/study/measures.py; effects by least squares on the numbers scaled to their ranges.
Limits: a variant that is no design, or whose cloth finds no balance, stays in the list with its reason.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from canvas.asbuilt.built import boat_as_built
from canvas.cloth.rigging import Rigging
from canvas.cutting.ordered import cut_result
from canvas.design.problems import DesignError
from canvas.design.reading import Source, parse_design
from canvas.geometry.model import build_model
from canvas.geometry.surface import Floats
from canvas.jobs.failure import CouldNot
from canvas.jobs.pool import Pool
from canvas.jobs.progress import SILENT, Progress
from canvas.study.measures import MEASURES, NOTICED, Measures, measure
from canvas.study.numbers import Vary, variant_texts
from canvas.study.worth import Cost, cost_of, new_panels_up

_BEFORE: list[Rigging] = []  # the last variant built in this process: what is shaped alike is taken over from it


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One variant to be measured: plain values, so that it can go to another process or machine."""

    values: tuple[float, ...]
    text: str
    file: str
    folder: str
    sets: tuple[str, ...]
    costed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Variant:
    """One variant.

    Attributes
    ----------
    values : tuple of float
        Of the varied numbers, in their own units.
    measures : tuple of Measures
        One a set; empty where it cannot be.
    problem : str or None
        Why not.
    costs : tuple of Cost or None
        Of the new panels that are up, one a set; None where they cannot be cut, empty where nobody asked.
    """

    values: tuple[float, ...]
    measures: tuple[Measures, ...]
    problem: str | None
    costs: tuple[Cost | None, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sweep:
    """Many variants.

    Attributes
    ----------
    varies : tuple of Vary
    sets : tuple of str
    variants : tuple of Variant
    reran : int
        Tasks that were run again because their worker went.
    """

    varies: tuple[Vary, ...]
    sets: tuple[str, ...]
    variants: tuple[Variant, ...]
    reran: int


def do_task(task: Task) -> Variant:
    """Return one variant measured."""
    try:
        rigging = variant_rigging(task)
        found = tuple(measure(rigging, name) for name in task.sets)
    except DesignError as error:
        return Variant(values=task.values, measures=(), problem=str(error.problems[0]))
    except CouldNot as error:
        return Variant(values=task.values, measures=(), problem=str(error))
    return Variant(values=task.values, measures=found, problem=None, costs=_costs(rigging, task))


def _costs(rigging: Rigging, task: Task) -> tuple[Cost | None, ...]:
    """Return what the new panels of each set cost, all of them cut once; None where they cannot be cut."""
    if not task.costed:
        return ()
    try:
        cut = cut_result(rigging)
    except (DesignError, CouldNot):
        return (None,) * len(task.sets)
    return tuple(cost_of(cut, rigging, new_panels_up(rigging, name)) for name in task.sets)


def variant_rigging(task: Task) -> Rigging:
    """Return one variant put up; what is shaped alike is taken over from the one before.

    Raises
    ------
    DesignError
        When it is no design.
    """
    rigging = boat_as_built(build_model(parse_design(task.text, file=task.file, folder=Path(task.folder)))).rigging
    for other in _BEFORE:
        rigging.take_over(other)
    _BEFORE[:] = [rigging]
    return rigging


def task_of(source: Source, row: Sequence[float], text: str, *, sets: Sequence[str], costed: bool = False) -> Task:
    """Return one variant of a design as a task.

    Parameters
    ----------
    source : Source
    row : sequence of float
        The values of what is varied [SI].
    text : str
        The design's text with them in it.
    sets : sequence of str
        To be asked about.
    costed : bool
        Whether it is cut and priced too.
    """
    return Task(
        values=tuple(float(value) for value in row),
        text=text,
        file=source.file,
        folder=str(source.folder),
        sets=tuple(sets),
        costed=costed,
    )


def try_all(
    source: Source,
    varies: Sequence[Vary],
    rows: Sequence[Sequence[float]],
    *,
    sets: Sequence[str],
    pool: Pool,
    costed: bool = False,
    progress: Progress = SILENT,
) -> Sweep:
    """Return the variants with the given values.

    Parameters
    ----------
    source : Source
    varies : sequence of Vary
    rows : sequence of sequence of float
        A value for each varied number, by variant.
    sets : sequence of str
    pool : Pool
    costed : bool
        Whether every variant is cut and priced too, which takes about as long again.
    progress : Progress
    """
    texts = variant_texts(source, varies, rows)
    tasks = [task_of(source, row, text, sets=sets, costed=costed) for row, text in zip(rows, texts, strict=True)]
    ran = pool.run(do_task, tasks, progress=progress)
    return Sweep(varies=tuple(varies), sets=tuple(sets), variants=ran.results, reran=ran.reran)


@dataclass(frozen=True, slots=True, kw_only=True)
class Effect:
    """What one number does to one measure.

    Attributes
    ----------
    number, measure : str
    change : float
        Of the measure over the number's whole range, other numbers held.
    spread : float
        Of the measure over all variants, least to most.
    """

    number: str
    measure: str
    change: float
    spread: float

    @property
    def least(self) -> float:
        """Change of the measure under which it is noise."""
        return NOTICED[self.measure]


def effects(varies: Sequence[Vary], variants: Sequence[Variant], *, which: int = 0) -> tuple[Effect, ...]:
    """Return what each number does to each measure of a set, first what is furthest above the noise of its measure.

    Parameters
    ----------
    varies : sequence of Vary
    variants : sequence of Variant
    which : int
        Place of the set.
    """
    known = [one for one in variants if one.problem is None]
    found = []
    for name in MEASURES:
        rows = [(one.values, one.measures[which].named(name)) for one in known]
        kept = [(values, value) for values, value in rows if value is not None]
        if len(kept) <= len(varies) + 1:
            continue
        scaled = np.array([_scaled(varies, values) for values, _ in kept])
        value = np.array([one for _, one in kept])
        slopes = np.linalg.lstsq(np.column_stack([np.ones(len(value)), scaled]), value, rcond=None)[0][1:]
        spread = float(np.ptp(value))
        found += [
            Effect(number=vary.name, measure=name, change=float(slope), spread=spread)
            for vary, slope in zip(varies, slopes, strict=True)
            if spread > 0
        ]
    return tuple(sorted(found, key=lambda one: -abs(one.change) / one.least))


def _scaled(varies: Sequence[Vary], values: Sequence[float]) -> Floats:
    return np.array([(v - one.first) / (one.last - one.first) for one, v in zip(varies, values, strict=True)])

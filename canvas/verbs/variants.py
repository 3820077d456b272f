"""Answer which variant: numbers of a design swept, and the best trade-offs searched for.

Computes: sweeps and searches.
Units: SI and radians in and out; varied numbers in the units of the file; records carry their units in their keys.
Source: the layers below.
Limits: nothing is printed or drawn here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from canvas.brief.answer import Answer
from canvas.brief.records import study as study_records
from canvas.cloth.rigging import Rigging
from canvas.design.asked import choice
from canvas.design.problems import DesignError, Problem
from canvas.design.reading import Source
from canvas.jobs.pool import HerePool, Pool
from canvas.jobs.progress import SILENT, Progress
from canvas.study.confirming import FlowAsked, Flown, confirm
from canvas.study.measures import MEASURES
from canvas.study.numbers import Vary, grid, read_vary, variant_texts
from canvas.study.searching import Aims, Search, search_design
from canvas.study.sweeping import Effect, Variant, effects, try_all
from canvas.verbs.asking import DesignLike, chosen_sets, rigging_of
from canvas.verbs.flow import ASKED_WIND
from canvas.wind.flow.runner import Conditions

MOST_VARIANTS = 2000
MOST_NUMBERS = 8
LEAST_RATIO = 0.85  # of the bare boat's wind that the vane keeps at the worst course; project rule, no source


def sweep(
    design: DesignLike,
    *,
    vary: Sequence[str],
    sets: Sequence[str] | None = None,
    pool: Pool | None = None,
    costed: bool = False,
    progress: Progress = SILENT,
) -> Answer:
    """Try every combination of one or two numbers of a design.

    Parameters
    ----------
    design : path, Source or Rigging
    vary : sequence of str
        Such as ``marks.tent_aft_port[2] & marks.tent_aft_stbd[2] = 1.05 m .. 1.40 m, 8``.
    sets : sequence of str, optional
    pool : Pool, optional
        Where variants are worked out; here where absent.
    costed : bool
        Whether the new panels of every variant are cut and priced too.
    progress : Progress

    Raises
    ------
    DesignError
        When a number is not found, or there are too many variants.
    """
    rigging = rigging_of(design)
    source = rigging.model.source
    varies = _varies(vary, source, most=2)
    rows = grid(varies)
    if len(rows) > MOST_VARIANTS:
        found, wanted = f"{len(rows)} variants", f"Ask for at most {MOST_VARIANTS}: fewer steps."
        raise DesignError([Problem(code="too-many", key="--vary", found=found, wanted=wanted)])
    names = chosen_sets(rigging, sets, bare=False)
    done = try_all(source, varies, rows, sets=names, pool=pool or HerePool(), costed=costed, progress=progress)
    _some_built(done.variants)
    return Answer(
        verb="sweep",
        rigging=rigging,
        results={
            name: SweptSet(variants=done.variants, which=k, effects=effects(varies, done.variants, which=k))
            for k, name in enumerate(names)
        },
        top=done,
        writer=study_records.sweep_record,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SweptSet:
    """One set over all variants: which of each variant's measures are its own, and what each number does to them."""

    variants: tuple[Variant, ...]
    which: int
    effects: tuple[Effect, ...]


def search(
    design: DesignLike,
    *,
    vary: Sequence[str],
    set_name: str,
    least_speed_ratio: float = LEAST_RATIO,
    least_headroom: float | None = None,
    aims: Sequence[str] = ("shade_share", "dry_share", "cloth_m2"),
    start: int = 16,
    rounds: int = 4,
    seed: int = 0,
    pool: Pool | None = None,
    flow: FlowAsked | None = None,
    costed: bool = False,
    progress: Progress = SILENT,
) -> Answer:
    """Search the numbers of a design for the best trade-offs of one set, the vane's loss under a limit.

    Parameters
    ----------
    design : path, Source or Rigging
    vary : sequence of str
        As for `sweep`; steps do not count.
    set_name : str
    least_speed_ratio : float
        Of the bare boat's wind that the vane must keep at the worst course, by the wake sum.
    least_headroom : float, optional
        Under new cloth, over seats and helm [m].
    aims : sequence of str
        Measures, made large, cloth small.
    start, rounds, seed : int
        Space-filling points (a power of two), rounds after them, and the seed of both.
    pool : Pool, optional
    flow : FlowAsked, optional
        How some variants are confirmed by the air flow, close-hauled where it names no angle; none are where absent.
    costed : bool
        As in `sweep`.
    progress : Progress

    Raises
    ------
    DesignError
        When a number, a set or an aim is not known.
    CouldNot
        When the flow cannot be run.
    """
    rigging = rigging_of(design)
    source = rigging.model.source
    (chosen,) = chosen_sets(rigging, [set_name])
    _check_search(aims, start)
    front = search_design(
        source,
        _varies(vary, source, most=MOST_NUMBERS),
        set_name=chosen,
        aims=Aims(names=tuple(aims), least_speed_ratio=least_speed_ratio, least_headroom=least_headroom),
        pool=pool or HerePool(),
        start=start,
        rounds=rounds,
        seed=seed,
        costed=costed,
        progress=progress,
    )
    _some_built(front.variants)
    return Answer(
        verb="search",
        rigging=rigging,
        results={chosen: front},
        top=() if flow is None else _confirmed(rigging, front, chosen, start=start, flow=flow, progress=progress),
        files=_designs_of(source, front),
        writer=study_records.search_record,
    )


def _confirmed(
    rigging: Rigging, front: Search, set_name: str, *, start: int, flow: FlowAsked, progress: Progress
) -> tuple[Flown, ...]:
    """Return what the air flow tells of some variants, close-hauled where no angle is asked for."""
    model = rigging.model
    return confirm(
        model.source,
        front,
        set_name=set_name,
        start=start,
        conditions=Conditions(aws=ASKED_WIND, instrument_height=model.instrument_height),
        asked=replace(flow, angles=flow.angles or (model.design.sailing.close_hauled_awa,)),
        progress=progress,
    )


def _designs_of(source: Source, front: Search) -> dict[str, bytes]:
    """Return the design file of each variant of the front, the first first."""
    texts = variant_texts(source, front.varies, [front.variants[k].values for k in front.front])
    return {f"front-{k:02d}.toml": text.encode("utf-8") for k, text in enumerate(texts, start=1)}


def _check_search(aims: Sequence[str], start: int) -> None:
    for aim in aims:
        choice("--aim", aim, MEASURES)
    if start < 2 or start & (start - 1):
        found = Problem(code="wrong-option", key="--start", found=str(start), wanted="Write a power of two: 8, 16, 32.")
        raise DesignError([found])


def _some_built(variants: Sequence[Variant]) -> None:
    """Refuse numbers of which no value makes a design: most likely the number itself is wrong."""
    if all(one.problem is not None for one in variants):
        found, wanted = "no variant that can be built", variants[0].problem or ""
        raise DesignError([Problem(code="no-variant", key="--vary", found=found, wanted=wanted)])


def _varies(texts: Sequence[str], source: Source, *, most: int) -> tuple[Vary, ...]:
    if not 1 <= len(texts) <= most:
        found = Problem(
            code="wrong-vary", key="--vary", found=f"{len(texts)} numbers", wanted=f"Vary from one to {most} numbers."
        )
        raise DesignError([found])
    varies = tuple(read_vary(text, source) for text in texts)
    paths = [path for one in varies for path in one.paths]
    if len(set(paths)) < len(paths):
        found = Problem(code="wrong-vary", key="--vary", found="one number twice", wanted="Vary each number once.")
        raise DesignError([found])
    return varies

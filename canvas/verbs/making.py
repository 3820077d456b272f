"""Answer what the maker asks: flat parts and what to buy.

Computes: every new panel cut in its home set, files for the maker, quantities and cost.
Units: SI and radians in and out; records carry their units in their keys.
Source: the layers below.
Limits: nothing is printed or drawn here but the files that `cut` is asked for.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from canvas.brief.answer import Answer
from canvas.brief.records import making as making_records
from canvas.cloth.rigging import Rigging
from canvas.cutting.changes import changes_since
from canvas.cutting.files import cut_files
from canvas.cutting.ordered import cut_result, shop_finishes
from canvas.cutting.result import CutResult
from canvas.design.problems import DesignError, Problem
from canvas.design.schema.design import Design
from canvas.jobs.shelf import Derived, from_shelf
from canvas.materials.aloft import Weight, weights_aloft
from canvas.materials.cost import bill
from canvas.materials.quantities import take_off
from canvas.materials.spares import Spare, spares
from canvas.materials.takeoff import TakeOff
from canvas.study.legs import plan_legs
from canvas.study.wear import spent
from canvas.verbs.asking import DesignLike, chosen_sets, panels_to_make, rigging_of


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SparesAndWeights:
    """What new canvas asks a boat to carry.

    Attributes
    ----------
    over : str
        What the spares are for.
    years : float
    spares : mapping of str to tuple of Spare
        By home set.
    aloft : mapping of str to tuple of Weight
        By home set.
    """

    over: str
    years: float
    spares: dict[str, tuple[Spare, ...]]
    aloft: dict[str, tuple[Weight, ...]]


def cut(
    design: DesignLike,
    *,
    out: Path | None = None,
    sets: Sequence[str] | None = None,
    trial: bool = False,
    against: Path | None = None,
    better_nest: Path | None = None,
) -> Answer:
    """Cut every new panel in its home set: flat parts with allowances, marks and labels, laid on the roll.

    Parameters
    ----------
    design : path, Source or Rigging
    out : Path, optional
        Folder for the DXF, SVG and PDF files; where absent they stay in the answer, see `Answer.save`.
    sets : sequence of str, optional
        Only panels whose home set is one of these; those of the others are not on any file or roll.
    trial : bool
        A trial piece: margins left on, no compensation.
    against : Path, optional
        Folder of an earlier cut: what changed since is drawn too.
    better_nest : Path, optional
        Folder of saved layouts: nest closer, which takes half a minute a cloth the first time.

    Raises
    ------
    DesignError
        With every part that cannot be cut, and what to change; with each set asked for in which nothing is cut; where
        no panel is new.
    """
    rigging = rigging_of(design)
    panels_to_make(rigging)
    names = chosen_sets(rigging, sets, bare=False)
    notes = _left_out(rigging.model.design, names) if sets else []
    result = cut_result(rigging, sets=names if sets else None, trial=trial, better_nest=better_nest)
    changes = None if against is None else changes_since(result, against)
    papers = (rigging.model.design.shop.paper,)
    files = cut_files(result, papers=papers, finishes=shop_finishes(rigging), earlier=against)
    answer = Answer(
        verb="cut",
        rigging=rigging,
        results=dict.fromkeys(names, result),
        files={file.name: file.content for file in files},
        problems=(*result.cautions, *notes),
        writer=partial(making_records.cut_record, changes=changes),
    )
    if out is not None:
        answer.save(out)
    return answer


def _left_out(design: Design, names: Sequence[str]) -> list[Problem]:
    """Return a note for each new panel that is up in some sets and cut in the shape of another.

    Raises
    ------
    DesignError
        With each set in which no panel is cut.
    """
    home = {panel.name: design.home_set(panel) for panel in design.panel if not panel.existing}
    ups = {name: [up.panel for up in design.panels_up(name) if up.panel in home] for name in names}
    idle = []
    for name in names:
        if name not in home.values():
            others = ", ".join(dict.fromkeys(f'"{home[panel]}"' for panel in ups[name]))
            wanted = f"Its new panels are cut in {others}." if others else "No new panel is up in it."
            idle.append(Problem(code="nothing-to-cut", key="--set", found=f'"{name}"', wanted=wanted))
    if idle:
        raise DesignError(idle)
    elsewhere = dict.fromkeys(panel for name in names for panel in ups[name] if home[panel] not in names)
    return [
        Problem(
            code="cut-elsewhere", key=f'panel "{panel}"', found="not cut: it is cut in the shape of another set",
            wanted=f'Ask for --set "{home[panel]}" too where it is wanted.', severity="note",
        )
        for panel in elsewhere
    ]  # fmt: skip


def buy(
    design: DesignLike,
    *,
    sets: Sequence[str] | None = None,
    rate: float | None = None,
    result: CutResult | None = None,
) -> Answer:
    """Count cloth, zips, tapes, fastenings, thread, weight, labour and cost of the new panels, by home set.

    Parameters
    ----------
    design : path, Source or Rigging
    sets : sequence of str, optional
    rate : float, optional
        Of an hour in the shop, in the design's currency.
    result : CutResult, optional
        The panels, where they were cut already.
    """
    rigging = rigging_of(design)
    names = chosen_sets(rigging, sets, bare=False)
    plan = rigging.model.design
    made: Derived[CutResult] = Derived(of=(), make=lambda: cut_result(rigging) if result is None else result)
    bought = from_shelf(rigging.shelf if result is None else None, _bought, rigging.whole(), made)
    results = {take.set_name: (take, bill(take, plan, rate=rate)) for take in bought.takes if take.set_name in names}
    return Answer(
        verb="buy",
        rigging=rigging,
        results={name: results.get(name) for name in names},
        top=bought.carried,
        writer=making_records.buy_record,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Bought:
    """What the new panels take, by home set, and the spares and weights that go with it."""

    takes: tuple[TakeOff, ...]
    carried: SparesAndWeights


def _bought(boat: Derived[Rigging], made: Derived[CutResult]) -> _Bought:
    rigging, cut_parts = boat.make(), made.make()
    takes = take_off(cut_parts, rigging.model.design, tubes=rigging.model.tubes)
    return _Bought(takes=tuple(takes), carried=to_carry(rigging, cut_parts, takes))


def to_carry(rigging: Rigging, made: CutResult, takes: Sequence[TakeOff]) -> SparesAndWeights:
    """Return the spares for the passage, or a year where there is none, and what hangs aloft, by home set.

    Parameters
    ----------
    rigging : Rigging
    made : CutResult
    takes : sequence of TakeOff
        One a home set.
    """
    source = rigging.model.source
    gone = spent(rigging, () if source.design.passage is None else plan_legs(source))
    return SparesAndWeights(
        over=gone.over,
        years=gone.years,
        spares={take.set_name: spares(take, made, used=gone.used, years=gone.years) for take in takes},
        aloft={take.set_name: weights_aloft(rigging, take) for take in takes},
    )

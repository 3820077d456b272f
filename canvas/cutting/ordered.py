"""Cut all the new panels of a boat as its design asks for: its shop's widths and allowances, its seams.

Computes: one `CutResult` from a boat put up.
Units: metres.
Source: the design's ``[shop]`` and seams.
Limits: those of canvas/cutting/cut.py.
"""

from __future__ import annotations

from pathlib import Path

from canvas.cloth.rigging import Rigging
from canvas.cutting.choices import CutOptions
from canvas.cutting.cut import cut_panels
from canvas.cutting.finish import Finish, read_finishes, with_allowance
from canvas.cutting.gather import gather
from canvas.cutting.result import CutResult
from canvas.cutting.seamkinds import paired
from canvas.jobs.shelf import Derived, from_shelf


def shop_finishes(rigging: Rigging) -> dict[str, Finish]:
    """Return the edge finishes with the allowances of the design's shop, both sides of seams matched.

    Raises
    ------
    DesignError
        When the shop's allowances of a seam's two sides do not fit in one another.
    """
    own = rigging.model.design.shop.allowance
    return paired({name: with_allowance(f, own[name]) if name in own else f for name, f in read_finishes().items()})


def cut_result(
    rigging: Rigging, *, sets: tuple[str, ...] | None = None, trial: bool = False, better_nest: Path | None = None
) -> CutResult:
    """Return the new panels of a boat cut.

    Parameters
    ----------
    rigging : Rigging
    sets : tuple of str, optional
        Home sets whose panels are wanted; all where absent.
    trial : bool
        A trial piece: margins left on, no compensation.
    better_nest : Path, optional
        Folder of saved layouts: nest closer.

    Raises
    ------
    DesignError
        With every part that cannot be cut, and what to change.
    """
    if better_nest is not None:  # layouts are kept in that folder
        return _cut(rigging, sets=sets, trial=trial, better_nest=better_nest)
    file = rigging.model.source.file
    return from_shelf(rigging.shelf, _cut_whole, rigging.whole(), file=file, sets=sets, trial=trial)


def _cut_whole(boat: Derived[Rigging], *, file: str, sets: tuple[str, ...] | None, trial: bool) -> CutResult:
    """Return a boat cut, known by its design's file too, which cautions name."""
    return _cut(boat.make(), sets=sets, trial=trial, better_nest=None)


def _cut(rigging: Rigging, *, sets: tuple[str, ...] | None, trial: bool, better_nest: Path | None) -> CutResult:
    shop = rigging.model.design.shop
    gathered = gather(rigging)
    widths = {} if shop.roll_width is None else {panel.cloth.name: shop.roll_width for panel in gathered.panels}
    options = CutOptions(
        boat=rigging.model.design.name,
        revision=rigging.model.design.revision,
        units=rigging.model.design.units,
        roll_widths=widths,
        seams=gathered.seams,
        trial=trial,
        closer=better_nest,
        sets=sets,
    )
    return cut_panels(gathered.panels, gathered.joints, finishes=shop_finishes(rigging), options=options)

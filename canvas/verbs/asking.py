"""Find the boat and the sets that a question is about.

Computes: a `Rigging` from a path, a read design, or one that is built already.
Units: SI and radians in and out; records carry their units in their keys.
Source: the layers below.
Limits: nothing is printed or drawn here.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from canvas.asbuilt.built import boat_as_built
from canvas.cloth.rigging import Rigging, new_panels
from canvas.design.problems import DesignError, Problem, nearest
from canvas.design.reading import Source, read_design
from canvas.design.schema.design import BARE
from canvas.design.schema.voyage import MeterReading, RibbonReading
from canvas.geometry.model import build_model
from canvas.jobs.shelf import Shelf, usual_shelf

DesignLike = str | Path | Source | Rigging


def rigging_of(design: DesignLike, *, shelf: Shelf | None = None) -> Rigging:
    """Return the boat of a design, built, measured canvas as it came out; one that is built already is taken as it is.

    Parameters
    ----------
    design : path, Source or Rigging
    shelf : Shelf, optional
        Where slow results are kept; the usual one for a path where none is given, since files are asked about again.

    Raises
    ------
    DesignError
        With every problem of the file and of the geometry.
    """
    if isinstance(design, Rigging):
        return design
    if isinstance(design, Source):
        return boat_as_built(build_model(design), shelf=shelf).rigging
    return boat_as_built(build_model(read_design(design)), shelf=shelf or usual_shelf()).rigging


UNFINISHED = {"too-few-readings", "unconnected-marks", "undetermined-marks", "mirror-ambiguity", "no-spot"}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BoatToMeasure:
    """A boat as far as it can be built while it is being measured.

    Attributes
    ----------
    rigging : Rigging
    source : Source
        The whole design.
    problems : tuple of Problem
        Why not all of it could be built, as warnings.
    """

    rigging: Rigging
    source: Source
    problems: tuple[Problem, ...]


def boat_to_measure(design: DesignLike, *, unfinished: bool) -> BoatToMeasure:
    """Return the boat of a design of which marks or canvas may not fit together yet.

    Where tubes and canvas do not fit the marks as measured, they are left out.

    Parameters
    ----------
    design : path, Source or Rigging
    unfinished : bool
        Whether readings that do not make a survey yet are left out too; marks then stand where they are put roughly.

    Raises
    ------
    DesignError
        With every problem of the file, of the readings, and of the boat itself.
    """
    if isinstance(design, Rigging):
        return BoatToMeasure(rigging=design, source=design.model.source, problems=())
    source = design if isinstance(design, Source) else read_design(design)
    try:
        return BoatToMeasure(rigging=rigging_of(source), source=source, problems=())
    except DesignError as error:
        early = unfinished and all(problem.code in UNFINISHED for problem in error.problems)
        if early and any(isinstance(spot, str) for spot in source.design.marks.values()):
            raise
        kept = [one for one in source.design.reading if isinstance(one, MeterReading | RibbonReading)]
        less = {"reading": kept} if early else {"tube": [], "panel": [], "set": []}
        part = replace(source, design=source.design.model_copy(update=less))
        notes = tuple(replace(problem, severity="warning") for problem in error.problems)
        return BoatToMeasure(rigging=Rigging(build_model(part)), source=source, problems=notes)


def canvas_up(rigging: Rigging) -> Callable[[str], int]:
    """Return what tells of a set how many panels are up in it: roughly how long questions about it take."""
    return lambda set_name: len(rigging.model.design.panels_up(set_name))


def chosen_sets(rigging: Rigging, sets: Sequence[str] | None, *, bare: bool = True) -> tuple[str, ...]:
    """Return the sets asked for, all where none is named; `bare` says whether the bare boat is one of all.

    Parameters
    ----------
    rigging : Rigging
    sets : sequence of str or None
        As asked for, repeats left out; None or empty: all.
    bare : bool
        Whether the bare boat is one of all.

    Raises
    ------
    DesignError
        When a set is not in the design.
    """
    known = rigging.model.design.set_names()
    unknown = [name for name in sets or () if name not in known]
    if unknown:
        raise DesignError(
            [
                Problem(code="unknown-set", key="--set", found=f'"{name}"', wanted=nearest(name, known))
                for name in unknown
            ]
        )
    if sets:
        return tuple(dict.fromkeys(sets))
    return known if bare else tuple(name for name in known if name != BARE)


def panels_to_make(rigging: Rigging) -> frozenset[str]:
    """Return the names of the panels to be made.

    Raises
    ------
    DesignError
        When all canvas of the design is aboard already.
    """
    source = rigging.model.source
    names = frozenset(panel.name for panel in new_panels(source.design))
    if not names:
        wanted = "Write a panel without existing = true for canvas to be made."
        raise DesignError([Problem(code="nothing-to-make", file=str(source.file), found="no new panel", wanted=wanted)])
    return names

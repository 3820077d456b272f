"""Find the boat and the sets that a question is about.

Computes: a `Rigging` from a path, a read design, or one that is built already.
Units: SI and radians in and out; records carry their units in their keys.
Source: the layers below.
Limits: nothing is printed or drawn here.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from canvas.asbuilt.built import boat_as_built
from canvas.cloth.rigging import Rigging
from canvas.design.problems import DesignError, Problem, nearest
from canvas.design.reading import Source, read_design
from canvas.design.schema.design import BARE
from canvas.geometry.model import build_model

DesignLike = str | Path | Source | Rigging


def rigging_of(design: DesignLike) -> Rigging:
    """Return the boat of a design, built, measured canvas as it came out; one that is built already is taken as it is.

    Raises
    ------
    DesignError
        With every problem of the file and of the geometry.
    """
    if isinstance(design, Rigging):
        return design
    return boat_as_built(build_model(design if isinstance(design, Source) else read_design(design))).rigging


def chosen_sets(rigging: Rigging, sets: Sequence[str] | None, *, bare: bool = True) -> tuple[str, ...]:
    """Return the sets asked for, all where none is named; `bare` says whether the bare boat is one of all.

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

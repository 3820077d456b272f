"""Answer what each part of the canvas carries, and which goes first.

Computes: loads and limits of the parts of every set, water on its roofs, and what a sea in the cockpit meets.
Units: SI and radians in and out; records carry their units in their keys.
Source: the layers below.
Limits: nothing is printed or drawn here.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from canvas.air.wind import KNOT
from canvas.brief.answer import Answer
from canvas.brief.records.loads import loads_record
from canvas.cloth.rigging import Rigging
from canvas.geometry.surface import Floats
from canvas.jobs.beside import by_halves
from canvas.jobs.cache import flow_folder
from canvas.jobs.progress import SILENT, Progress
from canvas.jobs.shelf import Derived, from_shelf
from canvas.strength.loads import SetLoads, set_loads
from canvas.strength.ponding import RoofWater, roof_water
from canvas.strength.pooped import Pooped, pooped
from canvas.verbs.asking import DesignLike, canvas_up, chosen_sets, rigging_of

USUAL_WIND = 25.0 * KNOT  # mean wind asked about where none is named [m/s]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LoadedSet:
    """Loads of one set, the water its roofs would hold, and what a sea in the cockpit meets.

    Attributes
    ----------
    loads : SetLoads
    water : tuple of RoofWater
    pooped : Pooped or None
        None where the set is not used under way.
    """

    loads: SetLoads
    water: tuple[RoofWater, ...]
    pooped: Pooped | None


def loads(
    design: DesignLike,
    *,
    aws: float = USUAL_WIND,
    sets: Sequence[str] | None = None,
    progress: Progress = SILENT,
) -> Answer:
    """Load the canvas of every set with wind, and find what goes first and when to strike.

    Parameters
    ----------
    design : path, Source or Rigging
    aws : float
        Mean apparent wind at the instrument, gusts come on top [m/s].
    sets : sequence of str, optional
    progress : Progress

    Notes
    -----
    Where the air flow was run for a set, with `vane` by the method ``flow``, its mean pressures count where they are
    larger than the table's.
    """
    rigging = rigging_of(design)
    names = chosen_sets(rigging, sets)
    progress.step("loading the canvas", 0, len(names))
    results = by_halves(_loaded_in, (rigging, aws), names, effort=canvas_up(rigging))
    return Answer(verb="loads", rigging=rigging, results=results, top=aws, writer=loads_record)


def _loaded_in(asked: tuple[Rigging, float], name: str) -> LoadedSet:
    rigging, aws = asked
    return from_shelf(rigging.shelf, _loaded, rigging.whole(), name, aws=aws, flow=_flow_pressures(rigging, name))


def _loaded(boat: Derived[Rigging], name: str, *, aws: float, flow: Mapping[str, Floats]) -> LoadedSet:
    rigging = boat.make()
    under_way = "under way" in rigging.model.design.set_named(name).used
    return LoadedSet(
        loads=set_loads(rigging, name, aws=aws, flow=flow),
        water=roof_water(rigging, name),
        pooped=pooped(rigging, name) if under_way else None,
    )


def _flow_pressures(rigging: Rigging, name: str) -> dict[str, Floats]:
    """Return the mean pressure coefficients by panel of a set's saved flow runs; empty where there are none."""
    if not flow_folder().is_dir():  # then neither the solver need be loaded nor the set put up
        return {}
    from canvas.wind.flow.pressures import kept_pressures

    kept = kept_pressures(rigging.rig(name).scene)
    return {} if kept is None else dict(zip(kept.panels, kept.coefficient.T, strict=True))

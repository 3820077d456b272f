"""Keep the dome maps of boats, and trace that of the next set while the last one is worked on.

Computes: by boat and set the dome map; what its sets share is traced once.
Units: metres, boat frame.
Source: canvas/sky/dome.py.
Limits: maps go with their boat; two threads never ask about one boat at the same time.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, replace
from functools import reduce
from types import TracebackType
from weakref import WeakKeyDictionary

from canvas.cloth.rigging import Rigging
from canvas.design.schema.design import BARE
from canvas.geometry.scene import Scene
from canvas.jobs.turns import as_here
from canvas.sky.directions import direction_grid
from canvas.sky.dome import DomeMap, dome_map, pooled, same_ground, thinned_map, undivided
from canvas.sky.samples import thinned


@dataclass(slots=True, kw_only=True, eq=False)
class _Maps:
    """Dome maps of one boat on one grid: by set, and one that holds all bodies and canvas traced so far."""

    by_set: dict[str, DomeMap]
    stock: DomeMap


_MAPS: WeakKeyDictionary[Rigging, _Maps] = WeakKeyDictionary()
_RAIN_MAPS: WeakKeyDictionary[Rigging, _Maps] = WeakKeyDictionary()


def known_map(rigging: Rigging, set_name: str) -> DomeMap:
    """Return the dome map of a set, traced once a boat; sets take over from one another what they share."""
    return _mapped(_MAPS, rigging, set_name)


def rain_map(rigging: Rigging, set_name: str) -> DomeMap:
    """Return a dome map of a set that does for rain, out of that for light where it is traced already.

    Drops come from many ways at once, the sun from one: the undivided grid and every second sample point do.
    """
    if rigging in _MAPS:
        return thinned_map(undivided(known_map(rigging, set_name)))
    return _mapped(_RAIN_MAPS, rigging, set_name)


def stock_of(rigging: Rigging) -> DomeMap:
    """Return the map for light that holds all bodies and canvas of a boat traced so far."""
    return _MAPS[rigging].stock


class MapsAhead:
    """The maps of several sets, each traced in a thread beside what is done with the one before; a context.

    Parameters
    ----------
    kind : callable
        `known_map` or `rain_map`.
    rigging : Rigging
    names : sequence of str
        The sets, in the order in which they will be asked about; some may be left out.
    """

    def __init__(self, kind: Callable[[Rigging, str], DomeMap], rigging: Rigging, names: Sequence[str]) -> None:
        self._kind, self._rigging, self._names = as_here(kind), rigging, tuple(names)
        self._beside = ThreadPoolExecutor(max_workers=1)
        self._begun: dict[str, Future[DomeMap]] = {}

    def of(self, name: str) -> DomeMap:
        """Return the map of a set, and begin that of the next; cloth is hung while the boat is traced for the first."""
        first = not self._begun
        self._begin(name)
        if first:
            self._rigging.rigs(self._names)
        found = self._begun[name].result()
        for following in self._names[self._names.index(name) + 1 :][:1]:
            self._begin(following)
        return found

    def __enter__(self) -> MapsAhead:
        """Return itself."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Wait for what is begun."""
        self._beside.shutdown()

    def _begin(self, name: str) -> None:
        if name not in self._begun:
            self._rigging.rigs((BARE, name))  # so that the other thread puts nothing up
            self._begun[name] = self._beside.submit(self._kind, self._rigging, name)


def take_over(rigging: Rigging, other: Rigging) -> None:
    """Let a boat take over the dome maps of the same boat before an edit: what kept its shape is not traced again.

    Parameters
    ----------
    rigging : Rigging
        The boat after the edit; nothing of it is mapped yet.
    other : Rigging
        The boat before. Only what its sets hold is taken over, so that maps do not grow from edit to edit.
    """
    for kept in (_MAPS, _RAIN_MAPS):
        if other not in kept or rigging in kept:
            continue
        held = kept[other]
        bare = _scene(kept, rigging, BARE)
        if not same_ground(held.stock, bare):
            continue
        bodies = dome_map(bare, known=held.stock)
        stock = reduce(pooled, held.by_set.values(), bodies) if held.by_set else held.stock
        kept[rigging] = _Maps(by_set={}, stock=stock)


def _mapped(kept: WeakKeyDictionary[Rigging, _Maps], rigging: Rigging, set_name: str) -> DomeMap:
    grid = direction_grid() if kept is _RAIN_MAPS else None
    if rigging not in kept:  # the boat under sail first: the directions follow the sails' edges in every set
        bare = dome_map(_scene(kept, rigging, BARE), grid=grid, shelf=rigging.shelf)
        kept[rigging] = _Maps(by_set={}, stock=bare)
    maps = kept[rigging]
    if set_name not in maps.by_set:
        maps.by_set[set_name] = dome_map(_scene(kept, rigging, set_name), known=maps.stock, shelf=rigging.shelf)
        maps.stock = pooled(maps.stock, maps.by_set[set_name])
    return maps.by_set[set_name]


def _scene(kept: WeakKeyDictionary[Rigging, _Maps], rigging: Rigging, set_name: str) -> Scene:
    """Return what a map of that kind is traced in."""
    scene = rigging.rig(set_name).scene
    return replace(scene, places=tuple(map(thinned, scene.places))) if kept is _RAIN_MAPS else scene

"""Map what every sample point sees in every direction, one bit for each surface that could stand in the way.

Computes: for each sample point of each place and each direction of a grid over the whole sphere, whether the boat
    and each other body and surface stands in the way; from that, by place, the share of its area lit from a direction,
    the light that falls on it, the share of the sky it sees, and how far each of these may be off.
Units: metres, boat frame; shares 0..1; angles in radians.
Source: any-hit rays (canvas/geometry/rays.py); Lambert's cosine law; bilinear interpolation between directions.
Limits: what stands behind the boat does not count, so a panel's bits are meant together with the boat's.
    A single time is better traced directly (sky/direct.py). The error given is the map's own, not the design's.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from weakref import WeakKeyDictionary

import numpy as np
import numpy.typing as npt

from canvas.geometry.panorama import GRAZING
from canvas.geometry.scene import Place, Scene
from canvas.geometry.surface import Bools, Floats, Ints, locked
from canvas.jobs.shelf import Shelf, from_shelf
from canvas.sky.bits import Bytes, Shares, shares_passing, unpacked
from canvas.sky.casters import BODIES, Caster, Through, casters_of, level_normals, lifted
from canvas.sky.directions import DirectionGrid, coarse, direction_grid, lobe_weights, stencil
from canvas.sky.samples import group_means, groups_of, rows_kept, slices_of, standard_error, thinned
from canvas.sky.traced import BesideBoat, ground_of, stopped

EVERY = slice(None)
# The four figures of the error were set on an invented boat and the examples against many other points, so that 95 % of
# the hours of a place are held; tests/benchmarks/sky measures what they hold.
ENOUGH = 2.0  # standard errors kept either side
EVEN = 0.7  # points that spread evenly err less than the spread of their groups says
ONE_POINT = 1.0  # points by which a cut along a row of them may miscount
SMOOTH = 0.25  # share of the difference between the grid and its every second node that is taken as error


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, weakref_slot=True)
class DomeMap:
    """What every sample point sees in every direction.

    Attributes
    ----------
    grid : DirectionGrid
    places : tuple of Place
    casters : tuple of Caster
        The boat and its tubes first.
    bits : tuple of (n, ceil(d / 8)) ndarray of uint8
        For each caster, packed along the directions: 1 where it stands in the way; points of all places in order.
    group : (n,) ndarray of int
        Group of each point: of every few neighbours one in each; the groups' spread tells the sampling error.
    """

    grid: DirectionGrid
    places: tuple[Place, ...]
    casters: tuple[Caster, ...]
    bits: tuple[Bytes, ...]
    group: Ints

    def met(self, caster: int, rows: slice = EVERY) -> Bools:
        """Return for one caster, unpacked, whether it stands in the way of some of the points, (rows, d)."""
        return unpacked(self.bits[caster][rows], len(self.grid.directions))

    def number_of(self, asked: Caster) -> int:
        """Return the place of a caster that the map holds in this shape."""
        return next(k for k, one in enumerate(self.casters) if one.name == asked.name and one.same_shape(asked))

    def slices(self) -> tuple[slice, ...]:
        """Return which rows of the bits belong to each place."""
        return slices_of(self.places)


_SUMMED: WeakKeyDictionary[DomeMap, dict[tuple[str | float, ...], PlaceTables]] = WeakKeyDictionary()
_UNDIVIDED: WeakKeyDictionary[DomeMap, DomeMap] = WeakKeyDictionary()
_THINNED: WeakKeyDictionary[DomeMap, DomeMap] = WeakKeyDictionary()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlaceLight:
    """Light on each place from some directions.

    Attributes
    ----------
    names : tuple of str
        The places.
    lit, low, high : (p, m) ndarray
        Share of the place's area lit, what windows and mesh let through counted by its share; with its limits.
    flux : (p, m) ndarray
        Light that falls on the place over that which falls on a small area square to the direction.
    """

    names: tuple[str, ...]
    lit: Floats
    low: Floats
    high: Floats
    flux: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlaceTables:
    """A dome map summed over the points of each place, with what is up now: the look-up table.

    Attributes
    ----------
    grid : DirectionGrid
    names : tuple of str
        The places.
    lit : (p, d) ndarray
        Share of the place's area lit from each node.
    flux, flux_open : (p, d) ndarray
        As in `PlaceLight`, and what it would be with nothing in the way.
    spread : (p, d) ndarray
        Standard error of `lit` from the sample points.
    rough : (p, d) ndarray
        How far `lit` at each undivided node lies from the value interpolated over twice the step.
    sky, sky_open : (p,) ndarray
        Share of an even sky's light that falls on the place, and that would if nothing stood in the way.
    sea, sea_open : (p,) ndarray
        The same for light thrown up evenly by the sea.
    counts : (p,) ndarray
        Sample points a place.
    """

    grid: DirectionGrid
    names: tuple[str, ...]
    lit: Floats
    flux: Floats
    flux_open: Floats
    spread: Floats
    rough: Floats
    sky: Floats
    sky_open: Floats
    sea: Floats
    sea_open: Floats
    counts: Floats


def dome_map(
    scene: Scene, *, grid: DirectionGrid | None = None, known: DomeMap | None = None, shelf: Shelf | None = None
) -> DomeMap:
    """Trace the map of a scene, taking over from `known` what has not changed.

    Parameters
    ----------
    scene : Scene
    grid : DirectionGrid or None
        None takes the usual grid, divided where the edges of boat, solids and sails are steep.
    known : DomeMap or None
        A map of the same places, of another set or of this one before an edit: surfaces of the same shape are not
        traced again.
    shelf : Shelf or None
        Where what was traced before may lie.

    Returns
    -------
    DomeMap
    """
    casters = casters_of(scene)
    points = lifted(scene.places)
    old = known if known is not None and _same_points(known, grid, points) else None
    if old is None or _known_bits(old, casters[0]) is None:
        old = _bodies(casters[: len(BODIES)], scene.places, points, grid, shelf=shelf)
    held = with_casters(old, casters, shelf=shelf)
    bits = tuple(held.bits[held.number_of(caster)] for caster in casters)
    return replace(held, places=scene.places, casters=casters, bits=bits)


def with_casters(known: DomeMap, more: Iterable[Caster], *, shelf: Shelf | None = None) -> DomeMap:
    """Return the map with more in it, traced where it does not hold them in the same shape already.

    Parameters
    ----------
    known : DomeMap
    more : sequence of Caster
    shelf : Shelf or None
        Where what was traced before may lie.
    """
    casters, bits = list(known.casters), list(known.bits)
    beside = BesideBoat(
        points=lifted(known.places),
        normals=level_normals(known.places),
        directions=known.grid.directions,
        boat=known.bits[0],
    )
    for caster in more:
        if _known_bits(known, caster) is None:
            bits.append(from_shelf(shelf, stopped, caster, beside))
            casters.append(caster)
    return replace(known, casters=tuple(casters), bits=tuple(bits))


def pooled(one: DomeMap, other: DomeMap) -> DomeMap:
    """Return a map with the surfaces of two that stand on the same directions."""
    extra = [k for k, caster in enumerate(other.casters) if _known_bits(one, caster) is None]
    return replace(
        one,
        casters=(*one.casters, *(other.casters[k] for k in extra)),
        bits=(*one.bits, *(other.bits[k] for k in extra)),
    )


def same_ground(known: DomeMap, scene: Scene) -> bool:
    """Return whether a map holds the points and all bodies of a scene, so that its directions are right for it."""
    bodies = casters_of(scene)[: len(BODIES)]
    return _same_points(known, None, lifted(scene.places)) and all(
        _known_bits(known, body) is not None for body in bodies
    )


def undivided(known: DomeMap) -> DomeMap:
    """Return the map on the nodes of the undivided grid alone, which come first; nothing is traced."""
    plain = _plain(known.grid)
    if plain is known.grid:
        return known
    if known not in _UNDIVIDED:
        size = (len(plain.directions) + 7) // 8
        _UNDIVIDED[known] = replace(known, grid=plain, bits=tuple(bits[:, :size] for bits in known.bits))
    return _UNDIVIDED[known]


def thinned_map(known: DomeMap) -> DomeMap:
    """Return the map at those points only that its places keep when they are thinned; nothing is traced."""
    if known not in _THINNED:
        rows = np.concatenate([
            where.start + rows_kept(place) for place, where in zip(known.places, known.slices(), strict=True)
        ])  # fmt: skip
        places = tuple(map(thinned, known.places))
        bits = tuple(bits[rows] for bits in known.bits)
        _THINNED[known] = replace(known, places=places, bits=bits, group=groups_of(places))
    return _THINNED[known]


def without(known: DomeMap, panels: Iterable[str]) -> DomeMap:
    """Return the map with the named panels taken down; nothing is traced."""
    down = set(panels)
    keep = [k for k, caster in enumerate(known.casters) if caster.panel is None or caster.panel not in down]
    return DomeMap(
        grid=known.grid,
        places=known.places,
        casters=tuple(known.casters[k] for k in keep),
        bits=tuple(known.bits[k] for k in keep),
        group=known.group,
    )


def passing(known: DomeMap, rows: slice, *, through: Through = "light") -> Shares:
    """Return the share that reaches some of the points from every node, all casters together.

    Parameters
    ----------
    known : DomeMap
    rows : slice
        Which points, see `DomeMap.slices`; every few of them where it has a step.
    through : str
        What has to pass: ``light``, ``uv``, ``rain`` or ``sight``.

    Returns
    -------
    (rows, d) ndarray of float32
    """
    return shares_passing(
        [bits[rows] for bits in known.bits],
        [caster.passes(through) for caster in known.casters],
        size=len(known.grid.directions),
    )


def place_tables(known: DomeMap, *, through: Through = "light", up: npt.ArrayLike = (0.0, 0.0, 1.0)) -> PlaceTables:
    """Sum a map over the points of each place, once for as long as the map is kept.

    Parameters
    ----------
    known : DomeMap
    through : str
        What has to pass: ``light``, ``uv``, ``rain`` or ``sight``.
    up : array_like, shape (3,)
        True vertical in the boat frame, for sky and sea.

    Returns
    -------
    PlaceTables
    """
    asked = (through, *(float(one) for one in np.asarray(up, dtype=float)))
    held = _SUMMED.setdefault(known, {})
    if asked not in held:
        held[asked] = _summed(known, through=through, up=np.array(asked[1:], dtype=float))
    return held[asked]


def _summed(known: DomeMap, *, through: Through, up: Floats) -> PlaceTables:
    down = -up
    rows = []
    for place, where in zip(known.places, known.slices(), strict=True):
        reaching = passing(known, where, through=through)
        normals = place.normals[:1] if np.ptp(place.normals, axis=0).max() < 1e-9 else place.normals
        cosine = normals @ known.grid.directions.T
        faced = cosine > GRAZING
        alike = len(normals) == 1
        means = group_means(reaching if alike else reaching * faced, known.group[where]) * (faced if alike else 1.0)
        lit, spread = means[-1], standard_error(means)
        mean = reaching.mean(axis=0, keepdims=True) if alike else reaching
        flux, flux_open = (np.mean(one * np.maximum(cosine, 0.0), axis=0) for one in (mean, np.ones_like(cosine)))
        sky, sea = (lobe_weights(known.grid, normals, up=way) for way in (up, down))
        seen_of = [float(np.sum(lobe * mean) / len(lobe)) for lobe in (sky, sea)]
        open_of = [float(np.sum(lobe) / len(lobe)) for lobe in (sky, sea)]
        rows.append((lit, flux, flux_open, spread, seen_of[0], open_of[0], seen_of[1], open_of[1], len(place.points)))
    columns = [locked(np.array(column)) for column in zip(*rows, strict=True)]
    lit, flux, flux_open, spread, sky, sky_open, sea, sea_open, counts = columns
    return PlaceTables(
        grid=known.grid,
        names=tuple(place.name for place in known.places),
        lit=lit,
        flux=flux,
        flux_open=flux_open,
        spread=spread,
        rough=_roughness(known.grid, lit),
        sky=sky,
        sky_open=sky_open,
        sea=sea,
        sea_open=sea_open,
        counts=counts,
    )


def light_from(tables: PlaceTables, directions: npt.ArrayLike) -> PlaceLight:
    """Look up the light on each place from some directions, interpolated between the nodes.

    Parameters
    ----------
    tables : PlaceTables
    directions : array_like, shape (m, 3)
        Towards the light, boat frame.
    """
    here = stencil(tables.grid, directions)
    lit = here.of(tables.lit)
    rough = np.max(tables.rough[:, stencil(_plain(tables.grid), directions).nodes], axis=-1)
    error = np.hypot(EVEN * here.of(tables.spread), SMOOTH * rough)
    margin = ENOUGH * error + ONE_POINT / tables.counts[:, None]
    return PlaceLight(
        names=tables.names,
        lit=lit,
        low=np.clip(lit - margin, 0.0, 1.0),
        high=np.clip(lit + margin, 0.0, 1.0),
        flux=here.of(tables.flux),
    )


def _plain(grid: DirectionGrid) -> DirectionGrid:
    return grid if grid.base is None else grid.base


def _roughness(grid: DirectionGrid, lit: Floats) -> Floats:
    """Return how far each undivided node lies from the value interpolated over twice the step, (p, d)."""
    plain = _plain(grid)
    own = lit[:, : len(plain.directions)]
    return np.asarray(locked(np.abs(own - stencil(coarse(plain), plain.directions).of(own))))


def _bodies(
    bodies: Sequence[Caster],
    places: tuple[Place, ...],
    points: Floats,
    grid: DirectionGrid | None,
    *,
    shelf: Shelf | None,
) -> DomeMap:
    """Return a map of the bodies only, on the grid asked for, or else the usual one divided for these places."""
    rows, normals, plain = slices_of(places), level_normals(places), grid or direction_grid()
    ground = from_shelf(shelf, ground_of, tuple(bodies), points, normals, rows, plain, divide=grid is None)
    return DomeMap(
        grid=grid or ground.grid, places=places, casters=tuple(bodies), bits=ground.bits, group=groups_of(places)
    )


def _same_points(known: DomeMap, grid: DirectionGrid | None, points: Floats) -> bool:
    return (grid is None or known.grid is grid) and np.array_equal(lifted(known.places), points)


def _known_bits(known: DomeMap | None, caster: Caster) -> Bytes | None:
    if known is None:
        return None
    for old, bits in zip(known.casters, known.bits, strict=True):
        if old.name == caster.name and old.same_shape(caster):
            return bits
    return None

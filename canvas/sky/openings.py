"""Find by which openings light or drops come in to the places.

Computes: through which side of a box round the places each ray from outside comes, where on that side most of it does,
    and the panel past whose edge it comes nearest.
Units: metres, boat frame; shares 0..1.
Source: geometry.
Limits: the box is that of the places with the canvas above them, a hand's breadth wider; a piece as large as an opening
    is given for its place and size, not as a design. What mesh or a window lets through counts by its share.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from canvas.cloth.faces import rim_of
from canvas.geometry.scene import Scene
from canvas.geometry.surface import Floats, Ints, locked
from canvas.sky.casters import Through
from canvas.sky.dome import DomeMap, passing
from canvas.sky.small_piece import SmallPiece, small_piece

SIDES = ("forward", "aft", "port", "starboard", "above")
BESIDE = 0.10  # length by which the box is wider than the places [m]
ROOM = 0.35  # height of the box over the highest place where no canvas is higher [m]
FEW = 60  # sample points of a place followed outward
TAIL = 0.05  # share left out at either end when saying where on a side most comes in
LEAST = 0.005  # share of all that comes in below which a side is not followed up
RAYS = 400  # rays a side whose nearest edge is looked for


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Openings:
    """Where light or drops come in.

    Attributes
    ----------
    names : tuple of str
        The places.
    sides : tuple of str
        ``forward``, ``aft``, ``port``, ``starboard``, ``above``.
    share : (5, p) ndarray
        Share of what reaches each place that comes by each side; nan where nothing reaches it.
    low, high : (5, 3) ndarray
        Corners of the part of each side by which 90 % of what comes that way passes, both ways across; nan where
        nothing does.
    past : tuple of str or None
        The canvas surface past whose edge it comes nearest, for each side; None without canvas or where nothing comes.
    piece : SmallPiece or None
        The small piece that would stop most of it on all places together; None where nothing comes in.
    """

    names: tuple[str, ...]
    sides: tuple[str, ...]
    share: Floats
    low: Floats
    high: Floats
    past: tuple[str | None, ...]
    piece: SmallPiece | None


def openings(scene: Scene, known: DomeMap, *, weights: npt.ArrayLike, through: Through = "light") -> Openings:
    """Find where what comes from some directions enters.

    Parameters
    ----------
    scene : Scene
        The scene that the map is of.
    known : DomeMap
    weights : (d,) ndarray
        How much comes from each node of the map's grid, on an area square to it.
    through : str
        What has to pass: ``light``, ``uv``, ``rain`` or ``sight``.
    """
    coming = np.asarray(weights, dtype=float)
    nodes = np.flatnonzero(coming > 0.0)
    towards = known.grid.directions[nodes]
    low, high = _box(scene, known)
    parts: list[tuple[Ints, Ints, Floats, Floats, Floats]] = []
    for number, (one, rows) in enumerate(zip(known.places, known.slices(), strict=True)):
        step = max(1, len(one.points) // FEW)
        some = slice(rows.start, rows.stop, step)
        reaching = passing(known, some, through=through)[:, nodes]
        cosine = np.maximum(one.normals[::step] @ towards.T, 0.0)
        arriving = reaching * cosine * coming[nodes] * (one.area / len(reaching))
        k, m = np.nonzero(arriving)
        side, spot = _leaving(one.points[::step][k], towards[m], low, high)
        parts.append((np.full(len(k), number), side, spot, arriving[k, m], towards[m]))
    place, side, spot, amount, ray = (np.concatenate(column) for column in zip(*parts, strict=True))
    names = tuple(one.name for one in known.places)
    return _summed(scene, names, place=place, side=side, spot=spot, amount=amount, ray=ray)


def _summed(
    scene: Scene, names: tuple[str, ...], *, place: Ints, side: Ints, spot: Floats, amount: Floats, ray: Floats
) -> Openings:
    total = np.bincount(place, amount, minlength=len(names))
    share = np.full((len(SIDES), len(names)), np.nan)
    low, high = np.full((len(SIDES), 3), np.nan), np.full((len(SIDES), 3), np.nan)
    past: list[str | None] = []
    edges = _edges(scene)
    for k in range(len(SIDES)):
        here = np.flatnonzero(side == k)
        spots, amounts = spot[here], amount[here]
        with np.errstate(invalid="ignore"):  # 0/0 where nothing reaches a place
            share[k] = np.bincount(place[here], amounts, minlength=len(names)) / total
        if amounts.sum() <= LEAST * amount.sum():
            past.append(None)
            continue
        for axis in range(3):
            low[k, axis], high[k, axis] = _middle_part(spots[:, axis], amounts)
        past.append(_nearest_edge(edges, spots, ray[here], amounts))
    return Openings(
        names=names, sides=SIDES, share=locked(share), low=locked(low), high=locked(high), past=tuple(past),
        piece=small_piece(side=side, spot=spot, amount=amount),
    )  # fmt: skip


def _box(scene: Scene, known: DomeMap) -> tuple[Floats, Floats]:
    points = np.vstack([place.points for place in known.places])
    low, high = points.min(axis=0) - BESIDE, points.max(axis=0) + BESIDE
    over = [
        one.vertices[np.all((one.vertices[:, :2] > low[:2]) & (one.vertices[:, :2] < high[:2]), axis=1), 2]
        for one in scene.of_kind("cloth")
    ]
    top = np.concatenate([points[:, 2] + ROOM, *over]).max()
    return np.array([low[0], low[1], -np.inf]), np.array([high[0], high[1], top])


def _leaving(points: Floats, towards: Floats, low: Floats, high: Floats) -> tuple[Ints, Floats]:
    """Return by which side of the box each ray leaves, as an index into `SIDES`, and where."""
    with np.errstate(divide="ignore", invalid="ignore"):  # a ray along a side never meets it
        reach = np.where(
            towards > 0.0, (high - points) / towards, np.where(towards < 0.0, (low - points) / towards, np.inf)
        )
    axis = np.argmin(reach, axis=1)
    length = reach[np.arange(len(points)), axis]
    positive = towards[np.arange(len(points)), axis] > 0.0
    side = np.where(axis == 2, 4, 2 * axis + positive)
    return side, points + length[:, None] * towards


def _middle_part(values: Floats, amount: Floats) -> tuple[float, float]:
    order = np.argsort(values)  # of equal ones any may come first
    share = np.cumsum(amount[order]) / amount.sum()
    first, last = np.searchsorted(share, [TAIL, 1.0 - TAIL])
    return float(values[order[first]]), float(values[order[min(last, len(order) - 1)]])


def _edges(scene: Scene) -> list[tuple[str, Floats]]:
    """Return the free edges of each canvas surface as points."""
    return [(one.name, one.vertices[rim_of(one.faces)]) for one in scene.of_kind("cloth")]


def _nearest_edge(edges: list[tuple[str, Floats]], spot: Floats, ray: Floats, amount: Floats) -> str | None:
    """Return the surface past whose edge most of the rays come nearest."""
    if not edges:
        return None
    pick = np.linspace(0, len(spot) - 1, min(RAYS, len(spot))).astype(np.int64)
    apart = []
    start, towards = spot[pick], ray[pick]
    for _, points in edges:
        offset = points[None] - start[:, None]
        along = np.einsum("rpk,rk->rp", offset, towards)
        square = np.einsum("rpk,rpk->rp", offset, offset) - along**2
        apart.append(square.min(axis=1))
    nearest = np.argmin(np.stack(apart), axis=0)
    votes = np.bincount(nearest, amount[pick], minlength=len(edges))
    return edges[int(np.argmax(votes))][0]

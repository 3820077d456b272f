"""Gather what must be vertices and sides of a panel's mesh, in its plane: bows, slits, windows, ties.

Computes: chains of plane points, split where they cross, and their numbering together with the outline's points.
Units: metres, in the plane of the panel's layout.
Source: geometry.
Limits: a line added later gives way by up to NEAR spacings where it comes near a vertex of an earlier one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from canvas.cloth.domain import Domain
from canvas.cloth.lines import locate, resample
from canvas.geometry.outline import PanelOutline, Pierced
from canvas.geometry.surface import Bools, Floats, Ints

NEAR = 0.06  # vertices of crossing lines nearer than this are one, in spacings
CLEAR = 0.4  # least distance of a line's vertices from the outline, in spacings


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Chains:
    """Lines inside a panel as vertices, numbered after the outline's own.

    Attributes
    ----------
    inner : (q, 2) ndarray
        The vertices that are not the outline's [m].
    sides : tuple of (k,) ndarray of int
        Every chain of sides.
    over : tuple of (k,) ndarray of int
        Along each line the panel lies over.
    bow : tuple of (k,) ndarray
        Arc length on that line of each of those [m].
    slits : tuple of (k,) ndarray of int
        From where a wire passes to the outline.
    windows : tuple of Polygon
        In the plane.
    ties : (t,) ndarray of int
    """

    inner: Floats
    sides: tuple[Ints, ...]
    over: tuple[Ints, ...]
    bow: tuple[Floats, ...]
    slits: tuple[Ints, ...]
    windows: tuple[shapely.Polygon, ...]
    ties: Ints


class _Chain:
    """A line of plane points, with a value at each that runs along it (a bow's arc length)."""

    def __init__(self, points: Floats, values: Floats | None = None) -> None:
        self.points = points
        self.values = np.zeros(len(points)) if values is None else values

    def insert(self, side: int, share: float, point: Floats) -> None:
        """Put a point into a side, or move the vertex that is already there."""
        gap = np.linalg.norm(self.points - point, axis=1)
        if gap.min() == 0.0:
            return
        value = self.values[side] + share * (self.values[side + 1] - self.values[side])
        self.points = np.insert(self.points, side + 1, point, axis=0)
        self.values = np.insert(self.values, side + 1, value)


def lay_lines(outline: PanelOutline, domain: Domain, *, ring: Floats, rim: Floats, spacing: float) -> Chains:
    """Return the lines inside a panel as chains of vertices.

    Parameters
    ----------
    outline : PanelOutline
    domain : Domain
        The panel's plane layout.
    ring : (b, 2) ndarray
        The outline's vertices in the plane [m].
    rim : (b, 3) ndarray
        The same in space [m].
    spacing : float
        Greatest side wanted [m].
    """
    place = _Placing(domain, ring, rim, spacing)
    over = [place.over(line) for line in outline.over]
    slits = [place.slit(pierced) for pierced in outline.pierced]
    windows = [place.window(insert.outline) for insert in outline.inserts]
    chains = [*over, *slits, *(chain for chain, _ in windows)]
    for k, chain in enumerate(chains):
        for other in chains[:k]:
            _cross(other, chain, near=NEAR * spacing)
    numbers = _Numbers(ring)
    sides = [numbers.of(chain.points) for chain in chains]
    ties = [numbers.nearest(*place.tie(tie.at)) for tie in outline.ties]
    first = len(over) + len(slits)
    return Chains(
        inner=numbers.inner(),
        sides=tuple(line for line in sides if len(line) > 1),
        over=tuple(sides[: len(over)]),
        bow=tuple(chain.values for chain in over),
        slits=tuple(sides[len(over) : first]),
        windows=tuple(polygon for _, polygon in windows),
        ties=np.array(ties, dtype=np.int64),
    )


class _Placing:
    """The way of lines near the cloth into its plane."""

    def __init__(self, domain: Domain, ring: Floats, rim: Floats, spacing: float) -> None:
        self.domain, self.ring, self.rim, self.spacing = domain, ring, rim, spacing
        self.polygon = shapely.Polygon(ring)
        self.clear = CLEAR * spacing

    def inside(self, points: Floats) -> Bools:
        """Return which plane points lie inside the outline, clear of it."""
        spots = shapely.points(points)
        clear = shapely.distance(spots, self.polygon.exterior) > self.clear
        return np.asarray(shapely.contains(self.polygon, spots) & clear)

    def over(self, line: Floats) -> _Chain:
        """Return the vertices over a bow, from the outline's vertex where it comes in to that where it leaves."""
        points = resample(line, spacing=self.spacing, tolerance=self.spacing / 20)
        placed, _ = self.domain.place(points)
        keep = np.flatnonzero(self.inside(placed))
        if len(keep) == 0:
            return _Chain(np.zeros((0, 2)))
        keep = np.arange(keep[0], keep[-1] + 1)
        flat, space = [placed[keep]], [points[keep]]
        for beyond, end, at in ((keep[0] - 1, keep[0], 0), (keep[-1] + 1, keep[-1], 2)):
            near = int(np.argmin(np.linalg.norm(self.ring - placed[end], axis=1)))
            if 0 <= beyond < len(points) and np.linalg.norm(self.ring[near] - placed[end]) < 2.5 * self.spacing:
                flat.insert(at, self.ring[near : near + 1])
                space.insert(at, self.rim[near : near + 1])
        arc, _ = locate(line, np.vstack(space))
        return _Chain(np.vstack(flat), arc)

    def slit(self, pierced: Pierced) -> _Chain:
        """Return the vertices from where a wire passes along its slit to the outline."""
        if pierced.slit is None:
            return _Chain(self.domain.place(pierced.at[None])[0])
        points = resample(pierced.slit, spacing=self.spacing, tolerance=self.spacing / 20)
        end = int(np.argmin(np.linalg.norm(self.rim - points[-1], axis=1)))
        placed, _ = self.domain.place(points[:-1])
        keep = self.inside(placed)
        keep[0] = True
        return _Chain(np.vstack([placed[keep], self.ring[end]]))

    def window(self, outline: Floats) -> tuple[_Chain, shapely.Polygon]:
        """Return a window's closed outline, kept clear of the panel's own, and the window."""
        closed = np.vstack([outline, outline[:1]])
        points = resample(closed, spacing=self.spacing, tolerance=self.spacing / 20)
        placed, _ = self.domain.place(points[:-1])
        window = shapely.intersection(shapely.Polygon(placed).buffer(0), self.polygon.buffer(-self.clear))
        if window.is_empty or window.geom_type != "Polygon":
            return _Chain(np.zeros((0, 2))), shapely.Polygon()
        ring = resample(shapely.get_coordinates(window.exterior), spacing=self.spacing, tolerance=self.spacing / 20)
        ring[-1] = ring[0]
        return _Chain(ring), shapely.Polygon(ring)

    def tie(self, at: Floats) -> tuple[Floats, float]:
        """Return the plane point of a tie and how near a vertex must be to be taken for it."""
        apart = np.linalg.norm(self.rim - at, axis=1)
        placed, _ = self.domain.place(at[None])
        near = int(np.argmin(apart))
        if apart[near] < self.clear or not self.inside(placed)[0]:
            return self.ring[near], 0.0
        return placed[0], 0.5 * self.clear


class _Numbers:
    """The numbering of plane points, the outline's first."""

    def __init__(self, ring: Floats) -> None:
        self._ring = len(ring)
        self._points = [tuple(point) for point in ring.tolist()]
        self._known = {point: number for number, point in enumerate(self._points)}

    def of(self, points: Floats) -> Ints:
        """Return the numbers of points; equal points have one number."""
        numbers = []
        for point in map(tuple, points.tolist()):
            if point not in self._known:
                self._known[point] = len(self._points)
                self._points.append(point)
            numbers.append(self._known[point])
        return np.array(numbers, dtype=np.int64)

    def nearest(self, point: Floats, reach: float) -> int:
        """Return the number of the nearest known point within reach, else of the point itself."""
        apart = np.linalg.norm(np.array(self._points) - point, axis=1)
        near = int(np.argmin(apart))
        return near if apart[near] <= reach else int(self.of(point[None])[0])

    def inner(self) -> Floats:
        """Return the points that are not the outline's."""
        return np.array(self._points[self._ring :], dtype=np.float64).reshape(-1, 2)


def _cross(firm: _Chain, other: _Chain, *, near: float) -> None:
    """Give two lines a common vertex wherever they cross; `other` gives way where a vertex of `firm` is near."""
    if len(firm.points) < 2 or len(other.points) < 2:
        return
    first, share, second, part = _crossings(firm.points, other.points)
    spots = firm.points[first] + share[:, None] * (firm.points[first + 1] - firm.points[first])
    for k, spot in enumerate(spots):
        apart = np.linalg.norm(firm.points - spot, axis=1)
        if apart.min() < near:
            spots[k] = firm.points[int(np.argmin(apart))]
        other.points[np.linalg.norm(other.points - spots[k], axis=1) < near] = spots[k]
    for k in np.lexsort((share, first))[::-1]:  # from the end, so that sides before keep their numbers
        firm.insert(int(first[k]), float(share[k]), spots[k])
    for k in np.lexsort((part, second))[::-1]:
        other.insert(int(second[k]), float(part[k]), spots[k])


def _crossings(one: Floats, two: Floats) -> tuple[Ints, Floats, Ints, Floats]:
    """Return side and share on the first line, side and share on the second, of each place where they cross."""
    way1, way2 = np.diff(one, axis=0)[:, None], np.diff(two, axis=0)[None]
    gap = two[None, :-1] - one[:-1, None]
    det = way1[..., 0] * way2[..., 1] - way1[..., 1] * way2[..., 0]
    safe = np.where(np.abs(det) > 1e-15, det, np.inf)
    share = (gap[..., 0] * way2[..., 1] - gap[..., 1] * way2[..., 0]) / safe
    part = (gap[..., 0] * way1[..., 1] - gap[..., 1] * way1[..., 0]) / safe
    met = (share >= 0) & (share < 1) & (part >= 0) & (part < 1) & np.isfinite(safe)
    first, second = np.nonzero(met)
    return first, share[met], second, part[met]

"""Lay the boat in the wind: turn her into the wind's axes and choose what is refined.

Computes: surfaces in wind axes (x downwind, y to the right looking upwind, z up from the water), and what is refined:
finest cells round cloth, blade and the way between, twice that round the whole boat, both in upright prisms that lie
along her; twice again in a box round her wake. Coarse cells, with which only what is near a wake is sought, begin
round the whole boat. Grids are laid from the blade's foot outwards, so that the air finds a boat and the same boat
mirrored alike.
Units: metres; radians; lattice units of velocity.
Source: regions that hold the whole boat upstream, or her bow sheds a false separation.
Limits: the sea is flat; the boat lies at one heel and trim; the vane's own blade is left out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from canvas.air.attitude import attitude
from canvas.geometry.scene import Scene
from canvas.geometry.surface import Surface
from canvas.wind.flow.cut import Sheet
from canvas.wind.flow.grid import Grid, Region, nest

Floats = npt.NDArray[np.float64]
COARSE_FROM = 0.1  # cells this large or larger only look for wakes [m]
OUTERMOST, COARSE_OUTERMOST = 0.24, 0.48  # the outermost cells are this to twice this [m]; 0.40 m round 10 cm
LATTICE_SPEED = 0.15  # of the undisturbed wind at the blade: Mach number 0.26
AHEAD = 1.5  # how far ahead of the foremost cloth the finest cells begin [m]
SAILS_FROM = np.radians(20.0)  # with the wind nearer the bow sails are down


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pose:
    """How the boat lies in wind axes.

    Attributes
    ----------
    awa, heel, trim : float
        [rad]
    water_z : float
        Height of the water in the boat frame [m].
    turned : float
        Angle by which wind and boat together are turned on the grid [rad].
    """

    awa: float
    heel: float
    trim: float
    water_z: float
    turned: float = 0.0

    def _turn(self) -> Floats:
        c, s = np.cos(self.awa + self.turned), np.sin(self.awa + self.turned)
        wind = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
        return np.asarray(wind @ attitude(heel=self.heel, trim=self.trim).T)

    def place(self, points: npt.ArrayLike) -> Floats:
        """Return points of the boat frame in wind axes [m]."""
        shifted = np.asarray(points, dtype=float) - np.array([0.0, 0.0, self.water_z])
        return np.asarray(shifted @ self._turn().T)

    def level(self, vectors: npt.ArrayLike) -> Floats:
        """Return vectors of wind axes in level axes (x aft, y starboard, z up)."""
        c, s = np.cos(self.awa + self.turned), np.sin(self.awa + self.turned)
        return np.asarray(np.asarray(vectors, dtype=float) @ np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]]))

    def on_grid(self, wind: npt.ArrayLike) -> Floats:
        """Return velocities (n, 2) along and across the wind in the axes of a turned grid."""
        c, s = np.cos(self.turned), np.sin(self.turned)
        return np.asarray(np.asarray(wind, dtype=float) @ np.array([[c, s], [-s, c]]))

    def boat(self, vectors: npt.ArrayLike) -> Floats:
        """Return vectors of wind axes in the boat frame."""
        return np.asarray(np.asarray(vectors, dtype=float) @ self._turn())


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Layout:
    """Grids that serve several sets at one wind angle.

    Attributes
    ----------
    pose : Pose
    grids : tuple of Grid
        Outermost first.
    blade : (n, 3) ndarray
        Points of the blade in wind axes [m].
    """

    pose: Pose
    grids: tuple[Grid, ...]
    blade: Floats

    @property
    def cells(self) -> int:
        """Return the number of cells of all grids."""
        return sum(grid.size for grid in self.grids)

    def updates(self, travel: float, *, grids: int | None = None) -> float:
        """Return cell updates needed for the undisturbed wind to travel so far [m], on all grids or the first few."""
        marched = self.grids[:grids]
        return sum(
            grid.updates(finer) * travel / (grid.cell * LATTICE_SPEED)
            for grid, finer in zip(marched, (*marched[1:], None), strict=False)
        )


def stands(surface: Surface, awa: float) -> bool:
    """Return whether a surface stands in the flow: not the vane's blade, and no sail with the wind too far ahead."""
    return surface.kind != "vane" and not (surface.kind == "sail" and abs(awa) < SAILS_FROM)


def sheets_of(scene: Scene, pose: Pose) -> tuple[tuple[str, ...], tuple[Sheet, ...]]:
    """Return the names and surfaces a flow meets, in wind axes; sails on the lee side of the wind they are in."""
    names, sheets = [], []
    for surface in scene.surfaces:
        if not stands(surface, pose.awa):
            continue
        vertices = surface.vertices
        if surface.kind == "sail" and vertices[:, 1].mean() * pose.awa > 0:
            vertices = vertices * np.array([1.0, -1.0, 1.0])
        names.append(surface.name)
        corners = pose.place(vertices)[surface.faces]
        sheets.append(Sheet(corners=corners, loss=surface.wind_loss, closed=surface.closed))
    return tuple(names), tuple(sheets)


def lay(
    scenes: Sequence[Scene],
    *,
    awa: float,
    heel: float = 0.0,
    trim: float = 0.0,
    cell: float,
    turned: float = 0.0,
    grow: float = 0.0,
) -> Layout:
    """Return one set of grids for several sets at a wind angle.

    Parameters
    ----------
    scenes : sequence of Scene
        Bare boat and sets; the grids hold the canvas of all of them.
    awa, heel, trim : float
        [rad]
    cell : float
        Finest cell [m].
    turned : float
        Angle by which the whole wind and boat are turned on the grid, to test that it does not matter [rad].
    grow : float
        By how much the region of fine cells is larger all round, to test that it does not matter [m].
    """
    coarse = cell >= COARSE_FROM
    first = scenes[0]
    pose = Pose(awa=awa, heel=heel, trim=trim, water_z=first.water_z, turned=turned)
    blade = pose.place(first.blade.points)
    hull = np.vstack([s.vertices for s in first.surfaces if s.kind in ("boat", "solid", "crew") and not _mast(s)])
    cloth = [s.vertices for scene in scenes for s in scene.surfaces if s.kind == "cloth"]
    canvas = np.vstack([first.blade.points, *cloth])
    near = hull[hull[:, 0] > canvas[:, 0].min() - AHEAD]
    bottom = min(canvas[:, 2].min(), first.blade.foot[2]) - 0.5
    near = near[near[:, 2] > bottom]
    middle, whole = np.vstack([canvas, near]), np.vstack([canvas, hull])
    mast = max(float(pose.place(s.vertices)[:, 2].max()) for s in first.surfaces if s.kind != "vane")
    fine = _region(pose.place(middle), side=0.4, ahead=0.4, behind=0.8, above=0.4, below=0.3, grow=grow)
    boat = _region(pose.place(whole), side=0.8, ahead=0.8, behind=2.0, above=0.9)
    wake = _region(pose.place(whole), side=1.8, ahead=2.0, behind=5.0, above=2.0).box
    far = _region(pose.place(whole), side=7.0, ahead=8.0, behind=12.0, above=0.0)
    base = cell
    regions: list[Region] = []
    for region in (boat, wake) if coarse else (fine, boat, wake):
        if base < (COARSE_OUTERMOST if coarse else OUTERMOST):
            regions.insert(0, region)
            base *= 2
    while base < OUTERMOST:
        regions.insert(0, wake)
        base *= 2
    foot = pose.place(first.blade.foot)[:2]
    low, high = foot - _whole(foot - far.low[:2], base), foot + _whole(far.high[:2] - foot, base)
    top = min(max(boat.high[2] + 6.0, 1.25 * mast), 24.0)
    low_corner, high_corner = np.array([*low, 0.0]), np.array([*high, top])
    return Layout(pose=pose, grids=tuple(nest(low_corner, high_corner, regions, cell=base)), blade=blade)


def _whole(distance: Floats, cell: float) -> Floats:
    """Return distances rounded up to whole cells [m]."""
    return np.asarray(cell * np.ceil(distance / cell))


def _mast(surface: Surface) -> bool:
    return "mast" in surface.name or "boom" in surface.name


def _region(
    points: Floats, *, side: float, ahead: float, behind: float, above: float, below: float = np.inf, grow: float = 0.0
) -> Region:
    """Return the upright prism over the convex hull of the boxes that reach so far round each point [m]."""
    reach = np.array([(x, y) for x in (-ahead - grow, behind + grow) for y in (-side - grow, side + grow)])
    bottom = max(float(points[:, 2].min()) - below - grow, 0.0)
    return Region.over((points[:, None, :2] + reach).reshape(-1, 2), bottom, float(points[:, 2].max()) + above + grow)

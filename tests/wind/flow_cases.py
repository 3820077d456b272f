"""Small flows that several tests march: plates and ducts in lattice units."""

from __future__ import annotations

from functools import lru_cache

import numba
import numpy as np

from canvas.wind.flow.cut import Sheet
from canvas.wind.flow.grid import Region, nest
from canvas.wind.flow.solver import Flow

numba.set_num_threads(1)  # small grids gain nothing from threads and lose much on a busy machine


def plate(axis: int, at: float, low, high, *, loss: float = float("inf")) -> Sheet:
    """Return a rectangle normal to `axis`, between (low, high) on the two other axes."""
    others = [a for a in range(3) if a != axis]
    corners = np.zeros((4, 3))
    corners[:, axis] = at
    for row, (i, j) in enumerate(((0, 0), (1, 0), (1, 1), (0, 1))):
        corners[row, others[0]] = (low, high)[i][0]
        corners[row, others[1]] = (low, high)[j][1]
    return Sheet(corners=corners[[[0, 1, 2], [0, 2, 3]]], loss=loss)


def box(low, high) -> Sheet:
    """Return a closed box."""
    sides = []
    for axis in range(3):
        others = [a for a in range(3) if a != axis]
        for at in (low[axis], high[axis]):
            a, b = [low[o] for o in others], [high[o] for o in others]
            sides.append(plate(axis, at, a, b).corners)
    return Sheet(corners=np.concatenate(sides), closed=True)


def still(heights):
    return np.zeros((len(heights), 2))


@lru_cache
def vortex_decay(cells: int) -> tuple[float, ...]:
    """Return velocity amplitude over the first at nu k^2 t = 0.1, 0.2 ... 0.5 of a decaying array of vortices."""
    viscosity, speed = 0.05, 0.5 / cells
    grids = nest(np.zeros(3), np.array([cells, cells, 1.0]), [], cell=1.0, sea=False)
    flow = Flow(
        grids, [], wind=still, viscosity=viscosity, periodic=(0, 1, 2), smagorinsky=0.0, noise=0.0, device="cpu"
    )
    k = 2 * np.pi / cells
    nx, ny, nz = grids[0].shape
    x, y = (np.arange(n) - 0.5 for n in (nx, ny))
    u = np.zeros((3, nz, ny, nx))
    u[0] = speed * np.sin(k * x)[None, None] * np.cos(k * y)[None, :, None]
    u[1] = -speed * np.cos(k * x)[None, None] * np.sin(k * y)[None, :, None]
    excess = 0.75 * speed**2 * (np.cos(2 * k * x)[None, None] + np.cos(2 * k * y)[None, :, None])
    flow.impose(0, velocity=u, excess=np.broadcast_to(excess, u[0].shape))
    times = np.array([0.0, 0.1, 0.2, 0.3, 0.4, 0.5]) / (viscosity * k * k)
    found, done = [], 0
    for target in times[1:]:
        steps = round(target) - done
        flow.advance(steps)
        done += steps
        now = flow.now(0)[1, 1:-1, 1:-1, 1:-1]
        shape = (np.sin(k * x)[None, None] * np.cos(k * y)[None, :, None])[:, 1:-1, 1:-1]
        amplitude = float((now * shape).sum() / (shape**2).sum()) / speed
        found.append(amplitude * np.exp(2 * viscosity * k * k * (done - target)))
    return tuple(found)


@lru_cache
def couette(fraction: float) -> tuple[float, ...]:
    """Return speed over wall speed at 0.05, 0.15 ... of the gap from the still wall, at nu t / H^2 = `fraction`."""
    gap, viscosity, speed = 40, 1.0 / 6.0, 0.05
    grids = nest(np.zeros(3), np.array([2.0, 2.0, gap + 2.0]), [], cell=1.0)
    top = plate(2, float(gap), (-5, -5), (9, 9))
    flow = Flow(
        grids, [top], wind=still, viscosity=viscosity, floor=(speed, 0.0), periodic=(0, 1), smagorinsky=0.0, noise=0.0,
        device="cpu",
    )  # fmt: skip
    flow.advance(round(fraction * gap**2 / viscosity))
    column = flow.now(0)[1, 1 : gap + 1, 1, 1] / speed
    return tuple(float(v) for v in column[::-1])


@lru_cache
def cavity(
    reynolds: int, cells: int, speed: float = 0.1, *, device: str = "cpu", most: int = 80
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return cell centres over the side, and u up the middle, v across the middle, over the lid speed."""
    grids = nest(np.zeros(3), np.array([float(cells), 1.0, cells + 1.0]), [], cell=1.0)
    far = (-5.0, -5.0), (cells + 5.0, cells + 5.0)
    walls = [plate(0, 0.0, *far), plate(0, float(cells), *far), plate(2, float(cells), *far)]
    flow = Flow(
        grids, walls, wind=still, viscosity=speed * cells / reynolds, floor=(speed, 0.0), periodic=(1,),
        smagorinsky=0.0, noise=0.0, device=device,
    )  # fmt: skip
    before = np.zeros(1)
    for _ in range(most):
        flow.advance(round(2 * cells / speed / 4))
        now = flow.now(0)[1:, 1 : cells + 1, 1, 1 : cells + 1] / speed
        if now.shape == before.shape and np.abs(now - before).max() < 2e-5:
            break
        before = now
    middle = cells // 2
    u = 0.5 * (now[0, :, middle - 1] + now[0, :, middle])[::-1]
    v = -0.5 * (now[2, middle - 1] + now[2, middle])
    return (np.arange(cells) + 0.5) / cells, u, v


@lru_cache
def screen_loss(loss: float, speed: float = 0.06) -> float:
    """Return the pressure drop across a screen in a duct, over rho u^2 / 2."""
    grids = nest(np.zeros(3), np.array([60.0, 3.0, 3.0]), [], cell=1.0, sea=False)
    screen = plate(0, 30.0, (-9, -9), (19, 19), loss=loss)
    flow = Flow(
        grids, [screen], wind=lambda z: np.tile([speed, 0.0], (len(z), 1)), viscosity=0.01, periodic=(1, 2),
        smagorinsky=0.0, noise=0.0, device="cpu",
    )  # fmt: skip
    flow.advance(3000)
    now = flow.now(0)[:, 2, 2]
    drop = (now[0, 20:26].mean() - now[0, 36:42].mean()) / 3.0
    return float(drop / (0.5 * now[1, 26:35].mean() ** 2))


def small_scene(*, screen: bool = False, mirrored: bool = False, name: str = "bare", place: bool = False):
    """Return a boat of two boxes with a blade behind, with or without an upright sheet a little to starboard."""
    from canvas.geometry.scene import Blade, Place, Scene
    from canvas.geometry.surface import Surface

    side = -1.0 if mirrored else 1.0

    def surface(title, kind, sheet, *, panel=None, loss=float("inf")):
        corners = sheet.corners * np.array([1.0, side, 1.0])
        if mirrored:
            corners = corners[:, ::-1]
        faces = np.arange(3 * len(corners)).reshape(-1, 3)
        return Surface(
            name=title, kind=kind, vertices=corners.reshape(-1, 3), faces=faces, closed=sheet.closed, panel=panel,
            wind_loss=loss,
        )  # fmt: skip

    parts = [
        surface("hull", "boat", outward(box((-2.0, -0.6, -0.6), (1.5, 0.6, 0.3)))),
        surface("cabin", "boat", outward(box((-1.5, -0.5, 0.3), (0.0, 0.5, 0.9)))),
    ]
    if screen:
        parts.append(surface("screen", "cloth", plate(0, 0.6, (0.0, 0.3), (0.7, 1.6)), panel="screen"))
    y, z = np.meshgrid(np.linspace(-0.05, 0.05, 3), np.linspace(0.9, 1.5, 10))
    points = np.stack([np.full(30, 1.8), side * y.ravel(), z.ravel()], axis=1)
    blade = Blade(points=points, foot=np.array([1.8, 0.0, 0.9]), height=0.6, width=0.1)
    spots = np.stack([np.linspace(0.2, 1.2, 30), np.full(30, 0.9 * side), np.full(30, 0.6)], axis=1)
    seat = Place(name="side seat", points=spots, normals=np.tile([0.0, 0.0, 1.0], (30, 1)), area=0.5)
    places = (seat,) if place else ()
    return Scene(set_name="screen" if screen else name, surfaces=tuple(parts), places=places, blade=blade, water_z=-0.4)


def outward(sheet: Sheet) -> Sheet:
    """Return a convex closed sheet with its triangles looking outward."""
    corners = sheet.corners.copy()
    middle = corners.mean(axis=(0, 1))
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    inward = ((corners.mean(axis=1) - middle) * normal).sum(axis=1) < 0
    corners[inward] = corners[inward][:, ::-1]
    return Sheet(corners=corners, loss=sheet.loss, closed=sheet.closed)


@lru_cache
def duct(height: int = 20, length: int = 60) -> tuple[np.ndarray, np.ndarray]:
    """Return cell centres over the gap, and speed over the greatest, of flow between two still walls."""
    speed = 0.05
    grids = nest(np.array([0.0, 0.0, 0.0]), np.array([float(length), 1.0, height + 1.0]), [], cell=1.0)

    def wind(z):
        return np.stack([speed * 4 * np.clip(z / height, 0, 1) * (1 - np.clip(z / height, 0, 1)), 0 * z], axis=1)

    top = plate(2, float(height), (-5.0, -5.0), (length + 5.0, 9.0))
    flow = Flow(
        grids, [top], wind=wind, viscosity=0.1, floor=(0.0, 0.0), periodic=(1,), smagorinsky=0.0, noise=0.0,
        device="cpu",
    )  # fmt: skip
    flow.advance(3000)
    column = flow.now(0)[1, 1 : height + 1, 1, length // 2].astype(float)
    centres = (np.arange(height) + 0.5) / height
    most = np.polyfit(centres, column, 2)
    return centres, column / (most[2] - most[1] ** 2 / (4 * most[0]))


BOX = Region(np.array([12.0, 4.0, 0.0]), np.array([28.0, 12.0, 7.0]))
ASLANT = Region.over(np.array([(12, 7), (18, 4), (28, 9), (22, 12)], dtype=float), 0.0, 7.0)


@lru_cache
def refined_duct(region: str) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Return speeds up a duct over the greatest, on the coarse grid by a region and in it, and the exact ones."""
    height, speed = 16, 0.05
    regions = [{"box": BOX, "aslant": ASLANT}[region]]
    grids = nest(np.zeros(3), np.array([40.0, 16.0, height + 1.0]), regions, cell=1.0)

    def wind(z):
        return np.stack([speed * 4 * np.clip(z / height, 0, 1) * (1 - np.clip(z / height, 0, 1)), 0 * z], axis=1)

    top = plate(2, float(height), (-5.0, -5.0), (49.0, 29.0))
    flow = Flow(
        grids, [top], wind=wind, viscosity=0.03, floor=(0.0, 0.0), periodic=(1,), smagorinsky=0.0, noise=0.0,
        device="cpu",
    )  # fmt: skip
    flow.advance(1500)
    coarse = flow.now(0)[1, 1 : height + 1, 2, 20].astype(float)  # beside the region
    box = flow.levels[1].grid
    inner = flow.now(1)[1, 1:-2, box.shape[1] // 2, box.shape[0] // 2].astype(float)
    scale = coarse.max() / (1 - 1 / height**2)
    at = (np.arange(height) + 0.5) / height
    fine_at = (box.origin[2] + box.cell * np.arange(1, box.shape[2] - 2)) / height
    return coarse / scale, inner / scale, 4 * at * (1 - at), 4 * fine_at * (1 - fine_at)

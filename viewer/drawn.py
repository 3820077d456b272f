"""Make the meshes that the stage draws, and tell whether two would look alike.

Computes: joined surfaces, squares for sample points, small crosses, the line of the sun's path.
Units: metres, boat frame.
Source: none.
Limits: seats are drawn as one small square for each sample point; heads get none.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pyvista as pv

from canvas.geometry.scene import Place, Scene
from canvas.geometry.surface import Bools, Floats, Surface

SEAT_LIFT = 0.012  # squares are drawn this much above what they lie on [m]
PATH_POINTS = 49  # of the sun's path, always as many: the line can then be moved and need not be made anew


def crosses(points: Floats, *, arm: float = 0.018) -> pv.PolyData:
    """Return a small upright diamond at each point, seen from both sides: two faces each."""
    ring = arm * np.array([[1, 0, 0], [0, 0, 1], [-1, 0, 0], [0, 0, -1], [0, 1, 0], [0, 0, 1], [0, -1, 0], [0, 0, -1]])
    corners = (points[:, None, :] + ring).reshape(-1, 3)
    return pv.PolyData.from_regular_faces(corners, np.arange(len(corners)).reshape(-1, 4))


def groups(scene: Scene) -> dict[str, tuple[Surface, ...]]:
    """Return what is drawn as one thing each: every sheet of cloth by itself, all else by what it is."""
    found: dict[str, tuple[Surface, ...]] = {}
    for surface in scene.surfaces:
        key = surface.name if surface.kind == "cloth" else f"all {surface.kind}"
        found[key] = (*found.get(key, ()), surface)
    return found


def joined(surfaces: Sequence[Surface]) -> pv.PolyData:
    """Return several surfaces as one mesh."""
    offsets = np.cumsum([0, *(len(one.vertices) for one in surfaces)])
    faces = [one.faces + offset for one, offset in zip(surfaces, offsets, strict=False)]
    return pv.PolyData.from_regular_faces(np.vstack([one.vertices for one in surfaces]), np.vstack(faces))


def alike(new: tuple[Surface, ...], old: tuple[Surface, ...]) -> bool:
    """Return whether two groups are drawn alike."""
    return len(new) == len(old) and all(
        a is b or (a.panel == b.panel and np.array_equal(a.vertices, b.vertices) and np.array_equal(a.faces, b.faces))
        for a, b in zip(new, old, strict=True)
    )


def same_places(new: tuple[Place, ...], old: tuple[Place, ...]) -> bool:
    """Return whether two lists of places are drawn alike."""
    return len(new) == len(old) and all(
        a is b or (a.area == b.area and np.array_equal(a.points, b.points)) for a, b in zip(new, old, strict=True)
    )


def drawn_points(places: Sequence[Place]) -> Bools:
    """Return which sample points, all places in order, have a square: heads have none."""
    return np.concatenate([np.full(len(one.points), not one.name.endswith(", heads")) for one in places])


def squares(places: Sequence[Place]) -> pv.PolyData:
    """Return one level square for each sample point that has one, of the area that it stands for."""
    blocks = []
    for place in places:
        if place.name.endswith(", heads"):
            continue
        half = 0.6 * np.sqrt(place.area / len(place.points))
        ring = half * np.array([[-1, -1, 0], [1, -1, 0], [1, 1, 0], [-1, 1, 0]])
        blocks.append((place.points + SEAT_LIFT * place.normals)[:, None, :] + ring)
    corners = np.concatenate(blocks).reshape(-1, 3)
    return pv.PolyData.from_regular_faces(corners, np.arange(len(corners)).reshape(-1, 4))


def path_points(path: Floats) -> Floats:
    """Return a path in always as many points, its last one repeated.

    Parameters
    ----------
    path : (n, 3) ndarray
        One point at least.
    """
    return path[np.minimum(np.arange(PATH_POINTS), len(path) - 1)]

"""Build simple bodies, sheets and places by hand, for tests whose answer is a closed form."""

from __future__ import annotations

import numpy as np
import trimesh

from canvas.geometry.scene import Blade, Place, Scene
from canvas.geometry.surface import Surface

R2 = np.array([0.7548776662466927, 0.5698402909980532])


def box(name, low, high, *, kind="solid"):
    """Return a closed box between two corners."""
    mesh = trimesh.creation.box(bounds=[low, high])
    return Surface(name=name, kind=kind, vertices=mesh.vertices, faces=mesh.faces, closed=True)


def sheet(name, corners, *, panel=None, cuts=8, kind="cloth", **through):
    """Return a ruled sheet between four corners (in order round), as cloth."""
    a, b, c, d = (np.asarray(corner, dtype=float) for corner in corners)
    s, t = np.meshgrid(np.linspace(0, 1, cuts + 1), np.linspace(0, 1, cuts + 1), indexing="ij")
    s, t = s[..., None], t[..., None]
    vertices = ((1 - s) * (1 - t) * a + s * (1 - t) * b + s * t * c + (1 - s) * t * d).reshape(-1, 3)
    k = np.arange((cuts + 1) ** 2).reshape(cuts + 1, cuts + 1)
    p, q, r, o = k[:-1, :-1].ravel(), k[1:, :-1].ravel(), k[1:, 1:].ravel(), k[:-1, 1:].ravel()
    faces = np.vstack([np.c_[p, q, r], np.c_[p, r, o]])
    return Surface(name=name, kind=kind, vertices=vertices, faces=faces, closed=False, panel=panel or name, **through)


def disk(name, centre, radius, *, corners=256):
    """Return a level disk."""
    turn = 2 * np.pi * np.arange(corners) / corners
    rim = np.asarray(centre, dtype=float) + radius * np.c_[np.cos(turn), np.sin(turn), 0 * turn]
    vertices = np.vstack([[centre], rim])
    k = 1 + np.arange(corners)
    faces = np.c_[np.zeros(corners, dtype=int), k, 1 + np.arange(1, corners + 1) % corners]
    return Surface(name=name, kind="cloth", vertices=vertices, faces=faces, closed=False, panel=name)


def spread(name, corner, side_a, side_b, *, points=288):
    """Return a flat place: a parallelogram with an even spread of points, its normal along side_a x side_b."""
    a, b = np.asarray(side_a, dtype=float), np.asarray(side_b, dtype=float)
    share = (0.5 + np.outer(np.arange(points), R2)) % 1.0
    normal = np.cross(a, b)
    return Place(
        name=name,
        points=np.asarray(corner, dtype=float) + share[:, :1] * a + share[:, 1:] * b,
        normals=np.tile(normal / np.linalg.norm(normal), (points, 1)),
        area=float(np.linalg.norm(normal)),
    )


def one_point(name, point, normal=(0.0, 0.0, 1.0)):
    """Return a place of a single point."""
    unit = np.asarray(normal, dtype=float) / np.linalg.norm(normal)
    return Place(name=name, points=np.tile(point, (4, 1)), normals=np.tile(unit, (4, 1)), area=1.0)


def scene(*surfaces, places=(), blade=None):
    """Return a scene of what is given."""
    no_blade = Blade(points=np.zeros((1, 3)), foot=np.zeros(3), height=1.0, width=1.0)
    return Scene(set_name="test", surfaces=tuple(surfaces), places=tuple(places), blade=blade or no_blade, water_z=-1.0)


def invented_cockpit(*, points=288, seats_only=False):
    """Return a cockpit with cabin, seats, coamings, boom, spray hood, bimini, bridging piece and a meshed side."""
    bodies = [
        box("cabin", [-4, -1.1, -0.5], [-0.1, 1.1, 0.75], kind="boat"),
        box("sole", [-0.1, -1.6, -0.3], [2.8, 1.6, 0], kind="boat"),
        box("port bench", [0, -1.0, 0], [2.0, -0.45, 0.45], kind="boat"),
        box("starboard bench", [0, 0.45, 0], [2.0, 1.0, 0.45], kind="boat"),
        box("port coaming", [0, -1.25, 0], [2.8, -1.0, 0.75], kind="boat"),
        box("starboard coaming", [0, 1.0, 0], [2.8, 1.22, 0.72], kind="boat"),
        box("boom", [-3, -0.08, 2.3], [1.6, 0.08, 2.5]),
        box("solar panel", [2.7, -0.8, 2.1], [3.2, 0.7, 2.13]),
    ]
    canvas = [
        sheet("spray hood", [[-1, -1, 0.75], [0.1, -1, 1.4], [0.1, 1, 1.4], [-1, 1, 0.75]]),
        sheet("bimini", [[1.2, -1.05, 1.95], [2.7, -1.05, 2.0], [2.7, 1.05, 2.0], [1.2, 1.05, 1.95]]),
        sheet("bridge", [[0.1, -0.9, 1.45], [1.2, -0.9, 1.95], [1.2, 0.9, 1.95], [0.1, 0.9, 1.45]]),
        sheet(
            "side",
            [[0.3, -1.05, 1.9], [2.3, -1.05, 1.9], [2.3, -1.12, 0.9], [0.3, -1.12, 0.9]],
            light_through=0.3,
            uv_through=0.15,
            rain_through=0.5,
            sight_through=0.4,
        ),
    ]
    places = [
        spread("port seat", [0.2, -0.95, 0.45], [1.7, 0, 0], [0, 0.45, 0], points=points),
        spread("starboard seat", [0.2, 0.5, 0.45], [1.7, 0, 0], [0, 0.45, 0], points=points),
    ]
    if not seats_only:
        places += [
            spread("port seat, heads", [0.2, -0.95, 1.2], [1.7, 0, 0], [0, 0.45, 0], points=points),
            spread("helm", [2.1, -0.4, 0.0], [0.5, 0, 0], [0, 0.8, 0], points=points),
        ]
    return scene(*bodies, *canvas, places=places)

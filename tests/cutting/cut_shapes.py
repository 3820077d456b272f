"""Meshes and panels of known shape for the cutting tests."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from canvas.cutting.piece import ClothToCut, EdgeToCut, PanelToCut

COATED = ClothToCut(
    name="coated polyester 300", kind="cloth", roll_widths=(1.52,), warp_compensation=0.002,
    weft_compensation=0.003, strain_limit=0.01,
)  # fmt: skip
PLAIN = dataclasses.replace(COATED, name="plain", warp_compensation=0.0, weft_compensation=0.0)
SHEET = ClothToCut(
    name="clear sheet 0.75", kind="sheet", roll_widths=(1.37,), warp_compensation=0.0, weft_compensation=0.0,
    strain_limit=0.003,
)  # fmt: skip


def grid_faces(nu: int, nv: int) -> np.ndarray:
    i = np.arange(nu * nv).reshape(nu, nv)
    a, b, c, d = i[:-1, :-1].ravel(), i[1:, :-1].ravel(), i[1:, 1:].ravel(), i[:-1, 1:].ravel()
    return np.concatenate([np.stack([a, b, c], 1), np.stack([a, c, d], 1)])


def surface(f, u, v):
    """Return vertices and faces of f(U, V) -> x, y, z over a grid; normals along df/du x df/dv."""
    grid_u, grid_v = np.meshgrid(u, v, indexing="ij")
    return np.stack(f(grid_u, grid_v), -1).reshape(-1, 3), grid_faces(len(u), len(v))


def outline_of(nu: int, nv: int) -> list[np.ndarray]:
    """Return the grid's four sides in outline order: v low, u high, v high, u low."""
    i = np.arange(nu * nv).reshape(nu, nv)
    return [i[:, 0], i[-1, :], i[::-1, -1], i[0, ::-1]]


def panel(name, f, u, v, *, cloth=COATED, finishes=("hem",) * 4, warp=(1.0, 0.0, 0.0), sd=0.0, **more):
    """Return a panel over a grid; its edges are called starboard-less plain names: low, far, high, near."""
    vertices, faces = surface(f, u, v)
    edges = tuple(
        EdgeToCut(name=edge, finish=finish, vertices=along, sd=sd)
        for edge, finish, along in zip(
            ("low", "far", "high", "near"), finishes, outline_of(len(u), len(v)), strict=True
        )
    )
    return PanelToCut(
        name=name, set_name="shade", vertices=vertices, faces=faces, warp=np.tile(np.asarray(warp), (len(faces), 1)),
        zone=more.pop("zone", np.zeros(len(faces), dtype=int)), edges=edges, cloth=cloth, **more,
    )  # fmt: skip


def plate(name, length, width, *, cells=(12, 10), at=0.0, **more):
    """Return a flat rectangle, length along x from `at`, width along y."""
    return panel(
        name, lambda u, v: (u, v, 0 * u), np.linspace(at, at + length, cells[0] + 1),
        np.linspace(-width / 2, width / 2, cells[1] + 1), **more,
    )  # fmt: skip


def roof(name, x0, x1, *, width=1.3, crown=(0.2, 0.1), cells=(16, 20), **more):
    """Return a cambered piece with hollow sides, from x0 to x1; two of them share an edge where x and crown agree."""

    def shape(u, v):
        s = (u - x0) / (x1 - x0)
        half = width / 2 * (1 - 0.04 * 4 * s * (1 - s))
        return u, v * half, 1.8 + (crown[0] * (1 - s) + crown[1] * s) * (1 - v * v)

    return panel(name, shape, np.linspace(x0, x1, cells[0] + 1), np.linspace(-1, 1, cells[1] + 1), **more)


def zone_of(panel, inside) -> np.ndarray:
    """Return 1 for both triangles of each grid cell whose middle (x, y) is inside, else 0."""
    corner = panel.vertices[panel.faces]
    half = len(panel.faces) // 2
    middle = (corner[:half, 0] + corner[:half, 2]) / 2
    return np.tile(inside(middle[:, 0], middle[:, 1]), 2).astype(int)


def gore(radius, count, *, low=0.0, high=1.45, cells=(60, 16)):
    """Return one of `count` gores of a hemisphere, from latitude `low` to `high`, outward."""

    def shape(lat, lon):
        return (
            radius * np.cos(lat) * np.cos(lon), radius * np.cos(lat) * np.sin(lon), radius * np.sin(lat)
        )  # fmt: skip

    vertices, faces = surface(
        shape, np.linspace(low, high, cells[0] + 1), np.linspace(-np.pi / count, np.pi / count, cells[1] + 1)
    )
    return vertices, faces[:, ::-1]


def polyline_length(points) -> float:
    return float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())


def circle_radius(points) -> float:
    """Return the radius of the circle that fits points best (algebraic fit)."""
    rows = np.column_stack([2 * points, np.ones(len(points))])
    a, b, c = np.linalg.lstsq(rows, (points**2).sum(axis=1), rcond=None)[0]
    return float(np.sqrt(c + a * a + b * b))


def area_of(outline) -> float:
    x, y = np.asarray(outline).T
    return 0.5 * abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1)))


def hold_cut_lines(rings, parts):
    """Hold rings that were read back to the cut lines of parts: as many, of the same areas and lengths."""
    ours = [part.cut for part in parts]
    assert len(rings) == len(ours)
    for measure in (area_of, lambda ring: polyline_length(np.vstack([ring, ring[:1]]))):
        assert sorted(map(measure, rings)) == pytest.approx(sorted(map(measure, ours)), rel=1e-3)

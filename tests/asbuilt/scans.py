"""Make scans of a boat: what eyes about its cockpit see, shaken, torn, turned and of a wrong scale."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import trimesh
from scipy.spatial import cKDTree
from scipy.spatial.transform import Rotation

from canvas.cloth.domain import closest
from canvas.cloth.rigging import Rigging
from canvas.design.reading import read_design
from canvas.geometry.model import build_model
from canvas.geometry.rays import tracer_of

ROOT = Path(__file__).parent.parent.parent
KINDS = ("boat", "solid", "tube")


@dataclass(frozen=True)
class MadeScan:
    """A scan, the marks that can be picked on it, and the truth."""

    mesh: trimesh.Trimesh
    names: tuple[str, ...]
    true: np.ndarray  # of the marks, boat frame [m]
    picked: np.ndarray  # in the scan's unit
    scale: float


def boat(name: str) -> Rigging:
    return Rigging(build_model(read_design(ROOT / "examples" / f"{name}.toml")))


def made_scan(rigging, *, seed=1, edge=0.03, noise=0.003, holes=25, scale=0.0271, pick=0.004, box=None) -> MadeScan:
    rng = np.random.default_rng(seed)
    model = rigging.model
    surfaces = [s for s in rigging.rig("bare").scene.surfaces if s.kind in KINDS and s.name not in ("mast", "boom")]
    cockpit = model.design.cockpit
    low, high = box or (np.array([-1.2, -1.7, -0.4]), np.array([cockpit.length + 1.0, 1.7, 2.6]))
    vertices, faces = _fine(surfaces, low, high, edge)
    seen = _seen(vertices, faces, tracer_of(*surfaces), cockpit)
    faces = faces[seen]
    middle = vertices[faces].mean(axis=1)
    torn = np.zeros(len(faces), dtype=bool)
    for spot in middle[rng.integers(len(middle), size=holes)]:
        torn |= np.linalg.norm(middle - spot, axis=1) < rng.uniform(0.03, 0.09)
    faces = faces[~torn]
    used, faces = np.unique(faces, return_inverse=True)
    vertices, faces = vertices[used], faces.reshape(-1, 3)
    shaken = vertices + rng.normal(0.0, noise, vertices.shape)
    turn = Rotation.random(random_state=seed).as_matrix()
    shift = rng.uniform(-200, 200, 3)
    names, true, spots = _on_surface(model, _joined(surfaces), vertices)
    spots = spots + rng.normal(0.0, pick, spots.shape)
    return MadeScan(
        mesh=trimesh.Trimesh(shaken @ turn.T / scale + shift, faces, process=False),
        names=names,
        true=true,
        picked=spots @ turn.T / scale + shift,
        scale=scale,
    )


def _fine(surfaces, low, high, edge):
    parts, count, meshes = [], 0, []

    for surface in surfaces:
        corners = surface.vertices[surface.faces]
        near = (corners.max(axis=1) > low).all(axis=1) & (corners.min(axis=1) < high).all(axis=1)
        if near.any():
            v, f = trimesh.remesh.subdivide_to_size(surface.vertices, surface.faces[near], max_edge=edge, max_iter=14)
            f = f[((v[f].mean(axis=1) > low) & (v[f].mean(axis=1) < high)).all(axis=1)]
            meshes.append(v)
            parts.append(f + count)
            count += len(v)
    return np.vstack(meshes), np.vstack(parts)


def _joined(surfaces):
    offsets = np.cumsum([0] + [len(s.vertices) for s in surfaces[:-1]])
    return np.vstack([s.vertices for s in surfaces]), np.vstack(
        [s.faces + offset for s, offset in zip(surfaces, offsets, strict=True)]
    )


def _seen(vertices, faces, tracer, cockpit):
    """Return which triangles someone walking about with a phone sees from their front."""
    corners = vertices[faces]
    middle = corners.mean(axis=1)
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    seen = np.zeros(len(faces), dtype=bool)
    for x in np.linspace(-0.8, cockpit.length + 0.6, 5):
        for y, z in ((-1.4, 1.9), (-0.6, 1.3), (0.0, 1.9), (0.0, 0.8), (0.6, 1.3), (1.4, 1.9), (0.0, 3.0)):
            eye = np.array([x, y, z])
            away = eye - middle
            front = ~seen & (np.einsum("ni,ni->n", away, normal) > 0)
            rows = np.flatnonzero(front)
            far = np.linalg.norm(away[rows], axis=1)
            hit = tracer.first_hit(middle[rows], away[rows])[1]
            seen[rows[hit > far]] = True
    return seen


def _on_surface(model, whole, vertices):
    """Return the marks that can be picked: those on a surface, and those inside a tube, picked on its near side."""
    corners, faces = whole
    with np.errstate(over="ignore"):  # triangles without area
        face, shares, far = closest(model.marks.xyz, corners, faces)
    nearest = np.einsum("nk,nki->ni", shares, corners[faces[face]])
    eye = np.array([1.0, 0.0, 1.4])
    seen = cKDTree(vertices)
    names, true, spots = [], [], []
    for name, place, foot, off in zip(model.marks.names, model.marks.xyz, nearest, far, strict=True):
        spot = foot if off < 0.002 else None
        for tube in model.tubes.values():
            run = np.diff(tube.line, axis=0)
            share = np.clip(((place - tube.line[:-1]) * run).sum(axis=1) / (run**2).sum(axis=1), 0, 1)
            line = tube.line[:-1] + share[:, None] * run
            k = int(np.linalg.norm(line - place, axis=1).argmin())
            if np.linalg.norm(line[k] - place) < 0.002 and tube.diameter > 0.01:
                along = run[k] / np.linalg.norm(run[k])
                towards = (eye - place) - along * ((eye - place) @ along)
                spot = place + tube.diameter / 2 * towards / np.linalg.norm(towards)
        if spot is not None and seen.query(spot)[0] < 0.03:
            names.append(name)
            true.append(place)
            spots.append(spot)
    return tuple(names), np.array(true), np.array(spots)


def written(folder, made, *, ending="ply"):
    """Write a scan and its list of picked points, and return both paths."""
    file, points = folder / f"cockpit.{ending}", folder / "picked.csv"
    made.mesh.export(file)
    lines = [f"{name},{x},{y},{z}" for name, (x, y, z) in zip(made.names, made.picked, strict=True)]
    points.write_text("\n".join(["name,x,y,z", *lines]) + "\n")
    return file, points

"""Trace rays against triangles: the one door to embreex.

Computes: whether a ray meets a mesh, and where it first does.
Units: metres, boat frame.
Source: Embree through embreex; trimesh's own ray code where no wheel of embreex exists (Linux on ARM), much slower.
Limits: Embree works in single precision; origins are moved 0.1 mm along the ray, so a point on a surface misses itself.
    Where every point asks about many directions, no rays are traced: see canvas/geometry/panorama.py.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from hashlib import blake2b
from threading import Lock
from typing import Any

import numpy as np

from canvas.geometry.panorama import GRAZING, Shell, mark_met, shell_of, spread
from canvas.geometry.surface import Bools, Floats, Ints, Surface
from canvas.jobs.turns import give_way

START = 1e-4  # length a ray is moved along itself before it may meet anything [m]
AT_ONCE = 1_000_000  # rays handed to Embree together
FACES_A_RAY = 2.0  # faces that are looked at in the time of one ray
KEPT = 64  # tracers that are not built again when their mesh is asked about anew
THREADS = 2  # for many directions, outside Python's lock; each point's answer is its own, whatever the count
PARTS = 8  # in which the points are shared out among them: those of one place may take longer than those of another


class Tracer:
    """A mesh ready for any-hit and first-hit questions.

    Parameters
    ----------
    vertices : (n, 3) ndarray
        [m]
    faces : (m, 3) ndarray of int
    """

    def __init__(self, vertices: Floats, faces: Ints) -> None:
        self._empty = len(faces) == 0
        self._vertices, self._faces = vertices, faces
        self._scene: Any = None
        self._shell: Shell | None = None  # made when first needed
        self._fallback: Any = None
        if self._empty:
            return
        try:
            self._scene = _embree(vertices[faces])
        except ImportError:
            import trimesh
            from trimesh.ray.ray_triangle import RayMeshIntersector

            mesh = trimesh.Trimesh(vertices, faces, process=False)
            self._fallback = RayMeshIntersector(mesh)  # type: ignore[no-untyped-call]

    def occluded(self, origins: Floats, directions: Floats) -> Bools:
        """Return for each ray whether it meets the mesh.

        Parameters
        ----------
        origins, directions : (n, 3) ndarray
            Directions need not be unit [m].

        Returns
        -------
        (n,) ndarray of bool
        """
        if self._empty:
            return np.zeros(len(origins), dtype=bool)
        unit = directions / np.linalg.norm(directions, axis=1, keepdims=True)
        starts = origins + START * unit
        if self._fallback is not None:
            return np.asarray(self._fallback.intersects_any(starts, unit), dtype=bool)
        hit = self._scene.run(starts.astype(np.float32), unit.astype(np.float32), query="OCCLUDED")
        return np.asarray(hit == 0)

    def occluded_grid(
        self, points: Floats, directions: Floats, *, ask: Bools | None = None, normals: Floats | None = None
    ) -> Bools:
        """Return for every point and direction whether the ray meets the mesh, where it is asked.

        Parameters
        ----------
        points : (n, 3) ndarray
            Taken as they are: lift them off the surface they lie on [m].
        directions : (d, 3) ndarray
            Unit vectors.
        ask : (n, d) ndarray of bool, optional
            False where the answer is not wanted; the answer there is False.
        normals : (n, 3) ndarray, optional
            Of the areas the points lie on: directions into them are not asked.

        Returns
        -------
        (n, d) ndarray of bool
        """
        give_way()
        met = np.zeros((len(points), len(directions)), dtype=bool)
        if self._empty:
            return met
        facing = np.zeros_like(points) if normals is None else normals
        rays = met.size if ask is None else np.count_nonzero(ask)
        if self._scene is not None and FACES_A_RAY * rays < len(points) * len(self._faces):
            starts, towards = points.astype(np.float32), directions.astype(np.float32)
            step = max(1, AT_ONCE // len(directions))
            for first in range(0, len(points), step):
                rows = slice(first, first + step)
                faced = facing[rows] @ directions.T > GRAZING
                row, way = np.nonzero(faced if ask is None else ask[rows] & faced)
                hit = self._scene.run(starts[first + row], towards[way], query="OCCLUDED") == 0
                met[first + row, way] = hit
            return met
        self._shell = self._shell or shell_of(self._vertices, self._faces)
        shell, sorted_ways = self._shell, spread(directions)
        parts = np.array_split(np.arange(len(points)), PARTS)

        def look(part: Ints) -> None:
            rows = slice(part[0], part[-1] + 1)
            mark_met(shell, points[rows], facing[rows], sorted_ways, met[rows])

        with ThreadPoolExecutor(max_workers=THREADS) as pool:
            list(pool.map(look, filter(len, parts)))
        return met if ask is None else np.logical_and(met, ask, out=met)

    def first_hit(self, origins: Floats, directions: Floats) -> tuple[Ints, Floats]:
        """Return for each ray the face it first meets and how far off.

        Parameters
        ----------
        origins, directions : (n, 3) ndarray
            [m]

        Returns
        -------
        face : (n,) ndarray of int
            -1 where nothing is met.
        distance : (n,) ndarray
            [m]; infinite where nothing is met.
        """
        if self._empty:
            return np.full(len(origins), -1, dtype=np.int64), np.full(len(origins), np.inf)
        unit = directions / np.linalg.norm(directions, axis=1, keepdims=True)
        starts = origins + START * unit
        if self._fallback is not None:
            return _first_by_trimesh(self._fallback, starts, unit)
        out = self._scene.run(starts.astype(np.float32), unit.astype(np.float32), query="INTERSECT", output=True)
        face = np.asarray(out["primID"], dtype=np.int64)
        missed = np.asarray(out["geomID"]) < 0
        distance = np.asarray(out["tfar"], dtype=np.float64) + START
        return np.where(missed, -1, face), np.where(missed, np.inf, distance)


def _embree(corners: Floats) -> Any:
    """Return Embree's tree of triangles given by their corners, (m, 3, 3)."""
    from embreex import rtcore_scene
    from embreex.mesh_construction import TriangleMesh

    scene = rtcore_scene.EmbreeScene()
    TriangleMesh(scene, np.ascontiguousarray(corners, dtype=np.float32))
    one = np.ones((1, 3), dtype=np.float32)
    scene.run(one, one, query="OCCLUDED")  # builds the tree now, before threads ask together
    return scene


def tracer_of(*surfaces: Surface) -> Tracer:
    """Return one tracer for several surfaces together; the last `KEPT` are kept, since the same bodies come again."""
    if not surfaces:
        return Tracer(np.zeros((0, 3)), np.zeros((0, 3), dtype=np.int64))
    offsets = np.cumsum([0] + [len(surface.vertices) for surface in surfaces[:-1]])
    vertices = np.vstack([surface.vertices for surface in surfaces])
    faces = np.vstack([surface.faces + offset for surface, offset in zip(surfaces, offsets, strict=True)])
    key = blake2b(vertices.tobytes() + faces.tobytes(), digest_size=16).digest()
    with _LOCK:
        tracer = _TRACERS.pop(key, None) or Tracer(vertices, faces)
        _TRACERS[key] = tracer
        while len(_TRACERS) > KEPT:
            _TRACERS.pop(next(iter(_TRACERS)))
    return tracer


_TRACERS: dict[bytes, Tracer] = {}  # the least recently asked first
_LOCK = Lock()


def _first_by_trimesh(intersector: Any, starts: Floats, unit: Floats) -> tuple[Ints, Floats]:
    face = np.full(len(starts), -1, dtype=np.int64)
    distance = np.full(len(starts), np.inf)
    where, ray, met = intersector.intersects_location(starts, unit, multiple_hits=False)
    face[ray] = met
    distance[ray] = np.linalg.norm(where - starts[ray], axis=1) + START
    return face, distance

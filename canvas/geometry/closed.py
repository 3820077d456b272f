"""Make closed solids and turn them into surfaces whose vertices and faces stand in one order.

Computes: solids from rings of points, boxes and round bars by booleans' own kernel; volume and inside of a closed
    mesh.
Units: metres, boat frame.
Source: inside by the winding number, solid angles by A. van Oosterom and J. Strackee, IEEE Trans. Biomed. Eng. 30
    (1983) 125, equation 8; booleans by manifold3d.
Limits: rounds are polygons of equal area, so volumes are exact and outlines within 2 % of the radius at twelve sides.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from manifold3d import Manifold, Mesh64

from canvas.geometry.surface import Bools, Floats, Ints, Kind, Surface

SIDES = 12  # of a round bar


def solid_of(vertices: Floats, faces: Ints) -> Manifold:
    """Return the solid of a closed mesh, turned to look outward.

    Parameters
    ----------
    vertices : (n, 3) ndarray
        [m]
    faces : (m, 3) ndarray of int

    Raises
    ------
    ValueError
        When an edge does not belong to exactly two faces that run along it in opposite ways.
    """
    if not edge_manifold(faces):
        raise ValueError("a mesh that is not closed")
    turned = faces if volume(vertices, faces) > 0 else faces[:, ::-1]
    solid = Manifold(Mesh64(np.array(vertices, dtype=np.float64), np.array(turned, dtype=np.uint64)))
    if solid.status().name != "NoError" or solid.is_empty():
        raise ValueError("a mesh that is not closed")
    return solid


def loft(rings: Floats) -> Manifold:
    """Return the solid between convex rings, the first and the last closed by fans.

    Parameters
    ----------
    rings : (k, m, 3) ndarray
        k rings of m points; all run round the same way [m]. The first and last ring may be hollow-cornered where
        their first point sees every other.
    """
    count, around, _ = rings.shape
    points = rings.reshape(-1, 3)
    here = np.arange(around)
    beside = (here + 1) % around
    faces = []
    for a, b in pairwise(range(0, count * around, around)):
        faces += _halves(points, (a + here, b + here, b + beside, a + beside))
    for ring, way in ((here, 1), (here + (count - 1) * around, -1)):
        if around == 4:
            ends = _halves(points, tuple(ring[:, None]))
        else:
            ends = [np.c_[np.full(around - 2, ring[0]), ring[1:-1], ring[2:]]]
        faces += [end[:, ::way] for end in ends]
    return solid_of(rings.reshape(-1, 3), np.vstack(faces))


def _halves(points: Floats, corners: tuple[Ints, ...]) -> list[Ints]:
    """Return both triangles of each of k quads, split along the shorter diagonal: a mirrored quad's are the mirror.

    Parameters
    ----------
    points : (n, 3) ndarray
        [m]
    corners : tuple of four (k,) ndarray of int
        Round each quad.
    """
    one, two = (np.linalg.norm(points[corners[k]] - points[corners[k + 2]], axis=1) for k in (0, 1))
    start = np.where(one <= two, 0, 1)
    order = [np.choose((start + k) % 4, corners) for k in range(4)]
    return [np.stack(order[:3], axis=1), np.stack([order[0], *order[2:]], axis=1)]


def prism(outline: Floats, *, start: float, end: float) -> Manifold:
    """Return the solid of an outline across the boat, drawn along x.

    Parameters
    ----------
    outline : (m, 2) ndarray
        y and z; its first point sees every other [m].
    start, end : float
        x of its ends [m].
    """
    return loft(np.array([np.c_[np.full(len(outline), x), outline] for x in (start, end)]))


def box(size: tuple[float, float, float], *, middle: Floats, turned: Floats | None = None) -> Manifold:
    """Return a box.

    Parameters
    ----------
    size : tuple of float
        Along x, y and z before turning [m].
    middle : (3,) ndarray
        [m]
    turned : (3, 3) ndarray, optional
        Rotation.
    """
    half = np.array(size) / 2
    square = np.array([[1, 1], [-1, 1], [-1, -1], [1, -1]]) * half[1:]
    corners = np.array([np.c_[np.full(4, x), square] for x in (-half[0], half[0])])
    rotation = np.eye(3) if turned is None else turned
    return loft(corners @ rotation.T + middle)


def bar(start: Floats, end: Floats, *, width: float, depth: float | None = None, sides: int = SIDES) -> Manifold:
    """Return a round or elliptic bar between two points, of the round's own area.

    Parameters
    ----------
    start, end : (3,) ndarray
        Middles of its ends [m].
    width : float
        Diameter; of an upright bar athwartships [m].
    depth : float, optional
        Diameter fore and aft where it differs [m].
    sides : int
        Of its section.
    """
    along = (end - start) / np.linalg.norm(end - start)
    level = np.array([1.0, 0.0, 0.0]) if abs(along[0]) < 0.9 else np.array([0.0, 1.0, 0.0])
    fore = level - along * (level @ along)
    fore /= np.linalg.norm(fore)
    athwart = np.cross(along, fore)
    turn = 2 * np.pi * (np.arange(sides) + 0.5) / sides
    equal_area = np.sqrt(2 * np.pi / (sides * np.sin(2 * np.pi / sides)))
    ring = (
        equal_area
        / 2
        * (np.outer(np.cos(turn), fore) * (width if depth is None else depth) + np.outer(np.sin(turn), athwart) * width)
    )
    return loft(np.array([start + ring, end + ring]))


def surface_of(solid: Manifold, *, name: str, kind: Kind, clear: tuple[float, float, float] | None = None) -> Surface:
    """Return a solid as a surface, its vertices sorted by place and its faces by vertex.

    Parameters
    ----------
    solid : Manifold
    name : str
    kind : str
    clear : tuple of float, optional
        Shares of light, ultraviolet and sight that pass; none where absent.
    """
    mesh = solid.to_mesh64()
    vertices = np.asarray(mesh.vert_properties, dtype=np.float64)[:, :3]
    faces = np.asarray(mesh.tri_verts, dtype=np.int64)
    order = np.lexsort(vertices.T[::-1])
    rank = np.empty(len(order), dtype=np.int64)
    rank[order] = np.arange(len(order))
    faces = rank[faces]
    first = np.argmin(faces, axis=1)
    faces = faces[np.arange(len(faces))[:, None], (first[:, None] + np.arange(3)) % 3]
    light, ultraviolet, sight = clear or (0.0, 0.0, 0.0)
    return Surface(
        name=name,
        kind=kind,
        vertices=vertices[order],
        faces=faces[np.lexsort(faces.T[::-1])],
        closed=True,
        light_through=light,
        uv_through=ultraviolet,
        sight_through=sight,
    )


def edge_manifold(faces: Ints) -> bool:
    """Return whether every edge belongs to two faces that run along it in opposite ways."""
    edges = np.vstack([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]).astype(np.int64)
    size = int(edges.max(initial=0)) + 1
    there = np.sort(edges[:, 0] * size + edges[:, 1])
    back = np.sort(edges[:, 1] * size + edges[:, 0])
    return len(np.unique(there)) == len(there) and bool(np.array_equal(there, back))


def volume(vertices: Floats, faces: Ints) -> float:
    """Return the volume of a closed mesh (`vertices` (n, 3), `faces` (m, 3)) [m3], negative where faces look inward."""
    a, b, c = (vertices[faces[:, corner]] - vertices.mean(axis=0) for corner in range(3))
    return float(np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6)


def inside(surface: Surface, points: Floats) -> Bools:
    """Return for each point whether it lies inside a closed surface.

    Parameters
    ----------
    surface : Surface
        Closed.
    points : (n, 3) ndarray
        [m]

    Returns
    -------
    (n,) ndarray of bool
    """
    a, b, c = (surface.vertices[surface.faces[:, corner]] - points[:, None, :] for corner in range(3))
    la, lb, lc = (np.linalg.norm(side, axis=2) for side in (a, b, c))
    above = np.einsum("nmi,nmi->nm", a, np.cross(b, c))  # equation 8, numerator
    below = (
        la * lb * lc
        + np.einsum("nmi,nmi->nm", a, b) * lc
        + np.einsum("nmi,nmi->nm", b, c) * la
        + np.einsum("nmi,nmi->nm", c, a) * lb
    )
    turns = np.arctan2(above, below).sum(axis=1) / (2 * np.pi)
    return np.asarray(turns > 0.5)

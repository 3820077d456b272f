"""Describe elastic cloth with its cables, rods and bows, and add up its forces and stiffness.

Computes: residual forces, tangent stiffness, stresses and energy at given places of the vertices.
Units: metres, newtons, newtons a metre.
Source: canvas/cloth/elements.py and canvas/cloth/material.py; a rod bends with 1/2 EI times the square of the second
    difference of its places, exact for close vertices and any turn while its length hardly changes.
Limits: rods have no torsion; contact is frictionless; contact and joins are as stiff as CONTACT.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_array, csr_array

from canvas.cloth.elements import Sheet, cloth_forces, link_forces, load_forces
from canvas.cloth.faces import vertex_normals, warp_frames
from canvas.cloth.lines import locate, points_at
from canvas.cloth.loads import DRY, Loads
from canvas.geometry.surface import Bools, Floats, Ints
from canvas.jobs.turns import give_way

SOFT = 1e-4  # share of stiffness that cloth and cables keep in compression
CONTACT = 1e5  # [N/m]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ElasticLine:
    """Webbing, rope, wire or batten along a line of vertices.

    Attributes
    ----------
    name : str
    vertices : (k,) ndarray of int
    rest : (k - 1,) ndarray
        Unstrained lengths between them [m].
    stretching : float
        EA [N].
    bending : float
        EI; 0 for what only pulls, else it also takes compression [N m2].
    tension : float
        At rest lengths [N].
    """

    name: str
    vertices: Ints
    rest: Floats
    stretching: float
    bending: float = 0.0
    tension: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Support:
    """A line from which cloth may lift but through which it may not pass, from its outside.

    Attributes
    ----------
    line : (b, 3) ndarray
        [m]
    vertices : (k,) ndarray of int
        Vertices that may lie on it.
    """

    line: Floats
    vertices: Ints


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Join:
    """A zip, lacing or seam that keeps vertices on a chain of others.

    Attributes
    ----------
    name : str
    vertices : (k,) ndarray of int
        Kept where they belong.
    ends : (k, 2) ndarray of int
        The two vertices of the chain between which each belongs.
    share : (k,) ndarray
        How far from the first towards the second, 0..1.
    """

    name: str
    vertices: Ints
    ends: Ints
    share: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Membrane:
    """Elastic cloth.

    Attributes
    ----------
    faces : (m, 3) ndarray of int
        Counter-clockwise seen from outside.
    rest : (m, 3, 2) ndarray
        Each face's corners at rest, warp along the first axis, weft along the second [m].
    stiffness : (m, 4) ndarray
        Warp, weft, cross and shear [N/m].
    held : (n,) ndarray of bool
        Vertices that stay where they start.
    prestress : (m, 3) ndarray or None
        Warp, weft and shear at rest [N/m].
    lines : tuple of ElasticLine
    supports : tuple of Support
    joins : tuple of Join
    """

    faces: Ints
    rest: Floats
    stiffness: Floats
    held: Bools
    prestress: Floats | None = None
    lines: tuple[ElasticLine, ...] = ()
    supports: tuple[Support, ...] = ()
    joins: tuple[Join, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Forces:
    """What a membrane feels at given places.

    Attributes
    ----------
    residual : (n, 3) ndarray
        Loads less what the membrane resists with [N].
    loads : (n, 3) ndarray
        [N]
    stress : (m, 3) ndarray
        Along warp, along weft, shear [N/m].
    state : (m,) ndarray of int
        0 taut, 1 wrinkled, 2 slack.
    tensions : (k,) ndarray
        In each link of the lines, one after another [N].
    energy : float
        Strain energy [J].
    scale : float
        Greatest force of one element on one vertex [N].
    blocks : list of (vertices (k, v), stiffness (k, 3 v, 3 v))
        By kind of element; empty where not asked for.
    """

    residual: Floats
    loads: Floats
    stress: Floats
    state: Ints
    tensions: Floats
    energy: float
    scale: float
    blocks: list[tuple[Ints, Floats]]


def rest_shape(vertices: Floats, faces: Ints, warp: Floats) -> Floats:
    """Return each face laid flat (m, 3, 2), warp along the first axis [m].

    Parameters
    ----------
    vertices : (n, 3) ndarray
        [m]
    faces : (m, 3) ndarray of int
    warp : (m, 3) ndarray
        Direction whose projection is the warp.
    """
    along, across, _ = warp_frames(vertices, faces, warp)
    corner = vertices[faces] - vertices[faces[:, :1]]
    return np.stack([np.einsum("mkd,md->mk", corner, axis) for axis in (along, across)], axis=2)


class Assembly:
    """A membrane made ready for adding up."""

    def __init__(self, membrane: Membrane) -> None:
        self.membrane = membrane
        edges = membrane.rest[:, 1:] - membrane.rest[:, :1]
        det = edges[:, 0, 0] * edges[:, 1, 1] - edges[:, 0, 1] * edges[:, 1, 0]
        inverse = np.swapaxes(np.linalg.inv(edges), 1, 2)  # row: gradient of the second, of the third corner's share
        self.sheet = Sheet(
            faces=np.ascontiguousarray(membrane.faces, dtype=np.int64),
            gradients=np.concatenate([-inverse.sum(axis=1, keepdims=True), inverse], axis=1),
            area=np.abs(det) / 2,
            shift=_strain_of(membrane),
            stiffness=np.ascontiguousarray(membrane.stiffness, dtype=np.float64),
        )
        lines = membrane.lines
        empty = np.zeros((0, 2), dtype=np.int64)
        self.links = np.concatenate(
            [empty, *(np.stack([line.vertices[:-1], line.vertices[1:]], axis=1) for line in lines)]
        )
        self.link_rest = np.concatenate([np.zeros(0), *(line.rest for line in lines)])
        each = [len(line.rest) for line in lines]
        self.link_stiff = np.repeat([line.stretching for line in lines], each).astype(np.float64)
        self.link_start = np.repeat([line.tension for line in lines], each).astype(np.float64)
        self.link_soft = np.repeat([1.0 if line.bending else SOFT for line in lines], each).astype(np.float64)
        self.bends, self.bend_blocks = _triples(membrane)

    def node_links(self) -> Ints:
        """Return the pairs of vertices that forces couple, (k, 2)."""
        faces, bends = self.sheet.faces, self.bends
        pairs = [faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]], self.links]
        pairs += [bends[:, [0, 1]], bends[:, [1, 2]], bends[:, [0, 2]]]
        return np.concatenate(pairs)

    def forces(self, places: Floats, loads: Loads, *, stiffness: bool) -> Forces:
        """Return what the membrane feels at `places` (n, 3).

        Parameters
        ----------
        places : (n, 3) ndarray
            [m]
        loads : Loads
        stiffness : bool
            Whether the blocks of the tangent are wanted too.
        """
        give_way()
        count = len(places)
        faces = self.sheet.faces
        cloth = cloth_forces(places, self.sheet, soft=SOFT, stiffness=stiffness)
        pressure = np.zeros(len(faces)) if loads.pressure is None else loads.pressure
        level = np.full(count, DRY) if loads.water_level is None else loads.water_level
        outer, follow = load_forces(
            places, faces, pressure=pressure, weight=loads.water_weight, level=level, stiffness=stiffness
        )
        pull, link, tensions, stretch = link_forces(
            places, self.links, rest=self.link_rest, stiff=self.link_stiff, start=self.link_start, soft=self.link_soft
        )
        bent = np.einsum("kij,kj->ki", self.bend_blocks, places[self.bends].reshape(len(self.bends), 9))
        push = _added(outer, faces, count)
        if loads.dead is not None:
            push = push + loads.dead
        resist = _added(cloth.forces, faces, count) + _added(pull, self.links, count)
        resist += _added(bent.reshape(-1, 3, 3), self.bends, count)
        blocks: list[tuple[Ints, Floats]] = []
        if stiffness:
            blocks = [(faces, cloth.blocks), (faces, follow), (self.links, link), (self.bends, self.bend_blocks)]
        normals = vertex_normals(places, faces) if self.membrane.supports else push
        for support in self.membrane.supports:
            touch, block = _contact(places, normals[support.vertices], support)
            np.add.at(push, support.vertices, touch)
            if stiffness:
                blocks.append((support.vertices[:, None], block))
        scale = max(float(np.abs(each).max(initial=0.0)) for each in (cloth.forces, pull, push, [1e-9]))
        return Forces(
            residual=push - resist,
            loads=push,
            stress=cloth.stress,
            state=cloth.state,
            tensions=tensions,
            energy=cloth.energy + stretch,
            scale=scale,
            blocks=blocks,
        )


def tangent_stiffness(membrane: Membrane, places: Floats, *, loads: Loads | None = None) -> csr_array:
    """Return the tangent stiffness of all vertices, x, y, z of each in turn, as a sparse (3 n, 3 n) matrix [N/m].

    Parameters
    ----------
    membrane : Membrane
    places : (n, 3) ndarray
        [m]
    loads : Loads or None
        Loads whose change with the shape counts too.
    """
    found = Assembly(membrane).forces(places, loads or Loads(), stiffness=True)
    return summed_blocks(found.blocks, len(places))


def summed_blocks(blocks: list[tuple[Ints, Floats]], count: int) -> csr_array:
    """Return `blocks`, vertices (m, k) with matrices (m, 3 k, 3 k), added up as a sparse (3 n, 3 n) matrix."""
    rows, columns, values = [], [], []
    for vertices, block in blocks:
        if len(vertices) == 0:
            continue
        spots = (3 * vertices[:, :, None] + np.arange(3)).reshape(len(vertices), -1)
        rows.append(np.broadcast_to(spots[:, :, None], block.shape).ravel())
        columns.append(np.broadcast_to(spots[:, None, :], block.shape).ravel())
        values.append(block.ravel())
    where = (np.concatenate(rows), np.concatenate(columns))
    return coo_array((np.concatenate(values), where), shape=(3 * count, 3 * count)).tocsr()


def _strain_of(membrane: Membrane) -> Floats:
    """Return the strain that gives the prestress (m, 3)."""
    if membrane.prestress is None:
        return np.zeros((len(membrane.faces), 3))
    c, s = membrane.stiffness, membrane.prestress
    det = c[:, 0] * c[:, 1] - c[:, 2] ** 2
    one = (c[:, 1] * s[:, 0] - c[:, 2] * s[:, 1]) / det
    two = (c[:, 0] * s[:, 1] - c[:, 2] * s[:, 0]) / det
    return np.stack([one, two, s[:, 2] / c[:, 3]], axis=1)


def _triples(membrane: Membrane) -> tuple[Ints, Floats]:
    """Return triples of vertices and the constant stiffness (k, 9, 9) of rods that bend and joins that hold."""
    triples, ways = [np.zeros((0, 3), dtype=np.int64)], [np.zeros((0, 3))]
    for line in membrane.lines:
        if not line.bending or len(line.vertices) < 3:
            continue
        before, after = line.rest[:-1], line.rest[1:]
        mean = (before + after) / 2
        way = np.stack([1 / before, -1 / before - 1 / after, 1 / after], axis=1)
        triples.append(np.stack([line.vertices[:-2], line.vertices[1:-1], line.vertices[2:]], axis=1))
        ways.append(way * np.sqrt(line.bending / mean)[:, None])
    for join in membrane.joins:
        triples.append(np.column_stack([join.vertices, join.ends]))
        way = np.stack([-np.ones(len(join.share)), 1 - join.share, join.share], axis=1)
        ways.append(np.sqrt(CONTACT) * way)
    way = np.concatenate(ways)
    blocks = np.einsum("ki,kj,pq->kipjq", way, way, np.eye(3)).reshape(-1, 9, 9)
    return np.concatenate(triples), blocks


def join_forces(join: Join, places: Floats) -> Floats:
    """Return the pull on each vertex of a join (k, 3) [N], all vertices being at `places` (n, 3) [m]."""
    first, last = places[join.ends[:, 0]], places[join.ends[:, 1]]
    return CONTACT * (first + join.share[:, None] * (last - first) - places[join.vertices])


def support_forces(support: Support, places: Floats, faces: Ints) -> Floats:
    """Return the push of each vertex on the tube it lies on (k, 3) [N].

    Parameters
    ----------
    support : Support
        Lines with k vertices.
    places : (n, 3) ndarray
        [m]
    faces : (m, 3) ndarray of int
        Of the cloth: their outside is the side that may lift.
    """
    return np.asarray(-_contact(places, vertex_normals(places, faces)[support.vertices], support)[0])


def _contact(places: Floats, normal: Floats, support: Support) -> tuple[Floats, Floats]:
    """Return the push of a line on the vertices it has come through (k, 3) and its stiffness (k, 3, 3).

    The cloth's outside at the vertices, `normal` (k, 3), is the side that may lift.
    """
    chosen = support.vertices
    arc, _ = locate(support.line, places[chosen])
    here, after, before = np.split(points_at(support.line, np.concatenate([arc, arc + 1e-3, arc - 1e-3])), 3)
    gap, tangent = here - places[chosen], after - before
    tangent /= np.maximum(np.linalg.norm(tangent, axis=1, keepdims=True), 1e-12)
    normal = normal - np.einsum("ij,ij->i", normal, tangent)[:, None] * tangent
    normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-12)
    deep = CONTACT * np.maximum(np.einsum("ij,ij->i", gap, normal), 0.0)
    block = np.where(deep > 0, CONTACT, 0.0)[:, None, None] * np.einsum("ki,kj->kij", normal, normal)
    return deep[:, None] * normal, block


def _added(values: Floats, where: Ints, count: int) -> Floats:
    """Return element forces (k, v, 3) added up at vertices (n, 3)."""
    flat, spots = values.reshape(-1, 3), where.ravel()
    return np.stack([np.bincount(spots, weights=flat[:, axis], minlength=count) for axis in range(3)], axis=1)

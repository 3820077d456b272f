"""Lay a panel's outline out in a plane, near its true size, so that it can be meshed there.

Computes: a coarse soap film (or ruled strip) over the outline and its layout; the way from plane to space and back.
Units: metres.
Source: first layout is the cyclic polygon of the edges' lengths; soap film by Pinkall U and Polthier K, Computing
    discrete minimal surfaces, Experimental Mathematics 2, 1993; layout as rigid as possible after Liu L et al., A
    local/global approach to mesh parameterization, Computer Graphics Forum 27, 2008.
Limits: a mesh needs a fair layout, not an exact one; patterns are flattened in cutting/.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from scipy.optimize import brentq

from canvas.cloth.banded import Links
from canvas.cloth.lines import arc_lengths, resample
from canvas.cloth.ruled import ruled_faces, unrolled
from canvas.cloth.triangulate import triangulate
from canvas.geometry.nearest import nearest_shares
from canvas.geometry.surface import Floats, Ints

ROUND = 56  # vertices wanted round the coarse outline
ROUND_RULED = 80  # the same where its bends stay in the cloth
FILM_STEPS = 8
LEAST = 1e-3  # no side weighs less, so that slivers do no harm
LAYOUT_STEPS = 12


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Domain:
    """A coarse surface over the outline and its layout in a plane.

    Attributes
    ----------
    vertices : (n, 3) ndarray
        The outline's vertices first, in order [m].
    faces : (m, 3) ndarray of int
        Counter-clockwise in the plane.
    flat : (n, 2) ndarray
        Where the vertices lie in the plane [m].
    corners : (e + 1,) ndarray of int
        Where each edge starts among the outline's vertices; the last entry is their number.
    """

    vertices: Floats
    faces: Ints
    flat: Floats
    corners: Ints

    def edge_flat(self, edge: int, share: Floats) -> Floats:
        """Return plane points (k, 2) of an edge at a `share`, (k,), of its length."""
        first, last = int(self.corners[edge]), int(self.corners[edge + 1])
        ring = np.arange(first, last + 1) % int(self.corners[-1])
        along = arc_lengths(self.vertices[ring])
        return np.stack([np.interp(share * along[-1], along, self.flat[ring, axis]) for axis in range(2)], axis=1)

    def outline(self) -> shapely.Polygon:
        """Return the outline in the plane."""
        return shapely.Polygon(self.flat[: int(self.corners[-1])])

    def lift(self, points: Floats) -> Floats:
        """Return the points in space (k, 3) of plane points (k, 2); outside points follow the nearest triangle."""
        corner = self.flat[self.faces]
        edge1, edge2 = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
        twice = edge1[:, 0] * edge2[:, 1] - edge1[:, 1] * edge2[:, 0]
        offset = points[:, None, :] - corner[None, :, 0]
        second = (offset[..., 0] * edge2[:, 1] - offset[..., 1] * edge2[:, 0]) / twice
        third = (edge1[:, 0] * offset[..., 1] - edge1[:, 1] * offset[..., 0]) / twice
        share = np.stack([1 - second - third, second, third], axis=2)
        best = np.argmax(share.min(axis=2), axis=1)
        pick = np.clip(share[np.arange(len(points)), best], 0.0, 1.0)
        pick /= pick.sum(axis=1, keepdims=True)
        return np.asarray(np.einsum("kc,kcd->kd", pick, self.vertices[self.faces[best]]))

    def place(self, points: Floats) -> tuple[Floats, Floats]:
        """Return plane points (k, 2) nearest to points in space (k, 3), and their distances (k,) [m]."""
        face, share, distance = closest(points, self.vertices, self.faces)
        return np.einsum("kc,kcd->kd", share, self.flat[self.faces[face]]), distance


def lay_out(lines: tuple[Floats, ...], *, ruled: bool) -> Domain:
    """Return a coarse surface over edge lines and its plane layout.

    Parameters
    ----------
    lines : tuple of (k, 3) ndarray
        Edges in order, each ending where the next starts [m].
    ruled : bool
        Join the outline's points by triangles without inner points, which unroll exactly, instead of a soap film.
    """
    length = [float(arc_lengths(line)[-1]) for line in lines]
    spacing = sum(length) / (ROUND_RULED if ruled else ROUND)
    parts = [resample(line, spacing=spacing, tolerance=spacing / (40 if ruled else 12)) for line in lines]
    parts = [part if len(part) > 2 else _halved(part) for part in parts]
    ring = np.vstack([part[:-1] for part in parts])
    corners = np.concatenate([[0], np.cumsum([len(part) - 1 for part in parts])])
    first = _first_layout(parts, length)
    if ruled:
        faces, vertices = ruled_faces(ring), ring
        start, flat = first, unrolled(ring, faces)
    else:
        mesh = triangulate(first, spacing=1.3 * spacing)
        faces, start = mesh.faces, mesh.points
        vertices = _film(mesh.points, faces, ring)
        flat = _rigid_layout(vertices, faces, start)
    if not _fair(flat, faces, len(ring)):
        flat = start
    return Domain(vertices=vertices, faces=faces, flat=flat, corners=corners)


def closest(points: Floats, vertices: Floats, faces: Ints) -> tuple[Ints, Floats, Floats]:
    """Return for each point the nearest face (k,), barycentric shares on it (k, 3) and the distance (k,) [m].

    Parameters
    ----------
    points : (k, d) ndarray
        [m]
    vertices : (n, d) ndarray
        [m]
    faces : (m, 3) ndarray of int
    """
    corner = vertices[faces]
    shares, distances = nearest_shares(
        points[:, None, :] - corner[None, :, 0], corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
    )
    face = np.argmin(distances, axis=1)
    row = np.arange(len(points))
    return face, shares[row, face], distances[row, face]


def cotangents(vertices: Floats, faces: Ints) -> Floats:
    """Return half the cotangent of each corner's angle, by `faces` of `vertices` (m, 3): the opposite side's weight."""
    corner = vertices[faces]
    weights = np.empty((len(faces), 3))
    for k in range(3):
        one, two = corner[:, (k + 1) % 3] - corner[:, k], corner[:, (k + 2) % 3] - corner[:, k]
        dot = np.einsum("ij,ij->i", one, two)
        square = np.einsum("ij,ij->i", one, one) * np.einsum("ij,ij->i", two, two) - dot**2
        weights[:, k] = dot / np.sqrt(np.maximum(square, 1e-24)) / 2
    return weights


def _halved(part: Floats) -> Floats:
    return np.vstack([part[:1], part.mean(axis=0, keepdims=True), part[1:]])


def _first_layout(parts: list[Floats], length: list[float]) -> Floats:
    """Return the outline's points on the sides of a cyclic polygon, or on a circle where two edges are all there is."""
    whole = sum(length)
    share = np.concatenate([arc_lengths(part)[:-1] for part in parts])
    start = np.repeat(np.cumsum([0.0, *length[:-1]]), [len(part) - 1 for part in parts])
    if max(length) > 0.46 * whole:
        angle = 2 * np.pi * (start + share) / whole
        return whole / (2 * np.pi) * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    radius = _circumradius(np.array(length))
    angles = np.concatenate([[0.0], np.cumsum(2 * np.arcsin(np.array(length) / (2 * radius)))])
    if angles[-1] < 2 * np.pi - 1e-6:  # the centre lies outside: the longest side takes the rest of the circle
        longest = int(np.argmax(length))
        angles[longest + 1 :] += 2 * np.pi - angles[-1]
    corner = radius * np.stack([np.cos(angles), np.sin(angles)], axis=1)
    pieces = []
    for k, part in enumerate(parts):
        along = arc_lengths(part)[:-1, None] / length[k]
        pieces.append(corner[k] * (1 - along) + corner[k + 1] * along)
    return np.vstack(pieces)


def _circumradius(length: Floats) -> float:
    """Return the radius of the circle through the corners of a polygon with these sides [m]."""
    longest = float(length.max())
    others = np.delete(length, int(np.argmax(length)))

    def excess(radius: float) -> float:
        return float(np.arcsin(np.minimum(length / (2 * radius), 1.0)).sum() - np.pi)

    def gap(radius: float) -> float:
        half = np.arcsin(np.minimum(longest / (2 * radius), 1.0))
        return float(np.arcsin(np.minimum(others / (2 * radius), 1.0)).sum() - half)

    low, high = longest / 2, 1e4 * float(length.sum())
    return float(brentq(excess, low, high) if excess(low) >= 0 else brentq(gap, low, high))


def _film(flat: Floats, faces: Ints, ring: Floats) -> Floats:
    """Return a soap film over the outline, starting from the harmonic surface over the plane layout."""
    count, held = len(flat), len(ring)
    system = Links(_sides(faces), np.arange(count) < held)
    vertices = np.zeros((count, 3))
    vertices[:held] = ring
    metric = np.column_stack([flat, np.zeros(count)])
    still, nothing = np.zeros((count, 3)), np.zeros(count)
    for _ in range(FILM_STEPS):
        weights = np.maximum(cotangents(metric, faces), LEAST).T.ravel()
        metric = vertices = system.solve(weights, vertices, extra=nothing, load=still)
    return vertices


def _sides(faces: Ints) -> Ints:
    """Return the sides opposite the faces' first corners, then second, then third."""
    return np.concatenate([faces[:, [1, 2]], faces[:, [2, 0]], faces[:, [0, 1]]])


def _rigid_layout(vertices: Floats, faces: Ints, start: Floats) -> Floats:
    """Return a plane layout whose triangles are turned copies of those in space as nearly as can be."""
    corner = vertices[faces]
    e1, e2 = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
    base = np.maximum(np.linalg.norm(e1, axis=1), 1e-12)
    x = np.einsum("ij,ij->i", e1, e2) / base
    y = np.sqrt(np.maximum(np.einsum("ij,ij->i", e2, e2) - x**2, 0.0))
    local = np.zeros((len(faces), 3, 2))
    local[:, 1, 0], local[:, 2, 0], local[:, 2, 1] = base, x, y
    weights = np.maximum(cotangents(vertices, faces), LEAST)
    count = len(vertices)
    system = Links(_sides(faces), np.arange(count) == 0)
    flat, pinned, nothing = start, np.zeros((count, 2)), np.zeros(count)
    for _ in range(LAYOUT_STEPS):
        right = np.zeros((count, 2))
        placed = flat[faces]
        cross = np.zeros((len(faces), 2, 2))
        for k in range(3):
            one, two = (k + 1) % 3, (k + 2) % 3
            cross += weights[:, k, None, None] * np.einsum(
                "mi,mj->mij", placed[:, one] - placed[:, two], local[:, one] - local[:, two]
            )
        turn = np.arctan2(cross[:, 1, 0] - cross[:, 0, 1], cross[:, 0, 0] + cross[:, 1, 1])
        rotation = np.stack([np.cos(turn), -np.sin(turn), np.sin(turn), np.cos(turn)], axis=1).reshape(-1, 2, 2)
        for k in range(3):
            one, two = (k + 1) % 3, (k + 2) % 3
            side = np.einsum("mij,mj->mi", rotation, local[:, one] - local[:, two]) * weights[:, k, None]
            np.add.at(right, faces[:, one], side)
            np.add.at(right, faces[:, two], -side)
        flat = system.solve(weights.T.ravel(), pinned, extra=nothing, load=right)
    return flat


def _fair(flat: Floats, faces: Ints, ring: int) -> bool:
    """Return whether a layout has no turned triangle and its outline does not cross itself."""
    corner = flat[faces]
    one, two = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
    twice = one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]
    return bool(np.all(twice > 0)) and bool(shapely.Polygon(flat[:ring]).is_valid)

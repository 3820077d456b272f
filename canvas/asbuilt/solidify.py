"""Close a scan: one solid whose skin follows the scanned surface and bridges its holes.

Computes: the indicator of the solid on an even grid from points that look outward; its skin, put back on the scanned
    points; a closed mesh of few triangles.
Units: metres, boat frame.
Source: M. Kazhdan, Reconstruction of Solid Models from Oriented Point Sets, Eurographics Symposium on Geometry
    Processing (2005), solved here by cosine transforms, so that the solid goes on straight through the sides of the
    box; skin by marching tetrahedra (A. Doi and A. Koide, IEICE Trans. E74 (1991) 214); thinning by manifold3d.
Limits: what is thinner than two cells is lost: tubes, wires and plates stay as the design has them. Holes are bridged
    smoothly; beyond `FAR` from any scanned point the boat as designed is taken.
"""

from __future__ import annotations

from itertools import permutations

import numpy as np
from manifold3d import Manifold, Mesh64
from scipy.fft import dctn, idctn
from scipy.ndimage import gaussian_filter, map_coordinates
from scipy.spatial import cKDTree

from canvas.asbuilt.cloud import Cloud, strewn
from canvas.geometry.closed import box
from canvas.geometry.surface import Bools, Floats, Ints, Surface
from canvas.geometry.triangles import area_vectors
from canvas.jobs.failure import CouldNot

FAR = 0.25  # [m] from the scan, beyond which the design's own boat fills in
SMOOTH = 1.0  # cells
NEIGHBOURS = 20
ALIKE = 0.7  # cosine between directions of points that make one face
UNLIKE = 0.4  # below this they make another
EDGE = 0.7  # cells
MOST_NODES = 30_000_000
MOST_FACES = 150_000
LEAST_VOLUME = 1e-3  # [m3] smaller crumbs are left out
THIN = 0.001  # [m] how far the skin may move where triangles are saved


def solid_from(cloud: Cloud, *, low: Floats, high: Floats, cell: float, model: Surface | None = None) -> Manifold:
    """Return the closed solid under the scanned surface within a box.

    Parameters
    ----------
    cloud : Cloud
    low, high : (3,) ndarray
        Corners of the box [m].
    cell : float
        Of the grid [m].
    model : Surface, optional
        The boat as designed, closed; taken where nothing was scanned.

    Raises
    ------
    CouldNot
        When the grid would be too large, or no solid comes of the points.
    """
    count = np.ceil((high - low) / cell).astype(int) + 1
    if np.prod(count, dtype=float) > MOST_NODES:
        raise CouldNot(
            f"A solid of {np.prod(high - low):.1f} m3 in cells of {1000 * cell:.0f} mm is too large.",
            "Trim the scan more, or use a larger cell.",
        )
    points, vectors = cloud.points, cloud.normals * cloud.areas[:, None]
    if model is not None:
        more, looking = _filled_in(model, cloud, low, high, cell)
        points, vectors = np.vstack([points, more]), np.vstack([vectors, looking])
    inside = _indicator(points, vectors, count, low, cell)
    vertices, faces = _skin(inside, low, cell)
    if not len(faces):
        raise CouldNot("No solid came of the scan.", "Look whether its triangles all face outward, and trim it less.")
    whole = Manifold(Mesh64(vert_properties=_put_back(vertices, cloud, cell), tri_verts=faces.astype(np.uint64)))
    if whole.is_empty() or whole.num_tri() == 0:
        raise CouldNot("No closed solid came of the scan.", "Use a larger cell.")
    whole = whole ^ box(tuple(high - low), middle=(low + high) / 2)
    crumbs = [part for part in whole.decompose() if part.volume() > LEAST_VOLUME]
    solid = Manifold.compose(crumbs) if crumbs else whole
    tolerance = THIN
    thin = solid.simplify(tolerance)
    while thin.num_tri() > MOST_FACES and tolerance < 0.05:
        tolerance *= 1.5
        thin = solid.simplify(tolerance)
    return thin


def _filled_in(model: Surface, cloud: Cloud, low: Floats, high: Floats, cell: float) -> tuple[Floats, Floats]:
    """Return points of the boat as designed that lie far from every scanned point, and their area vectors."""
    corners = model.vertices[model.faces]
    vector = area_vectors(corners)
    count = np.maximum(1, np.ceil(2 * np.linalg.norm(vector, axis=1) / cell**2)).astype(int)
    owner, u, v = strewn(count)
    a, b, c = (corners[owner, k] for k in range(3))
    points = a + u[:, None] * (b - a) + v[:, None] * (c - a)
    held = ((points > low) & (points < high)).all(axis=1)
    held[held] = cKDTree(cloud.points).query(points[held], distance_upper_bound=FAR)[0] > FAR
    return points[held], (vector[owner] / count[owner, None])[held]


def _indicator(points: Floats, vectors: Floats, count: Ints, low: Floats, cell: float) -> Floats:
    """Return on the grid's nodes a number above zero inside and below outside."""
    at = (points - low) / cell
    base = np.clip(np.floor(at).astype(int), 0, count - 2)
    part = at - base
    shape = tuple(int(n) for n in count)
    field = np.zeros((3, *shape), dtype=np.float32)
    for corner in range(8):
        shift = np.array([corner >> 2 & 1, corner >> 1 & 1, corner & 1])
        share = np.prod(np.where(shift == 1, part, 1 - part), axis=1)
        flat = np.ravel_multi_index(tuple((base + shift).T), shape)
        for axis in range(3):
            weight = np.bincount(flat, -vectors[:, axis] * share / cell**3, int(np.prod(count)))
            field[axis] += weight.reshape(shape).astype(np.float32)
    divergence = np.zeros(shape, dtype=np.float32)
    for axis in range(3):
        along = np.moveaxis(gaussian_filter(field[axis], SMOOTH, mode="nearest"), axis, 0)
        between = 0.5 * (along[1:] + along[:-1]) / cell  # nothing flows through the sides of the box
        out = np.moveaxis(divergence, axis, 0)
        out[:-1] += between
        out[1:] -= between
    del field
    waves = dctn(divergence, type=2, norm="ortho", overwrite_x=True)
    squares = [(2 * np.sin(np.pi * np.arange(n) / (2 * n)) / cell) ** 2 for n in shape]
    total = squares[0][:, None, None] + squares[1][:, None] + squares[2]
    total[0, 0, 0] = 1.0
    waves /= -total
    waves[0, 0, 0] = 0.0
    solid = idctn(waves, type=2, norm="ortho", overwrite_x=True)
    area = np.linalg.norm(vectors, axis=1)
    level = float(area @ map_coordinates(solid, at.T, order=1, mode="nearest") / area.sum())
    result: Floats = (solid - level).astype(np.float64)
    return result


def _skin(inside: Floats, low: Floats, cell: float) -> tuple[Floats, Ints]:
    """Return the closed surface where `inside` changes sign; at the sides of the box the solid ends."""
    padded = np.pad(inside, 1, constant_values=-float(np.abs(inside).max()) - 1e-9)
    padded[padded == 0] = 1e-12
    shape = np.array(padded.shape)
    full = padded > 0
    mixed = np.zeros(tuple(shape - 1), dtype=bool)
    first = full[:-1, :-1, :-1]
    for corner in range(1, 8):
        i, j, k = corner >> 2 & 1, corner >> 1 & 1, corner & 1
        mixed |= full[i : shape[0] - 1 + i, j : shape[1] - 1 + j, k : shape[2] - 1 + k] != first
    base = np.ravel_multi_index(tuple(np.argwhere(mixed).T), tuple(shape))
    step = np.array([shape[1] * shape[2], shape[2], 1])
    value = padded.ravel()
    edges: list[Ints] = []
    for order in permutations(range(3)):
        tetra = np.column_stack([base, *(base + step[list(order[: k + 1])].sum() for k in range(3))])
        even = np.linalg.det(np.eye(3)[list(order)]) > 0
        _cut_tetrahedra(tetra, value, even=even, edges=edges)
    pairs = np.vstack(edges)
    key = pairs[:, 0].astype(np.int64) * len(value) + pairs[:, 1]
    unique, owner = np.unique(key, return_inverse=True)
    a, b = unique // len(value), unique % len(value)
    share = value[a] / (value[a] - value[b])
    share = np.clip(share, 0.02, 0.98)
    places = [np.column_stack(np.unravel_index(one, tuple(shape))) for one in (a, b)]
    where = places[0] + share[:, None] * (places[1] - places[0])
    return low + cell * (where - 1), owner.reshape(-1, 3)


def _cut_tetrahedra(tetra: Ints, value: Floats, *, even: bool, edges: list[Ints]) -> None:
    """Add the triangles in which tetrahedra are cut, as pairs of nodes for each corner, looking outward."""
    full = value[tetra] > 0
    code = full @ np.array([1, 2, 4, 8])
    for pattern in range(1, 15):
        rows = tetra[code == pattern]
        if not len(rows):
            continue
        inner = [k for k in range(4) if pattern >> k & 1]
        outer = [k for k in range(4) if not pattern >> k & 1]
        parity = np.linalg.det(np.eye(4)[[*inner, *outer]]) > 0
        if len(inner) == 2:
            (a, b), (c, d) = inner, outer
            corners = [((a, c), (a, d), (b, d)), ((a, c), (b, d), (b, c))]
        elif len(inner) == 1:
            corners = [((inner[0], outer[0]), (inner[0], outer[1]), (inner[0], outer[2]))]
        else:
            corners = [((inner[0], outer[0]), (inner[1], outer[0]), (inner[2], outer[0]))]
        for triangle in corners:
            turned = triangle if parity == even else triangle[::-1]
            spots = np.stack([np.sort(rows[:, list(pair)], axis=1) for pair in turned], axis=1)
            edges.append(spots.reshape(-1, 2))


def _put_back(vertices: Floats, cloud: Cloud, cell: float) -> Floats:
    """Return the skin's corners moved onto the faces that the scanned points make, and on to their edge where two meet.

    Onto the nearest face no more than a cell and a half, onto the other no more than `EDGE` cells.
    """
    count = min(NEIGHBOURS, len(cloud.points))
    distance, near = cKDTree(cloud.points).query(vertices, k=count)
    distance, near = (np.asarray(one).reshape(len(vertices), -1) for one in (distance, near))
    weight = np.exp(-((distance / (1.5 * cell)) ** 2))
    close = distance[:, 0] <= 1.5 * cell
    first, moved = _onto(vertices, cloud, near, weight, looks=cloud.normals[near[:, 0]], most=1.5 * cell, where=close)
    across = np.einsum("nki,ni->nk", cloud.normals[near], first) < UNLIKE
    strongest = np.where(across, weight, 0.0).argmax(axis=1)
    rows = np.arange(len(vertices))
    other = cloud.normals[near[rows, strongest]]
    edge = close & (np.where(across, weight, 0.0).sum(axis=1) > 0.1 * weight.sum(axis=1))
    return _onto(moved, cloud, near, weight, looks=other, most=EDGE * cell, where=edge)[1]


def _onto(
    vertices: Floats, cloud: Cloud, near: Ints, weight: Floats, *, looks: Floats, most: float, where: Bools
) -> tuple[Floats, Floats]:
    """Return the direction of the face made by neighbours that look one way, and the corners moved onto it."""
    own = weight * (np.einsum("nki,ni->nk", cloud.normals[near], looks) > ALIKE)
    direction = np.einsum("nk,nki->ni", own, cloud.normals[near])
    direction /= np.maximum(np.linalg.norm(direction, axis=1, keepdims=True), 1e-12)
    middle = np.einsum("nk,nki->ni", own, cloud.points[near]) / np.maximum(own.sum(axis=1), 1e-12)[:, None]
    step = np.einsum("ni,ni->n", middle - vertices, direction)
    step = np.where(where & (np.abs(step) <= most), step, 0.0)
    return direction, vertices + step[:, None] * direction

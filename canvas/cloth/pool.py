"""Find where water stands on cloth, how much, and whether cloth is too soft to shed it.

Computes: spill levels, volumes, the pool that fills to its spill while cloth sinks, and the ponding factor.
Units: metres, cubic metres, newtons.
Source: spill levels by flooding from the outline in order of height (Barnes R, Lehman C and Mulla D, Priority-flood,
    Computers & Geosciences 62, 2014); volume of a depth linear over each face, exact; ponding where the smallest
    eigenvalue of (tangent stiffness - rho g area) is negative.
Limits: water runs off over the outline wherever that is lowest, also where a coaming or a hem would hold it.
"""

from __future__ import annotations

import heapq
from dataclasses import dataclass

import numpy as np
from scipy.sparse import csc_array
from scipy.sparse.linalg import ArpackNoConvergence, LinearOperator, eigsh, splu

from canvas.arrays import distinct
from canvas.cloth.elastic import Loaded, settle
from canvas.cloth.faces import rim_of
from canvas.cloth.loads import DRY, WATER, Loads
from canvas.cloth.membrane import Membrane, summed_blocks, tangent_stiffness
from canvas.geometry.surface import Bools, Floats, Ints
from canvas.geometry.triangles import area_vectors
from canvas.jobs.failure import CouldNot

FILM = 1e-4  # a pool shallower than this is none [m]
ROUNDS = 60
FULL = 2e-3  # a pool that grows by less than this share has filled


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ponding:
    """Whether a shape would hold water because it is soft.

    Attributes
    ----------
    factor : float
        By how much heavier than it is water would have to be; below 1 the dry shape is unstable.
    mode : (n, 3) ndarray
        How it would sink, greatest move 1.
    """

    factor: float
    mode: Floats

    @property
    def stable(self) -> bool:
        """Whether rain runs off before the cloth sinks under it."""
        return self.factor > 1.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pool:
    """Water standing on cloth.

    Attributes
    ----------
    volume : float
        [m3]
    level : (n,) ndarray
        Height of the water over each vertex; DRY where none stands [m].
    depth : (n,) ndarray
        [m]
    loaded : Loaded or None
        The cloth under it; None where none stands.
    rounds : int
        How often it was filled again to its spill.
    """

    volume: float
    level: Floats
    depth: Floats
    loaded: Loaded | None
    rounds: int


def spill_levels(vertices: Floats, faces: Ints, *, outlets: Ints | None = None) -> Floats:
    """Return the height (n,) to which water can stand over each vertex before it runs off [m].

    Parameters
    ----------
    vertices : (n, 3) ndarray
        [m]
    faces : (m, 3) ndarray of int
    outlets : (k,) ndarray of int or None
        Vertices over which water leaves; None: the whole outline.
    """
    height = vertices[:, 2]
    sides = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    pairs, _, _ = distinct(np.concatenate([sides, sides[:, ::-1]]))
    first = np.searchsorted(pairs[:, 0], np.arange(len(vertices) + 1))
    starts = rim_of(faces) if outlets is None else outlets
    level = np.full(len(vertices), np.inf)
    level[starts] = height[starts]
    queue = [(float(height[v]), int(v)) for v in starts]
    heapq.heapify(queue)
    while queue:
        now, vertex = heapq.heappop(queue)
        if now > level[vertex]:
            continue
        for other in pairs[first[vertex] : first[vertex + 1], 1]:
            reached = max(now, float(height[other]))
            if reached < level[other]:
                level[other] = reached
                heapq.heappush(queue, (reached, int(other)))
    return np.where(np.isfinite(level), level, height)


def standing_levels(vertices: Floats, faces: Ints, *, outlets: Ints | None = None) -> Floats:
    """Return the level of water filled to its spill over each vertex (n,), DRY away from pools [m].

    Parameters
    ----------
    vertices : (n, 3) ndarray
        [m]
    faces : (m, 3) ndarray of int
    outlets : (k,) ndarray of int or None
        Vertices over which water leaves; None: the whole outline.
    """
    if not _has_hollow(vertices, faces, outlets=outlets):
        return np.full(len(vertices), DRY)
    spill = spill_levels(vertices, faces, outlets=outlets)
    wet = spill - vertices[:, 2] > FILM
    level = np.full(len(vertices), DRY)
    around = faces[wet[faces].any(axis=1)]
    for face in around:  # the shore belongs to the pool: its faces are partly wet
        level[face] = np.maximum(level[face], spill[face][wet[face]].max())
    return level


def _has_hollow(vertices: Floats, faces: Ints, *, outlets: Ints | None) -> bool:
    """Return whether any vertex from which water does not leave is as low as all its neighbours."""
    height = vertices[:, 2]
    lowest = np.full(len(height), np.inf)
    for a, b in ((0, 1), (1, 2), (2, 0)):
        np.minimum.at(lowest, faces[:, a], height[faces[:, b]])
        np.minimum.at(lowest, faces[:, b], height[faces[:, a]])
    inside = np.isfinite(lowest)
    inside[rim_of(faces) if outlets is None else outlets] = False
    return bool((inside & (height <= lowest)).any())


def water_volume(vertices: Floats, faces: Ints, level: Floats) -> float:
    """Return the volume between faces that look up and the water's level over each vertex (n,) [m3].

    Parameters
    ----------
    vertices : (n, 3) ndarray
        [m]
    faces : (m, 3) ndarray of int
    level : (n,) ndarray
        As `standing_levels` gives it: DRY away from pools [m].
    """
    corner = vertices[faces]
    side1, side2 = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
    plan = np.maximum(side1[:, 0] * side2[:, 1] - side1[:, 1] * side2[:, 0], 0.0) / 2
    depth = np.sort(level[faces].max(axis=1)[:, None] - corner[:, :, 2], axis=1)[:, ::-1]
    one, two, three = depth.T
    whole = (one + two + three) / 3
    mean = np.where(three >= 0, whole, 0.0)
    corner_wet = (one > 0) & (two <= 0)
    mean[corner_wet] = (one**3)[corner_wet] / (3 * (one - two) * (one - three))[corner_wet]
    corner_dry = (two > 0) & (three < 0)
    mean[corner_dry] = whole[corner_dry] - (three**3)[corner_dry] / (3 * (one - three) * (two - three))[corner_dry]
    return float((plan * mean).sum())


def ponding(
    membrane: Membrane,
    places: Floats,
    *,
    loads: Loads | None = None,
    weight: float = WATER,
    standing: Bools | None = None,
) -> Ponding:
    """Return how near a shape is to sinking under its own puddle.

    Parameters
    ----------
    membrane : Membrane
    places : (n, 3) ndarray
        Where it is in balance [m].
    loads : Loads or None
        What it carries there.
    weight : float
        Unit weight of water [N/m3].
    standing : (m,) ndarray of bool or None
        Faces on which water could begin to stand; None: all that look up.

    Raises
    ------
    CouldNot
        When the eigenvalue does not converge.
    """
    free = np.flatnonzero(np.repeat(~membrane.held, 3))
    stiffness = csc_array(tangent_stiffness(membrane, places, loads=loads)[free][:, free])
    wet = membrane.faces if standing is None else membrane.faces[standing]
    area = csc_array(_wet_area(places, wet)[free][:, free])
    solve = splu(stiffness, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True})
    inverse = LinearOperator(stiffness.shape, matvec=solve.solve, dtype=np.float64)
    begin = np.ones(len(free))
    try:
        value, vector = eigsh(area * weight, k=1, M=stiffness, Minv=inverse, which="LA", v0=begin, tol=1e-8)
    except ArpackNoConvergence as error:
        raise CouldNot("The ponding factor could not be found.", "Mesh the panel with another tolerance.") from error
    moves = np.zeros(3 * len(places))
    moves[free] = vector[:, 0]
    mode: Floats = moves.reshape(-1, 3)
    far = int(np.argmax(np.abs(mode[:, 2])))
    return Ponding(factor=float(1 / value[0]), mode=mode / mode[far, 2])


def follow_pool(
    membrane: Membrane,
    start: Floats,
    *,
    dead: Floats | None = None,
    outlets: Ints | None = None,
    weight: float = WATER,
    what: str = "The cloth",
) -> Pool:
    """Return the pool that stands once rain has filled every hollow to its spill while the cloth sank.

    Parameters
    ----------
    membrane : Membrane
    start : (n, 3) ndarray
        Its dry shape [m].
    dead : (n, 3) ndarray or None
        Weight of the wet cloth [N].
    outlets : (k,) ndarray of int or None
        Vertices over which water leaves; None: the whole outline.
    weight : float
        Unit weight of water [N/m3].
    what : str
        How a failure names it.

    Raises
    ------
    CouldNot
        When the cloth does not come to rest, or the pool still grows after many rounds.
    """
    places, volume, loaded = np.array(start), 0.0, None
    for turn in range(ROUNDS):
        level = standing_levels(places, membrane.faces, outlets=outlets)
        standing = water_volume(places, membrane.faces, level)
        if (standing <= volume * (1 + FULL) and turn > 0) or not np.any(level > DRY):
            return Pool(
                volume=standing,
                level=level,
                depth=np.maximum(level - places[:, 2], 0.0),
                loaded=loaded,
                rounds=turn,
            )
        volume = standing
        loads = Loads(dead=dead, water_level=level, water_weight=weight)
        loaded = settle(membrane, places, loads=loads, what=what)
        places = loaded.vertices
    raise CouldNot(f"{what} still sank under its pool after {ROUNDS} fillings.", "Hold it higher or drain it.")


def _wet_area(places: Floats, faces: Ints) -> csc_array:
    """Return how water's pull grows with the sinking of faces that look up, over rho g (3 n, 3 n) [m2]."""
    corner = places[faces]
    area = area_vectors(corner)
    area = np.where((area[:, 2] > 0)[:, None], area, 0.0)
    share = (np.ones((3, 3)) + np.eye(3)) / 12
    up = np.array([0.0, 0.0, 1.0])
    one = np.einsum("mp,nq,r->mnpqr", area, share, up).reshape(len(faces), 9, 9)
    return csc_array(summed_blocks([(faces, (one + np.swapaxes(one, 1, 2)) / 2)], len(places)))


def wet_faces(faces: Ints, pool: Pool) -> Bools:
    """Return which faces, (m,) of (m, 3), the pool covers wholly or partly."""
    return np.asarray((pool.depth[faces] > FILM).any(axis=1))

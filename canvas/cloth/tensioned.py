"""Find the shape in which a net of cloth, cables, rods and bows is in balance under given tensions.

Computes: natural force density iteration; cable forces that give asked hollows; one-sided contact over bows.
Units: metres, newtons, newtons a metre.
Source: Pauletti RMO and Pimenta PM, The natural force density method for the shape finding of taut structures,
    Computer Methods in Applied Mechanics and Engineering 197, 2008: each triangle's prescribed membrane stress acts as
    force densities on its sides, and the linear balance is solved again from each shape so found.
Departs: force densities are kept once stresses are even enough, or after a set number of rounds: rounds without end
    slide vertices within the surface. Round a tie inside the cloth they are kept from the start, for a film of even
    tension cannot carry a point. So the net returned is in exact balance, with the stresses returned beside it.
Limits: an uneven prescribed stress is met only where a shape in balance with it exists.
"""

from __future__ import annotations

import numpy as np

from canvas.cloth.banded import Links, NotPositiveError, pulls
from canvas.cloth.faces import faces_along, hollow_of, rim_of, vertex_normals, warp_frames
from canvas.cloth.lines import arc_lengths, locate, points_at
from canvas.cloth.net import Balanced, Rod, Tensioned
from canvas.geometry.surface import Floats, Ints
from canvas.jobs.failure import CouldNot

STEPS = 60  # most rounds
UPDATES = 12  # rounds after which the net keeps its force densities
EVEN = 3e-4  # or sooner, once stresses are this near to those prescribed
SETTLED = 3e-5  # a round that moves nothing farther has settled [m]
LOOSE = 1e-3  # still moving more than this after the last round is no result [m]
HOLLOW = 2e-4  # asked hollows are met within this [m] or its share
HOLLOW_SHARE = 3e-3
MISSED = 3e-3  # farther than this [m] and its share from the hollow asked is a failure
MISSED_SHARE = 0.02
FIRM = 1e5  # how much stiffer contact is than the net
SLIDE = 0.05  # farthest an edge slides along a bow in one round [m]


def balance(net: Tensioned, *, what: str = "The cloth") -> Balanced:
    """Return the net in balance with its tensions, hollows as asked where that can be.

    Parameters
    ----------
    net : Tensioned
    what : str
        How a failure names it.

    Raises
    ------
    CouldNot
        When no shape in balance is found.
    """
    state = _State(net)
    moved, updating = np.inf, True
    for step in range(1, STEPS + 1):
        before = state.places
        try:
            state.solve()
        except NotPositiveError as error:
            raise _no_shape(what) from error
        moved = float(np.abs(state.places - before).max())
        if not np.isfinite(moved):
            raise _no_shape(what)
        wide = state.correct_hollows()
        changed = state.correct_contact(settling=step > STEPS // 2)
        if updating:
            updating = step < UPDATES and state.uneven() > EVEN
            if updating:
                state.update()
        elif moved < SETTLED and not wide and not changed:
            break
    if moved > LOOSE:
        raise _no_shape(what)
    missed = state.missed()
    if missed:
        raise CouldNot(
            f"{what}: edge {missed} cannot have the hollow asked for.", "Ask for less, or hold the cloth more."
        )
    return state.result(step)


def _no_shape(what: str) -> CouldNot:
    return CouldNot(
        f"{what} found no shape in balance with its tensions.",
        "Give its free edges less hollow, or hold it along more of its outline.",
    )


def force_densities(vertices: Floats, faces: Ints, *, stress: Floats, warp: Floats) -> Floats:
    """Return the force density of the side opposite each corner (m, 3) for a membrane stress [N/m].

    Parameters
    ----------
    vertices : (n, 3) ndarray
        [m]
    faces : (m, 3) ndarray of int
    stress : (m, 2) ndarray
        Along warp and weft [N/m].
    warp : (m, 3) ndarray
        Direction whose projection is the warp.
    """
    along, across, twice = warp_frames(vertices, faces, warp)
    corner = vertices[faces]
    side = np.roll(corner, -2, axis=1) - np.roll(corner, -1, axis=1)  # side k runs from corner k+1 to corner k+2
    one = np.einsum("mkd,md->mk", side, along)
    two = np.einsum("mkd,md->mk", side, across)
    first, last = np.roll(np.arange(3), -1), np.roll(np.arange(3), -2)
    # q = -A grad(i) S grad(j), with grad(i) the side opposite i turned by a right angle over 2 A
    product = stress[:, :1] * two[:, first] * two[:, last] + stress[:, 1:] * one[:, first] * one[:, last]
    return np.asarray(-product / (2 * twice[:, None]))


class _State:
    """The iteration: places, cable forces, contact."""

    def __init__(self, net: Tensioned) -> None:
        self.net = net
        self.places = net.vertices.copy()
        faces = net.faces
        self.along = [faces_along(faces, cable.vertices) for cable in net.cables]
        self.forces = [cable.force for cable in net.cables]
        self.hollows = [0.0 for _ in net.cables]
        cable_links = [np.stack([c.vertices[:-1], c.vertices[1:]], axis=1) for c in net.cables]
        rods = [_rod_links(net.vertices, rod) for rod in net.rods]
        sides = np.concatenate([faces[:, [1, 2]], faces[:, [2, 0]], faces[:, [0, 1]]])
        self.links = np.concatenate([sides, *cable_links, *(links for links, _ in rods)]).astype(np.int64)
        self.rod_weights = np.concatenate([np.zeros(0), *(weights for _, weights in rods)])
        self.system = Links(self.links, net.held)
        self.load = np.zeros_like(net.vertices) if net.load is None else net.load.copy()
        for links, weights in rods:  # a rod is unbent where the net starts
            pull = weights[:, None] * (net.vertices[links[:, 0]] - net.vertices[links[:, 1]])
            np.add.at(self.load, links[:, 0], pull)
            np.add.at(self.load, links[:, 1], -pull)
        rim = rim_of(faces)
        self.slides = [np.isin(bow.vertices, rim) for bow in net.bows]
        sliding = np.concatenate(
            [np.zeros(0, int), *(b.vertices[s] for b, s in zip(net.bows, self.slides, strict=True))]
        )
        # an edge that slides on a bow answers one round late, so it is corrected by half
        self.gain = [0.5 if np.isin(cable.vertices, sliding).any() else 1.0 for cable in net.cables]
        self.arc = [bow.arc.copy() for bow in net.bows]
        normal = vertex_normals(net.vertices, faces)
        gaps = [points_at(bow.line, bow.arc) - net.vertices[bow.vertices] for bow in net.bows]
        self.touching = [  # at first where the bow stands on the cloth's outside
            ~net.held[bow.vertices] & (np.einsum("ij,ij->i", gap, normal[bow.vertices]) > -SETTLED)
            for bow, gap in zip(net.bows, gaps, strict=True)
        ]
        self.weights = np.zeros(len(self.links))
        self.first = self._cloth()
        self.cloth = self.first
        self.lengths = self._lengths()
        self.firm = 0.0

    def _cloth(self) -> Floats:
        net = self.net
        return force_densities(self.places, net.faces, stress=net.stress, warp=net.warp)

    def _lengths(self) -> list[Floats]:
        return [np.linalg.norm(np.diff(self.places[c.vertices], axis=0), axis=1) for c in self.net.cables]

    def update(self) -> None:
        """Take force densities from the present shape."""
        kept = self.net.kept
        fresh = self._cloth()
        self.cloth = fresh if kept is None else np.where(kept[:, None], self.first, fresh)
        self.lengths = self._lengths()

    def uneven(self) -> float:
        """Return how far the stress of the present shape is from the one prescribed, as a share of it, rms."""
        prescribed = self._cloth()
        size = np.abs(prescribed).mean()
        off = self.cloth - prescribed
        if self.net.kept is not None:
            off = off[~self.net.kept]
        return float(np.sqrt((off**2).mean()) / size) if len(off) else 0.0

    def solve(self) -> None:
        """Solve the linear balance."""
        net = self.net
        cables = [f / np.maximum(length, 1e-9) for f, length in zip(self.forces, self.lengths, strict=True)]
        self.weights = np.concatenate([self.cloth.T.ravel(), *cables, self.rod_weights])
        extra = np.zeros(len(self.places))
        load = self.load.copy()
        self.firm = firm = FIRM * float(np.abs(self.weights).max())
        for bow, arc, touching in zip(net.bows, self.arc, self.touching, strict=True):
            chosen = bow.vertices[touching]
            extra[chosen] = firm
            load[chosen] += firm * points_at(bow.line, arc[touching])
        self.places = self.system.solve(self.weights, self.places, extra=extra, load=load)

    def correct_hollows(self) -> bool:
        """Correct cable forces towards the asked hollows; return whether any is still off."""
        off = False
        for k, cable in enumerate(self.net.cables):
            found = hollow_of(self.places, self.along[k], cable.vertices)
            self.hollows[k] = found
            if cable.hollow is None:
                continue
            asked = cable.hollow
            off |= abs(found - asked) > max(HOLLOW, HOLLOW_SHARE * asked)
            self.forces[k] *= float(np.clip(found / asked, 0.4, 2.5)) ** self.gain[k]
        return off

    def missed(self) -> str:
        """Return the names of cables whose edge is far from the hollow asked."""
        off = [
            f'"{cable.name}"'
            for cable, found in zip(self.net.cables, self.hollows, strict=True)
            if cable.hollow is not None and abs(found - cable.hollow) > max(MISSED, MISSED_SHARE * cable.hollow)
        ]
        return " and ".join(off)

    def correct_contact(self, *, settling: bool) -> bool:
        """Release vertices that a bow would pull inwards, hold those that came through it; return whether any did."""
        net = self.net
        if not net.bows:
            return False
        pull = pulls(self.places, self.links, self.weights) + self.load
        normal = vertex_normals(self.places, net.faces)
        changed = False
        for k, bow in enumerate(net.bows):
            touching = self.touching[k]
            inward = np.einsum("ij,ij->i", pull[bow.vertices], normal[bow.vertices])
            near, off = locate(bow.line, self.places[bow.vertices])
            gap = points_at(bow.line, near) - self.places[bow.vertices]
            deep = np.einsum("ij,ij->i", gap, normal[bow.vertices])
            through = (deep > SETTLED) & (deep > 0.5 * off)  # beside the bow is not through it
            release = touching & (inward > 1e-6)
            hold = ~touching & through & ~net.held[bow.vertices] & (not settling)
            changed |= bool(release.any() or hold.any())
            self.touching[k] = (touching & ~release) | hold
            self.arc[k] = np.where(hold, near, self.arc[k])
            changed |= self._slide(k, pull)
        return changed

    def _slide(self, k: int, pull: Floats) -> bool:
        """Let an edge slide along a bow it touches to where nothing pulls it along; return whether it went far."""
        bow, arc = self.net.bows[k], self.arc[k]
        chosen = np.flatnonzero(self.slides[k] & self.touching[k])
        if len(chosen) == 0:
            return False
        step = 0.01
        tangent = points_at(bow.line, arc[chosen] + step) - points_at(bow.line, arc[chosen] - step)
        tangent /= np.maximum(np.linalg.norm(tangent, axis=1, keepdims=True), 1e-12)
        nodes = bow.vertices[chosen]
        stiff = np.maximum(self.system.stiffness_at(nodes) - self.firm, 1e-6 * self.firm / FIRM)
        moved = np.clip(np.einsum("ij,ij->i", pull[nodes], tangent) / stiff, -SLIDE, SLIDE)
        self.arc[k] = arc.copy()
        self.arc[k][chosen] = np.clip(arc[chosen] + moved, 0.0, arc_lengths(bow.line)[-1])
        return bool(np.abs(moved).max() > 3 * SETTLED)

    def result(self, steps: int) -> Balanced:
        """Return what was found."""
        net = self.net
        shape = self.places
        q = self.weights[: 3 * len(net.faces)].reshape(3, -1).T
        along, across, twice = warp_frames(shape, net.faces, net.warp)
        corner = shape[net.faces]
        side = np.roll(corner, -2, axis=1) - np.roll(corner, -1, axis=1)
        one, two = np.einsum("mkd,md->mk", side, along), np.einsum("mkd,md->mk", side, across)
        # sum over sides of force density times side by side, over the area
        stress = (
            2 / twice[:, None] * np.stack([(q * a * b).sum(axis=1) for a, b in ((one, one), (two, two), (one, two))], 1)
        )
        pull = q[..., None] * side  # on the corner where the side starts, towards where it ends
        corner_forces = np.roll(pull, 1, axis=1) - np.roll(pull, 2, axis=1)
        return Balanced(
            vertices=shape,
            stress=stress,
            warp=along,
            cable_forces=tuple(self.forces),
            hollows=tuple(self.hollows),
            touching=tuple(self.touching),
            corner_forces=corner_forces,
            steps=steps,
        )


def _rod_links(vertices: Floats, rod: Rod) -> tuple[Ints, Floats]:
    """Return a rod's bending energy as weights between its vertices."""
    line = rod.vertices
    step = np.linalg.norm(np.diff(vertices[line], axis=0), axis=1)
    count = len(line)
    curvature = np.zeros((max(count - 2, 0), count))
    for k in range(count - 2):
        before, after = step[k], step[k + 1]
        mean = (before + after) / 2
        curvature[k, k : k + 3] = np.array([1 / before, -1 / before - 1 / after, 1 / after]) / mean
        curvature[k] *= np.sqrt(rod.bending * mean)
    matrix = curvature.T @ curvature
    one, two = np.nonzero(np.triu(matrix, 1))
    return np.stack([line[one], line[two]], axis=1), -matrix[one, two]

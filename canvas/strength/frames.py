"""Solve a bent tube as a three-dimensional frame: moments, stress, sway, what its feet carry.

Computes: by linear beam theory, for loads at points of its middle line.
Units: newtons, metres, pascals.
Source: direct stiffness method, slender beams (Przemieniecki JS, Theory of Matrix Structural Analysis, 1968), written
    for round sections, which need no axes of their own across the member; tube sections A = pi (D^2 - d^2)/4,
    I = pi (D^4 - d^4)/64. Own code, checked against PyNite, which takes a third of the time of all loads.
Limits: linear: no buckling, no second-order sway, no yield spread; welds and bends weaken aluminium. A hinged hoop
    turns freely fore and aft about its feet, so something else must hold its top: straps, struts or cloth; what that
    carries is given.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from canvas.design.tables import Metal
from canvas.geometry.surface import Bools, Floats, Ints, locked
from canvas.jobs.failure import CouldNot
from canvas.jobs.turns import give_way

PIECES = 28  # straight members that a tube is cut into at most: arches then come out within 0.4 %
POISSON = 0.3
CORNER = np.cos(np.radians(15.0))  # a line that turns more than this at a point has a corner there
LOST = 10.0  # a frame that moves farther than this is not held by anything [m]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FrameResult:
    """A loaded tube.

    Attributes
    ----------
    moment : float
        Greatest bending moment, both planes together [N m].
    stress : float
        Greatest of axial and bending stress together [Pa].
    share : float
        Of the yield stress.
    sway : float
        Greatest move of its middle line [m].
    foot_forces : (2, 3) ndarray
        On the boat at each end [N].
    held_forces : (k, 3) ndarray
        On whatever holds it at each held point [N].
    """

    moment: float
    stress: float
    share: float
    sway: float
    foot_forces: Floats
    held_forces: Floats


def solve_tube(
    line: Floats,
    loadings: Sequence[Floats],
    *,
    diameter: float,
    wall: float,
    metal: Metal,
    feet: Literal["hinged", "fixed"],
    held: Bools | None = None,
    free_end: bool = False,
    name: str = "tube",
) -> tuple[FrameResult, ...]:
    """Return how a tube carries each of several loadings.

    Parameters
    ----------
    line : (k, 3) ndarray
        Middle line, from foot to foot [m].
    loadings : sequence of (k, 3) ndarray
        Forces on each point [N].
    diameter, wall : float
        [m]
    metal : Metal
    feet : str
        ``hinged`` about both level axes, or ``fixed``.
    held : (k,) ndarray of bool, optional
        Points that straps, struts or other tubes keep from moving fore and aft.
    free_end : bool
        Its last point is held by nothing: a davit or an upright, fixed at its first.
    name : str
        How a failure names it.

    Raises
    ------
    CouldNot
        When wall or diameter make no tube, or nothing holds the frame.
    """
    if not 0 < wall <= diameter / 2:
        raise CouldNot(
            f'"{name}" has a wall of {wall * 1000:.1f} mm.', "Give a wall above zero and up to half its diameter."
        )
    picked = _even(line) if held is None else np.union1d(_even(line), np.flatnonzero(held))
    section = tube_section(diameter=diameter, wall=wall)
    members = _members(line[picked], section=section, metal=metal)
    fixed = _fixed(picked, feet=feet, held=held, free_end=free_end)
    applied = _applied(loadings, picked, points=len(line))
    give_way()
    whole = _summed(members.stiffness, len(picked))
    moves = _moves(whole, applied, free=np.flatnonzero(~fixed.ravel()), name=name)
    reactions = np.where(fixed.ravel()[:, None], whole @ moves - applied, 0.0)
    inner = [k for k, place in enumerate(picked) if 0 < k < len(picked) - 1 and held is not None and held[place]]
    results = tuple(
        _read(moved.reshape(-1, 6), reaction.reshape(-1, 6)[:, :3], members, inner=inner, section=section, metal=metal)
        for moved, reaction in zip(moves.T, reactions.T, strict=True)
    )
    if not all(np.isfinite(result.sway) and result.sway < LOST for result in results):
        raise _not_held(name)
    return results


def _applied(loadings: Sequence[Floats], picked: Ints, *, points: int) -> Floats:
    """Return forces and moments on the picked points, each point's load on the nearest of them, (6 n, loadings)."""
    nearest = np.abs(np.arange(points)[:, None] - picked).argmin(axis=1)
    forces = np.zeros((len(picked), 6, len(loadings)))
    for number, loads in enumerate(loadings):
        np.add.at(forces[:, :3, number], nearest, loads)
    return forces.reshape(-1, len(loadings))


def _moves(whole: Floats, applied: Floats, *, free: Ints, name: str) -> Floats:
    """Return moves and turns under each loading, (6 n, loadings)."""
    moves = np.zeros_like(applied)
    try:
        moves[free] = np.linalg.solve(whole[np.ix_(free, free)], applied[free])
    except np.linalg.LinAlgError as error:
        raise _not_held(name) from error
    return moves


def _not_held(name: str) -> CouldNot:
    return CouldNot(f'The frame of "{name}" is not held.', "Fix its feet, or hold its top by a strut.")


def _even(line: Floats) -> Ints:
    """Return points of a line at even steps along it, and its sharp corners."""
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])
    wanted = np.linspace(0, along[-1], min(PIECES, len(line) - 1) + 1)
    ways = np.diff(line, axis=0)
    ways /= np.maximum(np.linalg.norm(ways, axis=1, keepdims=True), 1e-12)
    corners = 1 + np.flatnonzero((ways[1:] * ways[:-1]).sum(axis=1) < CORNER)
    return np.union1d(np.abs(along[:, None] - wanted).argmin(axis=0), corners)


@dataclass(frozen=True, slots=True, kw_only=True)
class TubeSection:
    """A round tube's section: area [m2], second moment of area [m4], outer radius [m], section modulus [m3]."""

    area: float
    inertia: float
    radius: float

    @property
    def modulus(self) -> float:
        """Moment at which the outer skin reaches a stress, over that stress [m3]."""
        return self.inertia / self.radius


def tube_section(*, diameter: float, wall: float) -> TubeSection:
    """Return the section of a round tube; `diameter` and `wall` in metres."""
    inner = diameter - 2 * wall
    area = np.pi / 4 * (diameter**2 - inner**2)
    inertia = np.pi / 64 * (diameter**4 - inner**4)
    return TubeSection(area=float(area), inertia=float(inertia), radius=diameter / 2)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Members:
    """Straight members one after another.

    Attributes
    ----------
    way : (m, 3) ndarray
        Unit vectors along them.
    stiffness : (m, 12, 12) ndarray
        Force and moment at both ends by move and turn there, boat frame [N/m, N, N m].
    """

    way: Floats
    stiffness: Floats


def _members(line: Floats, *, section: TubeSection, metal: Metal) -> _Members:
    """Return the members between points: stretching, bending by the turns of their ends against the chord, twisting."""
    span = np.diff(line, axis=0)
    length = np.linalg.norm(span, axis=1)[:, None, None]
    way = span / length[:, 0]
    along = np.einsum("mi,mj->mij", way, way)
    across = np.eye(3) - along
    turn = np.cross(np.eye(3), way[:, None, :]).transpose(0, 2, 1)  # turn @ v = way x v
    none, lean = np.zeros_like(turn), turn / length
    first = np.concatenate([lean, across, -lean, none], axis=2)  # end turns against the chord's, (m, 3, 12)
    last = np.concatenate([lean, none, -lean, across], axis=2)
    stretch = np.concatenate([-along, none, along, none], axis=2)
    twist = np.concatenate([none, -along, none, along], axis=2)
    stiff, shear = metal.youngs_modulus, metal.youngs_modulus / 2 / (1 + POISSON)

    def work(one: Floats, other: Floats) -> Floats:
        return np.asarray(np.matmul(one.transpose(0, 2, 1), other))

    bending = 4 * work(first, first) + 2 * work(first, last) + 2 * work(last, first) + 4 * work(last, last)
    stiffness = stiff * section.inertia * bending + stiff * section.area * work(stretch, stretch)
    stiffness += shear * 2 * section.inertia * work(twist, twist)
    return _Members(way=way, stiffness=stiffness / length)


def _summed(stiffness: Floats, nodes: int) -> Floats:
    """Return the members' matrices added up over the nodes (6 n, 6 n)."""
    whole = np.zeros((6 * nodes, 6 * nodes))
    for k, one in enumerate(stiffness):
        whole[6 * k : 6 * k + 12, 6 * k : 6 * k + 12] += one
    return whole


def _fixed(picked: Ints, *, feet: str, held: Bools | None, free_end: bool) -> Bools:
    """Return which moves and turns of each node are kept from happening, (n, 6)."""
    fixed = np.zeros((len(picked), 6), dtype=bool)
    for foot in (0,) if free_end else (0, -1):
        fixed[foot, [0, 1, 2, 5]] = True
        fixed[foot, [3, 4]] = feet == "fixed" or free_end
    if held is not None:
        fixed[1:-1, 0] = held[picked[1:-1]]
    return fixed


def _read(
    moved: Floats, reaction: Floats, members: _Members, *, inner: Sequence[int], section: TubeSection, metal: Metal
) -> FrameResult:
    """Return one loading's result; between nodes nothing loads a member, so its ends bound its moment."""
    both = np.hstack([moved[:-1], moved[1:]])
    ends = np.einsum("mij,mj->mi", members.stiffness, both).reshape(-1, 2, 6)  # force and moment at both ends
    bending = np.linalg.norm(np.cross(members.way[:, None], ends[..., 3:]), axis=2)
    pull = np.abs(np.einsum("mi,mei->me", members.way, ends[..., :3]))
    most = bending * section.radius / section.inertia + pull / section.area
    return FrameResult(
        moment=float(bending.max()),
        stress=float(most.max()),
        share=float(most.max()) / metal.yield_stress,
        sway=float(np.linalg.norm(moved[:, :3], axis=1).max()),
        foot_forces=locked(-reaction[[0, -1]]),
        held_forces=locked(-reaction[inner].reshape(-1, 3)),
    )

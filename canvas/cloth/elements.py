"""Give the forces and stiffness of the membrane's elements: faces of cloth, cables, rods, pressure and water.

Computes: internal and external forces at corners, their derivatives (symmetric part), energies.
Units: metres, newtons, newtons a metre, pascals.
Source: constant strain triangles with Green-Lagrange strain; a pressure p on a face of area vector a pushes p a / 3 on
    each corner, water of depth d pushes with the pressure rho g d taken as linear over the face.
Limits: cables are straight between vertices; loads that follow the cloth have an unsymmetric part of their derivative,
    which is left out of the stiffness, not out of the forces.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from canvas.cloth.material import relaxed
from canvas.geometry.surface import Floats, Ints
from canvas.jobs.compiled import compiled

NONE: Floats = np.zeros((0, 9, 9))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sheet:
    """Faces of cloth made ready for adding up.

    Attributes
    ----------
    faces : (m, 3) ndarray of int
    gradients : (m, 3, 2) ndarray
        Of each corner's share along warp and weft at rest [1/m].
    area : (m,) ndarray
        At rest [m2].
    shift : (m, 3) ndarray
        Strain of the prestress.
    stiffness : (m, 4) ndarray
        Warp, weft, cross and shear [N/m].
    """

    faces: Ints
    gradients: Floats
    area: Floats
    shift: Floats
    stiffness: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Strained:
    """What faces of cloth resist with.

    Attributes
    ----------
    forces : (m, 3, 3) ndarray
        On each corner, against being strained [N].
    blocks : (m, 9, 9) ndarray
        Stiffness; empty where not asked for [N/m].
    stress : (m, 3) ndarray
        Along warp, along weft, shear [N/m].
    state : (m,) ndarray of int
        0 taut, 1 wrinkled, 2 slack.
    energy : float
        [J]
    """

    forces: Floats
    blocks: Floats
    stress: Floats
    state: Ints
    energy: float


def cloth_forces(places: Floats, sheet: Sheet, *, soft: float, stiffness: bool) -> Strained:
    """Return what faces resist with at `places` (n, 3); `soft` is the share of stiffness left in compression.

    Parameters
    ----------
    places : (n, 3) ndarray
        [m]
    sheet : Sheet
    soft : float
        Share of the stiffness that cloth keeps in compression, 0..1.
    stiffness : bool
        Whether the blocks are wanted too.
    """
    count = len(sheet.faces)
    forces, stress = np.empty((count, 3, 3)), np.empty((count, 3))
    blocks = np.empty((count, 9, 9)) if stiffness else NONE
    state = np.empty(count, dtype=np.int64)
    energy = _resist(
        places, sheet.faces, sheet.gradients, sheet.area, sheet.shift, sheet.stiffness, soft,
        forces, blocks, stress, state,
    )  # fmt: skip
    return Strained(forces=forces, blocks=blocks, stress=stress, state=state, energy=energy)


@compiled
def _resist(  # noqa: PLR0917 (compiled code takes no keywords)
    places: Floats, faces: Ints, gradients: Floats, area: Floats, shift: Floats, stiffness: Floats, soft: float,
    forces: Floats, blocks: Floats, stress: Floats, state: Ints,
) -> float:  # fmt: skip
    """Fill in what each face resists with, its stiffness where there is room for it; return the energy."""
    total = 0.0
    grow, strain, pressed = np.empty((2, 3)), np.empty(3), np.empty(3)
    tangent, rows = np.empty((3, 3)), np.empty((3, 9))
    for m in range(len(faces)):
        gradient, stiff, size = gradients[m], stiffness[m], area[m]
        for way in range(2):  # stretched warp, stretched weft
            for d in range(3):
                grow[way, d] = 0.0
                for n in range(3):
                    grow[way, d] += places[faces[m, n], d] * gradient[n, way]
        for k in range(3):
            one, two = grow[0 if k != 1 else 1], grow[0 if k == 0 else 1]
            product = one[0] * two[0] + one[1] * two[1] + one[2] * two[2]
            strain[k] = shift[m, k] + ((product - 1.0) / 2.0 if k < 2 else product)
        state[m], work = relaxed(strain[0], strain[1], strain[2], stiff, stress[m], tangent)
        pressed[0] = stiff[0] * strain[0] + stiff[2] * strain[1]
        pressed[1] = stiff[2] * strain[0] + stiff[1] * strain[1]
        pressed[2] = stiff[3] * strain[2]
        total += size * ((1.0 - soft) * work + soft / 2.0 * (pressed * strain).sum())
        for n in range(3):
            for d in range(3):
                along, across = gradient[n, 0], gradient[n, 1]
                rows[0, 3 * n + d], rows[1, 3 * n + d] = along * grow[0, d], across * grow[1, d]
                rows[2, 3 * n + d] = along * grow[1, d] + across * grow[0, d]
        for k in range(3):
            stress[m, k] = (1.0 - soft) * stress[m, k] + soft * pressed[k]
        for n in range(3):
            for d in range(3):
                pull = 0.0
                for k in range(3):
                    pull += stress[m, k] * rows[k, 3 * n + d]
                forces[m, n, d] = size * pull
        if len(blocks):
            _stiffen(rows, tangent, stiff, gradient, stress[m], size, soft, blocks[m])
    return total


@compiled
def _stiffen(  # noqa: PLR0917 (compiled code takes no keywords)
    rows: Floats, tangent: Floats, stiff: Floats, gradient: Floats, stress: Floats, area: float, soft: float,
    block: Floats,
) -> None:  # fmt: skip
    """Fill in the stiffness of one face (9, 9): of the cloth, and of its pull as its sides turn."""
    for i in range(3):
        for k in range(3):
            tangent[i, k] *= area * (1.0 - soft)
    tangent[0, 0] += area * soft * stiff[0]
    tangent[1, 1] += area * soft * stiff[1]
    tangent[2, 2] += area * soft * stiff[3]
    tangent[0, 1] += area * soft * stiff[2]
    tangent[1, 0] += area * soft * stiff[2]
    for j in range(9):
        a = tangent[0, 0] * rows[0, j] + tangent[0, 1] * rows[1, j] + tangent[0, 2] * rows[2, j]
        b = tangent[1, 0] * rows[0, j] + tangent[1, 1] * rows[1, j] + tangent[1, 2] * rows[2, j]
        c = tangent[2, 0] * rows[0, j] + tangent[2, 1] * rows[1, j] + tangent[2, 2] * rows[2, j]
        for i in range(9):
            block[i, j] = rows[0, i] * a + rows[1, i] * b + rows[2, i] * c
    for n in range(3):
        a = gradient[n, 0] * stress[0] + gradient[n, 1] * stress[2]
        b = gradient[n, 0] * stress[2] + gradient[n, 1] * stress[1]
        for q in range(3):
            pull = area * (a * gradient[q, 0] + b * gradient[q, 1])
            for d in range(3):
                block[3 * n + d, 3 * q + d] += pull


def load_forces(
    places: Floats, faces: Ints, *, pressure: Floats, weight: float, level: Floats, stiffness: bool
) -> tuple[Floats, Floats]:
    """Return pushes (m, 3, 3) of a pressure on each face and of water of unit weight `weight` up to `level` (n,).

    Pressure acts along the outward normal, water against it, on faces that look up. Also (m, 9, 9): minus the
    symmetric part of the derivative; empty where not asked for.

    Parameters
    ----------
    places : (n, 3) ndarray
        [m]
    faces : (m, 3) ndarray of int
    pressure : (m,) ndarray
        [Pa]
    weight : float
        [N/m3]
    level : (n,) ndarray
        Height of the water's surface [m].
    stiffness : bool
        Whether the derivative is asked for.
    """
    forces = np.empty((len(faces), 3, 3))
    blocks = np.zeros((len(faces), 9, 9)) if stiffness else NONE
    _push(places, faces, pressure, weight, level, forces, blocks)
    return forces, blocks


@compiled
def _push(  # noqa: PLR0917 (compiled code takes no keywords)
    places: Floats, faces: Ints, pressure: Floats, weight: float, level: Floats, forces: Floats, blocks: Floats
) -> None:
    """Fill in the pushes on each face, and minus the symmetric part of their derivative where there is room for it."""
    depth, push = np.empty(3), np.empty(3)
    side, area = np.empty((3, 3)), np.empty(3)
    for m in range(len(faces)):
        a, b, c = places[faces[m, 0]], places[faces[m, 1]], places[faces[m, 2]]
        for d in range(3):
            e, f = (d + 1) % 3, (d + 2) % 3
            area[d] = ((b[e] - a[e]) * (c[f] - a[f]) - (b[f] - a[f]) * (c[e] - a[e])) / 2.0
            side[0, d], side[1, d], side[2, d] = b[d] - c[d], c[d] - a[d], a[d] - b[d]
        for n in range(3):
            corner = faces[m, n]
            depth[n] = max(level[corner] - places[corner, 2], 0.0) if area[2] > 0.0 else 0.0
        for n in range(3):
            push[n] = pressure[m] / 3.0 - weight * (depth[0] + depth[1] + depth[2] + depth[n]) / 12.0
            for d in range(3):
                forces[m, n, d] = push[n] * area[d]
        if len(blocks):
            _follow(push, depth, area, side, weight, blocks[m])


@compiled
def _follow(  # noqa: PLR0917 (compiled code takes no keywords)
    push: Floats, depth: Floats, area: Floats, side: Floats, weight: float, block: Floats
) -> None:
    """Add to zeros (9, 9) minus the symmetric part of the derivative of one face's pushes."""
    for n in range(3):
        for q in range(3):
            wet = weight * (2.0 if n == q else 1.0) / 12.0 if depth[q] > 0.0 else 0.0
            for d in range(3):
                i = 3 * n + d
                e, f = (d + 1) % 3, (d + 2) % 3
                for j, value in (  # corner q moved along e turns the area, along z the water as well
                    (3 * q + e, push[n] * side[q, f] / 4.0),
                    (3 * q + f, -push[n] * side[q, e] / 4.0),
                    (3 * q + 2, wet * area[d] / 2.0),
                ):
                    block[i, j] -= value
                    block[j, i] -= value


def link_forces(
    places: Floats, links: Ints, *, rest: Floats, stiff: Floats, start: Floats, soft: Floats
) -> tuple[Floats, Floats, Floats, float]:
    """Return forces against being strained (k, 2, 3), stiffness (k, 6, 6), tension (k,) and energy of straight links.

    Parameters
    ----------
    places : (n, 3) ndarray
        [m]
    links : (k, 2) ndarray of int
    rest : (k,) ndarray
        Unstrained lengths [m].
    stiff : (k,) ndarray
        EA [N].
    start : (k,) ndarray
        Tension at the rest length [N].
    soft : (k,) ndarray
        Share of force and stiffness left in compression: 1 for a rod.
    """
    way = places[links[:, 1]] - places[links[:, 0]]
    length = np.maximum(np.linalg.norm(way, axis=1), 1e-12)
    way = way / length[:, None]
    strain = (length - rest) / rest
    raw = start + stiff * strain
    share = np.where(raw >= 0, 1.0, soft)
    tension = share * raw
    slack = np.where(stiff > 0, raw**2 / np.maximum(stiff, 1e-300) / 2, start * strain)
    energy = float((share * slack * rest).sum())
    outer = np.einsum("ki,kj->kij", way, way)
    block = (share * stiff / rest)[:, None, None] * outer
    block += (np.maximum(tension, 0.0) / length)[:, None, None] * (np.eye(3) - outer)
    blocks = np.concatenate([np.concatenate([block, -block], axis=2), np.concatenate([-block, block], axis=2)], axis=1)
    pull = tension[:, None] * way
    return np.stack([-pull, pull], axis=1), blocks, tension, energy

"""Give the forces and stiffness of the membrane's elements: faces of cloth, cables, rods, pressure and water.

Computes: internal and external forces at corners, their derivatives (symmetric part), energies.
Units: metres, newtons, newtons a metre, pascals.
Source: constant strain triangles with Green-Lagrange strain; a pressure p on a face of area vector a pushes p a / 3 on
    each corner, water of depth d pushes with the pressure rho g d taken as linear over the face.
Limits: cables are straight between vertices; loads that follow the cloth have an unsymmetric part of their derivative,
    which is left out of the stiffness, not out of the forces.
"""

from __future__ import annotations

import numpy as np

from canvas.cloth.compiled import compiled
from canvas.cloth.material import relaxed
from canvas.geometry.surface import Floats, Ints


@compiled
def cloth_forces(  # noqa: PLR0917 (compiled code takes no keywords)
    places: Floats,
    faces: Ints,
    inverse: Floats,
    area: Floats,
    shift: Floats,
    stiff: Floats,
    soft: float,
    wanted: bool,  # noqa: FBT001
) -> tuple[Floats, Floats, Floats, Ints, float]:
    """Return forces against being strained (m, 3, 3), stiffness (m, 9, 9), stress (m, 3), state (m,), energy.

    `inverse` (m, 2, 2) undoes the rest shape, `shift` (m, 3) is the strain of the prestress, `soft` the share of the
    stiffness left in compression; without `wanted` the stiffness is left empty.
    """
    count = len(faces)
    forces = np.zeros((count, 3, 3))
    blocks = np.zeros((count if wanted else 0, 9, 9))
    stresses = np.zeros((count, 3))
    states = np.zeros(count, dtype=np.int64)
    energy = 0.0
    stress, tangent = np.zeros(3), np.zeros((3, 3))
    b = np.zeros((3, 2))
    rows = np.zeros((3, 9))
    for m in range(count):
        x0, x1, x2 = places[faces[m, 0]], places[faces[m, 1]], places[faces[m, 2]]
        b[1, 0], b[1, 1], b[2, 0], b[2, 1] = inverse[m, 0, 0], inverse[m, 0, 1], inverse[m, 1, 0], inverse[m, 1, 1]
        b[0, 0], b[0, 1] = -b[1, 0] - b[2, 0], -b[1, 1] - b[2, 1]
        f1 = (x1 - x0) * b[1, 0] + (x2 - x0) * b[2, 0]
        f2 = (x1 - x0) * b[1, 1] + (x2 - x0) * b[2, 1]
        e1 = 0.5 * ((f1 * f1).sum() - 1.0) + shift[m, 0]
        e2 = 0.5 * ((f2 * f2).sum() - 1.0) + shift[m, 1]
        g = (f1 * f2).sum() + shift[m, 2]
        state, work = relaxed(e1, e2, g, stiff[m], stress, tangent)
        c1, c2, c12, c3 = stiff[m, 0], stiff[m, 1], stiff[m, 2], stiff[m, 3]
        s1, s2, s3 = c1 * e1 + c12 * e2, c12 * e1 + c2 * e2, c3 * g
        stress *= 1.0 - soft
        stress[0] += soft * s1
        stress[1] += soft * s2
        stress[2] += soft * s3
        energy += area[m] * ((1.0 - soft) * work + 0.5 * soft * (s1 * e1 + s2 * e2 + s3 * g))
        stresses[m] = stress
        states[m] = state
        for n in range(3):
            for p in range(3):
                rows[0, 3 * n + p] = b[n, 0] * f1[p]
                rows[1, 3 * n + p] = b[n, 1] * f2[p]
                rows[2, 3 * n + p] = b[n, 0] * f2[p] + b[n, 1] * f1[p]
                forces[m, n, p] = area[m] * (
                    stress[0] * rows[0, 3 * n + p] + stress[1] * rows[1, 3 * n + p] + stress[2] * rows[2, 3 * n + p]
                )
        if not wanted:
            continue
        tangent *= 1.0 - soft
        tangent[0, 0] += soft * c1
        tangent[1, 1] += soft * c2
        tangent[0, 1] += soft * c12
        tangent[1, 0] += soft * c12
        tangent[2, 2] += soft * c3
        for i in range(9):
            for j in range(9):
                total = 0.0
                for k in range(3):
                    total += rows[k, i] * (
                        tangent[k, 0] * rows[0, j] + tangent[k, 1] * rows[1, j] + tangent[k, 2] * rows[2, j]
                    )
                blocks[m, i, j] = area[m] * total
        for n in range(3):
            for q in range(3):
                spread = area[m] * (
                    stress[0] * b[n, 0] * b[q, 0]
                    + stress[1] * b[n, 1] * b[q, 1]
                    + stress[2] * (b[n, 0] * b[q, 1] + b[n, 1] * b[q, 0])
                )
                for p in range(3):
                    blocks[m, 3 * n + p, 3 * q + p] += spread
    return forces, blocks, stresses, states, energy


@compiled
def load_forces(  # noqa: PLR0917 (compiled code takes no keywords)
    places: Floats,
    faces: Ints,
    pressure: Floats,
    weight: float,
    level: Floats,
    wanted: bool,  # noqa: FBT001
) -> tuple[Floats, Floats]:
    """Return pushes (m, 3, 3) of a pressure on each face and of water of unit weight `weight` up to `level` (n,).

    Pressure acts along the outward normal, water against it, on faces that look up. Also (m, 9, 9): minus the
    symmetric part of the derivative.
    """
    count = len(faces)
    forces = np.zeros((count, 3, 3))
    blocks = np.zeros((count if wanted else 0, 9, 9))
    push = np.zeros(3)
    depth = np.zeros(3)
    for m in range(count):
        x0, x1, x2 = places[faces[m, 0]], places[faces[m, 1]], places[faces[m, 2]]
        d1, d2 = x1 - x0, x2 - x0
        a = 0.5 * np.cross(d1, d2)
        up = a[2] > 0.0
        for n in range(3):
            depth[n] = max(level[faces[m, n]] - places[faces[m, n], 2], 0.0) if up else 0.0
        total = depth.sum()
        if pressure[m] == 0.0 and total == 0.0:
            continue
        for n in range(3):
            push[n] = pressure[m] / 3.0 - weight * (total + depth[n]) / 12.0
            for p in range(3):
                forces[m, n, p] = push[n] * a[p]
        if not wanted:
            continue
        for q in range(3):
            side = places[faces[m, (q + 1) % 3]] - places[faces[m, (q + 2) % 3]]
            for n in range(3):
                # d a / d x_q times a move u is u x side / 2
                h = 0.25 * push[n]
                turn = np.array([[0.0, side[2], -side[1]], [-side[2], 0.0, side[0]], [side[1], -side[0], 0.0]])
                for p in range(3):
                    for r in range(3):
                        blocks[m, 3 * n + p, 3 * q + r] -= h * turn[p, r]
                        blocks[m, 3 * q + r, 3 * n + p] -= h * turn[p, r]
                if depth[q] > 0.0:
                    share = weight * (2.0 if n == q else 1.0) / 24.0
                    for p in range(3):
                        blocks[m, 3 * n + p, 3 * q + 2] -= share * a[p]
                        blocks[m, 3 * q + 2, 3 * n + p] -= share * a[p]
    return forces, blocks


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

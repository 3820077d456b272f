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

from canvas.cloth.material import relaxed_all
from canvas.geometry.surface import Floats, Ints

AROUND = np.array([1, 2, 0])  # the corner after each
LINEAR = (np.ones((3, 3)) + np.eye(3)) / 12  # share of a linear pressure's corner values that each corner gets
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
    grow = np.einsum("mnd,mna->mda", places[sheet.faces], sheet.gradients)  # columns: stretched warp, stretched weft
    strain = np.empty((len(sheet.faces), 3))
    strain[:, :2] = (np.einsum("mda,mda->ma", grow, grow) - 1) / 2
    strain[:, 2] = np.einsum("md,md->m", grow[:, :, 0], grow[:, :, 1])
    strain += sheet.shift
    stress, tangent, state, work = relaxed_all(strain, sheet.stiffness)
    full = _linear(sheet.stiffness)
    pressed = np.einsum("mij,mj->mi", full, strain)
    energy = sheet.area @ ((1 - soft) * work + soft / 2 * np.einsum("mi,mi->m", pressed, strain))
    stress = (1 - soft) * stress + soft * pressed
    rows = _strain_rows(grow, sheet.gradients)
    forces = (sheet.area[:, None] * np.einsum("mi,mij->mj", stress, rows)).reshape(-1, 3, 3)
    blocks = NONE
    if stiffness:
        tangent = sheet.area[:, None, None] * ((1 - soft) * tangent + soft * full)
        blocks = np.matmul(np.swapaxes(rows, 1, 2), np.matmul(tangent, rows))
        b = sheet.gradients
        pull = np.empty((len(b), 2, 2))
        pull[:, 0, 0], pull[:, 1, 1] = stress[:, 0], stress[:, 1]
        pull[:, 0, 1] = pull[:, 1, 0] = stress[:, 2]
        spread = sheet.area[:, None, None] * np.matmul(np.matmul(b, pull), np.swapaxes(b, 1, 2))
        for axis in range(3):
            blocks[:, axis::3, axis::3] += spread
    return Strained(forces=forces, blocks=blocks, stress=stress, state=state, energy=float(energy))


def _linear(stiffness: Floats) -> Floats:
    """Return the unrelaxed stiffness matrices (m, 3, 3)."""
    full = np.zeros((len(stiffness), 3, 3))
    full[:, 0, 0], full[:, 1, 1], full[:, 2, 2] = stiffness[:, 0], stiffness[:, 1], stiffness[:, 3]
    full[:, 0, 1] = full[:, 1, 0] = stiffness[:, 2]
    return full


def _strain_rows(grow: Floats, gradients: Floats) -> Floats:
    """Return how the strains change with the corners' places (m, 3, 9)."""
    along, across = grow[:, None, :, 0], grow[:, None, :, 1]
    one, two = gradients[:, :, None, 0], gradients[:, :, None, 1]
    parts = [one * along, two * across, one * across + two * along]
    return np.stack([part.reshape(-1, 9) for part in parts], axis=1)


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
    corner = places[faces]
    area = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]) / 2
    depth = np.where((area[:, 2] > 0)[:, None], np.maximum(level[faces] - corner[:, :, 2], 0.0), 0.0)
    push = pressure[:, None] / 3 - weight * depth @ LINEAR
    forces = push[:, :, None] * area[:, None, :]
    if not stiffness:
        return forces, NONE
    half = np.zeros((len(faces), 3, 3, 3, 3))  # corner, axis, by corner, axis
    side = corner[:, AROUND] - corner[:, AROUND[AROUND]]
    turn = np.zeros((len(faces), 3, 3, 3))  # d area / d corner q: u goes to u x side / 2
    for axis in range(3):
        one, two = (axis + 1) % 3, (axis + 2) % 3
        turn[:, :, axis, one], turn[:, :, axis, two] = side[:, :, two] / 2, -side[:, :, one] / 2
    half -= np.einsum("mn,mqpr->mnpqr", push, turn) / 2
    wet = weight * LINEAR * (depth > 0)[:, None, :]
    half[..., 2] -= np.einsum("mnq,mp->mnpq", wet, area) / 2
    block: Floats = half.reshape(-1, 9, 9)
    return forces, block + np.swapaxes(block, 1, 2)


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

"""Give the stress of woven cloth that wrinkles instead of taking compression.

Computes: stress, tangent and energy of an orthotropic sheet, relaxed: the least energy over all wrinkled states.
Units: strains without unit (Green-Lagrange, third component the full shear angle); stress and stiffness N/m.
Source: relaxed energy after Pipkin AC, The relaxed energy density for isotropic elastic membranes, IMA J. Appl. Math.
    36, 1986, for linear orthotropic cloth: W(E) = min over P >= 0 of 1/2 (E + P) C (E + P). Its stress is the nearest,
    in the metric of the compliance, that pulls in every direction: none (slack), one-way along t (wrinkled), or C E.
Limits: linear stiffness; no crimp interchange beyond the cross stiffness, no bending stiffness.
"""

from __future__ import annotations

import numpy as np

from canvas.geometry.surface import Floats
from canvas.jobs.compiled import compiled

TAUT, WRINKLED, SLACK = 0, 1, 2
ANGLES = 18  # directions tried before the wrinkle direction is refined
REFINE = 30


@compiled
def relaxed(  # noqa: PLR0917 (compiled code takes no keywords)
    e1: float, e2: float, g: float, stiff: Floats, stress: Floats, tangent: Floats
) -> tuple[int, float]:
    """Fill the stress (3,) and tangent (3, 3) of strain (e1, e2, g); return the state and the energy an area [N/m].

    `stiff` holds warp, weft, cross and shear stiffness [N/m].

    Parameters
    ----------
    e1, e2, g : float
        Strain along warp and weft, and their shear angle.
    stiff : (4,) ndarray
        Warp, weft, cross and shear stiffness [N/m].
    stress : (3,) ndarray
        Filled: along warp, along weft, shear [N/m].
    tangent : (3, 3) ndarray
        Filled: slope of the stress by the strain [N/m].
    """
    c1, c2, c12, c3 = stiff[0], stiff[1], stiff[2], stiff[3]
    s1, s2, s3 = c1 * e1 + c12 * e2, c12 * e1 + c2 * e2, c3 * g
    tangent[:, :] = 0.0
    if s1 + s2 > 0.0 and s1 * s2 - s3 * s3 >= 0.0:
        stress[0], stress[1], stress[2] = s1, s2, s3
        tangent[0, 0], tangent[1, 1], tangent[2, 2] = c1, c2, c3
        tangent[0, 1] = tangent[1, 0] = c12
        return TAUT, 0.5 * (s1 * e1 + s2 * e2 + s3 * g)
    if e1 + e2 <= 0.0 and e1 * e2 - 0.25 * g * g >= 0.0:
        stress[:] = 0.0
        return SLACK, 0.0
    return WRINKLED, _one_way(e1, e2, g, stiff, stress, tangent)


@compiled
def _one_way(  # noqa: PLR0917 (compiled code takes no keywords)
    e1: float, e2: float, g: float, stiff: Floats, stress: Floats, tangent: Floats
) -> float:
    """Fill stress and tangent of one-way tension s t t, with s, t at the top of s E:tt - s^2/2 tt:C^-1:tt."""
    det = stiff[0] * stiff[1] - stiff[2] * stiff[2]
    a1, a2, a12, a3 = stiff[1] / det, stiff[0] / det, -stiff[2] / det, 1.0 / stiff[3]
    main = 0.5 * np.arctan2(g, e1 - e2)  # along the greatest strain, where the pull is positive if it is anywhere
    best, angle = -1.0, main
    for k in range(ANGLES):
        t = main + np.pi * k / ANGLES
        c, s = np.cos(t), np.sin(t)
        pull = e1 * c * c + e2 * s * s + g * s * c
        give = a1 * c * c * c * c + a2 * s * s * s * s + (2 * a12 + a3) * s * s * c * c
        if pull > 0.0 and pull * pull / give > best:
            best, angle = pull * pull / give, t
    if best < 0.0:
        stress[:] = 0.0
        return 0.0
    best_angle = angle
    low, high = angle - np.pi / ANGLES, angle + np.pi / ANGLES
    for _ in range(REFINE):
        slope, bend, pull = _slope(angle, e1, e2, g, a1, a2, 2 * a12 + a3)
        if pull <= 0.0:  # beyond where cloth pulls: back towards the best so far
            low, high, angle = (low, angle, best_angle) if angle > best_angle else (angle, high, best_angle)
            slope, bend, pull = _slope(angle, e1, e2, g, a1, a2, 2 * a12 + a3)
        if slope > 0.0:
            low = angle
        else:
            high = angle
        best_angle = angle
        step = -slope / bend if bend < 0.0 else 0.5 * (low + high) - angle
        fresh = angle + step
        if fresh <= low or fresh >= high:
            fresh = 0.5 * (low + high)
        if abs(fresh - angle) < 1e-14:
            angle = fresh
            break
        angle = fresh
    energy: float = _one_way_tangent(angle, e1, e2, g, a1, a2, 2 * a12 + a3, stress, tangent)
    return energy


@compiled
def _slope(  # noqa: PLR0917 (compiled code takes no keywords)
    angle: float, e1: float, e2: float, g: float, a1: float, a2: float, a3: float
) -> tuple[float, float, float]:
    """Return slope and bend of log(pull^2 / give) over the angle, and the pull."""
    c, s = np.cos(angle), np.sin(angle)
    c2, s2 = c * c - s * s, 2 * s * c
    pull = e1 * c * c + e2 * s * s + g * s * c
    pull1 = (e2 - e1) * s2 + g * c2
    pull2 = 2 * (e2 - e1) * c2 - 2 * g * s2
    give = a1 * c * c * c * c + a2 * s * s * s * s + a3 * s * s * c * c
    give1 = 2 * s * c * (-2 * a1 * c * c + 2 * a2 * s * s + a3 * c2)
    give2 = 4 * a1 * c * c * (3 * s * s - c * c) + 4 * a2 * s * s * (3 * c * c - s * s) + 2 * a3 * (c2 * c2 - s2 * s2)
    if pull <= 0.0:
        return 0.0, 0.0, pull
    slope = 2 * pull1 / pull - give1 / give
    bend = 2 * pull2 / pull - 2 * (pull1 / pull) ** 2 - give2 / give + (give1 / give) ** 2
    return slope, bend, pull


@compiled
def _one_way_tangent(  # noqa: PLR0917 (compiled code takes no keywords)
    angle: float,
    e1: float,
    e2: float,
    g: float,
    a1: float,
    a2: float,
    a3: float,
    stress: Floats,
    tangent: Floats,
) -> float:
    """Fill stress and tangent at the wrinkle direction found; return the energy."""
    c, s = np.cos(angle), np.sin(angle)
    c2, s2 = c * c - s * s, 2 * s * c
    pull = e1 * c * c + e2 * s * s + g * s * c
    pull2 = 2 * (e2 - e1) * c2 - 2 * g * s2
    give = a1 * c * c * c * c + a2 * s * s * s * s + a3 * s * s * c * c
    give1 = 2 * s * c * (-2 * a1 * c * c + 2 * a2 * s * s + a3 * c2)
    give2 = 4 * a1 * c * c * (3 * s * s - c * c) + 4 * a2 * s * s * (3 * c * c - s * s) + 2 * a3 * (c2 * c2 - s2 * s2)
    size = pull / give
    way, turn = (c * c, s * s, s * c), (-s2, s2, c2)
    stress[0], stress[1], stress[2] = size * way[0], size * way[1], size * way[2]
    # second derivative of the top value: -g_Ey g_yy^-1 g_yE with y = (size, angle)
    h11, h12, h22 = -give, -0.5 * size * give1, size * pull2 - 0.5 * size * size * give2
    det = h11 * h22 - h12 * h12
    for i in range(3):
        for j in range(3):
            u1, u2, v1, v2 = way[i], size * turn[i], way[j], size * turn[j]
            if det > 0.0:
                tangent[i, j] = -(u1 * v1 * h22 - (u1 * v2 + u2 * v1) * h12 + u2 * v2 * h11) / det
            else:
                tangent[i, j] = u1 * v1 / give
    energy: float = 0.5 * pull * size
    return energy

"""State the physics of one lattice cell: moments, relaxation with a subgrid model, populations.

Computes: for the D3Q19 lattice the ten moments of a cell (density, momentum, non-equilibrium stress), their
relaxation with Smagorinsky's eddy viscosity, and the populations rebuilt from them to third order.
Units: lattice units; populations are kept less their weight, so that air at rest is zero (single precision).
Source: recursive regularisation: Malaspinas, arXiv:1505.06900 (2015), eqs 26-30; third-order terms that D3Q19 carries:
Jacob, Malaspinas & Sagaut, J. Turbul. 19 (2018) 1051, eqs 9-12; eddy viscosity from the stress: Hou et al.,
Fields Inst. Comm. 6 (1996) 151.
Departs: the eddy viscosity is raised where the stress is extreme, so that a cell cannot run away.
Limits: Mach number under about 0.3; plain functions without calls, so that processor and graphics card share them.
"""
# mypy: disable-error-code="no-untyped-def"
# ruff: noqa: ANN001, ANN201, PLR0917

from __future__ import annotations

from math import sqrt

import numpy as np

Single = np.float32

# Directions in opposite pairs (1,2), (3,4) ...; 0 is rest.
CX = np.array([0, 1, -1, 0, 0, 0, 0, 1, -1, 1, -1, 1, -1, 1, -1, 0, 0, 0, 0], dtype=np.int64)
CY = np.array([0, 0, 0, 1, -1, 0, 0, 1, -1, -1, 1, 0, 0, 0, 0, 1, -1, 1, -1], dtype=np.int64)
CZ = np.array([0, 0, 0, 0, 0, 1, -1, 0, 0, 0, 0, 1, -1, -1, 1, 1, -1, -1, 1], dtype=np.int64)
WEIGHTS = np.array([1 / 3] + [1 / 18] * 6 + [1 / 36] * 12)
OPPOSITE = np.array([0, 2, 1, 4, 3, 6, 5, 8, 7, 10, 9, 12, 11, 14, 13, 16, 15, 18, 17], dtype=np.int64)
DIRECTIONS = 19
MOMENTS = 10

_ONE = Single(1)
_TWO = Single(2)
_THREE = Single(3)
_NINE = Single(9)
_HALF = Single(0.5)
_THREE_HALVES = Single(1.5)
_NINE_HALVES = Single(4.5)
_THIRD = Single(1 / 3)
_W1 = Single(1 / 18)
_W2 = Single(1 / 36)
_EXTREME = Single(1 / 0.05**2)
_HOU = Single(18 * 2**0.5)


def moments(f0, f1, f2, f3, f4, f5, f6, f7, f8, f9, f10, f11, f12, f13, f14, f15, f16, f17, f18):
    """Return density less one, momentum (3) and non-equilibrium stress (xx, yy, zz, xy, xz, yz) of populations."""
    a7, a9, a11, a13, a15, a17 = f7 + f8, f9 + f10, f11 + f12, f13 + f14, f15 + f16, f17 + f18
    d7, d9, d11, d13, d15, d17 = f7 - f8, f9 - f10, f11 - f12, f13 - f14, f15 - f16, f17 - f18
    ax, ay, az = f1 + f2, f3 + f4, f5 + f6
    excess = f0 + ax + ay + az + a7 + a9 + a11 + a13 + a15 + a17
    jx = f1 - f2 + d7 + d9 + d11 + d13
    jy = f3 - f4 + d7 - d9 + d15 + d17
    jz = f5 - f6 + d11 - d13 + d15 - d17
    volume = _ONE / (_ONE + excess)
    ux, uy, uz = jx * volume, jy * volume, jz * volume
    pressure = excess * _THIRD
    sxx = ax + a7 + a9 + a11 + a13 - pressure - jx * ux
    syy = ay + a7 + a9 + a15 + a17 - pressure - jy * uy
    szz = az + a11 + a13 + a15 + a17 - pressure - jz * uz
    return excess, jx, jy, jz, sxx, syy, szz, a7 - a9 - jx * uy, a11 - a13 - jx * uz, a15 - a17 - jy * uz


def relaxation(excess, sxx, syy, szz, sxy, sxz, syz, tau0, smagorinsky2):
    """Return 1 - 1/tau with eddy viscosity from the stress before collision (Hou et al. 1996).

    tau = (tau0 + sqrt(tau0^2 + 18 sqrt(2) C^2 |Pi| / rho)) / 2, with C^2 raised by 1 + (|Pi| / 0.05)^2 against extreme
    strain (a shear of the whole wind, 0.15, across one cell has |Pi| of about 0.035).
    """
    norm2 = sxx * sxx + syy * syy + szz * szz + _TWO * (sxy * sxy + sxz * sxz + syz * syz)
    smagorinsky2 = smagorinsky2 * (_ONE + norm2 * _EXTREME)
    tau = _HALF * (tau0 + sqrt(tau0 * tau0 + _HOU * smagorinsky2 * sqrt(norm2) / (_ONE + excess)))
    return _ONE - _ONE / tau


def rescaling(excess, sxx, syy, szz, sxy, sxz, syz, tau0, tau0_there, ratio, smagorinsky2):
    """Return the factor that turns stress after collision here into that on a grid whose step is `ratio` of this one.

    After collision Pi = -2/3 rho (tau - 1) S, with S in steps of its own grid: the factor is
    ratio (tau' - 1) / (tau - 1). |S| follows from |Pi| by a quadratic, since tau = tau0 + 3 C^2 |S|.
    """
    norm2 = sxx * sxx + syy * syy + szz * szz + _TWO * (sxy * sxy + sxz * sxz + syz * syz)
    target = _THREE_HALVES * sqrt(_TWO * norm2) / (_ONE + excess)
    linear = _ONE - tau0
    root = linear * linear - Single(12) * smagorinsky2 * target
    root = sqrt(max(root, Single(0)))
    strain = _TWO * target / (linear + root)
    here = tau0 + _THREE * smagorinsky2 * strain
    there = tau0_there + _THREE * smagorinsky2 * strain * ratio
    return ratio * (there - _ONE) / (here - _ONE)


def populations(excess, jx, jy, jz, sxx, syy, szz, sxy, sxz, syz):
    """Return the 19 populations that carry these moments, with third-order terms by recursion."""
    volume = _ONE / (_ONE + excess)
    ux, uy, uz = jx * volume, jy * volume, jz * volume
    axx, ayy, azz = jx * ux + sxx, jy * uy + syy, jz * uz + szz
    axy, axz, ayz = jx * uy + sxy, jx * uz + sxz, jy * uz + syz
    xxy, xyy = uy * axx + _TWO * ux * sxy, ux * ayy + _TWO * uy * sxy
    xxz, xzz = uz * axx + _TWO * ux * sxz, ux * azz + _TWO * uz * sxz
    yyz, yzz = uz * ayy + _TWO * uy * syz, uy * azz + _TWO * uz * syz
    rest = excess - _THREE_HALVES * (axx + ayy + azz)
    ex, ey, ez = rest + _NINE_HALVES * axx, rest + _NINE_HALVES * ayy, rest + _NINE_HALVES * azz
    ox, oy, oz = _THREE * jx - _NINE * (xyy + xzz), _THREE * jy - _NINE * (xxy + yzz), _THREE * jz - _NINE * (xxz + yyz)
    exy, exz, eyz = ex + _NINE_HALVES * ayy, ex + _NINE_HALVES * azz, ey + _NINE_HALVES * azz
    bxy, bxz, byz = _NINE * axy, _NINE * axz, _NINE * ayz
    mx, my, mz = _THREE * jx, _THREE * jy, _THREE * jz
    o7, o9 = mx + my + _NINE * (xxy + xyy), mx - my + _NINE * (xyy - xxy)
    o11, o13 = mx + mz + _NINE * (xzz + xxz), mx - mz + _NINE * (xzz - xxz)
    o15, o17 = my + mz + _NINE * (yzz + yyz), my - mz + _NINE * (yzz - yyz)
    return (
        _THIRD * rest,
        _W1 * (ex + ox), _W1 * (ex - ox), _W1 * (ey + oy), _W1 * (ey - oy), _W1 * (ez + oz), _W1 * (ez - oz),
        _W2 * (exy + bxy + o7), _W2 * (exy + bxy - o7), _W2 * (exy - bxy + o9), _W2 * (exy - bxy - o9),
        _W2 * (exz + bxz + o11), _W2 * (exz + bxz - o11), _W2 * (exz - bxz + o13), _W2 * (exz - bxz - o13),
        _W2 * (eyz + byz + o15), _W2 * (eyz + byz - o15), _W2 * (eyz - byz + o17), _W2 * (eyz - byz - o17),
    )

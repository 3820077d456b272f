"""Run the lattice on a graphics card: the same loops as `cpu`, one thread a cell or link.

Computes: the loops; the physics of a cell stands in `cells`.
Units: lattice units.
Source: as `cpu`.
Limits: needs numba's CUDA target, a driver and a card; `available` says whether they are there.
"""
# mypy: disable-error-code="no-untyped-def,no-untyped-call,misc,attr-defined,untyped-decorator"
# ruff: noqa: ANN001, ANN201, ANN202, PLR0917

from __future__ import annotations

from math import sqrt

import numpy as np
from numba import cuda

from canvas.wind.flow import cells

THREADS = 128
_F = np.float32
_WALL = np.float32(6 / 36)
_CX, _CY, _CZ = cells.CX, cells.CY, cells.CZ

_moments = cuda.jit(cells.moments, device=True, fastmath=True)
_relaxation = cuda.jit(cells.relaxation, device=True, fastmath=True)
_rescaling = cuda.jit(cells.rescaling, device=True, fastmath=True)
_populations = cuda.jit(cells.populations, device=True, fastmath=True)


def available() -> bool:
    """Return whether a card can be used."""
    try:
        return bool(cuda.is_available())
    except (ImportError, OSError, RuntimeError):
        return False


@cuda.jit(device=True, fastmath=True)
def _moments_at(f, at, c):
    return _moments(
        f[at[0] + c], f[at[1] + c], f[at[2] + c], f[at[3] + c], f[at[4] + c], f[at[5] + c], f[at[6] + c], f[at[7] + c],
        f[at[8] + c], f[at[9] + c], f[at[10] + c], f[at[11] + c], f[at[12] + c], f[at[13] + c], f[at[14] + c],
        f[at[15] + c], f[at[16] + c], f[at[17] + c], f[at[18] + c],
    )


@cuda.jit(device=True, fastmath=True)
def _store(f, at, c, p):
    f[at[0] + c] = p[0]
    f[at[1] + c] = p[1]
    f[at[2] + c] = p[2]
    f[at[3] + c] = p[3]
    f[at[4] + c] = p[4]
    f[at[5] + c] = p[5]
    f[at[6] + c] = p[6]
    f[at[7] + c] = p[7]
    f[at[8] + c] = p[8]
    f[at[9] + c] = p[9]
    f[at[10] + c] = p[10]
    f[at[11] + c] = p[11]
    f[at[12] + c] = p[12]
    f[at[13] + c] = p[13]
    f[at[14] + c] = p[14]
    f[at[15] + c] = p[15]
    f[at[16] + c] = p[16]
    f[at[17] + c] = p[17]
    f[at[18] + c] = p[18]


@cuda.jit(fastmath=True)
def step(f, at, nx, ny, nz, rows, tau0, c2):
    """Stream and collide in place, as `cpu.step`."""
    c = cuda.grid(1)
    if c >= nx * ny * nz:
        return
    i = c % nx
    row = 4 * (c // nx)
    if i < rows[row] or i >= rows[row + 3] or rows[row + 1] <= i < rows[row + 2]:
        return
    pull = cuda.local.array(19, np.int64)
    for q in range(19):
        pull[q] = at[q] + c - (_CX[q] + nx * (_CY[q] + ny * _CZ[q]))
    r, jx, jy, jz, xx, yy, zz, xy, xz, yz = _moments(
        f[pull[0]], f[pull[1]], f[pull[2]], f[pull[3]], f[pull[4]], f[pull[5]], f[pull[6]], f[pull[7]], f[pull[8]],
        f[pull[9]], f[pull[10]], f[pull[11]], f[pull[12]], f[pull[13]], f[pull[14]], f[pull[15]], f[pull[16]],
        f[pull[17]], f[pull[18]],
    )
    s = _relaxation(r, xx, yy, zz, xy, xz, yz, tau0, c2)
    p = _populations(r, jx, jy, jz, s * xx, s * yy, s * zz, s * xy, s * xz, s * yz)
    f[pull[0]] = p[0]
    f[pull[2]] = p[1]
    f[pull[1]] = p[2]
    f[pull[4]] = p[3]
    f[pull[3]] = p[4]
    f[pull[6]] = p[5]
    f[pull[5]] = p[6]
    f[pull[8]] = p[7]
    f[pull[7]] = p[8]
    f[pull[10]] = p[9]
    f[pull[9]] = p[10]
    f[pull[12]] = p[11]
    f[pull[11]] = p[12]
    f[pull[14]] = p[13]
    f[pull[13]] = p[14]
    f[pull[16]] = p[15]
    f[pull[15]] = p[16]
    f[pull[18]] = p[17]
    f[pull[17]] = p[18]


@cuda.jit(fastmath=True)
def screen(f, at, here, there, normal, loss, share):
    """Set the share that a porous link turns back."""
    m = cuda.grid(1)
    if m < here.size:
        a = _moments_at(f, at, here[m])
        b = _moments_at(f, at, there[m])
        va, vb = _F(0.5) / (_F(1) + a[0]), _F(0.5) / (_F(1) + b[0])
        speed = abs(
            normal[3 * m] * (a[1] * va + b[1] * vb)
            + normal[3 * m + 1] * (a[2] * va + b[2] * vb)
            + normal[3 * m + 2] * (a[3] * va + b[3] * vb)
        )
        back = _F(0.25) * loss[m] * speed
        share[m] = back / (_F(1) + back)


@cuda.jit(fastmath=True)
def exchange(f, ahead, back, share, gained):
    """Turn back the share of what crosses each cut link, both ways."""
    m = cuda.grid(1)
    if m < ahead.size:
        one, other = f[ahead[m]], f[back[m]]
        turned = share[m] * (one - other)
        f[ahead[m]] = one - turned
        f[back[m]] = other + turned
        gained[m] += turned


@cuda.jit(fastmath=True)
def floor(f, at, nx, ny, wall, grip):
    """Fill the layer under the lowest cells: part moving wall, part mirror."""
    c = cuda.grid(1)
    if c < nx * ny:
        i = c % nx
        j = c // nx
        if 0 < i < nx - 1 and 0 < j < ny - 1:
            slip = _F(1) - grip
            up = c + nx * ny
            f[at[5] + c] = f[at[6] + up]
            turned = f[at[12] + up] + _WALL * wall[0]
            f[at[11] + c - 1] = grip * turned + slip * f[at[13] + up - 1]
            turned = f[at[13] + up] - _WALL * wall[0]
            f[at[14] + c + 1] = grip * turned + slip * f[at[12] + up + 1]
            turned = f[at[16] + up] + _WALL * wall[1]
            f[at[15] + c - nx] = grip * turned + slip * f[at[17] + up - nx]
            turned = f[at[17] + up] - _WALL * wall[1]
            f[at[18] + c + nx] = grip * turned + slip * f[at[16] + up + nx]


@cuda.jit(fastmath=True)
def repeat(f, at, target, source):
    """Copy whole cells, for sides that repeat."""
    m = cuda.grid(1)
    if m < target.size:
        for q in range(19):
            f[at[q] + target[m]] = f[at[q] + source[m]]


@cuda.jit(fastmath=True)
def hold(f, target, value):
    """Set numbers of `f`."""
    m = cuda.grid(1)
    if m < target.size:
        f[target[m]] = value[m]


@cuda.jit(fastmath=True)
def calm(f, at, where, strength, free):
    """Draw cells towards the free stream by a share."""
    m = cuda.grid(1)
    if m < where.size:
        s = strength[m]
        keep = _F(1) - s
        a = _moments_at(f, at, where[m])
        p = _populations(
            keep * a[0] + s * free[4 * m], keep * a[1] + s * free[4 * m + 1], keep * a[2] + s * free[4 * m + 2],
            keep * a[3] + s * free[4 * m + 3],
            keep * a[4], keep * a[5], keep * a[6], keep * a[7], keep * a[8], keep * a[9],
        )
        _store(f, at, where[m], p)


@cuda.jit(fastmath=True)
def gather(f, at, where, out):
    """Write the ten moments of the cells named."""
    m = cuda.grid(1)
    if m < where.size:
        a = _moments_at(f, at, where[m])
        o = 10 * m
        out[o], out[o + 1], out[o + 2], out[o + 3], out[o + 4] = a[0], a[1], a[2], a[3], a[4]
        out[o + 5], out[o + 6], out[o + 7], out[o + 8], out[o + 9] = a[5], a[6], a[7], a[8], a[9]


@cuda.jit(fastmath=True)
def prolong(buffer, entry, slopes, child, f, at, nx, nxy, tau0, tau0_fine, c2):
    """Fill one of the eight fine cells in each coarse cell of the ring."""
    thread = cuda.grid(1)
    m = thread // 8
    if m >= entry.size:
        return
    part = thread % 8
    dx, dy, dz = part & 1, (part >> 1) & 1, part >> 2
    t = cuda.local.array(10, np.float32)
    e = 10 * entry[m]
    for c in range(10):
        t[c] = buffer[e + c]
    factor = _rescaling(t[0], t[4], t[5], t[6], t[7], t[8], t[9], tau0, tau0_fine, _F(0.5), c2)
    for axis in range(3):
        low, high = slopes[6 * m + 2 * axis], slopes[6 * m + 2 * axis + 1]
        if low >= 0 and high >= 0:
            side = _F(0.125) if ((part >> axis) & 1) == 1 else _F(-0.125)
            for c in range(10):
                t[c] += side * (buffer[10 * high + c] - buffer[10 * low + c])
    p = _populations(
        t[0], t[1], t[2], t[3],
        factor * t[4], factor * t[5], factor * t[6], factor * t[7], factor * t[8], factor * t[9],
    )
    _store(f, at, child[m] + dx + dy * nx + dz * nxy, p)


@cuda.jit(fastmath=True)
def restrict(f, at, child, nx, nxy, coarse, coarse_at, where, tau0, tau0_coarse, c2):
    """Set coarse cells under the fine grid to the mean of their eight fine cells."""
    m = cuda.grid(1)
    if m >= where.size:
        return
    t = cuda.local.array(10, np.float32)
    for c in range(10):
        t[c] = _F(0)
    for part in range(8):
        a = _moments_at(f, at, child[m] + (part & 1) + ((part >> 1) & 1) * nx + (part >> 2) * nxy)
        t[0] += _F(0.125) * a[0]
        t[1] += _F(0.125) * a[1]
        t[2] += _F(0.125) * a[2]
        t[3] += _F(0.125) * a[3]
        t[4] += _F(0.125) * a[4]
        t[5] += _F(0.125) * a[5]
        t[6] += _F(0.125) * a[6]
        t[7] += _F(0.125) * a[7]
        t[8] += _F(0.125) * a[8]
        t[9] += _F(0.125) * a[9]
    factor = _rescaling(t[0], t[4], t[5], t[6], t[7], t[8], t[9], tau0, tau0_coarse, _F(2), c2)
    p = _populations(
        t[0], t[1], t[2], t[3],
        factor * t[4], factor * t[5], factor * t[6], factor * t[7], factor * t[8], factor * t[9],
    )
    _store(coarse, coarse_at, where[m], p)


@cuda.jit(fastmath=True)
def probe(f, at, where, out, row):
    """Write density less one and velocity of the cells named into row `row`."""
    m = cuda.grid(1)
    if m < where.size:
        a = _moments_at(f, at, where[m])
        v = _F(1) / (_F(1) + a[0])
        o = 4 * (row * where.size + m)
        out[o], out[o + 1], out[o + 2], out[o + 3] = a[0], a[1] * v, a[2] * v, a[3] * v


@cuda.jit(fastmath=True)
def collect(f, at, size, sums):
    """Add density less one, velocity and speed of every cell to running sums."""
    c = cuda.grid(1)
    if c < size:
        a = _moments_at(f, at, c)
        v = _F(1) / (_F(1) + a[0])
        x, y, z = a[1] * v, a[2] * v, a[3] * v
        sums[c] += a[0]
        sums[size + c] += x
        sums[2 * size + c] += y
        sums[3 * size + c] += z
        sums[4 * size + c] += sqrt(x * x + y * y + z * z)

"""Run the lattice on the processor: compiled loops over cells, links and grid interfaces.

Computes: the loops; the physics of a cell stands in `cells`.
Units: lattice units.
Source: fused pull scheme over direction-first arrays in chunks, so that the compiler vectorises.
Limits: grids carry one outer layer that is never updated; indices are flat, x fastest.
"""
# mypy: disable-error-code="no-untyped-def,no-untyped-call"
# ruff: noqa: ANN001, ANN201, ANN202, PLR0917

from __future__ import annotations

from math import sqrt

import numpy as np
from numba import prange

from canvas.wind.flow import cells
from canvas.wind.flow.compiled import compiled

CHUNK = 128
_F = np.float32
_WALL = np.float32(6 / 36)  # 6 w of an edge direction: momentum a moving wall gives
_O1 = np.uint64(1 * CHUNK)
_O2 = np.uint64(2 * CHUNK)
_O3 = np.uint64(3 * CHUNK)
_O4 = np.uint64(4 * CHUNK)
_O5 = np.uint64(5 * CHUNK)
_O6 = np.uint64(6 * CHUNK)
_O7 = np.uint64(7 * CHUNK)
_O8 = np.uint64(8 * CHUNK)
_O9 = np.uint64(9 * CHUNK)
_O10 = np.uint64(10 * CHUNK)
_O11 = np.uint64(11 * CHUNK)
_O12 = np.uint64(12 * CHUNK)
_O13 = np.uint64(13 * CHUNK)
_O14 = np.uint64(14 * CHUNK)
_O15 = np.uint64(15 * CHUNK)
_O16 = np.uint64(16 * CHUNK)
_O17 = np.uint64(17 * CHUNK)
_O18 = np.uint64(18 * CHUNK)

_moments = compiled(cells.moments, inline=True)
_relaxation = compiled(cells.relaxation, inline=True)
_rescaling = compiled(cells.rescaling, inline=True)
_populations = compiled(cells.populations, inline=True)


@compiled
def _collide_chunk(s, n, tau0, c2):
    for index in range(n):
        i = np.uint64(index)
        r, jx, jy, jz, xx, yy, zz, xy, xz, yz = _moments(
            s[i], s[i + _O1], s[i + _O2], s[i + _O3], s[i + _O4], s[i + _O5], s[i + _O6], s[i + _O7], s[i + _O8],
            s[i + _O9], s[i + _O10], s[i + _O11], s[i + _O12], s[i + _O13], s[i + _O14], s[i + _O15], s[i + _O16],
            s[i + _O17], s[i + _O18],
        )
        k = _relaxation(r, xx, yy, zz, xy, xz, yz, tau0, c2)
        p = _populations(r, jx, jy, jz, k * xx, k * yy, k * zz, k * xy, k * xz, k * yz)
        s[i], s[i + _O1], s[i + _O2], s[i + _O3], s[i + _O4], s[i + _O5] = p[0], p[1], p[2], p[3], p[4], p[5]
        s[i + _O6], s[i + _O7], s[i + _O8], s[i + _O9], s[i + _O10] = p[6], p[7], p[8], p[9], p[10]
        s[i + _O11], s[i + _O12], s[i + _O13], s[i + _O14] = p[11], p[12], p[13], p[14]
        s[i + _O15], s[i + _O16], s[i + _O17], s[i + _O18] = p[15], p[16], p[17], p[18]


@compiled(inline=True)
def _copy(target, start, source, begin, n):
    to, out = np.uint64(start), np.uint64(begin)
    for i in range(np.uint64(n)):
        target[to + i] = source[out + i]


@compiled
def _step_rows(f, g, scratch, first, rows, width, stride, offsets, tau0, c2):
    for row in range(rows):
        start = first + row * (width + 2)
        done = 0
        while done < width:
            n = min(CHUNK, width - done)
            base = start + done
            for q in range(19):
                _copy(scratch, q * CHUNK, f, q * stride + base - offsets[q], n)
            _collide_chunk(scratch, n, tau0, c2)
            for q in range(19):
                _copy(g, q * stride + base, scratch, q * CHUNK, n)
            done += n


@compiled(parallel=True)
def step(f, g, stride, nx, ny, nz, tau0, c2):
    """Stream and collide every cell but the outer layer, from `f` into `g`."""
    offsets = cells.CX + nx * (cells.CY + ny * cells.CZ)
    for k in prange(nz - 2):
        scratch = np.empty(19 * CHUNK, dtype=np.float32)
        first = ((np.int64(k) + 1) * ny + 1) * nx + 1
        _step_rows(f, g, scratch, first, ny - 2, nx - 2, stride, offsets, tau0, c2)


@compiled(inline=True)
def _moments_at(f, stride, c):
    return _moments(
        f[c], f[stride + c], f[2 * stride + c], f[3 * stride + c], f[4 * stride + c], f[5 * stride + c],
        f[6 * stride + c], f[7 * stride + c], f[8 * stride + c], f[9 * stride + c], f[10 * stride + c],
        f[11 * stride + c], f[12 * stride + c], f[13 * stride + c], f[14 * stride + c], f[15 * stride + c],
        f[16 * stride + c], f[17 * stride + c], f[18 * stride + c],
    )


@compiled(inline=True)
def _store(f, stride, c, p):
    for q in range(19):
        f[q * stride + c] = p[q]


@compiled(parallel=True)
def screen(f, stride, here, there, normal, loss, share):
    """Set the share a porous link turns back, s = (K u / 4) / (1 + K u / 4), from the speed through the cloth."""
    for m in prange(here.size):
        a = _moments_at(f, stride, here[m])
        b = _moments_at(f, stride, there[m])
        va, vb = _F(0.5) / (_F(1) + a[0]), _F(0.5) / (_F(1) + b[0])
        speed = abs(
            normal[3 * m] * (a[1] * va + b[1] * vb)
            + normal[3 * m + 1] * (a[2] * va + b[2] * vb)
            + normal[3 * m + 2] * (a[3] * va + b[3] * vb)
        )
        back = _F(0.25) * loss[m] * speed
        share[m] = back / (_F(1) + back)


@compiled(parallel=True)
def exchange(f, ahead, back, share, gained):
    """Turn back the share of what crosses each cut link, both ways, and add up what the surface took."""
    for m in prange(ahead.size):
        one, other = f[ahead[m]], f[back[m]]
        turned = share[m] * (one - other)
        f[ahead[m]] = one - turned
        f[back[m]] = other + turned
        gained[m] += turned


@compiled(parallel=True)
def floor(f, stride, nx, ny, wall, grip):
    """Fill the layer under the lowest cells: a share `grip` as a wall moving with `wall`, the rest as a mirror."""
    slip = _F(1) - grip
    for row in prange(ny - 2):
        j = np.int64(row) + 1
        for i in range(1, nx - 1):
            c = j * nx + i
            up = c + nx * ny
            f[5 * stride + c] = f[6 * stride + up]
            turned = f[12 * stride + up] + _WALL * wall[0]
            f[11 * stride + c - 1] = grip * turned + slip * f[13 * stride + up - 1]
            turned = f[13 * stride + up] - _WALL * wall[0]
            f[14 * stride + c + 1] = grip * turned + slip * f[12 * stride + up + 1]
            turned = f[16 * stride + up] + _WALL * wall[1]
            f[15 * stride + c - nx] = grip * turned + slip * f[17 * stride + up - nx]
            turned = f[17 * stride + up] - _WALL * wall[1]
            f[18 * stride + c + nx] = grip * turned + slip * f[16 * stride + up + nx]


@compiled(parallel=True)
def repeat(f, stride, target, source):
    """Copy whole cells, for sides that repeat."""
    for m in prange(target.size):
        for q in range(19):
            f[q * stride + target[m]] = f[q * stride + source[m]]


@compiled(parallel=True)
def calm(f, stride, where, strength, free):
    """Draw cells towards the free stream by a share (a sponge); `free` holds density less one and momentum."""
    for m in prange(where.size):
        s = strength[m]
        keep = _F(1) - s
        a = _moments_at(f, stride, where[m])
        p = _populations(
            keep * a[0] + s * free[4 * m], keep * a[1] + s * free[4 * m + 1], keep * a[2] + s * free[4 * m + 2],
            keep * a[3] + s * free[4 * m + 3],
            keep * a[4], keep * a[5], keep * a[6], keep * a[7], keep * a[8], keep * a[9],
        )
        _store(f, stride, where[m], p)


@compiled(parallel=True)
def gather(f, stride, where, out):
    """Write the ten moments of the cells named."""
    for m in prange(where.size):
        a = _moments_at(f, stride, where[m])
        for c in range(10):
            out[10 * m + c] = a[c]


@compiled(parallel=True)
def prolong(buffer, entry, slopes, child, f, stride, nx, nxy, tau0, tau0_fine, c2):
    """Fill the eight fine cells in each coarse cell of the ring, linear where no wall stands between."""
    for m in prange(entry.size):
        e = 10 * entry[m]
        a = buffer[e : e + 10]
        factor = _rescaling(a[0], a[4], a[5], a[6], a[7], a[8], a[9], tau0, tau0_fine, _F(0.5), c2)
        t = np.empty(10, dtype=np.float32)
        for part in range(8):
            dx, dy, dz = part & 1, (part >> 1) & 1, part >> 2
            for c in range(10):
                t[c] = a[c]
            for axis in range(3):
                low, high = slopes[6 * m + 2 * axis], slopes[6 * m + 2 * axis + 1]
                if low >= 0 and high >= 0:
                    side = _F(0.125) if ((dx, dy, dz)[axis] == 1) else _F(-0.125)
                    for c in range(10):
                        t[c] += side * (buffer[10 * high + c] - buffer[10 * low + c])
            p = _populations(
                t[0], t[1], t[2], t[3],
                factor * t[4], factor * t[5], factor * t[6], factor * t[7], factor * t[8], factor * t[9],
            )
            _store(f, stride, child[m] + dx + dy * nx + dz * nxy, p)


@compiled(parallel=True)
def restrict(f, stride, child, nx, nxy, coarse, coarse_stride, where, tau0, tau0_coarse, c2):
    """Set coarse cells under the fine grid to the mean of their eight fine cells."""
    for m in prange(where.size):
        t = np.zeros(10, dtype=np.float32)
        for part in range(8):
            a = _moments_at(f, stride, child[m] + (part & 1) + ((part >> 1) & 1) * nx + (part >> 2) * nxy)
            for c in range(10):
                t[c] += _F(0.125) * a[c]
        factor = _rescaling(t[0], t[4], t[5], t[6], t[7], t[8], t[9], tau0, tau0_coarse, _F(2), c2)
        p = _populations(
            t[0], t[1], t[2], t[3],
            factor * t[4], factor * t[5], factor * t[6], factor * t[7], factor * t[8], factor * t[9],
        )
        _store(coarse, coarse_stride, where[m], p)


@compiled(parallel=True)
def probe(f, stride, where, out, at):
    """Write density less one and velocity of the cells named into row `at`."""
    for m in prange(where.size):
        a = _moments_at(f, stride, where[m])
        v = _F(1) / (_F(1) + a[0])
        o = 4 * (at * where.size + m)
        out[o], out[o + 1], out[o + 2], out[o + 3] = a[0], a[1] * v, a[2] * v, a[3] * v


@compiled(parallel=True)
def collect(f, stride, size, sums):
    """Add density less one, velocity and speed of every cell to running sums."""
    for c in prange(size):
        a = _moments_at(f, stride, np.int64(c))
        v = _F(1) / (_F(1) + a[0])
        x, y, z = a[1] * v, a[2] * v, a[3] * v
        sums[c] += a[0]
        sums[size + c] += x
        sums[2 * size + c] += y
        sums[3 * size + c] += z
        sums[4 * size + c] += sqrt(x * x + y * y + z * z)

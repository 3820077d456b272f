"""Run the lattice on the processor: compiled loops over cells, links and grid interfaces.

Computes: the loops; the physics of a cell stands in `cells`.
Units: lattice units.
Source: fused pull scheme over direction-first arrays, by `chunks`; what a step writes goes past the caches.
Limits: grids carry one outer layer that is never updated; indices are flat, x fastest; arrays begin on a cache line,
and each direction in them.
"""
# mypy: disable-error-code="no-untyped-def,no-untyped-call"
# ruff: noqa: ANN001, ANN201, ANN202, PLR0917

from __future__ import annotations

from math import sqrt

import numpy as np
from numba import prange

from canvas.wind.flow import cells, chunks
from canvas.wind.flow.chunks import CHUNK
from canvas.wind.flow.compiled import compiled
from canvas.wind.flow.lines import LINE, ask_for, copy_line, settled, write_line

_F = np.float32
_RISE = np.uint64(10 * CHUNK)
_LINE, _LINES = np.uint64(LINE), CHUNK // LINE
_WALL = np.float32(6 / 36)  # 6 w of an edge direction: momentum a moving wall gives

_moments = compiled(cells.moments, inline=True)


@compiled
def _lines_of(rows, first, after, nx, lines, sides):
    """Write where the lines of cells begin that rows from `first` on hold, and how far on a grid's side is next."""
    count, at = 0, 0
    for part in range(2 * first, 2 * after):
        row = part // 2
        at = max(at, (row * nx + rows[2 * part]) // LINE * LINE)
        for line in range(at, row * nx + rows[2 * part + 1], LINE):
            lines[count] = line
            at = line + LINE
            sides[count] = (row + 1) * nx - 1 - line
            while sides[count] >= nx - 1:  # it begins on or before the side of its own row
                sides[count] -= nx
            count += 1
    return count


@compiled
def _keep_sides(f, scratch, start, line, side, nx, stride):
    """Put what `f` holds of a grid's sides, two cells from `side` on in each row, into a line of a chunk."""
    while side < LINE:
        for at in range(max(side, 0), min(side + 2, LINE)):
            for q in range(19):
                scratch[np.uint64(q * CHUNK + at) + start] = f[np.uint64(q * stride + line + at)]
        side += nx


@compiled
def _write_within(g, scratch, start, line, first, last, stride):
    """Write the cells of a line from `first` up to `last`."""
    for q in range(19):
        to, out = np.uint64(q * stride), np.uint64(q * CHUNK) + start
        for cell in range(max(line, first), min(line + _LINE, last)):
            g[to + cell] = scratch[out + cell - line]


@compiled
def _step_lines(f, g, scratch, lines, sides, count, first, last, nx, stride, offsets, tau0, c2):
    """Step lines of cells, from `first` up to `last`; those on a grid's sides keep what they have in `f`."""
    for start in range(0, count, _LINES):
        many = np.uint64(min(_LINES, count - start))
        here, after = np.uint64(start), np.uint64(min(start + _LINES, count - 1))
        for q in range(19):
            shift, to = np.uint64(q * stride - offsets[q]), np.uint64(q * CHUNK)
            for m in range(many):
                copy_line(scratch, to + m * _LINE, f, shift + lines[here + m])
        for m in range(many):
            chunks.collide(scratch, m * _LINE, tau0, c2)
            for q in range(19):  # the chunk after this one comes while this one is worked on
                ask_for(f, np.uint64(q * stride - offsets[q]) + lines[min(after + m, np.uint64(count - 1))])
        for m in range(many):
            _keep_sides(f, scratch, m * _LINE, np.int64(lines[here + m]), sides[here + m], nx, stride)
        if first <= lines[here] and lines[here + many - np.uint64(1)] + _LINE <= last:
            for q in range(19):
                to, out = np.uint64(q * stride), np.uint64(q * CHUNK)
                for m in range(many):
                    write_line(g, to + lines[here + m], scratch, out + m * _LINE)
        else:  # some of it is another plane's
            for m in range(many):
                _write_within(g, scratch, m * _LINE, lines[here + m], first, last, stride)
    settled()


@compiled(parallel=True)
def step(f, g, stride, nx, ny, nz, rows, tau0, c2):
    """Stream and collide, from `f` into `g`, the cells of each row from `rows` 1 to 2 and 3 to 4 of its four.

    Whole lines are marched: what they hold beside their rows comes to nothing that is read, but for a grid's sides.
    """
    offsets = cells.CX + nx * (cells.CY + ny * cells.CZ)
    for k in prange(nz - 2):
        scratch = np.empty(19 * CHUNK, dtype=np.float32)
        lines, sides = np.empty(nx * ny // LINE + ny, dtype=np.uint64), np.empty(nx * ny // LINE + ny, dtype=np.int64)
        first, after = (np.int64(k) + 1) * ny + 1, (np.int64(k) + 2) * ny - 1
        count = _lines_of(rows, first, after, nx, lines, sides)
        begin, end = np.uint64(first * nx + 1), np.uint64(after * nx - 1)
        _step_lines(f, g, scratch, lines, sides, count, begin, end, nx, stride, offsets, tau0, c2)


@compiled(inline=True)
def _moments_at(f, stride, c):
    return _moments(
        f[c], f[stride + c], f[2 * stride + c], f[3 * stride + c], f[4 * stride + c], f[5 * stride + c],
        f[6 * stride + c], f[7 * stride + c], f[8 * stride + c], f[9 * stride + c], f[10 * stride + c],
        f[11 * stride + c], f[12 * stride + c], f[13 * stride + c], f[14 * stride + c], f[15 * stride + c],
        f[16 * stride + c], f[17 * stride + c], f[18 * stride + c],
    )


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


@compiled
def _drawn(m, n, first, strength, free, keep):
    """Draw the moments of a chunk towards the free stream; `keep` gets the share of the stress that stays."""
    at = np.uint64(first)
    for i in range(np.uint64(n)):
        keep[i] = _F(1) - strength[at + i]
    for c in range(4):
        row, one = np.uint64(c * CHUNK), np.uint64(c)
        for i in range(np.uint64(n)):
            m[row + i] = keep[i] * m[row + i] + strength[at + i] * free[np.uint64(4) * (at + i) + one]


@compiled(parallel=True)
def calm(f, stride, where, strength, free):
    """Draw cells towards the free stream by a share (a sponge); `free` holds density less one and momentum."""
    for chunk in prange((where.size + CHUNK - 1) // CHUNK):
        first = np.int64(chunk) * CHUNK
        n = min(CHUNK, where.size - first)
        s, m, keep = chunks.room()
        chunks.read_cells(f, stride, where, first, n, 0, s)
        for i in range(first + CHUNK, min(first + 2 * CHUNK, where.size), 8):  # the next chunk comes meanwhile
            for q in range(19):
                ask_for(f, np.uint64(q * stride + where[i]))
        chunks.moments_of(s, n, m)
        _drawn(m, n, first, strength, free, keep)
        chunks.populations_of(m, keep, n, s)
        chunks.write_cells(f, stride, where, first, n, 0, s)


@compiled(parallel=True)
def gather(f, stride, where, out):
    """Write the ten moments of the cells named."""
    for chunk in prange((where.size + CHUNK - 1) // CHUNK):
        first = np.int64(chunk) * CHUNK
        n = min(CHUNK, where.size - first)
        s, m, _ = chunks.room()
        chunks.read_cells(f, stride, where, first, n, 0, s)
        chunks.moments_of(s, n, m)
        for i in range(n):
            for c in range(10):
                out[10 * (first + i) + c] = m[c * CHUNK + i]


@compiled
def _slopes_of(buffer, slopes, first, n, rise):
    """Write by how much the moments of a fine cell differ from those of its coarse one, for each axis."""
    for i in range(n):
        for axis in range(3):
            low, high = slopes[6 * (first + i) + 2 * axis], slopes[6 * (first + i) + 2 * axis + 1]
            free = low >= 0 and high >= 0
            for c in range(10):
                step = buffer[10 * high + c] - buffer[10 * low + c] if free else _F(0)
                rise[(10 * axis + c) * CHUNK + i] = _F(0.125) * step


@compiled
def _sloped(middle, rise, part, n, m):
    """Write the moments of one of the eight fine cells in each coarse cell of a chunk."""
    x = _F(1) if part & 1 else _F(-1)
    y = _F(1) if part & 2 else _F(-1)
    z = _F(1) if part & 4 else _F(-1)
    for c in range(10):
        at = np.uint64(c * CHUNK)
        for i in range(np.uint64(n)):
            m[at + i] = middle[at + i] + x * rise[at + i] + y * rise[at + _RISE + i] + z * rise[at + _RISE + _RISE + i]


@compiled(parallel=True)
def prolong(buffer, entry, slopes, child, f, stride, nx, nxy, tau0, tau0_fine, c2):
    """Fill the eight fine cells in each coarse cell of the ring, linear where no wall stands between."""
    for chunk in prange((entry.size + CHUNK - 1) // CHUNK):
        first = np.int64(chunk) * CHUNK
        n = min(CHUNK, entry.size - first)
        s, m, factor = chunks.room()
        middle, rise = np.empty(10 * CHUNK, np.float32), np.empty(30 * CHUNK, np.float32)
        for i in range(n):
            for c in range(10):
                middle[c * CHUNK + i] = buffer[10 * entry[first + i] + c]
        chunks.rescaling_of(middle, n, tau0, tau0_fine, _F(0.5), c2, factor)
        _slopes_of(buffer, slopes, first, n, rise)
        for part in range(8):
            _sloped(middle, rise, part, n, m)
            chunks.populations_of(m, factor, n, s)
            shift = (part & 1) + ((part >> 1) & 1) * nx + (part >> 2) * nxy
            chunks.write_cells(f, stride, child, first, n, shift, s)


@compiled(parallel=True)
def restrict(f, stride, child, nx, nxy, coarse, coarse_stride, where, tau0, tau0_coarse, c2):
    """Set coarse cells under the fine grid to the mean of their eight fine cells."""
    for chunk in prange((where.size + CHUNK - 1) // CHUNK):
        first = np.int64(chunk) * CHUNK
        n = min(CHUNK, where.size - first)
        s, m, factor = chunks.room()
        mean = np.zeros(10 * CHUNK, dtype=np.float32)
        for part in range(8):
            shift = (part & 1) + ((part >> 1) & 1) * nx + (part >> 2) * nxy
            chunks.read_cells(f, stride, child, first, n, shift, s)
            chunks.moments_of(s, n, m)
            for c in range(10 * CHUNK):
                mean[c] += _F(0.125) * m[c]
        chunks.rescaling_of(mean, n, tau0, tau0_coarse, _F(2), c2, factor)
        chunks.populations_of(mean, factor, n, s)
        chunks.write_cells(coarse, coarse_stride, where, first, n, 0, s)


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

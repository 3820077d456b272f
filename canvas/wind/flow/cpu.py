"""Run the lattice on the processor: compiled loops over cells, links and grid interfaces.

Computes: the loops; the physics of a cell stands in `cells`.
Units: lattice units.
Source: streaming and colliding in one, in place (`levels`), over direction-first arrays, by `chunks`.
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
from canvas.wind.flow.lines import LINE, ask_for, copy_line

_F = np.float32
_RISE = np.uint64(10 * CHUNK)
_LINE, _LINES = np.uint64(LINE), CHUNK // LINE
_LINKS_AHEAD = 128  # that a cut link is asked for before its turn
_WALL = np.float32(6 / 36)  # 6 w of an edge direction: momentum a moving wall gives

_moments = compiled(cells.moments, inline=True)


@compiled
def _lines_of(rows, first, after, nx, lines):
    """Write where the lines of cells begin that rows from `first` on hold."""
    count, at = 0, 0
    for part in range(2 * first, 2 * after):
        row = part // 2
        at = max(at, row * nx + rows[2 * part])
        for line in range(at, row * nx + rows[2 * part + 1], LINE):
            lines[count] = line
            at = line + LINE
            count += 1
    return count


@compiled
def _write_within(f, scratch, start, line, first, last, pull):
    """Write the cells of a line from `first` up to `last`."""
    for q in range(19):
        to, out = np.uint64(pull[cells.OPPOSITE[q]]), np.uint64(q * CHUNK) + start
        for cell in range(max(line, first), min(line + _LINE, last)):
            f[to + cell] = scratch[out + cell - line]


@compiled
def _step_lines(f, scratch, lines, count, first, last, pull, tau0, c2):
    """Step lines of cells, from `first` up to `last`; `pull` says where each direction stands that comes to cell 0."""
    for start in range(0, count, _LINES):
        many = np.uint64(min(_LINES, count - start))
        here, after = np.uint64(start), np.uint64(min(start + _LINES, count - 1))
        for q in range(19):
            out, to = np.uint64(pull[q]), np.uint64(q * CHUNK)
            for m in range(many):
                copy_line(scratch, to + m * _LINE, f, out + lines[here + m])
        for m in range(many):
            chunks.collide(scratch, m * _LINE, tau0, c2)
            for q in range(19):  # the chunk after this one comes while this one is worked on
                ask_for(f, np.uint64(pull[q]) + lines[min(after + m, np.uint64(count - 1))])
        if first <= lines[here] and lines[here + many - np.uint64(1)] + _LINE <= last:
            for q in range(19):
                to, out = np.uint64(pull[cells.OPPOSITE[q]]), np.uint64(q * CHUNK)
                for m in range(many):
                    copy_line(f, to + lines[here + m], scratch, out + m * _LINE)
        else:  # some of it is another plane's
            for m in range(many):
                _write_within(f, scratch, m * _LINE, lines[here + m], first, last, pull)


@compiled(parallel=True)
def step(f, at, nx, ny, nz, rows, tau0, c2):
    """Stream and collide, in place, the cells of each row from `rows` 1 to 2 and 3 to 4 of its four.

    Whole lines are marched: what they hold beside their rows comes to nothing that is read.
    """
    pull = at - (cells.CX + nx * (cells.CY + ny * cells.CZ))
    for k in prange(nz - 2):
        scratch = np.empty(19 * CHUNK, dtype=np.float32)
        lines = np.empty(nx * ny // LINE + ny, dtype=np.uint64)
        first, after = (np.int64(k) + 1) * ny + 1, (np.int64(k) + 2) * ny - 1
        count = _lines_of(rows, first, after, nx, lines)
        _step_lines(
            f, scratch, lines, count, np.uint64(first * nx + 1), np.uint64(after * nx - 1), pull, tau0, c2
        )


@compiled(inline=True)
def _moments_at(f, at, c):
    return _moments(
        f[at[0] + c], f[at[1] + c], f[at[2] + c], f[at[3] + c], f[at[4] + c], f[at[5] + c], f[at[6] + c], f[at[7] + c],
        f[at[8] + c], f[at[9] + c], f[at[10] + c], f[at[11] + c], f[at[12] + c], f[at[13] + c], f[at[14] + c],
        f[at[15] + c], f[at[16] + c], f[at[17] + c], f[at[18] + c],
    )


@compiled(parallel=True)
def screen(f, at, here, there, normal, loss, share):
    """Set the share a porous link turns back, s = (K u / 4) / (1 + K u / 4), from the speed through the cloth."""
    for m in prange(here.size):
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


@compiled(parallel=True)
def exchange(f, ahead, back, share, gained):
    """Turn back the share of what crosses each cut link, both ways, and add up what the surface took."""
    for m in prange(ahead.size):
        later = min(m + _LINKS_AHEAD, ahead.size - 1)
        ask_for(f, np.uint64(ahead[later]))
        ask_for(f, np.uint64(back[later]))
        one, other = f[ahead[m]], f[back[m]]
        turned = share[m] * (one - other)
        f[ahead[m]] = one - turned
        f[back[m]] = other + turned
        gained[m] += turned


@compiled(parallel=True)
def floor(f, at, nx, ny, wall, grip):
    """Fill the layer under the lowest cells: a share `grip` as a wall moving with `wall`, the rest as a mirror."""
    slip = _F(1) - grip
    for row in prange(ny - 2):
        j = np.int64(row) + 1
        for i in range(1, nx - 1):
            c = j * nx + i
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


@compiled(parallel=True)
def repeat(f, at, target, source):
    """Copy whole cells, for sides that repeat."""
    for m in prange(target.size):
        for q in range(19):
            f[at[q] + target[m]] = f[at[q] + source[m]]


@compiled(parallel=True)
def hold(f, target, value):
    """Set numbers of `f`."""
    for m in prange(target.size):
        f[target[m]] = value[m]


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
def calm(f, at, where, strength, free):
    """Draw cells towards the free stream by a share (a sponge); `free` holds density less one and momentum."""
    for chunk in prange((where.size + CHUNK - 1) // CHUNK):
        first = np.int64(chunk) * CHUNK
        n = min(CHUNK, where.size - first)
        s, m, keep = chunks.room()
        chunks.read_cells(f, at, where, first, n, 0, s)
        chunks.ask_for_cells(f, at, where, first + CHUNK, CHUNK, 0)
        chunks.moments_of(s, n, m)
        _drawn(m, n, first, strength, free, keep)
        chunks.populations_of(m, keep, n, s)
        chunks.write_cells(f, at, where, first, n, 0, s)


@compiled(parallel=True)
def gather(f, at, where, out):
    """Write the ten moments of the cells named."""
    for chunk in prange((where.size + CHUNK - 1) // CHUNK):
        first = np.int64(chunk) * CHUNK
        n = min(CHUNK, where.size - first)
        s, m, _ = chunks.room()
        chunks.read_cells(f, at, where, first, n, 0, s)
        chunks.ask_for_cells(f, at, where, first + CHUNK, CHUNK, 0)
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
def prolong(buffer, entry, slopes, child, f, at, nx, nxy, tau0, tau0_fine, c2):
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
            chunks.write_cells(f, at, child, first, n, shift, s)


@compiled(parallel=True)
def restrict(f, at, child, nx, nxy, coarse, coarse_at, where, tau0, tau0_coarse, c2):
    """Set coarse cells under the fine grid to the mean of their eight fine cells."""
    for chunk in prange((where.size + CHUNK - 1) // CHUNK):
        first = np.int64(chunk) * CHUNK
        n = min(CHUNK, where.size - first)
        s, m, factor = chunks.room()
        mean = np.zeros(10 * CHUNK, dtype=np.float32)
        for part in range(8):
            shift = (part & 1) + ((part >> 1) & 1) * nx + (part >> 2) * nxy
            chunks.read_cells(f, at, child, first, n, shift, s)
            if part == 7:
                chunks.ask_for_cells(f, at, child, first + CHUNK, CHUNK, 0)
            elif part & 1:  # the next row's: the two cells side by side come together
                row = ((part + 1) >> 1 & 1) * nx + ((part + 1) >> 2) * nxy
                chunks.ask_for_cells(f, at, child, first, n, row)
            chunks.moments_of(s, n, m)
            for c in range(10 * CHUNK):
                mean[c] += _F(0.125) * m[c]
        chunks.rescaling_of(mean, n, tau0, tau0_coarse, _F(2), c2, factor)
        chunks.populations_of(mean, factor, n, s)
        chunks.write_cells(coarse, coarse_at, where, first, n, 0, s)


@compiled(parallel=True)
def probe(f, at, where, out, row):
    """Write density less one and velocity of the cells named into row `row`."""
    for m in prange(where.size):
        a = _moments_at(f, at, where[m])
        v = _F(1) / (_F(1) + a[0])
        o = 4 * (row * where.size + m)
        out[o], out[o + 1], out[o + 2], out[o + 3] = a[0], a[1] * v, a[2] * v, a[3] * v


@compiled(parallel=True)
def collect(f, at, size, sums):
    """Add density less one, velocity and speed of every cell to running sums."""
    for c in prange(size):
        a = _moments_at(f, at, np.int64(c))
        v = _F(1) / (_F(1) + a[0])
        x, y, z = a[1] * v, a[2] * v, a[3] * v
        sums[c] += a[0]
        sums[size + c] += x
        sums[2 * size + c] += y
        sums[3 * size + c] += z
        sums[4 * size + c] += sqrt(x * x + y * y + z * z)

"""Hold a run of cells in the processor's nearest cache: read them, work on all at once, write them back.

Computes: `cells` on CHUNK cells side by side, direction by direction, so that the compiler makes vectors of them.
Units: lattice units.
Source: as `cells`.
Limits: populations are in rows of CHUNK single-precision numbers, moments too; `n` is how many of a row count.
"""
# mypy: disable-error-code="no-untyped-def,no-untyped-call"
# ruff: noqa: ANN001, ANN201, PLR0917

from __future__ import annotations

import numpy as np

from canvas.wind.flow import cells
from canvas.wind.flow.compiled import compiled
from canvas.wind.flow.lines import LINE, ask_for

CHUNK = 128
_LINE = np.uint64(LINE)
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
def collide(s, begin, tau0, c2):
    """Relax the populations of a line of cells of a chunk in place, from `begin` on."""
    for index in range(_LINE):
        i = np.uint64(begin) + index
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


@compiled
def moments_of(s, n, m):
    """Write the ten moments of `n` cells in a chunk."""
    for index in range(n):
        i = np.uint64(index)
        a = _moments(
            s[i], s[i + _O1], s[i + _O2], s[i + _O3], s[i + _O4], s[i + _O5], s[i + _O6], s[i + _O7], s[i + _O8],
            s[i + _O9], s[i + _O10], s[i + _O11], s[i + _O12], s[i + _O13], s[i + _O14], s[i + _O15], s[i + _O16],
            s[i + _O17], s[i + _O18],
        )
        m[i], m[i + _O1], m[i + _O2], m[i + _O3], m[i + _O4] = a[0], a[1], a[2], a[3], a[4]
        m[i + _O5], m[i + _O6], m[i + _O7], m[i + _O8], m[i + _O9] = a[5], a[6], a[7], a[8], a[9]


@compiled
def populations_of(m, factor, n, s):
    """Write the populations of `n` cells whose stress is that of their moments times a factor."""
    for index in range(n):
        i = np.uint64(index)
        k = factor[i]
        p = _populations(
            m[i], m[i + _O1], m[i + _O2], m[i + _O3], k * m[i + _O4], k * m[i + _O5], k * m[i + _O6], k * m[i + _O7],
            k * m[i + _O8], k * m[i + _O9],
        )
        s[i], s[i + _O1], s[i + _O2], s[i + _O3], s[i + _O4], s[i + _O5] = p[0], p[1], p[2], p[3], p[4], p[5]
        s[i + _O6], s[i + _O7], s[i + _O8], s[i + _O9], s[i + _O10] = p[6], p[7], p[8], p[9], p[10]
        s[i + _O11], s[i + _O12], s[i + _O13], s[i + _O14] = p[11], p[12], p[13], p[14]
        s[i + _O15], s[i + _O16], s[i + _O17], s[i + _O18] = p[15], p[16], p[17], p[18]


@compiled
def rescaling_of(m, n, tau0, tau0_there, ratio, c2, factor):
    """Write what turns the stress of `n` cells into that of a grid with another step."""
    for index in range(n):
        i = np.uint64(index)
        factor[i] = _rescaling(
            m[i], m[i + _O4], m[i + _O5], m[i + _O6], m[i + _O7], m[i + _O8], m[i + _O9], tau0, tau0_there, ratio, c2
        )


@compiled
def read_cells(f, at, where, first, n, shift, s):
    """Read the cells that lie `shift` on from those named from `first` on into a chunk."""
    named = np.uint64(first)
    for q in range(19):
        begin, to = np.uint64(at[q] + shift), np.uint64(q * CHUNK)
        for i in range(np.uint64(n)):
            s[to + i] = f[begin + np.uint64(where[named + i])]


@compiled
def ask_for_cells(f, at, where, first, n, shift):
    """Ask for the cells that `read_cells` will read, so that they come while others are worked on."""
    named, after = np.uint64(first), np.uint64(min(first + n, where.size))
    for q in range(19):
        begin = np.uint64(at[q] + shift)
        for i in range(named, after):
            ask_for(f, begin + np.uint64(where[i]))


@compiled
def write_cells(f, at, where, first, n, shift, s):
    """Write a chunk to the cells that lie `shift` on from those named from `first` on."""
    named = np.uint64(first)
    for q in range(19):
        begin, out = np.uint64(at[q] + shift), np.uint64(q * CHUNK)
        for i in range(np.uint64(n)):
            f[begin + np.uint64(where[named + i])] = s[out + i]


@compiled(inline=True)
def room():
    """Return room for the populations, the moments and a factor of a chunk."""
    return np.empty(19 * CHUNK, np.float32), np.zeros(10 * CHUNK, np.float32), np.empty(CHUNK, np.float32)

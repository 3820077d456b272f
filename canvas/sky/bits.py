"""Keep what stands in the way as bits, and multiply the shares that pass.

Computes: yes and no packed eight to a byte along the last axis; by point and direction, the product of the shares that
    everything in the way lets through.
Units: shares 0..1.
Source: none.
Limits: single precision, as enough for shares.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from canvas.geometry.surface import Bools
from canvas.jobs.compiled import compiled

Bytes = npt.NDArray[np.uint8]
Shares = npt.NDArray[np.float32]

ALL_BYTES = np.arange(256, dtype=np.uint8)[:, None]


def packed(met: Bools) -> Bytes:
    """Return yes and no (`met`, (n, d)) packed into (n, ceil(d / 8)) bytes that cannot be written to."""
    found = np.packbits(met, axis=1)
    found.setflags(write=False)
    return found


def unpacked(bits: Bytes, size: int) -> Bools:
    """Return what was packed, (n, size)."""
    return np.unpackbits(bits, axis=1, count=size).view(np.bool_)


def shares_passing(bits: Sequence[Bytes], shares: Sequence[float], *, size: int) -> Shares:
    """Return the share that reaches each point from each direction past everything in the way, (n, size).

    Parameters
    ----------
    bits : sequence of (n, b) ndarray of uint8
        For each thing, whether it stands in the way.
    shares : sequence of float
        What each lets through.
    size : int
        Directions.
    """
    shut = np.zeros_like(bits[0])
    for one, share in zip(bits, shares, strict=True):
        if share == 0.0:
            shut |= one
    partly = [(one, share) for one, share in zip(bits, shares, strict=True) if 0.0 < share < 1.0]
    every = np.stack([shut, *(one for one, _ in partly)])
    kept = np.array([0.0, *(share for _, share in partly)])
    let_through = np.float32(1.0) - (1.0 - kept).astype(np.float32)[:, None, None] * unpacked(ALL_BYTES, 8)
    passing = np.empty((len(shut), 8 * shut.shape[1]), dtype=np.float32)
    _multiply(every, let_through, passing)
    return passing[:, :size]


@compiled
def _multiply(bits: Bytes, let_through: Shares, passing: Shares) -> None:
    """Fill in the product over the casters of what each lets through, given for every byte that its bits can make."""
    for row in range(bits.shape[1]):
        for place in range(bits.shape[2]):
            byte = bits[0, row, place]
            for bit in range(8):
                passing[row, 8 * place + bit] = let_through[0, byte, bit]
            for caster in range(1, len(bits)):
                byte = bits[caster, row, place]
                if byte:
                    for bit in range(8):
                        passing[row, 8 * place + bit] *= let_through[caster, byte, bit]

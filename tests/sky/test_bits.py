"""Hold packed bits to what was packed, and the share that passes to the plain product over what stands in the way."""

from __future__ import annotations

import numpy as np
import pytest

from canvas.sky import bits
from canvas.sky.bits import packed, shares_passing, unpacked


@pytest.mark.analytic
@pytest.mark.parametrize("size", [1, 7, 8, 9, 64, 101])
def test_bits_come_back_as_they_were_packed(size):
    met = np.random.default_rng(size).random((5, size)) < 0.4
    bits = packed(met)
    assert bits.shape == (5, -(-size // 8))
    assert not bits.flags.writeable
    assert np.array_equal(unpacked(bits, size), met)
    assert bits[0, 0] == sum(1 << (7 - k) for k in range(min(size, 8)) if met[0, k])
    assert np.array_equal(packed(np.ones((1, size), dtype=bool)).ravel()[: size // 8], np.full(size // 8, 255))


@pytest.mark.analytic
@pytest.mark.parametrize("shares", [
    (0.0,), (1.0,), (0.25,), (0.0, 0.0), (0.5, 0.25), (1.0, 0.125, 0.0), (0.75, 0.0, 0.5, 1.0, 0.25, 0.0),
    (0.001, 0.999),
])  # fmt: skip
def test_what_passes_is_the_product_of_what_each_lets_through(shares):
    met = np.random.default_rng(len(shares)).random((len(shares), 6, 37)) < 0.45
    found = shares_passing([packed(one) for one in met], shares, size=37)
    expected = np.prod([np.where(one, share, 1.0) for one, share in zip(met, shares, strict=True)], axis=0)
    assert found.shape == (6, 37)
    assert found.dtype == np.float32
    assert np.abs(found - expected).max() <= len(shares) * np.finfo(np.float32).eps
    assert np.array_equal(found == 0.0, expected == 0.0)


@pytest.mark.analytic
def test_every_byte_stands_for_its_eight_directions():
    every = (np.arange(256)[:, None] >> np.arange(7, -1, -1)) & 1
    found = shares_passing([packed(every.astype(bool)), packed(every[::-1].astype(bool))], (0.5, 0.25), size=8)
    assert np.array_equal(found, np.where(every, 0.5, 1.0) * np.where(every[::-1], 0.25, 1.0))


@pytest.mark.behaviour
def test_bits_are_not_changed_and_a_share_too_few_is_refused():
    shut = packed(np.eye(9, dtype=bool))
    kept = shut.copy()
    shares_passing([shut, shut], (0.0, 0.0), size=9)
    assert np.array_equal(shut, kept)
    with pytest.raises(ValueError, match="zip"):
        shares_passing([shut, shut], (0.0,), size=9)


@pytest.mark.analytic
def test_the_loop_keeps_within_its_arrays(monkeypatch):
    """Compiled code does not look where it writes; plain Python does."""
    monkeypatch.setattr(bits, "_multiply", bits._multiply.py_func)
    met = np.random.default_rng(3).random((3, 2, 16)) < 0.5
    found = shares_passing([packed(one) for one in met], (0.0, 0.5, 0.25), size=16)
    assert np.array_equal(found, np.where(met[0], 0.0, np.where(met[1], 0.5, 1.0) * np.where(met[2], 0.25, 1.0)))

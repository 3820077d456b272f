"""Tell rows of whole numbers apart as numpy does."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from canvas.arrays import distinct

numbers = st.integers(min_value=-(2**30), max_value=2**30)


@pytest.mark.property
@given(st.lists(st.tuples(numbers, st.integers(min_value=-3, max_value=3)), min_size=1, max_size=60))
def test_pairs_are_told_apart_as_numpy_tells_rows(rows):
    pairs = np.array(rows, dtype=np.int64)
    wanted, which, count = np.unique(pairs, axis=0, return_inverse=True, return_counts=True)
    found = distinct(pairs)
    assert np.array_equal(found[0], wanted)
    assert np.array_equal(found[1], which.ravel())
    assert np.array_equal(found[2], count)


@pytest.mark.behaviour
def test_no_pairs_are_none():
    rows, which, count = distinct(np.zeros((0, 2), dtype=np.int64))
    assert rows.shape == (0, 2)
    assert (len(which), len(count)) == (0, 0)

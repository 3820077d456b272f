"""Name the arrays that results hold, and lock them.

Computes: nothing.
Units: none.
Source: none.
Limits: none.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]


def locked(array: npt.ArrayLike, *, dtype: type = np.float64) -> Any:
    """Return a read-only contiguous copy of `array`, of the same shape."""
    copy: npt.NDArray[Any] = np.array(array, dtype=dtype, order="C")
    copy.setflags(write=False)
    return copy

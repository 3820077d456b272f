"""Compile number loops, and keep the machine code where a folder for it can be written.

Computes: nothing; one decorator.
Units: none.
Source: numba.
Limits: no fastmath and no parallel reduction: same input, same bytes; other threads go on meanwhile. A division by zero
    gives infinity, as in numpy.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numba


def compiled(function: Callable[..., Any]) -> Any:
    """Return `function` compiled at its first call; its machine code is kept on disk where that can be written."""
    try:
        return numba.njit(cache=True, error_model="numpy", nogil=True)(function)
    except RuntimeError:  # numba finds no folder for its cache
        return numba.njit(error_model="numpy", nogil=True)(function)

"""Compile a function for the processor, kept on disk where a place for it can be found.

Computes: nothing; one wrapper round numba.
Units: none.
Source: numba documentation, "Compilation options".
Limits: where no folder can be written (no home, read-only program folder) functions are compiled anew in each process;
    numba looks at a function's own file alone, so remove `*.nbi` after a change to what it calls in another.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, ParamSpec, TypeVar

from numba import njit

P = ParamSpec("P")
R = TypeVar("R")


def compiled(
    function: Callable[P, R] | None = None, *, parallel: bool = False, fast: bool = True, inline: bool = False
) -> Any:
    """Return `function` compiled to machine code; usable as a decorator with or without arguments.

    Parameters
    ----------
    function : callable
        Python that numba understands.
    parallel : bool
        Whether its `prange` loops run on all threads.
    fast : bool
        Whether sums may be reordered.
    inline : bool
        Whether it is merged into whatever calls it.
    """
    if function is None:
        return lambda real: compiled(real, parallel=parallel, fast=fast, inline=inline)
    options: dict[str, Any] = {"parallel": parallel, "fastmath": fast, "forceinline": inline}
    options |= {"error_model": "numpy", "nogil": True}
    try:
        return njit(cache=True, **options)(function)
    except RuntimeError:
        return njit(**options)(function)

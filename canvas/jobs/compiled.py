"""Compile number loops, and keep the machine code where a folder for it can be written.

Computes: nothing; one decorator.
Units: none.
Source: numba documentation, "Compilation options" and "Environment variables"; LLVM, X86 tuning flag `prefer-256-bit`.
Limits: neither fastmath nor parallel unless asked for: same input, same bytes; other threads go on meanwhile. A
    division by zero gives infinity, as in numpy. Where no folder can be written (no home, read-only program folder)
    functions are compiled anew in each process. numba looks at a function's own file alone, so remove `*.nbi` after a
    change to what it calls in another.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import llvmlite.binding  # type: ignore[import-untyped]
import numba

FUSED = {"contract", "nnan", "ninf", "nsz", "arcp"}  # LLVM's names of liberties that do not depend on when it is asked


def _widest_vectors() -> None:
    """Let loops use vectors of 512 bits where the processor does not slow down for them; LLVM keeps to half of that."""
    try:
        features = llvmlite.binding.get_host_cpu_features()
    except RuntimeError:  # LLVM does not know the processor, and numba compiles for any of its kind
        return
    settings: Any = numba.config
    chosen = settings.CPU_NAME or settings.CPU_FEATURES or not settings.ENABLE_AVX
    if features.get("avx512vbmi2") and not chosen:  # those before it slow down
        settings.CPU_FEATURES = f"{features.flatten()},-prefer-256-bit"


_widest_vectors()  # before numba compiles anything: it reads them once


def compiled(
    function: Callable[..., Any] | None = None, *, parallel: bool = False, fast: bool = False, inline: bool = False
) -> Callable[..., Any]:
    """Return `function` compiled at its first call; usable as a decorator with or without arguments.

    Parameters
    ----------
    function : callable
        Python that numba understands.
    parallel : bool
        Whether its `prange` loops run on all threads.
    fast : bool
        Whether products and sums may be fused. Sums are never reordered: code just compiled and code that was kept
        would do it each in its own way.
    inline : bool
        Whether it is merged into whatever calls it.
    """
    if function is None:
        return lambda real: compiled(real, parallel=parallel, fast=fast, inline=inline)
    options: dict[str, Any] = {"parallel": parallel, "fastmath": FUSED if fast else False, "forceinline": inline}
    options |= {"error_model": "numpy", "nogil": True}
    try:
        quick: Callable[..., Any] = numba.njit(cache=True, **options)(function)
    except RuntimeError:  # numba finds no folder for its cache
        quick = numba.njit(**options)(function)
    return quick

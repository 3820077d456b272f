"""Compile the flow's loops as all others are, but with products and sums fused: speed before the last bit.

Computes: nothing; one decorator.
Units: none.
Source: none.
Limits: those of `canvas.jobs.compiled`.
"""

from __future__ import annotations

from functools import partial

from numba import config

from canvas.jobs.compiled import compiled as exactly_compiled

# OpenMP's threads stand ready for the next loop; those of the layer numba takes first fall asleep, and the loop of a
# small grid is over before they wake.
setattr(config, "THREADING_LAYER_PRIORITY", ["omp", "tbb", "workqueue"])  # noqa: B010 - not among numba's typed names

compiled = partial(exactly_compiled, fast=True)

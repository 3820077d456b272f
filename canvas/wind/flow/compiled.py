"""Compile the flow's loops as all others are, but with products and sums fused: speed before the last bit.

Computes: nothing; one decorator.
Units: none.
Source: none.
Limits: those of `canvas.jobs.compiled`.
"""

from __future__ import annotations

from functools import partial

from canvas.jobs.compiled import compiled as exactly_compiled

compiled = partial(exactly_compiled, fast=True)

"""Check that a flow comes out the same to the last bit, from code just compiled and from code that was kept."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

MARCHED = """
import hashlib
import numpy as np
from canvas.wind.flow.grid import nest
from canvas.wind.flow.solver import Flow
from tests.wind.flow_cases import plate

grids = nest(np.zeros(3), np.full(3, 24.0), [(np.full(3, 6.0), np.full(3, 18.0))], cell=1.0, sea=False)
flow = Flow(grids, [plate(0, 11.3, (9.0, 9.0), (15.0, 15.0))], wind=lambda z: np.tile([0.08, 0.01], (len(z), 1)),
            viscosity=1e-4, sponge=4.0, noise=0.02, device="cpu")
flow.advance(20)
flow.collect()
print(*(hashlib.sha256(read(number).tobytes()).hexdigest() for read in (flow.now, flow.mean) for number in (0, 1)))
"""


@pytest.mark.slow
@pytest.mark.behaviour
def test_flow_has_the_same_bits_when_just_compiled_and_after(tmp_path):
    told = [
        subprocess.run(
            [sys.executable, "-c", MARCHED], capture_output=True, text=True, check=True, timeout=500,
            env={**os.environ, "NUMBA_CACHE_DIR": str(tmp_path)},
        ).stdout
        for _ in range(3)
    ]  # fmt: skip
    assert len(told[0].split()) == 4
    assert len(set(told[0].split())) == 4
    assert told[1] == told[0]
    assert told[2] == told[0]

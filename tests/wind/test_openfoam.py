"""The thin fence by another program, OpenFOAM, in the same domain on cells as fine."""

from __future__ import annotations

import numpy as np
import pytest

from tests.benchmarks.flow import laminar, openfoam
from tests.wind.flow_cases import plate

CELLS, MEAN = 24, 0.03


@pytest.mark.slow
@pytest.mark.property
@pytest.mark.skipif(not openfoam.available(), reason="Debian's openfoam is not installed")
def test_thin_fence_as_by_openfoam_outside_the_recirculation(tmp_path):
    """Speed over that in the gap within 0.10, up to the fence and from where both flows lie on the wall again."""
    theirs = openfoam.on_grid(*openfoam.solve(tmp_path, CELLS), CELLS)
    tall, rear = round(openfoam.TALL * CELLS), round(openfoam.AHEAD * CELLS)
    length = theirs.shape[1]
    sheet = plate(0, float(rear), (-5.0, -5.0), (9.0, float(tall)))
    held = laminar.Channel(
        length, CELLS, [sheet], profile=laminar.parabola(0.0, CELLS, MEAN), mean=MEAN,
        viscosity=MEAN * tall / openfoam.REYNOLDS, device="cpu",
    )  # fmt: skip
    held.until_steady(chunk=5000, most=16)
    ours = held.flow.now(0)[1, 2 : CELLS + 2, 1, 1:-1].astype(float) / MEAN
    where = (np.arange(length) + 0.5 - rear) / tall
    away = np.abs(ours - theirs) * (1.0 - openfoam.TALL)
    for part in (where < -0.2, where > 6.0):
        assert away[:, part].max() < 0.10
        assert away[:, part].mean() < 0.05

"""Run what is compiled once more as plain Python on tiny grids: the same numbers, whoever reads the code."""

import json
import os
import subprocess
import sys

import numpy as np
import pytest

from tests.whole.boats import ROOT

TINY = """
import json, sys
import numba, numpy as np
numba.set_num_threads(1)
found = {}

from canvas.wind.flow.grid import Region, nest
from canvas.wind.flow.solver import Flow
from tests.wind.flow_cases import box, plate
fine = Region.over(np.array([(3, 5), (5, 3), (8, 5), (7, 7)], dtype=float), 0.0, 5.0)
grids = nest(np.zeros(3), np.array([12.0, 10.0, 8.0]), [fine], cell=1.0)
things = [plate(0, 5.2, (3.6, 0.6), (6.4, 3.1), loss=3.0), box((6.3, 4.2, 0.5), (7.2, 5.8, 2.2))]
flow = Flow(grids, things, wind=lambda heights: np.tile([0.06, 0.01], (len(heights), 1)), viscosity=1e-3,
            floor=(0, 0), noise=0.0, device="cpu")
flow.advance(2)
for number in range(len(grids)):
    now = flow.now(number)
    found[f"flow {number}"] = [float(now[k, 1:-1, 1:-1, 1:-1].std()) for k in range(len(now))]

from canvas.wind.flow.march import Probes
flow = Flow(nest(np.zeros(3), np.full(3, 7.0), [], cell=1.0), [plate(0, 3.15, (1.4, 0.0), (4.2, 3.5), loss=2.0)],
            wind=lambda heights: np.tile([0.06, 0.01], (len(heights), 1)), viscosity=5e-3, floor=(0.02, 0.0), grip=0.5,
            periodic=(1,), sponge=2.0, device="cpu")
probes = Probes(flow, np.array([[3.5, 3.5, 2.1], [3.2, 3.8, 1.8]]), rows=1)
flow.advance(2)
flow.collect()
probes.read()
found["repeated sides and sponge"] = [float(part.std()) for part in (*flow.now(0), *flow.mean(0))]
found["probes"] = probes.series().ravel().tolist()
found["pull on a screen"] = flow.force().ravel().tolist()

from canvas.cloth.material import relaxed
found["wrinkling"], states = [], set()
for strain in np.random.default_rng(3).uniform(-0.01, 0.01, size=(60, 3)):
    stress, tangent = np.empty(3), np.empty((3, 3))
    state, work = relaxed(*strain, np.array([24e3, 15e3, 5e3, 2e3]), stress, tangent)
    states.add(int(state))
    found["wrinkling"] += [*stress.tolist(), *(tangent.ravel() / 1e3).tolist(), float(state), float(work)]
assert states == {0, 1, 2}  # taut, wrinkled and slack

from tests.cloth.cloth_shapes import sheet, square
from canvas.cloth.elastic import settle
from canvas.cloth.membrane import Loads
vertices, faces, rim = square(4, 1.0)
settled = settle(sheet(vertices, faces, rim, stiffness=20_000.0, nu=0.3, prestress=(50.0, 50.0, 0.0)), vertices,
                 loads=Loads(pressure=np.full(len(faces), 40.0)))
found["cloth"] = settled.vertices[~rim].ravel().tolist()

from canvas.cloth.ruled import ruled_faces, unrolled
turn = np.linspace(0, np.pi, 5)
ring = np.vstack([np.c_[turn, 0 * turn, np.sin(turn)], np.c_[turn[::-1], 1 + 0 * turn, 0.5 * np.sin(turn[::-1])]])
faces = ruled_faces(ring)
found["ruled"] = [float(np.abs(unrolled(ring, faces)).sum()), *map(float, np.sort(faces, axis=None))]

from canvas.cutting.nest import nest_outlines
outlines = [np.array([[0, 0], [a, 0], [a, b], [0.3 * a, 1.2 * b]]) for a, b in ((0.8, 0.3), (0.5, 0.5), (0.4, 0.2))]
found["nest"] = [float(nest_outlines(outlines, width=0.9).length)]
print(json.dumps(found))
"""


def numbers(**more):
    done = subprocess.run(
        [sys.executable, "-c", TINY], cwd=ROOT, capture_output=True, text=True, check=False, env={**os.environ, **more}
    )
    assert done.returncode == 0, done.stderr[-3000:]
    return json.loads(done.stdout)


@pytest.mark.property
def test_kernels_give_the_same_as_plain_python():
    compiled, plain = numbers(), numbers(NUMBA_DISABLE_JIT="1")
    assert set(compiled) == set(plain)
    for what, values in compiled.items():
        assert np.allclose(values, plain[what], rtol=1e-4, atol=1e-7), what
        assert np.abs(values).max() > 0.0, what

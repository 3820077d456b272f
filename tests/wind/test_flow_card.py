"""The flow on a graphics card, played by numba's simulator: the processor's field, and what is said where it fails."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from functools import partial
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from canvas import verbs
from canvas.cli import app
from canvas.jobs.failure import CouldNot
from canvas.verbs import flow as flows
from canvas.wind.flow import backend as backends
from canvas.wind.flow import runner as runners
from canvas.wind.flow.backend import CardFailed, Processor, backend, takes_card
from canvas.wind.flow.run import rose
from canvas.wind.flow.runner import Conditions
from tests.wind.flow_cases import small_scene

ROOT = Path(__file__).parents[2]
WIND = Conditions(aws=8.0, instrument_height=12.0)
BRIEF = {"angles": [0.0], "coarse": 0.3, "fine": None, "settle": 0.04, "average": 0.03}
BOTH = """
import json, sys
import numpy as np
from canvas.wind.flow.grid import Region, nest
from canvas.wind.flow.march import Probes
from canvas.wind.flow.solver import Flow
from tests.wind.flow_cases import plate

side, steps, nested = json.loads(sys.argv[1])
aslant = Region.over(np.array([(2.4, 4), (4, 2.4), (6.6, 5), (5, 6.6)]), 0.0, 4.0)
grids = nest(np.zeros(3), np.full(3, float(side)), [aslant] if nested else [], cell=1.0)
sheets = [
    plate(0, 0.45 * side, (0.2 * side, 0), (0.6 * side, 0.5 * side), loss=2.0),
    plate(0, 0.6 * side, (0.3 * side, 0), (0.8 * side, 0.4 * side)),
]
points = np.array([[0.5, 0.5, 0.3], [0.45, 0.55, 0.25]]) * side
told = {}

def own(number, field):  # layers round it are filled anew before they are used: between, they are nobody's
    return field[:, grids[number].known(*grids[number + 1 : number + 2])]

for device in ("cpu", "card"):
    flow = Flow(
        grids, sheets, wind=lambda z: np.tile([0.06, 0.01], (len(z), 1)), viscosity=0.005, floor=(0.02, 0.0), grip=0.5,
        periodic=(1,), sponge=2.0, device=device,
    )
    probes = Probes(flow, points, rows=1)
    flow.advance(steps)
    flow.collect()
    probes.read()
    fields = [own(k, of(k)) for of in (flow.now, flow.mean) for k in range(len(grids))]
    told[device] = flow.device.name, fields, flow.force(), probes.series()
gap = max(float(np.abs(a - b).max()) for a, b in zip(told["cpu"][1], told["card"][1], strict=True))
print(json.dumps({
    "names": [told["cpu"][0], told["card"][0]], "gap": gap,
    "fastest": float(np.abs(told["cpu"][1][0][1:]).max()),
    "changed": float(np.abs(told["cpu"][1][0][1] - 0.06).max()),
    "force": float(np.abs(told["cpu"][2] - told["card"][2]).max() / np.abs(told["cpu"][2]).max()),
    "probes": float(np.abs(told["cpu"][3] - told["card"][3]).max()),
}))
"""


def simulated(code, *words):
    env = {**os.environ, "NUMBA_ENABLE_CUDASIM": "1", "NUMBA_NUM_THREADS": "1"}
    done = subprocess.run(
        [sys.executable, "-c", code, *words], capture_output=True, text=True, env=env, cwd=ROOT, check=False
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


@pytest.mark.slow
@pytest.mark.property
@pytest.mark.parametrize(("side", "steps", "nested"), [(5, 200, False), (9, 8, True)])
def test_card_gives_the_field_of_the_processor_to_single_precision(side, steps, nested):
    """Single precision holds numbers of 0.1 to 4e-9 and sums of nineteen to some 3e-8: noise is a few such."""
    told = json.loads(simulated(BOTH, json.dumps([side, steps, nested])))
    assert told["names"] == ["cpu", "cuda"]
    assert told["fastest"] > 0.05
    assert told["changed"] > 0.01  # the sheets turn the wind
    assert told["gap"] < 2e-7
    assert told["probes"] < 2e-7
    assert told["force"] < 1e-5


@pytest.mark.behaviour
def test_simulator_counts_as_a_card_only_where_a_card_is_asked_for():
    code = "from canvas.wind.flow.backend import takes_card as t; print(t('auto'), t('cpu'), t('card'))"
    assert simulated(code).split() == ["False", "False", "True"]


@pytest.mark.behaviour
def test_without_a_card_the_processor_is_taken_and_a_note_says_so(monkeypatch, tmp_path):
    monkeypatch.setattr(backends, "has_card", lambda: False)
    assert isinstance(backend("card"), Processor)
    assert not takes_card("auto")
    asked = rose([small_scene()], WIND, device="card", folder=tmp_path, **BRIEF)
    assert (asked.device, asked.no_card) == ("cpu", "there is none that numba can use")
    left = rose([small_scene()], WIND, device="auto", folder=tmp_path, **BRIEF)
    assert (left.device, left.no_card) == ("cpu", None)


@pytest.mark.behaviour
def test_card_that_fails_on_the_way_hands_over_to_the_processor(monkeypatch, tmp_path):
    """A card with no memory left: the run is done again on the processor, nothing is asked."""
    tried = []

    class Full(Processor):
        name = "cuda"

        def array(self, values):
            tried.append(len(np.ravel(values)))
            raise CardFailed("out of memory")

    monkeypatch.setattr(backends, "has_card", lambda: True)
    monkeypatch.setattr(backends, "Card", Full)
    found = rose([small_scene(), small_scene(screen=True)], WIND, device="auto", folder=tmp_path, **BRIEF)
    assert len(tried) == 1  # once, not for every set
    assert found.device == "cpu"
    assert found.no_card == "it failed: out of memory"
    own = rose([small_scene(), small_scene(screen=True)], WIND, device="cpu", folder=tmp_path / "own", **BRIEF)
    assert found.angles[0].wind["screen"].speed_ratio == own.angles[0].wind["screen"].speed_ratio


@pytest.mark.behaviour
def test_unstable_flow_is_not_taken_for_a_card_that_failed(monkeypatch, tmp_path):
    def wild(*_, **__):
        raise CouldNot("The air flow became unstable.", "Use a smaller cell.")

    monkeypatch.setattr(runners, "march", wild)
    with pytest.raises(CouldNot, match="unstable"):
        rose([small_scene()], WIND, device="cpu", folder=tmp_path, **BRIEF)


@pytest.mark.behaviour
def test_verb_and_command_line_say_where_the_flow_ran(monkeypatch, tmp_path):
    monkeypatch.setattr(backends, "has_card", lambda: False)
    monkeypatch.setattr(flows, "rose", partial(rose, settle=0.01, average=0.03, folder=tmp_path))
    boat = str(ROOT / "examples" / "marrowgrass.toml")
    answer = verbs.vane(boat, method="flow", sets=["hood and bimini"], awa=[np.pi], cell=0.3, device="card")
    assert answer.record()["device"] == "cpu"
    (note,) = answer.problems
    assert note.code == "no-card"
    assert "processor did the work" in note.wanted
    words = ["vane", boat, "--method", "flow", "--set", "hood and bimini", "--awa", "180", "--cell", "30 cm"]
    said = CliRunner().invoke(app, [*words, "--device", "card"])
    assert said.exit_code == 0
    assert "on the processor" in said.stderr
    assert "no graphics card" in said.output
    wrong = CliRunner().invoke(app, [*words, "--device", "gpu"])
    assert wrong.exit_code == 2
    assert "--device" in wrong.output

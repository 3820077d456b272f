"""Readings typed into a design come back as a bent panel, its edges, and a list of what changed."""

from pathlib import Path

import numpy as np
import pytest

from canvas.asbuilt.built import as_built, measured_panels
from canvas.cloth.rigging import Rigging
from canvas.design.problems import DesignError
from canvas.design.reading import parse_design
from canvas.geometry.model import build_model

EXAMPLE = Path(__file__).parents[2] / "examples" / "oddfellow.toml"
PANEL = "watch tent roof"
MM = 0.001


def _rigging(text):
    return Rigging(build_model(parse_design(text, file="boat.toml", folder=EXAMPLE.parent)))


@pytest.fixture(scope="module")
def text():
    return EXAMPLE.read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def designed(text):
    rigging = _rigging(text)
    spec = rigging.model.design.panel_named(PANEL)
    return rigging, rigging.rig(rigging.model.design.home_set(spec)).formed.panel(PANEL)


def _with_marks(text, spots, readings):
    marks = "".join(
        f'{name} = ["{x:.4f} m", "{y:.4f} m", "{z:.4f} m"]\n' for name, (x, y, z) in spots.items()
    )
    return text.replace("[marks]\n", "[marks]\n" + marks).replace("reading = [\n", "reading = [\n" + "".join(readings))


def _tape(a, b, length):
    return f'  {{ kind = "tape", from = "{a}", to = "{b}", length = "{length:.4f} m", panel = "{PANEL}" }},\n'


@pytest.fixture(scope="module")
def built(text, designed):
    """The starboard hem hangs 40 mm lower and 20 mm outboard at its middle; read with four tapes, to a millimetre."""
    rigging, shape = designed
    hem = shape.edge_vertices[1]
    middle = shape.vertices[hem[len(hem) // 2]]
    true = middle + np.array([0.0, 0.02, -0.04])
    boat = ("sole_forward", "sole_aft", "bulkhead_stbd", "tent_foot_stbd", "hood_foot_stbd")
    marks = rigging.model.marks
    readings = [_tape(name, "hem_middle", round(float(np.linalg.norm(marks.at(name) - true)), 3)) for name in boat]
    changed = _rigging(_with_marks(text, {"hem_middle": middle}, readings))
    assert measured_panels(changed) == (PANEL,)
    return as_built(changed, PANEL), shape, true


@pytest.mark.behaviour
def test_panel_hangs_where_it_was_measured(built):
    found, _, true = built
    moved, = found.moved
    assert moved.name == "hem_middle"
    assert found.bent.measured[0] == pytest.approx(true, abs=4 * moved.sd)
    assert moved.by == pytest.approx([0.0, 0.02, -0.04], abs=4 * moved.sd)
    assert moved.sd < 8 * MM
    assert 30 * MM < found.largest < 70 * MM
    assert found.bent.honoured


@pytest.mark.behaviour
def test_tubes_other_canvas_and_fittings_stay(built):
    found, shape, _ = built
    for edge in (0, 2):
        line = shape.edge_vertices[edge]
        assert np.array_equal(found.shape.vertices[line], shape.vertices[line])
    assert np.array_equal(found.shape.faces, shape.faces)


@pytest.mark.behaviour
def test_changes_are_listed_edge_by_edge_and_reading_by_reading(built):
    found, shape, _ = built
    assert [edge.name for edge in found.edges] == ["forward", "starboard", "aft", "port"]
    for change, old in zip(found.edges, shape.edges, strict=True):
        assert (change.length_designed, change.hollow_designed) == (old.length, old.hollow)
    starboard = found.edges[1]
    assert abs(starboard.length - starboard.length_designed) < 10 * MM
    assert starboard.hollow < starboard.hollow_designed - 10 * MM
    assert found.edges[0].length == pytest.approx(found.edges[0].length_designed, abs=1e-9)
    assert len(found.readings) == 5
    assert all(abs(change.residual) < 6 * MM for change in found.readings)
    assert max(abs(change.read - change.designed) for change in found.readings) > 20 * MM
    assert found.readings[0].name == "tape sole_forward to hem_middle"


@pytest.mark.behaviour
def test_readings_that_touch_no_mark_on_the_panel_are_named(text):
    rigging = _rigging(_with_marks(text, {}, [_tape("sole_forward", "sole_aft", 1.881)]))
    with pytest.raises(DesignError, match=r"boat.toml:\d+: reading\[0\]: found readings on .* touch no mark on it"):
        as_built(rigging, PANEL)

"""Readings typed into a design come back as a bent panel, its edges, and a list of what changed."""

import json
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from canvas import verbs
from canvas.asbuilt.built import as_built, boat_as_built, measured_panels
from canvas.cli import app
from canvas.cloth.lines import locate
from canvas.cloth.rigging import Rigging
from canvas.cutting.changes import changes_since
from canvas.design.problems import DesignError
from canvas.design.reading import parse_design
from canvas.geometry.model import build_model
from canvas.verbs.making import cut_result

EXAMPLE = Path(__file__).parents[2] / "examples" / "oddfellow.toml"
PANEL = "watch tent roof"
MM = 0.001


def _rigging(text):
    return Rigging(build_model(parse_design(text, file="boat.toml", folder=EXAMPLE.parent)))


def _rigging_as_built(text):
    return boat_as_built(build_model(parse_design(text, file="boat.toml", folder=EXAMPLE.parent))).rigging


@pytest.fixture(scope="module")
def text():
    return EXAMPLE.read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def designed(text):
    rigging = _rigging(text)
    spec = rigging.model.design.panel_named(PANEL)
    return rigging, rigging.rig(rigging.model.design.home_set(spec)).formed.panel(PANEL)


def _with_marks(text, spots, readings):
    marks = "".join(f'{name} = ["{x:.4f} m", "{y:.4f} m", "{z:.4f} m"]\n' for name, (x, y, z) in spots.items())
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
    (moved,) = found.moved
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


MARROWGRASS = EXAMPLE.with_name("marrowgrass.toml")
BOAT = (
    "coaming_fwd_port", "coaming_fwd_stbd", "coaming_aft_port", "coaming_aft_stbd", "pushpit_top_port",
    "pushpit_top_stbd",
)  # fmt: skip


def _mocked_up(text, panel, true, marks):
    """Return the design with six tapes to each corner as it hangs on board, read to the millimetre."""
    lines = "".join(
        f'  {{ kind = "tape", from = "{name}", to = "{corner}", '
        f'length = "{np.linalg.norm(marks.at(name) - place):.3f} m", panel = "{panel}" }},\n'
        for corner, place in true.items()
        for name in BOAT
    )
    first = text.index("\n[")
    return f"{text[:first]}\nreading = [\n{lines}]\n{text[first:]}"


@pytest.fixture(scope="module")
def lower(tmp_path_factory):
    """Both free corners of Marrowgrass's watch tent roof are rigged lower than designed; the file with the readings."""
    text = MARROWGRASS.read_text(encoding="utf-8")
    marks = build_model(parse_design(text, file="boat.toml", folder=EXAMPLE.parent)).marks
    true = {
        "tent_aft_port": marks.at("tent_aft_port") + np.array([0.02, -0.01, -0.06]),
        "tent_aft_stbd": marks.at("tent_aft_stbd") + np.array([0.0, 0.02, -0.05]),
    }
    file = tmp_path_factory.mktemp("lower") / "marrowgrass.toml"
    file.write_text(_mocked_up(text, PANEL, true, marks), encoding="utf-8")
    return file, true


@pytest.fixture(scope="module")
def as_designed():
    return verbs.rigging_of(MARROWGRASS)


@pytest.fixture(scope="module")
def cut_as_designed(as_designed, tmp_path_factory):
    """Return the parts of Marrowgrass as designed, and the folder of their files."""
    folder = tmp_path_factory.mktemp("designed")
    return next(iter(verbs.cut(as_designed, out=folder).results.values())), folder


@pytest.fixture(scope="module")
def lowered(lower):
    return verbs.rigging_of(lower[0])


@pytest.fixture(scope="module")
def cut_lowered(lowered):
    return cut_result(lowered)


@pytest.mark.behaviour
def test_every_verb_takes_the_panel_as_it_came_out(lower, lowered, as_designed):
    _, true = lower
    rigging = lowered
    roof = rigging.rig("wet watch").formed.panel(PANEL)
    corners = roof.vertices[[line[0] for line in roof.edge_vertices]]
    for place in true.values():
        assert np.linalg.norm(corners - place, axis=1).min() < 6 * MM
    assert np.array_equal(rigging.cut_shape(PANEL).vertices, roof.vertices)
    scene = rigging.rig("wet watch").scene
    cloth = np.vstack([s.vertices for s in scene.surfaces if s.panel == PANEL])
    assert np.abs(np.sort(cloth[:, 2])[:3] - np.sort(roof.vertices[:, 2])[:3]).max() < 1 * MM
    for name in as_designed.model.design.set_names():
        for old, new in zip(as_designed.rig(name).formed.panels, rigging.rig(name).formed.panels, strict=True):
            assert np.array_equal(old.vertices, new.vertices) == (new.name != PANEL)


@pytest.mark.behaviour
def test_patterns_follow_the_readings_and_the_changes_are_listed(lower, cut_lowered, cut_as_designed, tmp_path):
    file, _ = lower
    _, designed = cut_as_designed
    words = ["cut", str(file), "-o", str(tmp_path / "built"), "--against", str(designed), "--json"]
    record = json.loads(CliRunner().invoke(app, words).stdout)
    earlier = json.loads((designed / "parts.json").read_text(encoding="utf-8"))
    assert record["files"]
    changed = {part.name for part in changes_since(cut_lowered, designed).parts if part.what == "changed"}
    roof = {part["name"] for part in earlier["parts"] if part["name"].startswith(PANEL)}
    assert changed == roof, "only the roof is cut again"
    assert "recut, up to" in (tmp_path / "built" / "changes.svg").read_text(encoding="utf-8")


def _edge(shape, name):
    """Return the places of an edge's vertices."""
    return shape.vertices[shape.edge_vertices[[one.name for one in shape.edges].index(name)]]


@pytest.mark.behaviour
def test_an_edge_between_measured_corners_is_known_by_them(lower, lowered, cut_lowered, cut_as_designed):
    _, true = lower
    designed, found = (
        {edge.name: edge for edge in one.edges if edge.panel == PANEL} for one in (cut_as_designed[0], cut_lowered)
    )
    assert (designed["leech"].fit, designed["leech"].sd) == ("on board", None), "its corners were only typed in"
    spots = {spot.name: spot.sd for spot in boat_as_built(lowered.model).panels[PANEL].moved}
    assert found["leech"].sd == pytest.approx(np.hypot(*spots.values()), rel=0.02)
    assert found["leech"].fit == "long"
    assert set(spots) == set(true)
    assert found["port"].fit == "on board", "at its other end it hangs on a hood that nobody measured"


@pytest.mark.behaviour
def test_panels_along_a_measured_edge_are_formed_to_it_anew(as_designed):
    """Marrowgrass's tent back is zipped to the tent side: where the side came out farther aft, so does the back."""
    text = MARROWGRASS.read_text(encoding="utf-8")
    rigging = as_designed
    side = rigging.rig("closed tent").formed.panel("tent side starboard")
    edge = side.edge_vertices[[one.name for one in side.edges].index("aft")]
    middle = side.vertices[edge[len(edge) // 2]]
    marks = _with_marks(text, {"leech_middle": middle}, [])
    true = {"leech_middle": middle + np.array([0.05, 0.0, 0.0])}
    built = _rigging_as_built(_mocked_up(marks, "tent side starboard", true, rigging.model.marks))
    hung = built.rig("closed tent").formed
    moved = hung.panel("tent side starboard").vertices[edge]
    assert moved[len(edge) // 2] == pytest.approx(true["leech_middle"], abs=8 * MM)
    back = hung.panel("tent back")
    zipped = _edge(back, "starboard")
    assert locate(moved, zipped)[1].max() < 2 * MM, "the zip's halves lie together"
    cut = built.cut_shape("tent back")
    far = locate(rigging.cut_shape("tent side starboard").vertices[edge], _edge(cut, "starboard"))[1]
    assert far.max() > 35 * MM, "and so is it cut"
    fresh = Rigging(built.model, measured=built.measured)
    fresh.take_over(rigging)
    assert np.array_equal(fresh.cut_shape("tent back").vertices, cut.vertices), "nothing of the old shape comes back"

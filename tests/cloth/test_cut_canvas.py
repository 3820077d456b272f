"""Cut canvas put up as elastic cloth: at home, in other company, zipped open, under load."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from canvas.cloth import form, put_up
from canvas.cloth.joined import Stiffness
from canvas.cloth.loads import Loads, cloth_weight
from canvas.cloth.rigging import Rigging
from canvas.design.reading import read_design
from canvas.design.tables import cloths
from canvas.geometry.model import build_model
from tests.cloth.cloth_shapes import hoop, roof, straight
from tests.cloth.test_panels_formed import edge_named, tent_roof, tent_side

STUFF = {name: Stiffness.of(cloth) for name, cloth in cloths().items()}
FORE, AFT = hoop(0.0, width=1.8, height=0.5), hoop(1.5, width=1.7, height=0.45)
EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*.toml"))


@pytest.fixture(scope="module")
def home():
    """Return a tent's roof and side cut together."""
    return form((tent_roof(), tent_side()), set_name="home").panels


@pytest.mark.property
def test_at_home_cut_canvas_hangs_as_it_was_formed():
    outline = roof(FORE, AFT)
    cut = form((outline,), set_name="home").panels
    found = put_up(cut, (outline,), set_name="home", cloths=STUFF).panels[0]
    assert np.abs(found.vertices - cut[0].vertices).max() < 2e-4
    assert found.slack == 0.0
    assert edge_named(found, "port").hollow == pytest.approx(edge_named(cut[0], "port").hollow, abs=2e-4)


@pytest.mark.property
def test_zipped_edges_stay_together(home):
    found = put_up(home, (tent_roof(), tent_side()), set_name="home", cloths=STUFF)
    top, side = found.panels
    along = top.vertices[top.edge_vertices[1]][::-1]
    assert np.abs(along - side.vertices[side.edge_vertices[0]]).max() < 1e-3


@pytest.mark.behaviour
def test_panel_without_its_neighbour_says_what_becomes_of_it(home):
    found = put_up(home[1:], (tent_side(),), set_name="other", cloths=STUFF).panels[0]
    top = edge_named(found, "top")
    assert found.set_name == "other"
    assert top.cable_force is not None
    assert top.line_tension < 0.8 * edge_named(home[1], "top").line_tension
    assert 0.0 <= found.slack <= 1.0


@pytest.mark.behaviour
def test_open_zip_lets_go(home):
    outlines = (tent_roof(), tent_side())
    shut = put_up(home, outlines, set_name="home", cloths=STUFF).panels[1]
    ajar = put_up(home, outlines, set_name="home", cloths=STUFF, open_zips={"tent side: forward": 0.5}).panels[1]
    foot = ajar.vertices[ajar.edge_vertices[1]]
    assert np.abs(foot - shut.vertices[shut.edge_vertices[1]]).max() > 1e-4
    assert edge_named(ajar, "forward").line_tension < edge_named(shut, "forward").line_tension


@pytest.mark.analytic
def test_reactions_carry_the_load():
    from canvas.cloth.elastic import settle
    from canvas.cloth.joined import join_up

    outline = roof(FORE, AFT)
    cut = form((outline,), set_name="home").panels
    joined = join_up(cut, (outline,), cloths=STUFF)
    weight = cloth_weight(joined.start, joined.membrane.faces, mass=0.6)
    assert weight[:, 2].sum() == pytest.approx(-0.6 * 9.80665 * cut[0].area(), rel=1e-9)
    dry = settle(joined.membrane, joined.start)
    wet = settle(joined.membrane, joined.start, loads=Loads(dead=weight))
    assert wet.reactions.sum(axis=0) == pytest.approx(-weight.sum(axis=0), abs=1e-3 * abs(weight.sum()))
    assert wet.vertices[:, 2].mean() < dry.vertices[:, 2].mean()


@pytest.mark.behaviour
def test_more_wind_pulls_harder():
    outline = roof(straight([0, -1, 1], [0, 1, 1]), straight([1.5, -1, 1], [1.5, 1, 1]))
    cut = form((outline,), set_name="home").panels

    def pull(pressure):
        load = Loads(pressure=np.full(len(cut[0].faces), pressure))
        found = put_up(cut, (outline,), set_name="home", cloths=STUFF, loads=load).panels[0]
        return edge_named(found, "aft").line_tension

    assert pull(400.0) > pull(200.0) > pull(100.0) > pull(0.0)


@pytest.mark.behaviour
@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_examples_hang_in_every_set(path):
    model = build_model(read_design(path))
    rigging = Rigging(model)
    asked = {
        (name, edge.name): edge.hollow
        for name, outline in model.outlines.items()
        for edge in outline.edges
        if edge.hollow and edge.kind == "free" and edge.batten is None and edge.wire is None
    }
    cut_in = {panel.name: model.design.home_set(panel) for panel in model.design.panel}
    checked = 0
    for set_name in model.design.set_names():
        for panel in rigging.rig(set_name).formed.panels:
            assert panel.set_name == set_name
            assert np.isfinite(panel.vertices).all()
            for edge in panel.edges:
                hollow = asked.get((panel.name, edge.name))
                if hollow is None or edge.hollow is None or cut_in[panel.name] != set_name or panel.wrinkled > 0:
                    continue
                checked += 1
                assert abs(edge.hollow - hollow) <= max(0.003, 0.02 * hollow)
    assert checked > 0

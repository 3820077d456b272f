"""Check that edges of panels close, run the right way, keep their marks, and that what cannot be is named."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from canvas.cloth.rigging import Rigging
from canvas.design.editing import Draft
from canvas.design.problems import DesignError
from canvas.design.reading import parse_design, read_design
from canvas.geometry.model import build_model

EXAMPLES = Path(__file__).parents[2] / "examples"
NAMES = ("marrowgrass", "oddfellow", "lantern-hill")


@pytest.fixture(scope="module", params=NAMES)
def model(request):
    return build_model(read_design(EXAMPLES / f"{request.param}.toml"))


def spoilt(old, new):
    text = (EXAMPLES / "marrowgrass.toml").read_text()
    assert old in text
    return parse_design(text.replace(old, new, 1), file="boat.toml", folder=EXAMPLES)


@pytest.mark.property
def test_every_panel_of_every_example_closes(model):
    for outline in model.outlines.values():
        for edge, following in zip(outline.edges, (*outline.edges[1:], outline.edges[0]), strict=True):
            assert np.array_equal(edge.line[-1], following.line[0]), f"{outline.name}: {edge.name}"


@pytest.mark.property
def test_an_edge_to_a_mark_ends_on_it_exactly(model):
    checked = 0
    for panel in model.design.panel:
        for edge, line in zip(panel.edges, model.outlines[panel.name].edges, strict=True):
            if edge.along is None and edge.to is not None:
                assert np.array_equal(line.line[-1], model.at(edge.to))
                np.testing.assert_allclose(line.line[-1], model.marks.at(edge.to), rtol=0, atol=0.5e-6 + 1e-12)
                checked += 1
    assert checked > 0


@pytest.mark.property
def test_shared_edges_are_the_same_points(model):
    for panel in model.design.panel:
        for edge, resolved in zip(panel.edges, model.outlines[panel.name].edges, strict=True):
            if resolved.kind == "shared":
                other = next(e for e in model.outlines[edge.along].edges if e.name == edge.edge)
                inner = resolved.line[1:-1]
                distance = np.min(np.linalg.norm(inner[:, None] - other.line[None], axis=2), axis=1)
                assert distance.max() < 1e-9


@pytest.mark.behaviour
@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (
            'tent_aft_stbd = ["1.44 m", "0.87 m", "1.20 m"]',
            'tent_aft_stbd = ["0.498 m", "0.730 m", "1.696 m"]',
            "an edge 0 mm long",
        ),
        (
            'start = "hood_foot_port"\nend = "hood_foot_stbd"\nrake = "4 deg"\ncrown = "0.96 m"\ntop_width = "1.62 m"',
            (
                'start = "bimini_foot_port"\nend = "bimini_foot_stbd"\nrake = "-24 deg"\n'
                'crown = "1.6 m"\ntop_width = "0.4 m"'
            ),
            "running through",
        ),
        (
            'hood_foot_port = ["0.42 m", "-1.04 m", "0.82 m"]',
            'hood_foot_port = ["-0.42 m", "-0.4 m", "0.6 m"]',
            "inside the cabin",
        ),
        ('tent_aft_port = ["1.42 m"', 'tent_aft_port = ["14.3 m"', "more than 3 m off the boat"),
        ('corner_radius = "260 mm"', 'corner_radius = "2.6 m"', "cannot be bent"),
    ],
)
def test_geometry_that_cannot_be_is_named(old, new, said):
    with pytest.raises(DesignError, match=said):
        build_model(spoilt(old, new))


@pytest.mark.behaviour
def test_free_edge_with_nothing_to_keep_it_straight_is_named_with_its_line():
    source = spoilt(
        '{ name = "starboard", to = "tent_aft_stbd", finish = "webbing hem", hollow = "3 %" }',
        '{ name = "starboard", to = "tent_aft_stbd", finish = "webbing hem" }',
    )
    with pytest.raises(DesignError, match="a free edge with nothing to keep it straight") as caught:
        build_model(source)
    line = source.text.splitlines()[caught.value.problems[0].line - 1]
    assert 'to = "tent_aft_stbd"' in line


@pytest.mark.behaviour
def test_edges_in_the_wrong_order_are_refused():
    text = (EXAMPLES / "marrowgrass.toml").read_text()
    swapped = text.replace('to = "tent_aft_stbd"', 'to = "mark_x"')
    swapped = swapped.replace('to = "tent_aft_port"', 'to = "tent_aft_stbd"')
    swapped = swapped.replace('to = "mark_x"', 'to = "tent_aft_port"')
    with pytest.raises(DesignError, match="anti-clockwise|cross or lie on one another"):
        build_model(parse_design(swapped, file="boat.toml", folder=EXAMPLES))


@pytest.mark.behaviour
def test_edges_that_cross_are_called_so_whichever_way_they_run():
    text = (EXAMPLES / "marrowgrass.toml").read_text()
    plain = '{ to = "%s", finish = "hem", hollow = "3 %%" }'
    for marks in (["fwd_port", "fwd_stbd", "aft_port", "aft_stbd"], ["aft_stbd", "aft_port", "fwd_stbd", "fwd_port"]):
        edges = ", ".join(plain % f"bimini_{mark}" for mark in marks)
        crossed = f'{text}\n[[panel]]\nname = "bow tie"\ncloth = "acrylic 300"\nedges = [{edges}]\n'
        with pytest.raises(DesignError, match='"bow tie", edges: found edges that cross'):
            build_model(parse_design(crossed, file="boat.toml", folder=EXAMPLES))


def raked(boat, bow, rake):
    """Return an example with one of its bows raked otherwise."""
    draft = Draft((EXAMPLES / f"{boat}.toml").read_text(encoding="utf-8"), path=EXAMPLES / f"{boat}.toml")
    place = next(k for k, tube in enumerate(draft.source().design.tube) if tube.name == bow)
    draft.set(("tube", place, "rake"), f"{rake} deg")
    return draft.source()


@pytest.mark.behaviour
@pytest.mark.parametrize(
    ("boat", "bow", "rake"),
    [
        ("marrowgrass", "spray hood middle bow", 19),  # its crown aft of the panel's aft bow
        ("marrowgrass", "spray hood middle bow", -101),  # under the sheet, too low to meet it
        ("marrowgrass", "spray hood middle bow", 154),  # upside down
        ("marrowgrass", "bimini middle bow", -65),
        ("marrowgrass", "bimini middle bow", 55),
        ("lantern-hill", "roof middle bow", 61),
        ("lantern-hill", "roof middle bow", -49),
    ],
)
def test_a_bow_raked_out_of_its_panel_is_named_and_nothing_else(boat, bow, rake):
    with pytest.raises(DesignError, match=f'"{bow}", which does not run under this panel') as caught:
        build_model(raked(boat, bow, rake))
    (problem,) = caught.value.problems
    assert problem.code == "impossible-panel"
    assert problem.key.endswith("over[0]")


@pytest.mark.property
@pytest.mark.parametrize(
    ("boat", "bow", "rakes"),
    [
        ("marrowgrass", "spray hood middle bow", (-76, -40, 0, 12)),
        ("marrowgrass", "bimini middle bow", (-20, 0, 35)),
        ("lantern-hill", "roof middle bow", (-29, 16, 37)),
    ],
)
def test_a_bow_that_is_accepted_can_be_covered_with_cloth(boat, bow, rakes):
    for rake in rakes:
        rigging = Rigging(build_model(raked(boat, bow, rake)))
        name = next(panel.name for panel in rigging.model.design.panel if bow in panel.over)
        assert rigging.cut_shape(name).over


@pytest.mark.behaviour
def test_lines_that_cross_in_a_panel_are_wrong_input_with_its_name():
    source = spoilt(
        'pierced = [{ by = "backstay", slit_to = "aft", collar = "60 mm" }]',
        'pierced = [{ by = "backstay", slit_to = "forward", collar = "60 mm" }]',
    )
    rigging = Rigging(build_model(source))
    slit = rigging.model.outlines["bimini"].pierced[0]
    crossing = replace(slit, slit=np.vstack([slit.slit, slit.slit[:1] + np.array([0.0, 3.0, 0.0]), slit.slit[-1:]]))
    outlines = dict(rigging.model.outlines) | {"bimini": replace(rigging.model.outlines["bimini"], pierced=(crossing,))}
    with pytest.raises(DesignError, match='panel "bimini": found a line that crosses another'):
        Rigging(replace(rigging.model, outlines=outlines)).rig("hood and bimini")

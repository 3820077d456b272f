import xml.etree.ElementTree as xml
from pathlib import Path

import numpy as np
import pytest

from canvas.cutting.choices import CutOptions
from canvas.cutting.cut import cut_panels
from canvas.cutting.darts import best_darts
from canvas.cutting.finish import read_finishes
from canvas.cutting.flatten import flatten
from canvas.cutting.gather import gather
from canvas.cutting.piece import Joint, whole_piece
from canvas.cutting.sheet import Text
from canvas.cutting.slit import slit_mesh
from canvas.cutting.strain import strain_svg
from canvas.design.problems import DesignError
from canvas.verbs.asking import rigging_of
from tests.cutting import cut_shapes as shapes

MARROWGRASS = Path(__file__).parents[2] / "examples" / "marrowgrass.toml"

FINISHES = read_finishes()


def dish(height, **more):
    return shapes.panel(
        "dish", lambda u, v: (u, v, height * (1 - u * u - v * v)), np.linspace(-0.6, 0.6, 21),
        np.linspace(-0.6, 0.6, 21), finishes=("binding",) * 4, **more,
    )  # fmt: skip


def saddle(height):
    return shapes.panel(
        "saddle", lambda u, v: (u, v, height * (u * u - v * v)), np.linspace(-0.6, 0.6, 21), np.linspace(-0.6, 0.6, 21)
    )


@pytest.mark.property
def test_a_dart_takes_cloth_out_of_a_dish_and_lets_it_into_a_saddle():
    out, into = (best_darts(whole_piece(p))[0] for p in (dish(0.25), saddle(0.25)))
    assert out.opening > 0.01
    assert into.opening < -0.01
    for dart in (out, into):
        assert dart.strain_after < 0.9 * dart.strain_before
        assert 0 < dart.length < 1.1


@pytest.mark.property
def test_flat_cloth_needs_no_dart():
    assert best_darts(whole_piece(shapes.plate("flat", 1.0, 1.0))) == ()


@pytest.mark.property
def test_a_slit_leaves_every_triangle_and_opens_one_line():
    panel = dish(0.2)
    grid = np.arange(21 * 21).reshape(21, 21)
    path = [int(grid[k, 10]) for k in range(11)]
    faces, doubles = slit_mesh(panel.faces, path, count=len(panel.vertices))
    vertices = np.vstack([panel.vertices, panel.vertices[doubles]])
    assert doubles == path[:-1]
    assert np.allclose(vertices[faces], panel.vertices[panel.faces])
    one, two = (flatten(v, f, warp=panel.warp) for v, f in ((panel.vertices, panel.faces), (vertices, faces)))
    assert len(two.outline) == len(one.outline) + 2 * len(doubles)
    assert two.strain_inside_most < one.strain_inside_most


@pytest.mark.behaviour
def test_refused_cloth_is_told_of_the_dart_that_helps():
    with pytest.raises(DesignError, match=r"A dart of \d+ mm from .* taking out \d+ mm, would leave \d\.\d %"):
        cut_panels([dish(0.25)], [], finishes=FINISHES, options=CutOptions(seams={"dish": ()}))


@pytest.mark.behaviour
def test_a_divided_panel_says_why_and_how_far_flat_cloth_would_stay_off():
    result = cut_panels([shapes.roof("wide", 0, 1.2, width=2.6)], [], finishes=FINISHES)
    note = next(p for p in result.cautions if p.code == "flat-sag")
    assert "wider than the roll" in note.found
    assert f"{result.divided[0].sag * 1000:.0f} mm off" in note.wanted


@pytest.mark.behaviour
def test_zip_edges_say_half_slider_tape_and_mate():
    fore, aft = shapes.plate("fore", 1.0, 1.2), shapes.plate("aft", 0.9, 1.2, at=1.0)
    joint = Joint(
        name="z", kind="zip", panel_a="aft", edge_a="near", panel_b="fore", edge_b="far", handing="left",
        slider_end="start", gauge=10, tooth="moulded",
    )  # fmt: skip
    result = cut_panels([fore, aft], [joint], finishes=FINISHES)
    texts = {
        part.name: [i.text for i in part.items if isinstance(i, Text) and "tape 1196 mm" in i.text]
        for part in result.parts
    }
    assert 'left half, moulded gauge 10, tape 1196 mm, slider parks at "high"' in texts["aft"][0]
    assert "meets aft, right half" in texts["fore"][0]
    assert 'slider parks at "high"' in texts["fore"][0]  # the same side of the boat


@pytest.mark.behaviour
def test_a_new_half_takes_gauge_tooth_and_slider_of_the_half_aboard():
    """Marrowgrass's spray hood carries a left half, moulded, gauge 10, its slider at port, where its edge starts."""
    joints = {j.panel_a: j for j in gather(rigging_of(MARROWGRASS)).joints if j.panel_b.startswith("spray hood")}
    roof = joints["watch tent roof"]
    assert (roof.handing, roof.tooth, roof.gauge) == ("right", "moulded", 10)


@pytest.mark.behaviour
def test_strain_is_drawn_part_by_part_with_its_worst_place():
    result = cut_panels([shapes.roof("r", 0, 1.2, width=1.0)], [], finishes=FINISHES)
    root = xml.fromstring(strain_svg(result).encode())
    words = " ".join(t.text for t in root.iter() if t.text)
    worst = max(float(m.strain.max()) for m in result.strains)
    assert f"r: {worst * 100:.2f} %" in words
    assert worst == pytest.approx(result.parts[0].strain_inside_max)
    paths = [p for p in root.iter() if p.tag.endswith("path")]
    assert sum(p.get("d").count("Z") for p in paths) == len(result.strains[0].faces)


@pytest.mark.property
def test_corner_patches_lie_with_their_warp_along_the_load():
    """From a square corner the load runs at 45 degrees; the patch's own corner points back along its grain."""
    plate = shapes.plate("p", 1.2, 1.0, finishes=("webbing hem",) * 4, ties=(np.array([0.0, -0.5, 0.0]),))
    patch = next(part for part in cut_panels([plate], [], finishes=FINISHES).parts if "corner patch" in part.name)
    tip = patch.finished[np.argmin(patch.finished[:, 0])]
    middle = patch.finished.mean(axis=0)
    assert abs(np.degrees(np.arctan2(*(middle - tip)[::-1]))) < 2
    low, high = patch.finished.min(axis=0), patch.finished.max(axis=0)
    assert high[0] - low[0] == pytest.approx(0.15, abs=0.003)
    assert high[1] - low[1] == pytest.approx(0.15 * np.sqrt(2), abs=0.003)

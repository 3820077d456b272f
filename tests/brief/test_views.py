"""Views of an example: to scale, dimensioned as the scene is, names apart, the same bytes again."""

from __future__ import annotations

import re
from itertools import combinations
from xml.etree import ElementTree

import numpy as np
import pytest
import shapely

from canvas.brief.dimensions import dimension_text, scale_bar, scale_for
from canvas.brief.drawing import MM, Area, Drawing, Words
from canvas.brief.pictures import VIEWS, drafter_of
from canvas.brief.svg import svg_text
from canvas.cloth.rigging import Rigging


def words(drawing: Drawing) -> list[Words]:
    return [item for item in drawing.items if isinstance(item, Words)]


def overlapping(drawing: Drawing) -> list[tuple[str, str]]:
    boxes = [(one.text, shapely.Polygon(one.corners())) for one in words(drawing)]
    return [(a, b) for (a, one), (b, two) in combinations(boxes, 2) if one.intersection(two).area > 1e-9]


@pytest.mark.behaviour
@pytest.mark.parametrize("view", VIEWS)
@pytest.mark.parametrize("set_name", ["bare", "hood and bimini", "wet watch", "closed tent"])
def test_no_two_words_collide(sloop: Rigging, set_name: str, view: str) -> None:
    drawing = drafter_of(sloop).view(sloop.rig(set_name).scene, view)
    assert overlapping(drawing) == []


@pytest.mark.analytic
def test_the_scale_bar_is_a_metre_at_its_scale() -> None:
    items = scale_bar(25, at=(0.0, 0.0), units="m", size=2 * MM)
    bars = np.vstack([loop for item in items if isinstance(item, Area) for loop in item.loops])
    assert np.ptp(bars[:, 0]) == pytest.approx(1.0 / 25)
    feet = scale_bar(20, at=(0.0, 0.0), units="ft", size=2 * MM)
    bars = np.vstack([loop for item in feet if isinstance(item, Area) for loop in item.loops])
    assert np.ptp(bars[:, 0]) == pytest.approx(3 * 0.3048 / 20)


@pytest.mark.analytic
@pytest.mark.parametrize(
    ("length", "paper", "scale"), [(5.0, 0.2, 25), (5.01, 0.2, 30), (0.2, 0.2, 2), (90.0, 0.2, 200)]
)
def test_scales_are_handy_ones(length: float, paper: float, scale: int) -> None:
    assert scale_for(length, paper=paper) == scale


@pytest.mark.analytic
@pytest.mark.parametrize(
    ("metres", "units", "said"),
    [(2.054, "m", "2.05 m"), (2.054, "mm", "2050 mm"), (1.8923, "ft", "6 ft 2 1/2 in"), (0.0127, "in", "1/2 in")],
)
def test_dimensions_are_said_in_the_boats_own_unit(metres: float, units: str, said: str) -> None:
    assert dimension_text(metres, units=units) == said


@pytest.mark.behaviour
def test_dimensions_are_the_scenes(sloop: Rigging) -> None:
    scene = sloop.rig("wet watch").scene
    cloth = np.vstack([surface.vertices for surface in scene.of_kind("cloth")])
    long, wide, _ = np.ptp(cloth, axis=0)
    plan = [one.text for one in words(drafter_of(sloop).view(scene, "plan"))]
    assert f"canvas {long:.2f} m long" in plan
    assert f"canvas {wide:.2f} m wide" in plan
    gap = float(scene.blade.foot[0] - scene.blade.width / 2 - cloth[:, 0].max())
    assert f"to blade {gap:.2f} m" in plan
    profile = [one.text for one in words(drafter_of(sloop).view(scene, "profile"))]
    assert f"top {cloth[:, 2].max():.2f} m" in profile
    assert f"blade {scene.blade.foot[2]:.2f} m" in profile


@pytest.mark.behaviour
def test_every_panel_that_is_up_is_named(sloop: Rigging) -> None:
    drawing = drafter_of(sloop).view(sloop.rig("closed tent").scene, "aft")
    said = {one.text for one in words(drawing)}
    assert {"bimini", "spray hood", "bridging piece", "tent back", "tent side port", "vane blade", "water"} <= said


@pytest.mark.property
def test_the_same_scene_gives_the_same_bytes(sloop: Rigging) -> None:
    scene = sloop.rig("shade").scene
    first = svg_text(drafter_of(sloop).view(scene, "profile"), alone=True)
    assert first == svg_text(drafter_of(sloop).view(scene, "profile"), alone=True)
    root = ElementTree.fromstring(first)
    assert root.tag.endswith("svg")
    wide = float(root.get("width").removesuffix("mm"))
    assert root.get("viewBox").split()[2] == f"{wide:.2f}"  # millimetres of paper, so that it prints to scale


@pytest.mark.behaviour
def test_names_of_users_are_escaped(sloop: Rigging) -> None:
    drawing = Drawing(
        title="a < b", items=(Words(at=np.zeros(2), text='<hood> & "co"'),), low=np.zeros(2), high=np.ones(2)
    )
    text = svg_text(drawing)
    assert "&lt;hood&gt; &amp;" in text
    assert not re.search(r"<hood>", text)

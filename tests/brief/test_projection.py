"""Outlines and hidden lines against shapes whose answer is plain."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
import trimesh

from canvas import verbs
from canvas.brief.projection import LOOKS, Sight, feature_lines, joined, outline, polyline
from canvas.geometry.surface import Kind, Surface
from tests.design.design_texts import changed, read


def box(low: tuple[float, float, float], high: tuple[float, float, float], *, kind: Kind = "solid") -> Surface:
    mesh = trimesh.creation.box(bounds=[low, high])
    return Surface(name=f"box {low}", kind=kind, vertices=mesh.vertices, faces=mesh.faces, closed=True)


def sheet(x0: float, x1: float, y0: float, y1: float, z: float) -> Surface:
    corners = np.array([[x0, y0, z], [x1, y0, z], [x1, y1, z], [x0, y1, z]], dtype=float)
    faces = np.array([[0, 1, 2], [0, 2, 3]])
    return Surface(name="sheet", kind="cloth", vertices=corners, faces=faces, closed=False, panel="sheet")


def length(pieces: np.ndarray) -> float:
    return float(np.linalg.norm(pieces[:, 1] - pieces[:, 0], axis=1).sum())


@pytest.mark.analytic
@pytest.mark.parametrize(("view", "area"), [("plan", 2.0), ("profile", 6.0), ("aft", 3.0)])
def test_outline_of_a_box(view: str, area: float) -> None:
    assert outline(box((0, 0, 0), (2, 1, 3)), LOOKS[view]).area == pytest.approx(area)


def wavy(seed: int) -> Surface:
    """Return a sheet that waves by some centimetres, to be looked at nearly along itself."""
    random = np.random.default_rng(seed)
    x, y = (one.ravel() for one in np.meshgrid(np.linspace(0, 2, 12), np.linspace(0, 2, 12), indexing="ij"))
    a, b, c = random.uniform(-1, 1, 3)
    z = 0.1 * (a * np.sin(2 * x) * y + b * np.cos(3 * y) * x + c * x * x) + 0.02 * x * random.uniform(-1, 1)
    k = (np.arange(11)[:, None] * 12 + np.arange(11)).ravel()
    faces = np.vstack([np.stack([k, k + 12, k + 13], axis=1), np.stack([k, k + 13, k + 1], axis=1)])
    return Surface(name="wavy", kind="cloth", vertices=np.c_[x, y, z], faces=faces, closed=False)


@pytest.mark.property
@pytest.mark.parametrize("seed", [*range(20), 312])
def test_outline_of_a_sheet_that_lies_over_itself_is_a_whole_area(seed: int) -> None:
    """At 312 the union of two whole areas comes out with one inside the other."""
    surface = wavy(seed)
    found = outline(surface, LOOKS["aft"])
    assert found.is_valid
    steps = surface.vertices.reshape(12, 12, 3)
    highest, lowest = (np.trapezoid(one(steps[:, :, 2], axis=0), dx=2 / 11) for one in (np.max, np.min))
    assert found.area == pytest.approx(highest - lowest, rel=0.05, abs=1e-3)


@pytest.mark.regression
def test_a_rim_that_crosses_itself_by_a_hair_gives_a_whole_outline() -> None:
    """As one roof of an example does, seen from astern, when a mark on the hood is moved by 16 mm."""
    rigging = verbs.rigging_of(read(changed(r'"-0\.517 m"', '"-0.501 m"', of="oddfellow")))
    roof = next(one for one in rigging.rig("wet watch").scene.surfaces if one.name == "watch tent roof")
    found = outline(roof, LOOKS["aft"])
    assert found.is_valid
    corners = LOOKS["aft"].flat(roof.vertices)[roof.faces]
    assert found.area == pytest.approx(shapely.union_all(shapely.polygons(corners), grid_size=1e-5).area, rel=1e-3)


@pytest.mark.analytic
def test_views_stand_as_a_sailor_expects() -> None:
    forward, starboard, up = np.array([[-1.0, 0, 0]]), np.array([[0, 1.0, 0]]), np.array([[0, 0, 1.0]])
    assert LOOKS["plan"].flat(forward)[0].tolist() == [1, 0]  # the bow to the right
    assert LOOKS["plan"].flat(starboard)[0].tolist() == [0, -1]  # starboard below
    assert LOOKS["profile"].flat(forward)[0].tolist() == [1, 0]
    assert LOOKS["profile"].flat(up)[0].tolist() == [0, 1]
    assert LOOKS["aft"].flat(starboard)[0].tolist() == [1, 0]
    for look in LOOKS.values():
        assert np.cross(look.right, look.up) == pytest.approx(look.eye)


@pytest.mark.analytic
def test_a_line_behind_a_box_is_hidden_to_the_millimetre() -> None:
    line = polyline(np.array([[-1.0, -0.5, 0.5], [3.0, -0.5, 0.5]]))
    seen = Sight(LOOKS["profile"], solid=[box((0, 0, 0), (2, 1, 1))], canvas=[]).split(line)
    assert length(seen.seen) == pytest.approx(2.0, abs=0.004)
    assert length(seen.veiled) == 0
    ends = np.sort(seen.seen[:, :, 0].ravel())
    assert np.min(np.abs(ends - 0.0)) < 0.002  # found where the box begins and ends, seen from starboard
    assert np.min(np.abs(ends + 2.0)) < 0.002


@pytest.mark.analytic
def test_canvas_veils_and_solids_hide() -> None:
    line = polyline(np.array([[0.0, 0.0, 0.0], [4.0, 0.0, 0.0]]))
    veil, solid = sheet(0, 3, -1, 1, 2.0), box((2, -1, 0.5), (4, 1, 1.0))
    seen = Sight(LOOKS["plan"], solid=[solid], canvas=[veil]).split(line)
    assert length(seen.veiled) == pytest.approx(2.0, abs=0.003)
    assert length(seen.seen) == pytest.approx(0.0, abs=0.003)


@pytest.mark.analytic
def test_a_box_shows_its_nine_near_edges_square_on_only_four() -> None:
    solid = box((0, 0, 0), (2, 1, 3))
    seen = Sight(LOOKS["profile"], solid=[solid], canvas=[]).split(feature_lines(solid, LOOKS["profile"]))
    once = joined(seen.seen)
    assert sum(float(np.linalg.norm(np.diff(line, axis=0), axis=1).sum()) for line in once) == pytest.approx(
        10.0, abs=0.02
    )


@pytest.mark.property
def test_lines_drawn_twice_are_drawn_once() -> None:
    pieces = np.array([[[0, 0], [1, 0]], [[1, 0], [2, 0]], [[1, 0], [0, 0]]], dtype=float)
    lines = joined(pieces)
    assert len(lines) == 1
    assert np.ptp(lines[0][:, 0]) == 2

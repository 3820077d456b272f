"""Check hull, cabin, spars, solids, sails, crew and blade against closed forms and the measures they were made from."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
import trimesh

from canvas.design.reading import read_design
from canvas.design.schema.boat import Crew, Sail, Solid
from canvas.design.schema.design import Design
from canvas.geometry.boat import boat_surfaces, hull_parts, solid_problems
from canvas.geometry.cabin import roof_height
from canvas.geometry.closed import bar, edge_manifold, inside, surface_of, volume
from canvas.geometry.crew import body, crew_surfaces, sitting_head, sitting_height
from canvas.geometry.model import build_model
from canvas.geometry.places import places_of
from canvas.geometry.rays import tracer_of
from canvas.geometry.sails import sail_corners, sail_surface, sail_surfaces
from canvas.geometry.solids import solid_body, solid_surfaces, turned
from canvas.geometry.spars import boom_axis
from canvas.geometry.steering import tiller_axis
from canvas.geometry.surface import Surface
from canvas.geometry.vane import blade_of, leaned, vane_surface

EXAMPLES = Path(__file__).parents[2] / "examples"
MM = 0.001


def place(spot: Any) -> np.ndarray:
    return np.array(spot, dtype=float)


@pytest.fixture(scope="module")
def design() -> Design:
    return read_design(EXAMPLES / "marrowgrass.toml").design


@pytest.fixture(scope="module")
def hull(design: Design) -> Surface:
    return boat_surfaces(design, at=place)[0]


def changed(design: Design, **parts: dict[str, Any]) -> Design:
    return design.model_copy(
        update={name: getattr(design, name).model_copy(update=update) for name, update in parts.items()}
    )


def solid(**keys: Any) -> Solid:
    return Solid.model_validate({"name": "thing", **keys}, context={"units": "m"})


def mesh_of(item: Solid, *, folder: Path = EXAMPLES) -> Surface:
    return surface_of(solid_body(item, at=place, folder=folder), name=item.name, kind="solid")


@pytest.mark.analytic
def test_hull_block_of_a_wedge_has_the_wedges_volume(design: Design) -> None:
    edge = [(-6.0, 1.0, 0.5), (0.0, 1.5, 0.5), (6.0, 2.0, 0.5)]  # straight, so that the smooth curve is the line
    straight = changed(design, hull={"deck_edge": edge, "flare": 0.0, "transom_rake": 0.0})
    block = hull_parts(straight)[0].solid
    depth = 0.5 - (straight.hull.waterline - 0.60)
    assert block.volume() == pytest.approx(12.0 * (2.0 + 4.0) / 2 * depth, rel=1e-12)


@pytest.mark.analytic
def test_flare_and_rake_take_and_add_their_triangles(design: Design) -> None:
    edge = [(-6.0, 2.0, 0.5), (0.0, 2.0, 0.5), (6.0, 2.0, 0.5)]
    depth = 0.5 - (design.hull.waterline - 0.60)
    flared = changed(design, hull={"deck_edge": edge, "flare": 0.2, "transom_rake": 0.0})
    assert hull_parts(flared)[0].solid.volume() == pytest.approx(12 * (4 * depth - depth**2 * np.tan(0.2)), rel=1e-12)
    raked = changed(design, hull={"deck_edge": edge, "flare": 0.0, "transom_rake": 0.3})
    assert hull_parts(raked)[0].solid.volume() == pytest.approx(4 * depth * (12 + depth * np.tan(0.3) / 2), rel=1e-12)


@pytest.mark.analytic
def test_house_has_the_volume_of_its_trapezium_and_camber(design: Design) -> None:
    edge = [(-6.0, 2.0, 0.5), (0.0, 2.0, 0.5), (6.0, 2.0, 0.5)]
    cabin = {"front": -4.0, "front_width": 2.0, "aft_width": 2.0, "front_height": 0.9, "aft_height": 1.1, "camber": 0.0}
    boxy = changed(design, hull={"deck_edge": edge}, cabin=cabin)
    house = next(part.solid for part in hull_parts(boxy) if part.name == "house")
    assert house.volume() == pytest.approx(4.0 * 2.0 * (1.0 - 0.45), rel=1e-12)
    round_roof = changed(boxy, cabin={"camber": 0.12})
    arched = next(part.solid for part in hull_parts(round_roof) if part.name == "house")
    chords = (1 - 1 / 8**2) * 2 / 3 * 0.12  # mean height of a parabola drawn with eight chords
    assert arched.volume() - house.volume() == pytest.approx(4.0 * 2.0 * chords, rel=1e-12)


@pytest.mark.behaviour
def test_hull_passes_through_what_was_measured(design: Design, hull: Surface) -> None:
    for x, y, z in design.hull.deck_edge[1:]:
        nearest = np.linalg.norm(hull.vertices - [x, y, z], axis=1).min()
        assert nearest < 0.1 * MM


@pytest.mark.behaviour
@pytest.mark.parametrize(
    ("point", "solid_there"),
    [
        ((1.0, 0.0, -0.05), True),  # under the sole
        ((1.0, 0.0, 0.02), False),  # over it
        ((1.0, -0.6, 0.41), True),  # in the port seat, 0.42 m high
        ((1.0, -0.6, 0.43), False),
        ((1.0, 0.6, 0.43), True),  # in the starboard one, 0.435 m
        ((1.0, 0.6, 0.44), False),
        ((1.8, 0.6, 0.30), False),  # behind the seats the sole goes out to the coaming
        ((1.0, -1.02, 0.79), True),  # port coaming, 0.80 m
        ((1.0, -1.02, 0.81), False),
        ((1.0, 1.02, 0.803), True),  # starboard coaming, 0.805 m
        ((0.2, 0.0, 0.41), True),  # bridge deck
        ((0.2, 0.0, 0.43), False),
        ((2.1, 0.0, 0.44), True),  # helm seat
        ((2.1, 0.0, 0.46), False),
        ((2.6, 0.0, 0.59), True),  # aft deck
        ((2.6, 0.0, 0.61), False),
        ((-0.1, 0.04, 0.80), False),  # the companionway, 0.62 m wide about y = 0.04
        ((-0.1, 0.36, 0.80), True),
        ((-0.1, -0.28, 0.80), True),
        ((-0.1, 0.04, 0.50), True),  # under its sill
        ((-2.0, 0.0, 1.08), True),  # in the house
        ((-2.0, 0.0, 1.10), False),
        ((-2.0, 1.6, 0.5), True),  # side deck
        ((-2.0, 1.6, 0.7), False),
    ],
)
def test_what_is_solid_is_what_was_measured(hull: Surface, point: tuple[float, ...], solid_there: bool) -> None:
    assert bool(inside(hull, np.array([point]))[0]) is solid_there


@pytest.mark.behaviour
def test_sole_falls_aft_by_its_slope(design: Design, hull: Surface) -> None:
    drop = 1.8 * np.tan(design.cockpit.sole_slope)
    assert list(inside(hull, np.array([[1.8, 0.0, -drop - MM], [1.8, 0.0, -drop + MM]]))) == [True, False]


@pytest.mark.behaviour
def test_an_open_stern_leaves_nothing_behind_the_well(design: Design) -> None:
    helm = {"helm_seat": None, "helm_seat_height": None}
    opened = changed(design, cockpit={"length": 3.0, "aft_deck": 0.0, **helm})
    assert solid_problems(opened, folder=EXAMPLES) == []
    surface = boat_surfaces(opened, at=place)[0]
    x = np.linspace(2.4, 3.2, 9)
    assert not inside(surface, np.c_[x, np.zeros(9), np.full(9, 0.3)]).any()


@pytest.mark.behaviour
def test_an_aft_deck_lower_than_its_edge_is_let_in_between_bulwarks(design: Design) -> None:
    surface = boat_surfaces(changed(design, cockpit={"aft_deck": 0.40}), at=place)[0]
    points = np.array([[2.7, 0.0, 0.39], [2.7, 0.0, 0.41], [2.7, 1.20, 0.48]])
    assert list(inside(surface, points)) == [True, False, True]


@pytest.mark.analytic
def test_bar_has_the_rounds_volume() -> None:
    leaning = bar(np.array([0.1, 0.2, 0.3]), np.array([1.1, 2.2, 2.3]), width=0.2)
    assert leaning.volume() == pytest.approx(np.pi * 0.1**2 * 3.0, rel=1e-12)
    oval = bar(np.zeros(3), np.array([0.0, 0.0, 2.0]), width=0.3, depth=0.2)
    assert oval.volume() == pytest.approx(np.pi * 0.15 * 0.1 * 2.0, rel=1e-12)
    low, high = np.array(oval.bounding_box()[:3]), np.array(oval.bounding_box()[3:])
    assert (high - low)[1] > (high - low)[0]  # wider athwartships


@pytest.mark.analytic
def test_winding_number_finds_the_inside_of_a_cube() -> None:
    cube = mesh_of(solid(kind="box", at=[0, 0, 0], size=[2, 2, 2]))
    points = np.random.default_rng(3).uniform(-1.5, 1.5, (500, 3))
    assert np.array_equal(inside(cube, points), (np.abs(points) < 1).all(axis=1))


@pytest.mark.behaviour
def test_box_turns_clockwise_from_above_nose_up_and_starboard_down() -> None:
    forward, starboard = np.array([-1.0, 0.0, 0.0]), np.array([0.0, 1.0, 0.0])
    size = {"kind": "plate", "at": [0, 0, 0], "size": [1, 1, 0.1]}
    assert turned(solid(**size, turn="90 deg")) @ forward == pytest.approx(starboard)
    assert (turned(solid(**size, pitch="30 deg")) @ forward)[2] == pytest.approx(0.5)
    assert (turned(solid(**size, tilt="30 deg")) @ starboard)[2] == pytest.approx(-0.5)
    both = mesh_of(solid(**size, turn="20 deg", pitch="30 deg", tilt="10 deg"))
    assert volume(both.vertices, both.faces) == pytest.approx(0.1)


@pytest.mark.behaviour
def test_a_clear_solid_lets_light_and_sight_through_and_no_rain(design: Design) -> None:
    screen = solid(kind="plate", at=[0, 0, 1.4], size=[0.02, 1.2, 0.4], clear=True)
    dull = solid(name="locker", kind="box", at=[0, 0, 2], size=[1, 1, 1])
    with_both = design.model_copy(update={"solid": [screen, dull]})
    clear, opaque = solid_surfaces(with_both, set_name="bare", at=place, folder=EXAMPLES)
    assert 0.5 < clear.light_through < 1
    assert 0.5 < clear.sight_through < 1
    assert clear.rain_through == opaque.light_through == opaque.sight_through == 0


@pytest.mark.behaviour
def test_solids_are_there_in_their_sets_only(design: Design) -> None:
    raft = solid(name="raft", kind="box", at=[0, 0, 2], size=[1, 1, 1], sets=["shade"])
    here = design.model_copy(update={"solid": [raft]})
    for set_name, names in (("shade", ["raft"]), ("bare", [])):
        surfaces = solid_surfaces(here, set_name=set_name, at=place, folder=EXAMPLES)
        assert [surface.name for surface in surfaces] == names


@pytest.mark.behaviour
@pytest.mark.parametrize("suffix", [".stl", ".obj", ".ply"])
def test_a_mesh_file_is_closed_scaled_and_placed(tmp_path: Path, suffix: str) -> None:
    trimesh.creation.box((2000, 1000, 500)).export(tmp_path / f"dinghy{suffix}")
    item = solid(kind="mesh", file=f"dinghy{suffix}", scale="1 mm", at=[3, 0, 1], turn="90 deg")
    surface = mesh_of(item, folder=tmp_path)
    assert edge_manifold(surface.faces)
    assert volume(surface.vertices, surface.faces) == pytest.approx(1.0)
    assert np.ptp(surface.vertices, axis=0) == pytest.approx([1.0, 2.0, 0.5])
    assert surface.vertices.mean(axis=0) == pytest.approx([3.0, 0.0, 1.0])


@pytest.mark.behaviour
def test_a_gltf_file_is_turned_into_the_boats_axes(tmp_path: Path) -> None:
    shape = trimesh.creation.box((1.0, 2.0, 3.0))  # athwart, up, fore and aft
    shape.apply_translation([0.5, 1.0, 1.5])  # to port, up, forward
    shape.export(tmp_path / "raft.glb")
    surface = mesh_of(solid(kind="mesh", file="raft.glb"), folder=tmp_path)
    assert surface.vertices.min(axis=0) == pytest.approx([-3.0, -1.0, 0.0])
    assert surface.vertices.max(axis=0) == pytest.approx([0.0, 0.0, 2.0], abs=1e-9)


@pytest.mark.behaviour
def test_an_inside_out_mesh_is_turned_outward(tmp_path: Path) -> None:
    shape = trimesh.creation.box((1, 1, 1))
    shape.invert()
    shape.export(tmp_path / "box.stl")
    surface = mesh_of(solid(kind="mesh", file="box.stl", scale="1 m"), folder=tmp_path)
    assert volume(surface.vertices, surface.faces) == pytest.approx(1.0)


@pytest.mark.behaviour
def test_boom_hangs_at_the_heights_given(design: Design) -> None:
    mast = design.spars.mast
    assert mast.boom is not None
    inner, outer = boom_axis(mast, mast.boom)
    assert inner[2] - mast.boom.diameter / 2 == pytest.approx(1.98)
    assert outer[2] - mast.boom.diameter / 2 == pytest.approx(2.14)
    assert outer[1] == pytest.approx(4.05 * np.sin(np.radians(6)))  # sheeted to starboard
    spars = [surface for surface in boat_surfaces(design, at=place) if surface.name in ("mast", "boom")]
    assert spars[0].vertices[:, 2].max() == pytest.approx(14.80)
    assert spars[0].vertices[:, 2].min() == pytest.approx(roof_height(design.cabin, x=-3.0) - 0.05)


@pytest.mark.behaviour
def test_wheel_binnacle_and_tiller_have_their_measures(design: Design) -> None:
    wheel, binnacle = (s for s in boat_surfaces(design, at=place) if s.name in ("wheel", "binnacle"))
    assert np.ptp(wheel.vertices[:, 1]) == pytest.approx(0.92, abs=3 * MM)
    assert wheel.vertices.mean(axis=0) == pytest.approx([1.72, 0.0, 0.88], abs=MM)
    assert binnacle.vertices[:, 2].max() == pytest.approx(1.02)
    tiller = read_design(EXAMPLES / "oddfellow.toml").design.steering.tiller
    assert tiller is not None
    head, end = tiller_axis(tiller, angle=tiller.sweep)
    assert np.linalg.norm(end - head) == pytest.approx(tiller.length)
    assert end[2] == pytest.approx(tiller.end_height)
    assert end[0] < head[0]
    assert end[1] > 0


@pytest.mark.analytic
@pytest.mark.parametrize("order", [[0, 1, 2], [2, 1, 0], [1, 2, 0]])
def test_belly_is_as_deep_as_the_camber_says_and_to_leeward(order: list[int]) -> None:
    corners = np.array([[-3.0, 0.0, 1.0], [1.0, 0.0, 1.0], [-3.0, 0.0, 11.0]])[order]
    for side, sign in (("starboard", 1.0), ("port", -1.0)):
        sail = Sail.model_validate({"name": "main", "corners": corners.tolist(), "camber": "10 %", "to_leeward": side})
        surface = sail_surface(sail, at=place)
        foot = surface.vertices[np.isclose(surface.vertices[:, 2], 1.0)]
        assert (sign * foot[:, 1]).max() == pytest.approx(0.40, abs=2 * MM)  # of the 4 m chord
        assert (sign * surface.vertices[:, 1]).min() == pytest.approx(0.0, abs=1e-12)
        deepest = foot[np.argmax(sign * foot[:, 1])]
        assert -1.6 < deepest[0] < -1.0  # before the middle
        assert not surface.closed


@pytest.mark.analytic
def test_flat_sail_has_the_triangles_area_and_four_corners_the_quadrilaterals() -> None:
    three = [[-3.0, 0.0, 1.0], [1.0, 0.0, 1.0], [-3.0, 0.0, 11.0]]
    gaff = [[-3.0, 0.0, 1.0], [1.0, 0.0, 1.0], [-1.0, 0.0, 9.0], [-3.0, 0.0, 7.0]]
    for corners, area in ((three, 20.0), (gaff, 22.0)):
        surface = sail_surface(Sail.model_validate({"name": "s", "corners": corners, "camber": "0 %"}), at=place)
        sides = surface.vertices[surface.faces]
        crossed = np.cross(sides[:, 1] - sides[:, 0], sides[:, 2] - sides[:, 0])
        assert np.linalg.norm(crossed, axis=1).sum() / 2 == pytest.approx(area, rel=1e-9)


@pytest.mark.behaviour
def test_corners_are_told_apart_by_where_they_lie() -> None:
    gaff = np.array([[-3.0, 0.0, 1.0], [1.0, 0.0, 1.1], [-1.0, 0.0, 9.0], [-3.0, 0.0, 7.0]])
    for turn in range(4):
        for ring in (np.roll(gaff, turn, axis=0), np.roll(gaff, turn, axis=0)[::-1]):
            assert sail_corners(ring) == pytest.approx(gaff)


@pytest.mark.behaviour
def test_sails_are_sheeted_under_way_and_gone_when_down(design: Design) -> None:
    assert [sail.name for sail in sail_surfaces(design, set_name="bare", at=place)] == ["mainsail", "genoa"]
    at_anchor = design.set_named("shade").model_copy(update={"used": ["at anchor"]})
    moored = design.model_copy(update={"set": [at_anchor]})
    assert sail_surfaces(moored, set_name="shade", at=place) == ()
    down = [sail.model_copy(update={"state": "down"}) for sail in design.sail]
    assert sail_surfaces(design.model_copy(update={"sail": down}), set_name="bare", at=place) == ()


@pytest.mark.behaviour
@pytest.mark.parametrize("posture", ["sitting", "standing"])
def test_body_has_its_height_and_its_mass(posture: str) -> None:
    for stature, mass in ((1.55, 52), (1.66, 62), (1.84, 84), (1.95, 105)):
        crew = Crew.model_validate({"name": "x", "stature": stature, "mass": f"{mass} kg", "posture": posture})
        person = body(crew, where=np.array([0.5, -0.6, 0.42]))
        height = sitting_height(crew) if posture == "sitting" else stature
        assert person.bounding_box()[5] - 0.42 == pytest.approx(height, abs=MM)
        assert person.volume() == pytest.approx(mass / 985, rel=0.08)  # a body's density, kg/m3: girth is one number
        if posture == "standing":
            assert person.bounding_box()[2] == pytest.approx(0.42, abs=MM)


@pytest.mark.behaviour
def test_crew_sit_where_they_are_put_and_face_inboard(design: Design) -> None:
    places = places_of(design, heads=sitting_head(design), at=place)
    ines, rolf = crew_surfaces(design, at=place, places=places)
    assert (ines.name, rolf.name) == ("crew Ines", "crew Rolf")
    for surface, crew, side, seat in ((ines, design.crew[0], -1, 0.42), (rolf, design.crew[1], 1, 0.435)):
        assert edge_manifold(surface.faces)
        assert surface.vertices[:, 2].max() == pytest.approx(seat + sitting_height(crew), abs=MM)
        assert surface.vertices[:, 2].min() > -MM  # feet on the sole, not in it
        head = surface.vertices[surface.vertices[:, 2] > seat + 0.9 * sitting_height(crew)].mean(axis=0)
        feet = surface.vertices[surface.vertices[:, 2] < 0.2].mean(axis=0)
        assert side * head[1] > side * feet[1]


@pytest.mark.analytic
def test_seats_helm_and_sole_lie_on_the_boat_whatever_its_slope_and_seats_of_two_heights() -> None:
    boats = [build_model(read_design(path)) for path in sorted(EXAMPLES.glob("*.toml"))]
    assert {model.design.cockpit.sole_slope > 0 for model in boats} == {True}
    assert any(model.design.cockpit.port.seat_height != model.design.cockpit.starboard.seat_height for model in boats)
    for model in boats:
        boat = boat_surfaces(model.design, at=model.at, folder=model.source.folder)[0]
        for kept in model.places:
            if kept.name in ("port seat", "starboard seat", "helm", "sole"):
                above = kept.points + np.array([0.0, 0.0, 0.02])
                _, drop = tracer_of(boat).first_hit(above, np.tile([0.0, 0.0, -1.0], (len(above), 1)))
                assert np.abs(drop - 0.02).max() < MM
                assert np.linalg.norm(kept.normals, axis=1) == pytest.approx(1.0)


@pytest.mark.behaviour
def test_two_at_one_place_sit_side_by_side_and_without_a_place_nobody_is_drawn(design: Design) -> None:
    places = places_of(design, heads=sitting_head(design), at=place)
    both = [crew.model_copy(update={"at": "port seat"}) for crew in design.crew]
    first, second = crew_surfaces(design.model_copy(update={"crew": both}), at=place, places=places)
    assert abs(first.vertices[:, 0].mean() - second.vertices[:, 0].mean()) > 0.45
    nowhere = [crew.model_copy(update={"at": None}) for crew in design.crew]
    assert crew_surfaces(design.model_copy(update={"crew": nowhere}), at=place, places=places) == ()


@pytest.mark.analytic
def test_blade_points_spread_evenly_over_the_blade_and_its_swing(design: Design) -> None:
    blade, vane = blade_of(design), design.vane
    points = blade.points.reshape(3, -1, 3)
    upright = points[1] - np.array(vane.foot)
    assert upright[:, 1] == pytest.approx(0.0)
    assert upright.mean(axis=0) == pytest.approx([0.0, 0.0, vane.height / 2])
    assert np.ptp(upright[:, 2]) == pytest.approx(vane.height * 19 / 20)
    assert np.ptp(upright[:, 0]) == pytest.approx(vane.width * 4 / 5)
    assert points[0, :, 1].mean() < vane.foot[1] < points[2, :, 1].mean()
    assert points[0] * [1, -1, 1] + [0, 2 * vane.foot[1], 0] == pytest.approx(points[2])


@pytest.mark.analytic
def test_a_blade_on_a_tilted_axis_loses_incidence_as_it_leans(design: Design) -> None:
    """The blade lies along the wind where tan(lean) = tan(angle of the wind) / sin(tilt)."""
    vane, off = design.vane, np.radians(5)
    lean = np.arctan(np.tan(off) / np.sin(vane.axis_tilt))
    normal = leaned(vane, angle=lean) @ np.array([0.0, 1.0, 0.0])
    wind = np.array([np.cos(off), np.sin(off), 0.0])  # from forward and a little to port
    assert normal @ wind == pytest.approx(0.0, abs=1e-12)
    upright = vane.model_copy(update={"axis": "upright"})
    assert leaned(upright, angle=0.5) @ np.array([0.0, 0.0, 1.0]) == pytest.approx([0.0, 0.0, 1.0])


@pytest.mark.behaviour
def test_drawn_blade_is_a_closed_plate_of_its_measures(design: Design) -> None:
    surface = vane_surface(design)
    assert surface.kind == "vane"
    assert edge_manifold(surface.faces)
    assert np.ptp(surface.vertices, axis=0) == pytest.approx([0.19, 0.01, 0.82])
    assert surface.vertices[:, 2].min() == pytest.approx(1.52)

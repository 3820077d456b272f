"""Check that every impossible shape is named where it stands, and that every measure of the boat moves its shape."""

from __future__ import annotations

import copy
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import trimesh

from canvas.design.schema.design import Design
from canvas.geometry.boat import boat_surfaces, solid_problems
from canvas.geometry.crew import crew_surfaces, sitting_head
from canvas.geometry.places import places_of
from canvas.geometry.sails import sail_surfaces
from canvas.geometry.vane import blade_of

EXAMPLES = Path(__file__).parents[2] / "examples"
GONE = object()


def data(name: str = "marrowgrass") -> dict[str, Any]:
    return tomllib.loads((EXAMPLES / f"{name}.toml").read_text(encoding="utf-8"))


def with_value(source: dict[str, Any], path: str, value: Any) -> dict[str, Any]:
    """Return a copy with the value at a dotted path set, or taken out."""
    whole = copy.deepcopy(source)
    *way, last = [int(part) if part.isdigit() else part for part in path.split(".")]
    here: Any = whole
    for part in way:
        here = here[part]
    if value is GONE:
        del here[last]
    else:
        here[last] = value
    return whole


def design_of(source: dict[str, Any]) -> Design:
    return Design.model_validate(source, context={"units": source["units"]})


def place(spot: Any) -> np.ndarray:
    return np.array(spot, dtype=float)


IMPOSSIBLE = [
    ("hull.deck_edge.2", [-4.5, -1.45, 0.7], "wrong-side", "hull.deck_edge.2"),
    ("hull.deck_edge.2", [-6.6, 1.45, 0.7], "wrong-order", "hull.deck_edge.2"),
    ("hull.deck_edge.3", [-2.0, 1.74, -0.5], "deck-under-water", "hull.deck_edge.3"),
    ("hull.deck_edge", [[-7, 0, 1], [0, 0.2, 1], [3, 0.1, 1]], "no-width", "hull.deck_edge"),
    ("hull.deck_edge_port", [[-7, 0, 1], [0, -1.7, 1], [3, -1.1, 1]], "hull-not-closed", "hull.deck_edge_port"),
    ("hull.transom_rake", "70 deg", "too-steep", "hull.transom_rake"),
    ("hull.flare", "65 deg", "too-steep", "hull.flare"),
    ("cabin.front", "0.4 m", "cabin-front-behind-bulkhead", "cabin.front"),
    ("cabin.front", "-9 m", "cabin-before-stem", "cabin.front"),
    ("cabin.front_width", "3.6 m", "cabin-wider-than-hull", "cabin.front_width"),
    ("cabin.aft_width", "3.6 m", "cabin-wider-than-hull", "cabin.aft_width"),
    ("cabin.aft_height", "0.5 m", "roof-under-deck", "cabin.aft_height"),
    ("cabin.front_height", "0.6 m", "roof-under-deck", "cabin.front_height"),
    ("cabin.companionway.sill", "1.2 m", "no-opening", "cabin.companionway.sill"),
    ("cabin.companionway.offset", "0.9 m", "opening-outside-cabin", "cabin.companionway.width"),
    ("cabin.companionway.top", "1.6 m", "opening-outside-cabin", "cabin.companionway.top"),
    ("cabin.companionway.sill", "0.3 m", "sill-too-low", "cabin.companionway.sill"),
    ("cockpit.length", "0.4 m", "no-well", "cockpit.length"),
    ("cockpit.length", "3.5 m", "well-behind-transom", "cockpit.length"),
    ("cockpit.sole_slope", "20 deg", "too-steep", "cockpit.sole_slope"),
    ("cabin.bridge_deck.length", "2.2 m", "no-well", "cockpit.length"),
    ("cockpit.helm_seat", GONE, "no-helm-seat", "cockpit.helm_seat_height"),
    ("cockpit.helm_seat", "2.2 m", "seat-outside-well", "cockpit.helm_seat"),
    ("cockpit.aft_deck", "-0.2 m", "aft-deck-too-low", "cockpit.aft_deck"),
    ("cockpit.port.seat_to", "0.2 m", "no-seat", "cockpit.port.seat_to"),
    ("cockpit.port.seat_to", "2.5 m", "seat-outside-well", "cockpit.port.seat_to"),
    ("cockpit.starboard.seat_outer", "0.3 m", "seat-outside-coaming", "cockpit.starboard.seat_outer"),
    ("cockpit.starboard.seat_outer", "1.6 m", "cockpit-wider-than-hull", "cockpit.starboard.seat_outer"),
    ("cockpit.port.coaming_width", "0.9 m", "coaming-outside-hull", "cockpit.port.coaming_width"),
    ("cockpit.port.coaming_from", "2.5 m", "no-coaming", "cockpit.port.coaming_to"),
    ("cockpit.port.coaming_to", "3.2 m", "coaming-behind-transom", "cockpit.port.coaming_to"),
    ("cockpit.port.coaming_top", "0.3 m", "seat-above-coaming", "cockpit.port.coaming_top"),
    ("spars.mast.x", "-9 m", "mast-off-the-boat", "spars.mast.x"),
    ("spars.mast.top", "1.2 m", "no-mast", "spars.mast.top"),
    ("spars.mast.boom.height", "15 m", "boom-above-masthead", "spars.mast.boom.height"),
    ("spars.mast.boom.end_height", "15 m", "boom-above-masthead", "spars.mast.boom.end_height"),
    ("spars.mast.boom.height", "0.9 m", "boom-too-low", "spars.mast.boom.height"),
    ("spars.mizzen", {"x": "-4 m", "top": "9 m"}, "mizzen-before-mast", "spars.mizzen.x"),
    ("steering.wheels", [], "no-steering", "steering"),
    ("steering.wheels.0.rim", "0.5 m", "no-size", "steering.wheels.0.rim"),
    ("steering.wheels.0.diameter", "2 m", "wheel-through-sole", "steering.wheels.0.at"),
    (
        "steering.tiller",
        {"head": [2.4, 0, 0.2], "length": 1, "end_height": 1.2},
        "tiller-too-short",
        "steering.tiller.end_height",
    ),
    ("crew.0.stature", "3 m", "wrong-value", "crew.0.stature"),
    ("crew.0.sitting_height", "1.5 m", "wrong-value", "crew.0.sitting_height"),
    ("solid.0.size", ["0.68 m", "0 m", "35 mm"], "no-size", "solid.0.size"),
    ("solid.0.size", GONE, "missing-key", "solid.0"),
    ("solid.2.to", ["3.34 m", "0.10 m", "-0.20 m"], "no-size", "solid.2.to"),
    ("solid.2.size", [1, 1, 1], "key-without-use", "solid.2.size"),
    ("sail.0.corners", [[0, 0, 2], [0, 0, 3], [0, 0, 9]], "no-area", "sail.0.corners"),
    ("sail.0.camber", "60 %", "wrong-value", "sail.0.camber"),
]


@pytest.mark.behaviour
@pytest.mark.parametrize(("path", "value", "code", "named"), IMPOSSIBLE)
def test_impossible_shapes_are_named_where_they_stand(path: str, value: Any, code: str, named: str) -> None:
    problems = solid_problems(design_of(with_value(data(), path, value)), folder=EXAMPLES)
    found = {(problem.code, ".".join(map(str, problem.path))) for problem in problems}
    assert (code, named) in found
    assert all(problem.found and problem.wanted.endswith((".", "?")) for problem in problems)


@pytest.mark.behaviour
def test_a_well_may_not_come_out_through_a_transom_that_leans_forward() -> None:
    leaning = with_value(with_value(data(), "hull.transom_rake", "-35 deg"), "cockpit.length", "2.8 m")
    codes = [problem.code for problem in solid_problems(design_of(leaning), folder=EXAMPLES)]
    assert "well-behind-transom" in codes


@pytest.mark.behaviour
def test_all_problems_are_named_at_once() -> None:
    bad = with_value(with_value(data(), "cabin.front", "0.4 m"), "cockpit.length", "3.5 m")
    bad = with_value(bad, "steering.wheels", [])
    codes = [problem.code for problem in solid_problems(design_of(bad), folder=EXAMPLES)]
    assert {"cabin-front-behind-bulkhead", "well-behind-transom", "no-steering"} <= set(codes)


def _open_box(folder: Path) -> None:
    shape = trimesh.creation.box((1, 1, 1))
    shape.update_faces(np.arange(len(shape.faces)) > 1)
    shape.export(folder / "open.stl")


@pytest.mark.behaviour
@pytest.mark.parametrize(
    ("file", "code"),
    [
        ("nothing.stl", "mesh-missing"),
        ("../box.stl", "mesh-outside-folder"),
        ("/tmp/box.stl", "mesh-outside-folder"),
        ("box.step", "mesh-format"),
        ("open.stl", "mesh-not-closed"),
        ("empty.stl", "mesh-unreadable"),
        ("words.obj", "mesh-unreadable"),
        ("words.glb", "mesh-unreadable"),
        ("words.ply", "mesh-unreadable"),
        ("folder.stl", "mesh-missing"),
    ],
)
def test_mesh_files_that_cannot_be_used_are_named(tmp_path: Path, file: str, code: str) -> None:
    folder = tmp_path / "boat"
    (folder / "folder.stl").mkdir(parents=True)
    trimesh.creation.box((1, 1, 1)).export(tmp_path / "box.stl")
    _open_box(folder)
    (folder / "box.step").write_text("ISO-10303-21;", encoding="utf-8")
    (folder / "empty.stl").write_bytes(b"")
    for suffix in ("obj", "glb", "ply"):
        (folder / f"words.{suffix}").write_text("a dinghy, upside down\n", encoding="utf-8")
    source = data() | {"solid": [{"name": "dinghy", "kind": "mesh", "file": file, "scale": "1 m"}]}
    problems = solid_problems(design_of(source), folder=folder)
    assert [problem.code for problem in problems] == [code]


@pytest.mark.behaviour
def test_a_mesh_file_without_units_needs_its_scale(tmp_path: Path) -> None:
    for suffix in ("stl", "glb"):
        trimesh.creation.box((1, 1, 1)).export(tmp_path / f"box.{suffix}")
    for file, codes in (("box.stl", ["missing-key"]), ("box.glb", [])):
        source = data() | {"solid": [{"name": "dinghy", "kind": "mesh", "file": file}]}
        assert [problem.code for problem in solid_problems(design_of(source), folder=tmp_path)] == codes


MOVED = [
    ("hull.deck_edge.4.1", "1.72 m"), ("hull.waterline", "-0.40 m"), ("hull.flare", "8 deg"),
    ("hull.transom_rake", "10 deg"), ("cabin.front", "-3.6 m"), ("cabin.front_width", "1.4 m"),
    ("cabin.front_height", "0.95 m"), ("cabin.aft_width", "2.0 m"), ("cabin.aft_height", "1.05 m"),
    ("cabin.camber", "50 mm"), ("cabin.companionway.offset", "0 m"), ("cabin.companionway.width", "0.6 m"),
    ("cabin.companionway.sill", "0.5 m"), ("cabin.companionway.top", "1.05 m"), ("cabin.bridge_deck.length", "0.3 m"),
    ("cabin.bridge_deck.height", "0.40 m"), ("cockpit.length", "2.4 m"), ("cockpit.sole_width", "0.7 m"),
    ("cockpit.sole_slope", "2 deg"), ("cockpit.aft_deck", "0.65 m"), ("cockpit.helm_seat", "0.30 m"),
    ("cockpit.helm_seat_height", "0.40 m"), ("cockpit.port.seat_from", "0.5 m"), ("cockpit.port.seat_to", "1.4 m"),
    ("cockpit.port.seat_inner", "0.35 m"), ("cockpit.port.seat_outer", "0.9 m"), ("cockpit.port.seat_height", "0.4 m"),
    ("cockpit.starboard.coaming_from", "0.1 m"), ("cockpit.starboard.coaming_to", "2.2 m"),
    ("cockpit.starboard.coaming_top", "0.78 m"), ("cockpit.starboard.coaming_width", "0.14 m"),
    ("spars.mast.x", "-2.9 m"), ("spars.mast.top", "14 m"), ("spars.mast.radius", "70 mm"),
    ("spars.mast.boom.length", "4 m"), ("spars.mast.boom.height", "2 m"), ("spars.mast.boom.end_height", "2.2 m"),
    ("spars.mast.boom.diameter", "120 mm"), ("spars.mast.boom.angle", "0 deg"), ("steering.wheels.0.diameter", "0.8 m"),
    ("steering.wheels.0.rim", "30 mm"), ("steering.binnacle.width", "0.2 m"), ("steering.binnacle.depth", "0.2 m"),
    ("steering.binnacle.height", "1 m"), ("solid.0.pitch", "0 deg"), ("solid.0.size", [0.6, 1.1, 0.03]),
    ("solid.1.turn", "10 deg"), ("solid.1.tilt", "5 deg"), ("solid.1.sets", ["shade"]), ("solid.1.clear", True),
    ("solid.2.diameter", "90 mm"), ("sail.0.camber", "5 %"), ("sail.0.to_leeward", "port"), ("sail.1.state", "down"),
    ("sail.1.sets", ["shade"]), ("crew.0.stature", "1.7 m"), ("crew.0.sitting_height", "0.9 m"),
    ("crew.0.mass", "70 kg"), ("crew.0.at", "helm"), ("crew.0.posture", "standing"), ("vane.foot", [3.5, 0.1, 1.5]),
    ("vane.height", "0.7 m"), ("vane.width", "0.2 m"), ("vane.axis", "upright"), ("vane.axis_tilt", "15 deg"),
    ("vane.swing", "30 deg"),
]  # fmt: skip


@pytest.mark.property
@pytest.mark.parametrize(("path", "value"), MOVED)
def test_every_measure_moves_the_shape(path: str, value: Any) -> None:
    other = design_of(with_value(data(), path, value))
    assert solid_problems(other, folder=EXAMPLES) == []
    assert _shape(other) != _shape(design_of(data()))


def _shape(design: Design) -> tuple[Any, ...]:
    places = places_of(design, heads=sitting_head(design), at=place)
    surfaces = (
        *boat_surfaces(design, at=place, folder=EXAMPLES),
        *sail_surfaces(design, set_name="bare", at=place),
        *crew_surfaces(design, at=place, places=places),
    )
    said = [(s.name, s.light_through, s.vertices.tobytes(), s.faces.tobytes()) for s in surfaces]
    return (*said, blade_of(design).points.tobytes())

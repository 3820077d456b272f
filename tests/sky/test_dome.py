"""Check the dome map: sky seen against closed forms, its bits against single rays, edits against a map made new."""

import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from canvas.geometry.panorama import GRAZING
from canvas.sky.casters import BODIES, caster_of, casters_of, level_normals, lifted
from canvas.sky.direct import traced_light
from canvas.sky.dome import dome_map, light_from, place_tables, pooled, with_casters, without
from canvas.sky.samples import by_neighbours
from tests.hand_built import disk, invented_cockpit, one_point, scene, sheet, spread

COCKPIT = invented_cockpit(points=96)
MAP = dome_map(COCKPIT)


def numbers(row):
    return {key: float(value) for key, value in re.findall(r"(\w+)=([-\d.]+)", row["parameters_m_or_deg"])}


def sky_shut(*surfaces, normal=(0.0, 0.0, 1.0)):
    """Return the share of the even sky's light that the surfaces keep from one point, by the usual grid.

    One point is the hardest case: it has no area over which the steps of the grid even out.
    """
    tables = place_tables(dome_map(scene(*surfaces, places=[one_point("point", [0, 0, 0], normal)])))
    return tables.sky_open[0] - tables.sky[0]


def contour(corners):
    """Return the view factor of a polygon from a level area at the origin, by Lambert's sum over its sides."""
    unit = corners / np.linalg.norm(corners, axis=1, keepdims=True)
    following = np.roll(unit, -1, axis=0)
    normal = np.cross(unit, following)
    angle = np.arctan2(np.linalg.norm(normal, axis=1), np.sum(unit * following, axis=1))
    return abs(np.sum(angle * normal[:, 2] / np.linalg.norm(normal, axis=1))) / (2 * np.pi)


def level(x0, x1, y0, y1, z):
    return sheet("over", [[x0, y0, z], [x1, y0, z], [x1, y1, z], [x0, y1, z]])


def over(row):
    """Return the surface of a row of the table of view factors, or None where it is not one over a point."""
    p, case = numbers(row), row["case"]
    if case.startswith("disk_"):
        return disk("over", [p.get("a", 0.0), 0, p["h"]], p["r"])
    if case.startswith("rect_corner"):
        return level(0, p["a"], 0, p["b"], p["c"])
    if case.startswith("rect_centred"):
        return level(-p["a"] / 2, p["a"] / 2, -p["b"] / 2, p["b"] / 2, p["c"])
    if case == "rect_outside":
        return level(2.5, 5.5, -1, 1, 2)
    if case.startswith("rect_perp"):
        s = p["S"]
        return sheet("over", [[s, 0, 0], [s, p["W"], 0], [s, p["W"], p["H"]], [s, 0, p["H"]]])
    if case == "poly_sloping":
        return sheet("over", [[0.5, -1, 0.8], [0.5, 1, 0.8], [2.5, 1, 1.2], [2.5, -1, 1.2]])
    return None


@pytest.mark.published
def test_sky_kept_off_by_disk_and_rectangle_overhead(published):
    table = published("sky/view_factors")
    rows = [(row, over(row)) for row in table.rows]
    checked = [(row, surface) for row, surface in rows if surface is not None]
    assert len(checked) >= 11
    for row, surface in checked:
        assert abs(sky_shut(surface) - row["view_factor"]) <= table.tolerance("view_factor")


@pytest.mark.analytic
def test_sky_kept_off_by_two_hundred_sheets_overhead():
    rng = np.random.default_rng(17)
    off = []
    for _ in range(200):
        turn, long, wide = rng.uniform(0, 2 * np.pi), *rng.uniform(0.3, 3.0, size=2)
        across = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * [long / 2, wide / 2]
        plan = across @ [[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]] + rng.uniform(-1.5, 1.5, size=2)
        corners = np.c_[plan, rng.uniform(0.5, 2.0) + plan @ rng.uniform(-0.1, 0.1, size=2)]
        off.append(sky_shut(sheet("over", corners)) - contour(corners))
    assert np.abs(off).max() <= 0.005
    assert abs(np.mean(off)) <= 0.0005


@pytest.mark.published
def test_sky_kept_off_from_a_tilted_area(published):
    table = published("sky/view_factors")
    row = next(row for row in table.rows if row["case"] == "poly_tilted_element")
    shut = sky_shut(level(-1, 1, -1, 1, 2), normal=(np.sin(np.pi / 6), 0, np.cos(np.pi / 6)))
    assert abs(shut - row["view_factor"]) <= table.tolerance("view_factor")


@pytest.mark.analytic
def test_every_bit_equals_a_single_ray():
    points = lifted(COCKPIT.places)
    rng = np.random.default_rng(3)
    rows, columns = rng.integers(len(points), size=3000), rng.integers(len(MAP.grid.directions), size=3000)
    below = np.sum(level_normals(COCKPIT.places)[rows] * MAP.grid.directions[columns], axis=1) <= GRAZING
    assert 0.1 < below.mean() < 0.5
    solid = MAP.met(0)[rows, columns]
    for k, caster in enumerate(MAP.casters):
        alone = caster.tracer().occluded(points[rows], MAP.grid.directions[columns])
        asked = ~solid & ~below if k else ~below
        assert np.mean(MAP.met(k)[rows, columns][asked] != alone[asked]) < 2e-3
        assert not np.any(MAP.met(k)[rows, columns][~asked])


@pytest.mark.behaviour
def test_casters_are_the_solid_boat_and_each_sheet():
    assert [caster.name for caster in casters_of(COCKPIT)] == [
        *(name for name, _ in BODIES),
        "spray hood",
        "bimini",
        "bridge",
        "side",
    ]


@pytest.mark.behaviour
def test_an_edit_traces_one_panel_and_equals_a_new_map():
    moved = sheet("bimini", [[1.3, -1.0, 2.0], [2.9, -1.0, 2.1], [2.9, 1.1, 2.0], [1.3, 1.1, 1.9]])
    surfaces = [moved if surface.name == "bimini" else surface for surface in COCKPIT.surfaces]
    edited = scene(*surfaces, places=COCKPIT.places)
    fresh, taken_over = dome_map(edited), dome_map(edited, known=MAP)
    for a, b in zip(fresh.bits, taken_over.bits, strict=True):
        assert np.array_equal(a, b)
    added = with_casters(MAP, [caster_of(moved)])
    assert added.number_of(caster_of(moved)) == len(MAP.casters)
    assert np.array_equal(added.bits[-1], fresh.bits[[one.name for one in fresh.casters].index("bimini")])
    assert pooled(MAP, fresh).number_of(caster_of(moved)) == len(MAP.casters)
    assert with_casters(fresh, [caster_of(moved)]).bits == fresh.bits
    kept = {caster.name: new is old for caster, new, old in zip(fresh.casters, taken_over.bits, MAP.bits, strict=True)}
    assert kept == {caster.name: caster.name != "bimini" for caster in MAP.casters}


@pytest.mark.behaviour
def test_a_map_of_other_places_is_not_taken_over():
    other = scene(*COCKPIT.surfaces, places=[spread("seat", [0, 0, 0.5], [1, 0, 0], [0, 1, 0], points=32)])
    assert dome_map(other, known=MAP).bits[0].shape[0] == 32


@pytest.mark.behaviour
def test_striking_a_panel_equals_a_map_without_it():
    struck = without(MAP, ["bridge"])
    fresh = dome_map(COCKPIT.without(["bridge"]))
    assert all(np.array_equal(a, b) for a, b in zip(struck.bits, fresh.bits, strict=True))


@pytest.mark.analytic
def test_light_through_a_window_is_weakened_by_its_share():
    mesh = sheet("mesh", [[-9, -9, 1], [9, -9, 1], [9, 9, 1], [-9, 9, 1]], light_through=0.3, uv_through=0.1)
    glass = sheet("glass", [[-9, -9, 2], [9, -9, 2], [9, 9, 2], [-9, 9, 2]], light_through=0.8, uv_through=0.5)
    both = dome_map(scene(mesh, glass, places=[spread("seat", [0, 0, 0], [1, 0, 0], [0, 1, 0], points=64)]))
    assert light_from(place_tables(both), [[0, 0, 1]]).lit[0, 0] == pytest.approx(0.24, abs=1e-6)
    assert light_from(place_tables(both, through="uv"), [[0, 0, 1]]).lit[0, 0] == pytest.approx(0.05, abs=1e-6)
    assert light_from(place_tables(both, through="rain"), [[0, 0, 1]]).lit[0, 0] == 0.0


@pytest.mark.property
@settings(max_examples=25, deadline=None)
@given(bearing=st.floats(-3.1, 3.1), altitude=st.floats(0.05, 1.5))
def test_the_map_covers_single_rays_within_what_it_says(bearing, altitude):
    towards = [[-np.cos(altitude) * np.cos(bearing), np.cos(altitude) * np.sin(bearing), np.sin(altitude)]]
    traced, read = traced_light(COCKPIT, towards), light_from(place_tables(MAP), towards)
    assert np.all(read.low <= read.lit)
    assert np.all(read.lit <= read.high)
    assert np.all(np.abs(traced.lit - read.lit) <= 4 * (read.high - read.low) + 0.02)


@pytest.mark.property
@settings(max_examples=25, deadline=None)
@given(down=st.sets(st.sampled_from(["spray hood", "bimini", "bridge", "side"])))
def test_more_cloth_is_never_less_shade(down):
    less, all_up = place_tables(without(MAP, down)), place_tables(MAP)
    assert np.all(all_up.lit <= less.lit + 1e-7)
    assert np.all(all_up.sky <= less.sky + 1e-9)


@pytest.mark.property
@given(count=st.integers(1, 60), seed=st.integers(0, 99))
def test_ordering_by_neighbours_keeps_every_point_once(count, seed):
    points = np.random.default_rng(seed).uniform(size=(count, 3))
    assert sorted(by_neighbours(points)) == list(range(count))

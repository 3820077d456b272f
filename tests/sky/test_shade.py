"""Check shade against closed forms of board, overhang and fin, light against Liu and Jordan, and what always holds."""

from datetime import date

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from canvas.geometry.scene import Place
from canvas.geometry.surface import Surface
from canvas.sky.dome import dome_map, place_tables
from canvas.sky.dose import doses
from canvas.sky.heading import all_round, on_heading, swinging
from canvas.sky.instants import mean_solar_times
from canvas.sky.shade import shade_at, shade_hours
from canvas.sky.sun import clear_sky, sun_positions
from canvas.sky.ultraviolet import uv_index
from tests.hand_built import invented_cockpit, scene, sheet, spread

FAR = 60.0
COCKPIT = invented_cockpit(points=96, seats_only=True)
PANELS = ["spray hood", "bimini", "bridge", "side"]


def share(surfaces, place, *, alt_deg, az_deg, heading=0.0):
    answer = shade_at(
        scene(*surfaces, places=[place]),
        azimuth=np.radians(az_deg),
        altitude=np.radians(alt_deg),
        headings=on_heading(heading),
    )
    return answer.share[0]


def wall(row):
    """Return a wall's window facing aft (bearing 180), its overhang and fin, with bearings turned to suit."""
    w, h, depth, gap = row["width_m"], row["height_m"], row["depth_m"], row["gap_m"]
    window = spread("window", [0, w / 2, 0], [0, -w, 0], [0, 0, -h], points=4000)
    side = FAR if row["side_extension_m"] in (None, float("inf")) else row["side_extension_m"]
    top, left = gap, w / 2 + gap
    roof = sheet(
        "roof",
        [[0, -w / 2 - side, top], [depth, -w / 2 - side, top], [depth, w / 2 + side, top], [0, w / 2 + side, top]],
    )
    # the fin stands on the side the sun comes from: a sun to the right of the facing wall is to port
    fin = sheet("fin", [[0, -left, -FAR], [depth, -left, -FAR], [depth, -left, FAR], [0, -left, FAR]])
    back = sheet("wall", [[-1e-3, -FAR, -FAR], [-1e-3, FAR, -FAR], [-1e-3, FAR, FAR], [-1e-3, -FAR, FAR]])
    parts = {"overhang": [roof], "fin": [fin], "egg": [roof, fin]}[row["kind"]]
    return [back, *parts], window


@pytest.mark.published
def test_wall_under_an_overhang_and_beside_a_fin(published):
    table = published("sky/overhang_fin")
    for row in table.rows:
        surfaces, window = wall(row)
        heading = np.radians(row["wall_az_deg"] - 180.0)
        found = share(surfaces, window, alt_deg=row["sun_alt_deg"], az_deg=row["sun_az_deg"], heading=heading)
        assert abs(found - row["shaded_fraction"]) <= table.tolerance("shaded_fraction")


@pytest.mark.analytic
@pytest.mark.parametrize("az_deg", [0, 35, 90, 160, 215, 300])
@pytest.mark.parametrize("alt_deg", [35.0, 70.0])
def test_board_over_a_flat_seat(alt_deg, az_deg):
    length, width, height, over = 1.8, 0.5, 1.4, 0.3
    seat = spread("seat", [0, 0, 0], [length, 0, 0], [0, width, 0], points=6000)
    low, high = (-over, -over), (length + over, width + over)
    board = sheet("board", [[*low, height], [high[0], low[1], height], [*high, height], [low[0], high[1], height]])
    run = height / np.tan(np.radians(alt_deg))
    # sun at bearing b stands ahead by cos b (minus x) and to starboard by sin b; the shadow moves the other way
    dx, dy = run * np.cos(np.radians(az_deg)), -run * np.sin(np.radians(az_deg))
    covered = [
        max(0.0, min(size, high[k] + d) - max(0.0, low[k] + d))
        for k, (size, d) in enumerate([(length, dx), (width, dy)])
    ]
    expected = covered[0] * covered[1] / (length * width)
    assert share([board], seat, alt_deg=alt_deg, az_deg=az_deg) == pytest.approx(expected, abs=0.005)


@pytest.mark.published
def test_light_on_a_plane_under_an_even_sky(published):
    table = published("sky/plane_irradiance_isotropic")
    for row in table.rows:
        tilt, bearing = np.radians(row["plane_tilt_deg"]), np.radians(row["sun_az_minus_plane_az_deg"])
        side = np.array([0.0, 1.0, 0.0])
        normal = np.array([-np.sin(tilt), 0.0, np.cos(tilt)])
        plane = spread("plane", [0, 0, 0], np.cross(side, normal), side, points=16)
        tables = place_tables(dome_map(scene(places=[plane])))
        zenith = np.radians(row["sun_zenith_deg"])
        towards = [-np.sin(zenith) * np.cos(bearing), np.sin(zenith) * np.sin(bearing), np.cos(zenith)]
        beam = row["dni_W_m2"] * max(0.0, float(np.dot(plane.normals[0], towards)))
        assert abs(beam - row["beam_W_m2"]) <= table.tolerance("beam_W_m2")
        assert abs(row["dhi_W_m2"] * tables.sky[0] - row["sky_W_m2"]) <= table.tolerance("sky_W_m2")
        thrown = row["albedo"] * row["ghi_W_m2"] * tables.sea[0]
        assert abs(thrown - row["reflected_W_m2"]) <= table.tolerance("reflected_W_m2")


def year(latitudes, *, step=60.0, first=date(2026, 1, 1), last=date(2026, 1, 2)):
    times = mean_solar_times(first, last, step_minutes=step)
    return sun_positions(np.tile(times, len(latitudes)), latitude=np.repeat(np.radians(latitudes), len(times)))


@pytest.mark.analytic
def test_an_open_level_place_gets_what_the_open_deck_gets():
    deck = spread("deck", [0, 0, 0], [1, 0, 0], [0, 1, 0], points=16)
    sun = year([-17.5, 40.0], step=10.0)
    added = doses(dome_map(scene(places=[deck])), sun, headings=all_round(4), step_minutes=10.0)
    light = clear_sky(sun)
    level = light.beam * np.sin(np.maximum(sun.apparent_altitude, 0)) + light.diffuse
    wanted = level.reshape(4, -1).sum(axis=1) * 600.0
    # keys are sorted by latitude, then day
    assert np.degrees(added.latitude) == pytest.approx([-17.5, -17.5, 40.0, 40.0])
    assert added.energy[:, 0] == pytest.approx(wanted, rel=2e-3)
    burning = np.where(sun.up, uv_index(sun).value, 0.0).reshape(4, -1).sum(axis=1) * 0.025 * 600.0 / 100.0
    assert added.uv[:, 0] == pytest.approx(burning, rel=1e-2)
    assert np.abs(added.uv_kept_off).max() < 1e-9
    assert np.abs(added.shade_share).max() < 1e-9


@pytest.mark.analytic
def test_an_endless_roof_keeps_everything_off_but_the_sea():
    deck = spread("deck", [0, 0, 0], [1, 0, 0], [0, 1, 0], points=16)
    roof = sheet("roof", [[-900, -900, 1], [900, -900, 1], [900, 900, 1], [-900, 900, 1]])
    added = doses(dome_map(scene(roof, places=[deck])), year([10.0]), headings=on_heading(0.0), each_panel=True)
    assert added.uv_kept_off[:, 0] == pytest.approx(1.0, abs=1e-3)
    assert added.sky_kept_off[0] == pytest.approx(1.0, abs=1e-3)
    assert added.panels == ("roof",)
    assert added.uv_panel[0, :, 0] == pytest.approx(1.0, abs=1e-3)


@pytest.mark.behaviour
def test_hours_by_map_agree_with_single_rays_and_are_unknown_at_night():
    sun = year([-17.5])
    hours = shade_hours(place_tables(dome_map(COCKPIT)), sun, headings=on_heading(1.0), heel=0.1)
    assert np.all(np.isnan(hours.share[:, ~sun.up]))
    k = int(np.argmax(sun.altitude))
    traced = shade_at(
        COCKPIT, azimuth=sun.azimuth[k], altitude=sun.apparent_altitude[k], headings=on_heading(1.0), heel=0.1
    )
    assert hours.share[:, k] == pytest.approx(traced.share, abs=0.02)


@pytest.mark.behaviour
def test_with_the_sun_down_all_is_shade():
    night = shade_at(COCKPIT, azimuth=1.0, altitude=-0.1, headings=on_heading(0.0))
    assert np.all(night.share == 1.0)
    assert np.all(night.only_it == 0.0)


@pytest.mark.behaviour
def test_headings_share_out_the_time():
    sheering = swinging(np.pi / 2)
    assert sheering.weights.sum() == pytest.approx(1.0)
    assert np.degrees(sheering.angles.min()) > 59.9
    assert np.degrees(sheering.angles.max()) < 120.1
    assert on_heading(-np.pi / 2).words == "on 270"


@pytest.mark.property
@settings(max_examples=20, deadline=None)
@given(azimuth=st.floats(0, 6.2), altitude=st.floats(0.05, 1.5), heading=st.floats(0, 6.2), turn=st.floats(-3, 3))
def test_turning_boat_and_sun_together_leaves_the_shade(azimuth, altitude, heading, turn):
    here = shade_at(COCKPIT, azimuth=azimuth, altitude=altitude, headings=on_heading(heading))
    there = shade_at(COCKPIT, azimuth=azimuth + turn, altitude=altitude, headings=on_heading(heading + turn))
    assert there.share == pytest.approx(here.share, abs=2 / 96)


@pytest.mark.property
@settings(max_examples=20, deadline=None)
@given(azimuth=st.floats(0, 6.2), altitude=st.floats(0.05, 1.5), heel=st.floats(-0.4, 0.4))
def test_mirroring_boat_sun_and_heel_leaves_the_shade(azimuth, altitude, heel):
    here = shade_at(COCKPIT, azimuth=azimuth, altitude=altitude, headings=on_heading(0.0), heel=heel)
    there = shade_at(mirrored(COCKPIT), azimuth=-azimuth, altitude=altitude, headings=on_heading(0.0), heel=-heel)
    assert there.share == pytest.approx(here.share, abs=2 / 96)


@pytest.mark.property
@settings(max_examples=20, deadline=None)
@given(
    azimuth=st.floats(0, 6.2),
    altitude=st.floats(0.02, 1.5),
    down=st.sets(st.sampled_from(PANELS)),
    heel=st.floats(-0.3, 0.3),
)
def test_more_cloth_is_never_less_shade(azimuth, altitude, down, heel):
    where = {"azimuth": azimuth, "altitude": altitude, "headings": on_heading(0.7), "heel": heel}
    all_up, less = shade_at(COCKPIT, **where), shade_at(COCKPIT.without(down), **where)
    assert np.all(all_up.share >= less.share - 1e-12)
    assert np.all(all_up.only_it >= -1e-12)
    assert np.all(all_up.keeps_off >= all_up.only_it - 1e-12)


def mirrored(whole):
    flip = np.array([1.0, -1.0, 1.0])
    surfaces = [
        Surface(
            name=one.name,
            kind=one.kind,
            vertices=one.vertices * flip,
            faces=one.faces[:, ::-1],
            closed=one.closed,
            panel=one.panel,
            light_through=one.light_through,
        )
        for one in whole.surfaces
    ]
    places = [
        Place(name=one.name, points=one.points * flip, normals=one.normals * flip, area=one.area)
        for one in whole.places
    ]
    return scene(*surfaces, places=places)

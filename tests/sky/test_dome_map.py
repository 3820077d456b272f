"""Hold the sums of a dome map to plain sums over its points, on small maps of made-up and of traced bits."""

from dataclasses import replace

import numpy as np
import pytest

from canvas.geometry.panorama import GRAZING
from canvas.geometry.scene import Place
from canvas.sky import dome
from canvas.sky.casters import BODIES, Caster, casters_of, level_normals, lifted
from canvas.sky.directions import coarse, direction_grid, lobe_weights, stencil
from canvas.sky.dome import (
    DomeMap,
    dome_map,
    light_from,
    passing,
    place_tables,
    pooled,
    same_ground,
    thinned_map,
    undivided,
    with_casters,
    without,
)
from canvas.sky.samples import by_neighbours, group_means, groups_of, slices_of, standard_error, thinned
from tests.hand_built import box, invented_cockpit, scene, sheet, spread

GRID = direction_grid(0.5)
LEVEL = Place(
    name="seat",
    points=np.random.default_rng(1).uniform(size=(9, 3)),
    normals=np.tile([0.0, 0.0, 1.0], (9, 1)),
    area=1.0,
)
BENT = Place(
    name="back",
    points=np.random.default_rng(2).uniform(size=(6, 3)),
    normals=np.repeat([[0.0, 0.0, 1.0], [0.0, 1.0, 0.0]], 3, axis=0),
    area=1.0,
)
SHARES = (0.0, 0.3, 0.0, 1.0, 0.8)


def made_up():
    """Return a map of random bits, the bits, and what passes each caster."""
    rng = np.random.default_rng(7)
    bits = rng.uniform(size=(len(SHARES), 15, len(GRID.directions))) < 0.25
    casters = tuple(
        Caster(name=f"one {k}", panel=f"panel {k}" if k else None, surfaces=(), light=share, uv=share / 2, rain=0.0)
        for k, share in enumerate(SHARES)
    )
    packed = tuple(np.packbits(one, axis=1) for one in bits)
    return DomeMap(grid=GRID, places=(LEVEL, BENT), casters=casters, bits=packed, group=groups_of([LEVEL, BENT])), bits


KNOWN, BITS = made_up()


def reached(factor=1.0):
    """Return what reaches every point from every node when the shares of the casters multiply."""
    return np.prod([1.0 - one * (1.0 - factor * share) for one, share in zip(BITS, SHARES, strict=True)], axis=0)


@pytest.mark.analytic
def test_shares_of_sheets_multiply_for_every_point_and_node():
    for k, one in enumerate(BITS):
        assert np.array_equal(KNOWN.met(k), one)
        assert KNOWN.number_of(KNOWN.casters[k]) == k
    first, second = KNOWN.slices()
    assert (first, second) == (slice(0, 9), slice(9, 15))
    for rows in (first, second, slice(0, 15)):
        assert np.allclose(passing(KNOWN, rows), reached()[rows], atol=1e-6)
        assert np.allclose(passing(KNOWN, rows, through="uv"), reached(0.5)[rows], atol=1e-6)
        assert np.array_equal(passing(KNOWN, rows, through="rain"), ~BITS.any(axis=0)[rows])


@pytest.mark.analytic
@pytest.mark.parametrize("number", [0, 1])
def test_tables_are_plain_means_over_the_points_of_a_place(number):
    place, rows = KNOWN.places[number], KNOWN.slices()[number]
    tables, reach = place_tables(KNOWN), reached()[rows]
    cosine = place.normals @ GRID.directions.T
    lit = reach * (cosine > -1e-9)
    assert tables.names == ("seat", "back")
    assert tables.counts[number] == len(place.points)
    assert np.allclose(tables.lit[number], lit.mean(axis=0), atol=1e-6)
    assert np.allclose(tables.flux[number], (reach * np.maximum(cosine, 0.0)).mean(axis=0), atol=1e-6)
    assert np.allclose(tables.flux_open[number], np.maximum(cosine, 0.0).mean(axis=0), atol=1e-9)
    group = KNOWN.group[rows]
    means = np.array([lit[group == k].mean(axis=0) for k in range(4)])
    assert np.allclose(tables.spread[number], means.std(axis=0, ddof=1) / 2.0, atol=1e-6)
    for way, seen, clear in ((1.0, tables.sky, tables.sky_open), (-1.0, tables.sea, tables.sea_open)):
        lobe = lobe_weights(GRID, place.normals, up=(0.0, 0.0, way))
        assert seen[number] == pytest.approx(float((lobe * reach).sum() / len(lobe)), abs=1e-6)
        assert clear[number] == pytest.approx(float(lobe.sum() / len(lobe)), abs=1e-9)
    assert tables.sky_open[number] == pytest.approx([1.0, 0.75][number], abs=2e-3)
    assert tables.sea_open[number] == pytest.approx([0.0, 0.25][number], abs=2e-3)


@pytest.mark.analytic
def test_sky_and_sea_change_places_when_up_is_down_and_normals_are_told_from_alike_ones():
    over, under = place_tables(KNOWN), place_tables(KNOWN, up=(0.0, 0.0, -1.0))
    assert np.allclose(over.sky, under.sea)
    assert np.allclose(over.sea_open, under.sky_open)
    assert place_tables(KNOWN) is over
    assert place_tables(KNOWN, through="uv") is not over
    assert not over.lit.flags.writeable


@pytest.mark.analytic
def test_light_at_a_node_is_the_tables_with_two_standard_errors_and_a_point_either_side():
    tables = place_tables(KNOWN)
    nodes = [40, 333, 700, len(GRID.directions) - 30, int(np.argmax(tables.lit.max(axis=0)))]
    light = light_from(tables, GRID.directions[nodes])
    assert light.names == tables.names
    assert np.allclose(light.lit, tables.lit[:, nodes], atol=1e-6)
    assert np.allclose(light.flux, tables.flux[:, nodes], atol=1e-6)
    rough = np.abs(tables.lit - stencil(coarse(GRID), GRID.directions).of(tables.lit))
    around = stencil(GRID, GRID.directions[nodes]).nodes
    error = np.hypot(0.7 * tables.spread[:, nodes], 0.25 * rough[:, around].max(axis=-1))
    margin = 2.0 * error + 1.0 / np.array([[9.0], [6.0]])
    assert np.allclose(light.low, np.clip(light.lit - margin, 0.0, 1.0), atol=1e-6)
    assert np.allclose(light.high, np.clip(light.lit + margin, 0.0, 1.0), atol=1e-6)
    assert light.low.min() == 0.0
    assert light.high.max() == 1.0


@pytest.mark.behaviour
def test_panels_taken_down_leave_the_rest_as_it_is():
    left = without(KNOWN, ["panel 1", "panel 3"])
    assert [one.name for one in left.casters] == ["one 0", "one 2", "one 4"]
    assert all(a is b for a, b in zip(left.bits, (KNOWN.bits[0], KNOWN.bits[2], KNOWN.bits[4]), strict=True))
    assert left.group is KNOWN.group
    assert [one.name for one in without(KNOWN, []).casters] == [one.name for one in KNOWN.casters]


@pytest.mark.analytic
def test_groups_take_one_of_every_four_neighbours_and_start_anew_at_each_place():
    line = np.zeros((16, 3))
    line[:, 1] = np.arange(16)[::-1]
    place = Place(name="line", points=line, normals=line, area=1.0)
    assert list(by_neighbours(line)) == list(range(15, -1, -1))
    assert list(groups_of([place])) == [3, 2, 1, 0] * 4
    assert list(groups_of([place, place])) == [3, 2, 1, 0] * 8
    assert slices_of([place, LEVEL]) == (slice(0, 16), slice(16, 25))
    assert not groups_of([place]).flags.writeable
    flat = np.zeros((12, 3))
    flat[:, 0], flat[:, 2] = np.repeat([0.0, 5.0, 1.0], 4), np.tile([3.0, 1.0, 2.0, 0.0], 3)
    assert list(by_neighbours(flat)) == [3, 1, 9, 2, 0, 8, 10, 11, 4, 5, 6, 7]  # halved along x, then along z or x
    far = flat + np.array([0.0, 0.0, 100.0])  # how long a side is, not where it lies
    assert list(by_neighbours(far)) == list(by_neighbours(flat))


@pytest.mark.analytic
def test_group_means_and_their_standard_error():
    values = np.array([[1.0], [3.0], [5.0], [7.0], [9.0]])
    means = group_means(values, np.array([0, 1, 2, 3, 0]))
    assert means[:, 0] == pytest.approx([5.0, 3.0, 5.0, 7.0, 5.0])
    assert standard_error(means)[0] == pytest.approx(np.std([5.0, 3.0, 5.0, 7.0], ddof=1) / 2.0)
    assert group_means(values[:2], np.array([0, 1]))[:, 0] == pytest.approx([1.0, 3.0, 0.0, 0.0, 2.0])


@pytest.fixture(scope="module")
def small():
    surfaces = [
        box("cabin", [-2, -1, -1], [-0.2, 1, 0.6], kind="boat"),
        sheet("roof", [[-0.5, -1, 1], [1.5, -1, 1], [1.5, 1, 1], [-0.5, 1, 1]]),
    ]
    return scene(*surfaces, places=[spread("seat", [0, -0.4, 0], [1, 0, 0], [0, 0.8, 0], points=16)])


@pytest.mark.analytic
def test_a_traced_map_holds_the_boat_and_canvas_only_where_the_boat_is_not_met(small):
    known = dome_map(small, grid=GRID)
    casters, points = casters_of(small), lifted(small.places)
    assert known.grid is GRID
    assert [one.name for one in known.casters] == [one.name for one in casters]
    over = level_normals(small.places) @ GRID.directions.T > GRAZING
    boat = casters[0].tracer().occluded_grid(points, GRID.directions) & over
    assert np.array_equal(known.met(0), boat)
    assert 0.05 < boat[over].mean() < 0.5
    assert 0.2 < over.mean() < 0.8
    roof = known.met(len(BODIES))
    assert not (roof & boat).any()
    assert np.array_equal(roof, casters[-1].tracer().occluded_grid(points, GRID.directions, ask=over & ~boat))
    assert not known.bits[0].flags.writeable
    assert np.array_equal(known.group, groups_of(small.places))
    again = dome_map(small, grid=GRID, known=known)
    assert all(a is b for a, b in zip(again.bits, known.bits, strict=True))


@pytest.mark.behaviour
def test_a_map_on_another_grid_or_of_another_boat_is_traced_anew(small):
    known = dome_map(small, grid=GRID)
    other = direction_grid(0.25)
    assert dome_map(small, grid=other, known=known).grid is other
    assert dome_map(small, known=known).grid is GRID
    usual = dome_map(small)
    assert usual.grid.base is direction_grid()
    assert all(one.shape == (16, -(-len(usual.grid.directions) // 8)) for one in usual.bits)
    plain = dome_map(small, grid=direction_grid())
    for k in range(len(plain.casters)):
        assert np.array_equal(usual.met(k)[:, : len(direction_grid().directions)], plain.met(k))
    lower = scene(
        box("cabin", [-2, -1, -1], [-0.2, 1, 0.5], kind="boat"), small.surfaces[1], places=small.places
    )  # fmt: skip
    assert same_ground(known, small)
    assert not same_ground(known, lower)
    assert not same_ground(known, scene(*small.surfaces, places=[LEVEL]))
    changed = dome_map(lower, grid=GRID, known=known)
    assert np.array_equal(changed.met(0), dome_map(lower, grid=GRID).met(0))
    assert changed.bits[0] is not known.bits[0]


@pytest.mark.behaviour
def test_what_is_held_is_not_traced_again_nor_held_twice(small, monkeypatch):
    known = dome_map(small, grid=GRID)
    flap = casters_of(scene(sheet("flap", [[1, -1, 0.2], [1, 1, 0.2], [1, 1, 1], [1, -1, 1]])))[-1]
    more = with_casters(known, [flap, known.casters[-1]])
    assert [one.name for one in more.casters] == [*(one.name for one in known.casters), "flap"]
    over = level_normals(small.places) @ GRID.directions.T > GRAZING
    asked = flap.tracer().occluded_grid(lifted(small.places), GRID.directions, ask=over & ~known.met(0))
    assert np.array_equal(more.met(len(known.casters)), asked)
    both = pooled(known, more)
    assert [one.name for one in both.casters] == [one.name for one in more.casters]
    assert both.bits[-1] is more.bits[-1]
    assert pooled(more, known).bits == more.bits
    monkeypatch.setattr(Caster, "tracer", lambda self: pytest.fail(f"{self.name} was traced again"))
    assert dome.with_casters(more, more.casters).bits == more.bits


@pytest.mark.behaviour
def test_a_thinned_map_is_the_one_traced_at_the_points_kept():
    cockpit = invented_cockpit(points=97)
    whole = dome_map(cockpit)
    less = thinned_map(whole)
    few = replace(cockpit, places=tuple(map(thinned, cockpit.places)))
    assert less.places == few.places
    assert all(len(place.points) == 49 for place in less.places)
    assert [place.area for place in less.places] == [place.area for place in cockpit.places]
    again = dome_map(few, grid=direction_grid())
    assert np.array_equal(less.group, again.group)
    for k in range(len(again.casters)):
        assert np.array_equal(undivided(less).met(k), again.met(k))
    assert thinned_map(whole) is less


@pytest.mark.property
def test_a_place_thinned_keeps_one_of_every_two_neighbours():
    for place in invented_cockpit(points=120).places:
        kept = thinned(place).points
        assert len(kept) == 60
        left_out = place.points[~(place.points[:, None] == kept).all(axis=-1).any(axis=1)]
        lone = np.linalg.norm(left_out[:, None] - kept, axis=-1).min(axis=1)
        apart = np.sqrt(place.area / len(kept))
        assert lone.max() < 1.6 * apart

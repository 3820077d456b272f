import dataclasses
import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon, box

from canvas.cutting.choices import CutOptions
from canvas.cutting.closer import closer_nest
from canvas.cutting.cut import cut_panels
from canvas.cutting.finish import read_finishes
from canvas.cutting.nest import SELVEDGE, SPACING, nest_outlines, shelf_length
from canvas.cutting.piece import Insert
from canvas.design.problems import DesignError
from tests.cutting import cut_shapes as shapes

WIDTH = 1.52
FINISHES = read_finishes()


def random_parts(seed, count=20):
    """Return outlines as canvas has them: rectangles, trapezoids, triangles, strips with hollow sides."""
    draw = np.random.default_rng(seed)
    parts = []
    for _ in range(count):
        kind = draw.integers(0, 4)
        long, deep = draw.uniform(0.2, 2.2), draw.uniform(0.15, 1.35)
        if kind == 0:
            part = [[0, 0], [long, 0], [long, deep], [0, deep]]
        elif kind == 1:
            part = [[0, 0], [long, 0], [long * draw.uniform(0.5, 0.9), deep], [long * draw.uniform(0.05, 0.4), deep]]
        elif kind == 2:
            part = [[0, 0], [long, draw.uniform(0, 0.3) * deep], [long * draw.uniform(0.2, 0.8), deep]]
        else:
            t = np.linspace(0, 1, 20)
            low = np.stack([t * long, 0.12 * deep * np.sin(np.pi * t)], axis=1)
            high = np.stack([(1 - t) * long, deep - 0.12 * deep * np.sin(np.pi * t)], axis=1)
            part = np.concatenate([low, high])
        parts.append(np.array(part, dtype=float))
    return parts


def hold_together(layout, outlines, *, forbidden=()):
    """Assert that nothing overlaps, spacing is kept, and all lies on the roll between selvedges and off bands."""
    laid = [Polygon(layout.outline(k, outline)) for k, outline in enumerate(outlines)]
    roll = box(-1e-9, SELVEDGE - 1e-9, layout.length + 1e-9, layout.width - SELVEDGE + 1e-9)
    for k, part in enumerate(laid):
        assert roll.contains(part)
        for other in laid[:k]:
            assert part.distance(other) > SPACING - 1e-6
        for low, high in forbidden:
            assert part.bounds[1] >= high - 1e-9 or part.bounds[3] <= low + 1e-9


@pytest.mark.behaviour
@pytest.mark.parametrize(("seed", "count"), [(0, 20), (1, 20), (2, 20), (3, 20), (4, 12), (5, 12), (6, 6), (7, 6)])
def test_random_parts_beat_shelf_packing_by_8_percent_in_20_seconds(seed, count):
    parts = random_parts(seed, count)
    start = time.thread_time()
    layout = nest_outlines(parts, width=WIDTH)
    assert time.thread_time() - start < 20
    assert layout.length <= 0.92 * shelf_length(parts, width=WIDTH)
    hold_together(layout, parts)


HELD_OUT = [(seed, (6, 12, 20)[seed % 3]) for seed in range(100, 124)]  # nothing of the nest was settled by these
LARGE = 120  # its six parts leave nothing to save: given twenty seconds, spyrrow finds the same length, 0.942


@pytest.mark.slow
@pytest.mark.behaviour
@pytest.mark.parametrize(("seed", "count"), HELD_OUT)
def test_lists_that_nothing_was_settled_by_beat_shelf_packing_by_8_percent_too(seed, count, tmp_path):
    parts = random_parts(seed, count)
    layout = nest_outlines(parts, width=WIDTH)
    hold_together(layout, parts)
    if seed == LARGE:
        assert layout.length <= 1.001 * closer_nest(parts, width=WIDTH, folder=tmp_path, seconds=10).length
    else:
        assert layout.length <= 0.92 * shelf_length(parts, width=WIDTH)


@pytest.mark.property
@settings(max_examples=15, deadline=None)
@given(st.integers(0, 10_000), st.integers(1, 7), st.booleans())
def test_parts_never_overlap_and_stay_on_the_roll(seed, count, flaw):
    parts = random_parts(seed, count)
    forbidden = [(0.70, 0.72)] if flaw and max(np.ptp(p[:, 1]) for p in parts) < 0.65 else []
    hold_together(nest_outlines(parts, width=WIDTH, forbidden=forbidden), parts, forbidden=forbidden)


@pytest.mark.property
def test_same_parts_lie_the_same_each_time():
    parts = random_parts(3, 8)
    one, two = nest_outlines(parts, width=WIDTH), nest_outlines(parts, width=WIDTH)
    assert one.x.tobytes() == two.x.tobytes()
    assert one.y.tobytes() == two.y.tobytes()
    assert one.turned.tobytes() == two.turned.tobytes()


@pytest.mark.property
def test_a_nap_that_may_not_be_turned_is_not():
    parts = random_parts(5, 6)
    layout = nest_outlines(parts, width=WIDTH, turnable=[False] * 6)
    assert not layout.turned.any()
    hold_together(layout, parts)


@pytest.mark.analytic
def test_one_part_takes_its_length_and_the_spacing():
    layout = nest_outlines([np.array([[0, 0], [1.2, 0], [1.2, 1.0], [0, 1.0]])], width=WIDTH)
    assert layout.length == pytest.approx(1.2 + SPACING)
    assert layout.used == pytest.approx(1.2 / (layout.length * WIDTH))


@pytest.mark.analytic
def test_no_parts_take_no_cloth():
    assert nest_outlines([], width=WIDTH).length == 0


@pytest.mark.behaviour
def test_the_width_that_wastes_least_is_chosen_and_the_others_said():
    cloth = dataclasses.replace(shapes.PLAIN, roll_widths=(1.17, 1.52, 2.05))
    plates = [shapes.plate(f"p{k}", 1.0, 1.0, finishes=("binding",) * 4, cloth=cloth) for k in range(2)]
    roll = cut_panels(plates, [], finishes=FINISHES).rolls[0]
    assert [width for width, _ in roll.lengths] == [1.17, 1.52, 2.05]
    wasted = {width: width * length for width, length in roll.lengths}
    assert roll.layout.width == min(wasted, key=lambda w: wasted[w])


@pytest.mark.behaviour
def test_a_part_wider_than_the_roll_is_named():
    plate = shapes.plate("sail", 1.0, 2.0, finishes=("binding",) * 4)
    with pytest.raises(
        DesignError, match=r'part "sail": found 1.994 m across the warp on a roll of 1.52 m.*2.02 m or more'
    ):
        cut_panels([plate], [], finishes=FINISHES, options=CutOptions(seams={"sail": ()}))


@pytest.mark.behaviour
def test_a_panel_wider_than_the_roll_is_divided_off_its_window():
    plate = shapes.plate("wide", 1.2, 2.0, cells=(20, 20), finishes=("binding",) * 4, cloth=shapes.PLAIN)
    zone = shapes.zone_of(plate, lambda x, y: (np.abs(x - 0.6) < 0.3) & (np.abs(y) < 0.3))
    window = Insert(name="look-out", zone=1, cloth=shapes.SHEET)
    panel = dataclasses.replace(plate, zone=zone, inserts=(window,))
    result = cut_panels([panel], [], finishes=FINISHES)
    pieces = [part for part in result.parts if part.cloth == "plain"]
    assert len(pieces) == 2
    assert sum(part.name.endswith("look-out") for part in result.parts) == 1
    seam = {round(float(p.finished[:, 1].min() - p.finished[:, 1].max()), 3) for p in pieces}
    assert min(abs(s) for s in seam) <= 1.0 - 0.35 + 0.02


@pytest.mark.behaviour
def test_a_roll_too_narrow_for_any_number_of_pieces_is_named():
    plate = shapes.plate("sail", 1.0, 2.6, finishes=("binding",) * 4)
    with pytest.raises(DesignError) as found:
        cut_panels([plate], [], finishes=FINISHES, options=CutOptions(roll_widths={plate.cloth.name: 0.12}))
    (problem,) = found.value.problems
    assert problem.code == "roll-too-narrow"
    assert "0.09 m" in problem.found
    assert problem.wanted.startswith("A roll of which at least 0.1")


@pytest.mark.behaviour
@pytest.mark.parametrize(("width", "pieces"), [(0.9, 3), (3.0, 1)])
def test_narrow_and_wide_rolls_take_as_many_pieces_as_they_must(width, pieces):
    plate = shapes.plate("sail", 1.0, 2.0, finishes=("binding",) * 4, cloth=shapes.PLAIN)
    result = cut_panels([plate], [], finishes=FINISHES, options=CutOptions(roll_widths={"plain": width}))
    assert len(result.parts) == pieces
    (roll,) = result.rolls
    assert roll.layout.width == width
    hold_together(roll.layout, [part.cut for part in result.parts])

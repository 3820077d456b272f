"""Check how numbers are named and varied, that all pools measure alike, and that the search finds known bests."""

import json
import os
import re
import resource
import signal
import time
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from typer.testing import CliRunner

from canvas import verbs
from canvas.brief.pictures import pictures
from canvas.brief.records.study import _matters
from canvas.brief.studyplots import Series, sweep_lines
from canvas.cli import app
from canvas.design.problems import DesignError
from canvas.jobs.pool import ClusterPool, HerePool, LocalPool
from canvas.jobs.progress import Progress
from canvas.study.front import Tried, beats, search_front
from canvas.study.measures import Measures, shade_share
from canvas.study.numbers import grid, read_vary, variant_texts
from canvas.study.searching import Aims, judged
from canvas.study.sweeping import Variant, do_task, effects, try_all
from tests.design.design_texts import example, read
from tests.hand_built import scene, sheet, spread

HEIGHT = "marks.tent_aft_port[2] & marks.tent_aft_stbd[2] = 1.10 m .. 1.30 m, 2"
HOLLOW = 'panel "watch tent roof", edges "port".hollow = 2 % .. 4 %, 2'


@pytest.mark.behaviour
def test_a_number_is_named_as_complaints_name_it():
    source = read(example())
    vary = read_vary(HOLLOW, source)
    panel = next(k for k, one in enumerate(source.design.panel) if one.name == "watch tent roof")
    assert vary.paths == (("panel", panel, "edges", 3, "hollow"),)
    assert (vary.first, vary.last, vary.unit, vary.steps) == (2.0, 4.0, "%", 2)
    assert read_vary(f"panel[{panel}].edges[3].hollow = 2 % .. 4 %", source).paths == vary.paths


@pytest.mark.behaviour
@pytest.mark.parametrize(
    ("typed", "ends"),
    [
        ("5 ft 8 in .. 6 ft, 3", (68.0, 72.0)),
        ("68 in .. 6 ft", (68.0, 72.0)),
        ("5' 8 1/2\" .. 6' 0\"", (68.5, 72.0)),
        ("-1 ft 2 in .. 0 in", (-14.0, 0.0)),
        ("5 ft 8 .. 6 ft 2", (68.0, 74.0)),
        ("67 1/2 in .. 70 in, 4", (67.5, 70.0)),
    ],
)
def test_a_range_may_be_said_in_feet_and_inches(typed, ends):
    source = read(example())
    vary = read_vary(f"marks.tent_aft_port[2] = {typed}", source)
    assert (vary.first, vary.last) == pytest.approx(ends)
    (text, _) = variant_texts(source, [vary], [(vary.first,), (vary.last,)])
    assert read(text).design.marks["tent_aft_port"][2] == pytest.approx(ends[0] * 0.0254)


@pytest.mark.regression
def test_a_number_that_the_file_has_not_is_told_with_the_file_as_it_was_named():
    missing = "marks.tent_bow_port[2] = 1 m .. 2 m"
    done = CliRunner().invoke(app, ["sweep", "examples/oddfellow.toml", "--vary", missing])
    assert done.exit_code == 2
    assert done.output.startswith("examples/oddfellow.toml:")


@pytest.mark.behaviour
def test_a_variant_changes_its_numbers_and_nothing_else():
    source = read(example())
    varies = [read_vary(HEIGHT, source), read_vary(HOLLOW, source)]
    rows = grid(varies)
    assert rows == ((1.1, 2.0), (1.1, 4.0), (1.3, 2.0), (1.3, 4.0))
    text = variant_texts(source, varies, rows)[-1]
    changed = [(a, b) for a, b in zip(source.text.splitlines(), text.splitlines(), strict=True) if a != b]
    assert len(changed) == 3
    made = read(text).design
    assert made.marks["tent_aft_port"][2] == made.marks["tent_aft_stbd"][2] == pytest.approx(1.3)
    assert made.panel_named("watch tent roof").edges[3].hollow == (pytest.approx(0.04), True)


@pytest.mark.behaviour
@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("marks.tent_aft_prt[2] = 1 m .. 2 m", 'Did you mean "tent_aft_port"'),
        ('panel "watch tent rof".cloth = 1 .. 2', 'Did you mean "watch tent roof"'),
        ("marks.tent_aft_port = 1 m .. 2 m", "Name one number"),
        ("marks.tent_aft_port[7] = 1 m .. 2 m", "no such place"),
        ("marks.tent_aft_port[2] = 1 m .. 2 ft", "one unit"),
        ("marks.tent_aft_port[2] = 1 m .. 1 m", "two ends differ"),
        ("marks.tent_aft_port[2] = low .. high", "Write such as"),
        ("marks.tent_aft_port[2] = 5 .. 6 ft 3", "Write such as"),
        ("marks.tent_aft_port[2]", "Write such as"),
    ],
)
def test_what_cannot_be_varied_is_said_so(text, said):
    with pytest.raises(DesignError, match=said):
        read_vary(text, read(example()))


@pytest.mark.behaviour
def test_a_variant_that_is_no_design_stays_with_its_reason():
    source = read(example())
    varies = [read_vary('panel "watch tent roof", edges "port".hollow = 2 % .. 400 %, 2', source)]
    found = try_all(source, varies, grid(varies), sets=["wet watch"], pool=HerePool())
    assert found.variants[0].problem is None
    assert "hollow" in found.variants[1].problem
    assert found.variants[1].measures == ()


@pytest.mark.behaviour
def test_processes_measure_as_this_one_does():
    source = read(example())
    varies = [read_vary(HEIGHT, source)]
    here = try_all(source, varies, grid(varies), sets=["wet watch"], pool=HerePool())
    pool = LocalPool(2)
    try:
        there = try_all(source, varies, grid(varies), sets=["wet watch"], pool=pool)
    finally:
        pool.close()
    assert there.variants == here.variants
    low, high = (one.measures[0] for one in here.variants)
    assert high.headroom_m - low.headroom_m == pytest.approx(0.2, abs=0.06)
    assert high.cloth_m2 < low.cloth_m2


@pytest.mark.slow
@pytest.mark.behaviour
@pytest.mark.filterwarnings("ignore")
def test_a_cluster_of_two_measures_as_this_process_does():
    distributed = pytest.importorskip("distributed")
    source = read(example())
    varies = [read_vary(HEIGHT, source), read_vary(HOLLOW, source)]
    here = try_all(source, varies, grid(varies), sets=["wet watch"], pool=HerePool())
    with distributed.LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster:
        pool = ClusterPool(cluster)
        there = try_all(source, varies, grid(varies), sets=["wet watch"], pool=pool)
        pool.close()
    assert there.variants == here.variants
    assert there.reran == 0


@pytest.mark.slow
@pytest.mark.behaviour
@pytest.mark.filterwarnings("ignore")
def test_two_hundred_variants_through_a_cluster_are_the_same_though_a_worker_is_killed(capsys):
    distributed = pytest.importorskip("distributed")
    source = read(example())
    varies = [
        read_vary(HEIGHT.replace(", 2", ", 20"), source),
        read_vary(HOLLOW.replace(", 2", ", 10"), source),
    ]
    rows = grid(varies)
    assert len(rows) == 200
    local = LocalPool(2)
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    start = time.perf_counter()
    here = try_all(source, varies, rows, sets=["wet watch"], pool=local)
    wall = time.perf_counter() - start
    local.close()
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    spent = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    with distributed.LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster:
        first = next(iter(cluster.workers.values())).pid
        done = []

        def kill(_, number, __):
            if number == 40 and not done:  # midway
                done.append(first)
                os.kill(first, signal.SIGKILL)

        pool = ClusterPool(cluster)
        there = try_all(source, varies, rows, sets=["wet watch"], pool=pool, progress=Progress(kill))
        pool.close()
    with capsys.disabled():
        print(f"\n200 variants on 2 processes: {spent:.0f} s of processor time, {wall:.0f} s by the clock")
        print(f"through a cluster, {len(done)} worker killed: {there.reran} tasks run again")
    assert done
    assert there.variants == here.variants
    assert all(one.problem is None for one in there.variants)
    assert 1 <= there.reran <= 40
    assert spent < 120  # two cores, a minute each


@pytest.mark.analytic
def test_effects_are_the_slopes_of_a_plane():
    source = read(example())
    varies = [read_vary(HEIGHT.replace(", 2", ", 4"), source), read_vary(HOLLOW.replace(", 2", ", 3"), source)]
    blank = Measures(shade_share=0.5, dry_share=0.5, clear_share=0.5, speed_ratio=0.5, cloth_m2=1.0, headroom_m=None)
    variants = [
        Variant(values=row, measures=(replace(blank, cloth_m2=3 * row[0] - 0.25 * row[1]),), problem=None)
        for row in grid(varies)
    ]
    found = {one.number: one.change for one in effects(varies, variants) if one.measure == "cloth_m2"}
    assert found[varies[0].name] == pytest.approx(0.6)
    assert found[varies[1].name] == pytest.approx(-0.5)


@pytest.mark.behaviour
def test_what_is_less_than_noise_is_not_told_as_what_matters():
    source = read(example())
    varies = [read_vary(HEIGHT.replace(", 2", ", 4"), source)]
    blank = Measures(shade_share=0.5, dry_share=0.5, clear_share=0.5, speed_ratio=0.5, cloth_m2=1.0, headroom_m=None)

    def moved(metres):
        measures = [replace(blank, shade_share=0.5 + 0.01 * row[0], cloth_m2=metres * row[0]) for row in grid(varies)]
        rows = zip(grid(varies), measures, strict=True)
        return effects(varies, [Variant(values=row, measures=(one,), problem=None) for row, one in rows])

    assert _matters(moved(3.0)).endswith("moves cloth by 0.6 m² over its range.")
    assert _matters(moved(0.1)) == "No number moves any measure by more than the noise of this quick look."


@pytest.mark.behaviour
def test_a_sweep_is_drawn_with_the_names_of_both_numbers_and_noise_lies_flat():
    height = np.array([1.0, 1.2])
    lines = [Series(name=name, number=height, value=np.array([0.9999, 0.99991])) for name in ("2 %", "4 %")]
    figure = sweep_lines([("speed ratio", lines, 0.04)], numbers=["height, m", "hollow, %"])
    figure.draw_without_rendering()
    (axes,) = figure.axes
    low, high = axes.get_ylim()
    assert high - low == pytest.approx(0.04)
    assert axes.yaxis.get_offset_text().get_text() == ""
    assert axes.get_xlabel() == "height, m"
    assert figure.legends[0].get_title().get_text() == "hollow, %"


@pytest.mark.analytic
def test_the_front_of_two_parabolas():
    # Schaffer: x^2 and (x - 2)^2 trade off for x from 0 to 2, where sqrt(f1) + sqrt(f2) = 2
    def trial(points):
        x = -3 + 8 * points[:, 0]
        return Tried(aims=np.stack([x**2, (x - 2) ** 2], axis=1), excess=np.zeros(len(x)))

    found = search_front(trial, numbers=1, start=16, rounds=8)
    aims = found.tried.aims[found.front]
    assert len(aims) >= 20
    # a point just outside an end may stand while none just inside was tried
    assert np.sqrt(aims).sum(axis=1) == pytest.approx(2, abs=0.05)
    assert aims[:, 0].min() < 0.05
    assert aims[:, 1].min() < 0.05


@pytest.mark.analytic
def test_the_best_within_a_limit():
    # least x + y with x y >= 1/4: both a half, where the two curves touch
    def trial(points):
        x, y = points.T
        return Tried(aims=(x + y)[:, None], excess=np.maximum(0.25 - x * y, 0.0))

    found = search_front(trial, numbers=2, start=16, rounds=30)
    assert found.tried.aims[found.front].min() == pytest.approx(1.0, abs=0.01)
    assert found.points[found.front[0]] == pytest.approx([0.5, 0.5], abs=0.08)


@pytest.mark.analytic
def test_the_least_roof_that_shades_four_fifths():
    # a roof of width w, 1 m over a place of 2 m, the mean over suns all round: searched against its own bisection
    place = spread("seat", [0, -1, 0], [1, 0, 0], [0, 2, 0], points=800)

    def shade_of(width):
        w = float(width)
        roof = sheet("roof", [[-0.5, -w, 1], [1.5, -w, 1], [1.5, w, 1], [-0.5, w, 1]])
        return shade_share(scene(roof, places=[place]))

    low, high = 0.2, 6.0
    wanted = 0.5 * (shade_of(low) + shade_of(high))
    a, b = low, high
    for _ in range(30):
        middle = 0.5 * (a + b)
        a, b = (middle, b) if shade_of(middle) < wanted else (a, middle)

    def trial(points):
        widths = low + (high - low) * points[:, 0]
        shade = np.array([shade_of(width) for width in widths])
        return Tried(aims=widths[:, None], excess=np.maximum(wanted - shade, 0.0))

    found = search_front(trial, numbers=1, start=8, rounds=12)
    assert found.tried.aims[found.front[0], 0] == pytest.approx(b, abs=0.02)


@pytest.mark.property
@given(st.integers(0, 1000))
def test_nothing_on_the_front_is_beaten_and_seeds_repeat(seed):
    def trial(points):
        return Tried(aims=np.stack([points[:, 0], (1 - points).sum(axis=1)], axis=1), excess=points[:, 1] - 0.7)

    found = search_front(trial, numbers=2, start=8, rounds=2, seed=seed)
    again = search_front(trial, numbers=2, start=8, rounds=2, seed=seed)
    assert np.array_equal(found.points, again.points)
    assert not beats(found.tried)[:, found.front].any()
    assert (found.tried.excess[found.front] <= 0).all()
    assert ((found.points >= 0) & (found.points <= 1)).all()


@pytest.mark.behaviour
def test_what_breaks_a_limit_or_cannot_be_built_ranks_behind():
    good = Measures(shade_share=0.5, dry_share=0.5, clear_share=1, speed_ratio=0.9, cloth_m2=2, headroom_m=0.9)
    rows = [
        Variant(values=(0.0,), measures=(good,), problem=None),
        Variant(values=(0.0,), measures=(replace(good, shade_share=0.9, speed_ratio=0.8),), problem=None),
        Variant(values=(0.0,), measures=(replace(good, shade_share=0.9, headroom_m=0.2),), problem=None),
        Variant(values=(0.0,), measures=(), problem="no shape"),
    ]
    tried = judged(rows, Aims(names=("shade_share", "cloth_m2"), least_speed_ratio=0.85, least_headroom=0.8))
    assert tried.excess == pytest.approx([0, 0.05, 0.6, np.inf])
    assert tried.aims[0] == pytest.approx([-0.5, 2])
    assert beats(tried)[0, 1:].all()
    assert not beats(tried)[1:, 0].any()


@pytest.fixture(scope="module")
def searched():
    return verbs.search(
        read(example()), vary=[HEIGHT], set_name="wet watch", least_headroom=0.5, start=2, rounds=1, aims=("cloth_m2",)
    )


@pytest.mark.behaviour
def test_each_point_of_the_front_opens_as_a_design(searched):
    record = json.loads(json.dumps(searched.record(), allow_nan=False))
    (found,) = record["sets"]
    assert record["tried"] == 2 + 3 + 2
    assert [row["file"] for row in found["front"]] == list(searched.files)
    best = min(row["cloth_m2"] for row in found["variants"])
    assert found["front"][0]["cloth_m2"] == best
    opened = read(next(iter(searched.files.values())).decode())
    assert opened.design.marks["tent_aft_port"][2] == pytest.approx(found["front"][0]["values"][0]["value"], abs=1e-4)
    for row in found["front"]:
        assert row["speed_ratio"] >= 0.85
        assert row["headroom_m"] >= 0.5


@pytest.mark.behaviour
def test_sentences_name_measures_in_words_with_their_units_and_say_where_nothing_moves(searched):
    (found,) = searched.record()["sets"]
    assert re.search(r" moves (shade|dry|cloth|headroom|speed ratio|clear) most\.$", found["sentence"])
    assert "are on the front: none is beaten in all that is aimed at; " in found["sentence"]
    sweep = verbs.sweep(read(example()), vary=[HEIGHT.replace(", 2", ", 3")], sets=["wet watch", "bare"])
    wet, bare = (one["sentence"] for one in sweep.record()["sets"])
    assert bare == "No number moves any measure, or too few variants can be built to tell."
    assert re.fullmatch(
        r"What matters most: .+, which moves \w[\w ]+ by \S+( percentage points| m²?)? over its range\.", wet
    )
    still = verbs.search(read(example()), vary=[HEIGHT], set_name="bare", start=2, rounds=0)
    assert "; no number moves any measure" in still.record()["sets"][0]["sentence"]


@pytest.mark.behaviour
@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["sweep", "--vary", "hull.beam = 1 m .. 2 m, 2"], "no variant that can be built"),
        (
            ["sweep", "--vary", HEIGHT.replace(", 2", ", 400"), "--vary", HOLLOW.replace(", 2", ", 400")],
            "160000 variants",
        ),
        (["search", "--vary", HEIGHT, "--set", "wet wtch"], 'Did you mean "wet watch"'),
        (["search", "--vary", HEIGHT, "--set", "wet watch", "--aim", "shade"], "shade_share"),
        (["search", "--vary", HEIGHT, "--set", "wet watch", "--start", "12"], "power of two"),
        (["search", "--vary", HEIGHT, "--set", "wet watch", "--headroom", "-3 m"], "a height above 0"),
    ],
)
def test_wrong_questions_end_with_2(words, said):
    done = CliRunner().invoke(app, [words[0], "examples/marrowgrass.toml", *words[1:], "--workers", "1"])
    assert done.exit_code == 2, done.output
    assert said in done.output


@pytest.mark.regression
def test_a_task_is_plain_enough_to_travel():
    import pickle

    from canvas.study.sweeping import Task

    task = Task(values=(1.0,), text="", file="boat.toml", folder=".", sets=("bare",))
    assert do_task(pickle.loads(pickle.dumps(task))).problem is not None


@pytest.mark.analytic
def test_each_variant_costs_what_its_own_order_does():
    vary = HEIGHT.replace(", 2", ", 3")
    (one,) = verbs.sweep(read(example()), vary=[vary], sets=["wet watch"], costed=True).record()["sets"]
    assert one["sentence"].startswith("What matters most: ")
    (text,) = variant_texts(read(example()), [read_vary(vary, read(example()))], [(1.3,)])
    (ordered,) = verbs.buy(read(text), sets=["wet watch"]).record()["sets"]
    first, _, last = one["variants"]
    assert last["work_low_h"] == pytest.approx(ordered["hours_low"], rel=1e-4)
    assert last["work_high_h"] == pytest.approx(ordered["hours_high"], rel=1e-4)
    assert last["cost_low"] is None  # the example has no prices
    assert first["work_low_h"] != last["work_low_h"]


@pytest.mark.behaviour
def test_fronts_and_sweeps_are_drawn(searched):
    (front,) = pictures(searched)
    assert "<svg" in front.svg
    assert "on the front" in front.svg
    assert all(f">{name.removeprefix('front-').removesuffix('.toml')}<" in front.svg for name in searched.files)
    swept = verbs.sweep(read(example()), vary=[HEIGHT], sets=["wet watch"])
    (picture,) = pictures(swept)
    assert "speed ratio" in picture.svg
    assert swept.record()["reran_tasks"] == 0

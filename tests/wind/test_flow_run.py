"""A rose run: kept, taken up again, refused when it cannot be, and the same for the same thing."""

from __future__ import annotations

from threading import active_count

import numba
import numpy as np
import pytest

from canvas.jobs.failure import CouldNot, Stopped
from canvas.jobs.progress import Progress
from canvas.wind.flow import need as needs
from canvas.wind.flow import run as runs
from canvas.wind.flow import runner as runners
from canvas.wind.flow import solver as solvers
from canvas.wind.flow.cut import cut_links
from canvas.wind.flow.domain import lay, sheets_of
from canvas.wind.flow.march import LENGTH, SPEEDS, march, updates
from canvas.wind.flow.need import Need, at_once, refuse_if_too_large, updates_a_second
from canvas.wind.flow.run import Angle, rose
from canvas.wind.flow.runner import Conditions, Runner
from canvas.wind.flow.solver import RanAway
from tests.wind.flow_cases import small_scene

BRIEF = {"settle": 0.04, "average": 0.03, "device": "cpu"}
WIND = Conditions(aws=8.0, instrument_height=12.0)


@pytest.mark.behaviour
def test_rose_is_kept_and_taken_up_again(tmp_path):
    scenes = [small_scene(), small_scene(screen=True)]
    first = rose(scenes, WIND, angles=[0.0], coarse=0.3, fine=None, folder=tmp_path, **BRIEF)
    again = rose(scenes, WIND, angles=[0.0], coarse=0.3, fine=None, folder=tmp_path, **BRIEF)
    assert first.updates > 0
    assert again.updates == 0
    assert again.angles[0].wind["screen"].speed_ratio == first.angles[0].wind["screen"].speed_ratio
    assert first.angles[0].wind["bare"].speed_ratio.value == 1.0


@pytest.mark.property
def test_set_without_canvas_is_the_bare_boat_exactly(tmp_path):
    scenes = [small_scene(), small_scene(name="nothing up")]
    got = rose(scenes, WIND, angles=[0.4], coarse=0.3, fine=None, folder=tmp_path, **BRIEF).angles[0]
    assert got.wind["nothing up"].speed_ratio.value == 1.0
    assert got.wind["nothing up"].force_ratio.value == 1.0


@pytest.mark.behaviour
def test_stopping_keeps_what_is_done(tmp_path):
    said = []
    stop = Progress(lambda what, *_: said.append(what), stopping=lambda: "coarse rose 2 of 2, small" in said)
    scenes = [small_scene(name="small")]
    with pytest.raises(Stopped):
        rose(scenes, WIND, angles=[0.0, 1.0], coarse=0.3, fine=None, folder=tmp_path, progress=stop, **BRIEF)
    assert len(list(tmp_path.glob("*.npz"))) == 1
    assert said.count("coarse rose 1 of 2, small") > 1
    assert said[-1] == "coarse rose 2 of 2, small"  # amid the second angle, not after it


@pytest.mark.behaviour
def test_fine_angle_is_averaged_on_for_as_long_as_is_foretold_to_do_and_no_other_is(monkeypatch, tmp_path):
    """By angle, over how many times the way: each step is taken with what the one before it showed."""
    steps = {0.5: [], 1.0: [2], 1.5: [2, 4, 5]}
    ran = []

    def angle(runner, awa, cell, *, gains, **_):
        ran.append((awa, cell, runner.times.get("bare", 1), gains))
        return Angle(awa=awa, cell=cell, felt={"bare": awa}, wind={}, outcome={})

    def lengthened(felt, times, *, cell):
        assert cell == 0.04
        longer = [n for n in steps[felt["bare"]] if n > times["bare"]]
        return {"bare": longer[0]} if longer else times

    monkeypatch.setattr(runs, "_angle", angle)
    monkeypatch.setattr(runs, "_in_wake", lambda found: found.awa > 0.0)
    monkeypatch.setattr(runs, "lengthened", lengthened)
    rose([small_scene()], WIND, angles=[0.0, *steps], coarse=0.3, fine=0.04, folder=tmp_path, **BRIEF)
    coarse = [(a, 0.3, 1) for a in (0.0, *steps)]
    assert [one[:3] for one in ran] == coarse + [(a, 0.04, n) for a, each in steps.items() for n in (1, *each)]
    assert all(gains == {} for *_, gains in ran)  # gains are not run again


@pytest.mark.property
@pytest.mark.parametrize("means", [False, True])
def test_a_march_averaged_on_ends_as_one_averaged_as_long_at_once(means):
    runner = Runner([small_scene(screen=True)], WIND)
    here, velocity = runner.wind_at(0.4)
    layout = runner.layout(here, 0.15)
    asked = {"wind": velocity, "device": "cpu", "settle": 0.1, "means": means}
    whole = march(layout, runner.scenes[0], average=0.2, **asked)
    part = march(layout, runner.scenes[0], average=0.1, pause=True, **asked)
    on = march(layout, runner.scenes[0], average=0.2, after=part.pause, **asked)
    assert whole.pause is on.pause is None
    assert part.updates + on.updates == whole.updates > 1.4 * part.updates
    assert np.array_equal(on.velocity, whole.velocity)
    assert np.array_equal(on.force, whole.force)
    assert len(on.fields) == len(whole.fields) == (len(layout.grids) if means else 0)
    for number, (one, other) in enumerate(zip(on.fields, whole.fields, strict=True)):
        grid = layout.grids[number]
        counts = grid.inside & grid.marched(*layout.grids[number + 1 : number + 2])
        assert np.array_equal(one.velocity[:, counts], other.velocity[:, counts])
        assert np.array_equal(one.pressure[counts], other.pressure[counts])


@pytest.mark.behaviour
@pytest.mark.parametrize("room", [True, False])
def test_fine_runs_go_on_where_there_is_memory_to_pause_them_and_begin_anew_elsewhere(room, monkeypatch, tmp_path):
    asked = {"angles": [0.0, 0.4], "gain_angles": [0.4], "keep": [0.4], "coarse": 0.3, "fine": 0.15}
    asked |= {"settle": 0.04, "average": 0.15, "device": "cpu"}
    scenes = [small_scene(), small_scene(screen=True)]
    monkeypatch.setattr(runs, "_in_wake", lambda found: found.awa > 0.0)
    monkeypatch.setattr(runs, "lengthened", lambda _, times, **__: times)
    usual = rose(scenes, WIND, folder=tmp_path / "usual", **asked)
    monkeypatch.setattr(runs, "lengthened", lambda *_, **__: {"bare": 2, "screen": 2})
    monkeypatch.setattr(Runner, "_has_room", lambda *_: room)
    on = rose(scenes, WIND, folder=tmp_path / "on", **asked)
    alone = Runner(scenes, WIND, folder=tmp_path / "alone", settle=0.04, average=0.3, device="cpu")
    wanted = [alone.felt(scene, 0.4, 0.15) for scene in scenes]
    anew, more = alone.updates, on.updates - usual.updates
    assert 0.3 * anew < more < 0.7 * anew if room else more == anew
    for felt, scene in zip(wanted, scenes, strict=True):
        assert np.array_equal(on.angles[1].felt[scene.set_name].along, felt.along)
    assert on.angles[1].wind["screen"].gain == usual.angles[1].wind["screen"].gain is not None
    assert set(on.angles[1].outcome) == {"bare", "screen"}


@pytest.mark.behaviour
@pytest.mark.parametrize(("cell", "outermost"), [(0.04, 0.24), (0.06, 0.24), (0.2, 0.48)])
def test_coarse_cells_have_larger_ones_outside(cell, outermost):
    layout = Runner([small_scene()], WIND).layout(0.4, cell)
    assert outermost <= layout.grids[0].cell < 2 * outermost
    assert layout.grids[-1].cell == pytest.approx(cell)


@pytest.mark.property
@pytest.mark.parametrize("awa", np.radians([0.0, 35.0, -120.0]))
def test_finest_cells_hold_cloth_and_blade_and_lie_along_the_boat(awa):
    scenes = [small_scene(), small_scene(screen=True)]
    layout = Runner(scenes, WIND).layout(awa, 0.06)
    finest = layout.grids[-1]
    cloth = next(s.vertices for s in scenes[1].surfaces if s.kind == "cloth")
    for points in (layout.pose.place(cloth), layout.blade):
        for reach in ((0.35, 0, 0), (-0.35, 0, 0), (0, 0.35, 0), (0, -0.35, 0), (0, 0, 0.35), (0, 0, -0.25)):
            index = np.floor((points + reach - finest.origin) / finest.cell).astype(int)
            assert finest.holds(index).all()
    turned = Runner(scenes, WIND).layout(0.0, 0.06).grids[-1]
    assert finest.updates() < 1.25 * turned.updates()  # a box along the wind would hold up to half as much again


@pytest.mark.property
@pytest.mark.parametrize("cell", [0.08, 0.2])
def test_grids_and_cut_links_of_a_boat_mirrored_are_mirrored(cell):
    straight, mirrored = (
        (lay([scene], awa=awa, cell=cell), scene)
        for awa, scene in ((0.5, small_scene(screen=True)), (-0.5, small_scene(screen=True, mirrored=True)))
    )
    for one, other in zip(straight[0].grids, mirrored[0].grids, strict=True):
        assert np.array_equal(one.stepped[:, ::-1], other.stepped)
        assert one.origin[[0, 2]] == pytest.approx(other.origin[[0, 2]])
        assert one.origin[1] == pytest.approx(-other.origin[1] - (other.shape[1] - 1) * other.cell)
        cut = [
            cut_links(sheets_of(scene, layout.pose)[1], origin=grid.origin, cell=grid.cell, shape=grid.shape)
            for (layout, scene), grid in ((straight, one), (mirrored, other))
        ]
        assert np.array_equal(*(np.bincount(links.owner, minlength=3) for links in cut))
        assert len(cut[0].owner) > 0


@pytest.mark.behaviour
def test_updates_are_foretold_and_the_finest_grid_does_not_settle_with_the_others():
    runner = Runner([small_scene()], WIND, device="cpu")
    here, wind = runner.wind_at(0.3)
    layout = runner.layout(here, 0.15)
    said = []
    tell = Progress(lambda _, done, total: said.append((done, total)))
    got = march(layout, small_scene(), wind=wind, device="cpu", settle=0.6, average=0.06, progress=tell)
    assert got.updates == pytest.approx(updates(layout, settle=0.6, average=0.06), rel=0.05)
    assert updates(layout, settle=0.6, average=0.06) < 0.9 * layout.updates(0.66 * LENGTH)
    assert said == sorted(said)
    assert said[0] == (0, 100)
    assert 80 <= said[-1][0] <= 100  # it tells every fifty steps


@pytest.fixture
def two_threads():
    before = numba.get_num_threads()
    numba.set_num_threads(2)
    yield
    numba.set_num_threads(before)


@pytest.mark.behaviour
def test_coarse_runs_side_by_side_are_those_one_after_another(two_threads, monkeypatch, tmp_path):
    asked = {"angles": [0.0, 0.5], "gain_angles": [0.5], "coarse": 0.3, "fine": None, "keep": [0.5], **BRIEF}
    scenes = [small_scene(), small_scene(screen=True)]
    beside = rose(scenes, WIND, folder=tmp_path / "beside", **asked)
    monkeypatch.setattr(Runner, "side_by_side", lambda *_, **__: None)
    after = rose(scenes, WIND, folder=tmp_path / "after", **asked)
    assert beside.updates == after.updates > 0
    assert [one.wind["screen"].gain is None for one in beside.angles] == [True, False]
    for one, other in zip(beside.angles, after.angles, strict=True):
        assert one.wind["screen"].speed_ratio == other.wind["screen"].speed_ratio
        assert one.wind["screen"].gain == other.wind["screen"].gain
        assert np.array_equal(one.felt["bare"].along, other.felt["bare"].along)
    told = beside.angles[1].outcome["screen"], after.angles[1].outcome["screen"]
    assert np.array_equal(told[0].panel_pressure, told[1].panel_pressure)
    assert np.array_equal(told[0].streamlines, told[1].streamlines, equal_nan=True)
    files = [sorted(one.name for one in (tmp_path / name).glob("*.npz")) for name in ("beside", "after")]
    assert files[0] == files[1]


@pytest.mark.behaviour
def test_what_a_run_is_said_to_take_counts_the_runs_either_side_for_a_gain(tmp_path):
    runner = Runner([small_scene()], WIND, folder=tmp_path, device="cpu")
    plain, turned = runner.need([0.0, 0.5], 0.3), runner.need([0.0, 0.5], 0.3, gain_angles=[0.0, 0.5])
    assert turned.updates == pytest.approx(3.0 * plain.updates)
    assert (turned.cells, turned.memory) == (plain.cells, plain.memory)


@pytest.mark.behaviour
def test_a_run_that_would_go_alone_is_left_to_all_threads_and_progress_is_of_all(two_threads, tmp_path):
    runner, said = Runner([small_scene()], WIND, folder=tmp_path, settle=0.04, average=0.03, device="cpu"), []
    tell = Progress(lambda *told: said.append(told))
    runner.side_by_side([0.0, 0.5, 1.0], 0.3, keep=(), what="coarse rose", progress=tell)
    assert len(list(tmp_path.glob("*.npz"))) == 2
    assert said[0] == ("coarse rose, percent of 2 runs", 0, 100)
    runner.side_by_side([0.0, 0.5, 1.0], 0.3, keep=(), what="coarse rose", progress=tell)
    assert len(list(tmp_path.glob("*.npz"))) == 2


@pytest.mark.behaviour
def test_fine_runs_go_two_by_two_and_none_beside_another_where_memory_is_short(monkeypatch):
    cells = 10_000_000
    monkeypatch.setattr(needs, "free_memory", lambda: 40e9)
    assert [at_once(threads, cells, coarse=False) for threads in (1, 2, 3, 16)] == [1, 2, 1, 2]
    assert [at_once(threads, 100_000, coarse=True) for threads in (1, 2, 16)] == [1, 2, 16]
    monkeypatch.setattr(needs, "free_memory", lambda: 4e9)
    assert at_once(16, cells, coarse=False) == 1


@pytest.mark.behaviour
def test_runs_side_by_side_are_stopped_and_leave_no_thread(two_threads, tmp_path):
    runner = Runner([small_scene()], WIND, folder=tmp_path, settle=50.0, average=50.0, device="cpu")
    said = []
    stop = Progress(lambda *told: said.append(told), stopping=lambda: len(said) > 1)
    before = active_count()
    with pytest.raises(Stopped):
        runner.side_by_side([0.0, 0.5, 1.0, 1.5], 0.3, keep=(), what="coarse rose", progress=stop)
    assert said[0] == ("coarse rose, percent of 4 runs", 0, 100)
    assert active_count() == before
    assert not list(tmp_path.glob("*.npz"))


@pytest.mark.behaviour
def test_a_fault_in_one_of_the_runs_side_by_side_is_told(two_threads, monkeypatch, tmp_path):
    def wild(*_, **__):
        raise CouldNot("The air flow became unstable.", "Use a smaller cell.")

    monkeypatch.setattr(runners, "march", wild)
    with pytest.raises(CouldNot, match="unstable"):
        Runner([small_scene()], WIND, folder=tmp_path, device="cpu").side_by_side(
            [0.0, 0.5], 0.3, keep=(), what="coarse rose"
        )


@pytest.mark.behaviour
def test_a_flow_that_runs_away_is_marched_again_with_a_slower_wind(monkeypatch):
    """The usual wind alone is past what counts as running away here; the next slower is not, even beside a body."""
    layout = lay([small_scene()], awa=0.4, cell=0.3)
    asked = {"wind": lambda heights: np.stack([8.0 + 0 * heights, 0 * heights], axis=1), "device": "cpu"}
    usual = march(layout, small_scene(), settle=0.3, average=0.3, **asked)
    monkeypatch.setattr(solvers, "FASTEST", 0.149)
    slower = march(layout, small_scene(), settle=0.3, average=0.3, **asked)
    assert usual.time[1] == pytest.approx(SPEEDS[0] * layout.grids[0].cell)
    assert slower.time[1] == pytest.approx(SPEEDS[1] * layout.grids[0].cell)
    speeds = [np.linalg.norm(got.velocity, axis=2).mean() for got in (usual, slower)]
    assert speeds[0] == pytest.approx(speeds[1], abs=0.1)  # over the wind, whatever that is on the lattice
    monkeypatch.setattr(solvers, "FASTEST", 0.05)
    with pytest.raises(RanAway, match="unstable"):
        march(layout, small_scene(), settle=0.1, average=0.1, **asked)


@pytest.mark.behaviour
@pytest.mark.parametrize(
    ("shown", "among"),
    [
        ([-105, -75], [-90]),  # a hole in a wake
        ([-105, -60], []),
        ([170, -175], [180]),
        ([0, 15, 40], [30]),
        ([], []),
    ],
)
def test_angle_among_others_in_a_wake_counts_as_in_it(monkeypatch, shown, among):
    angles = sorted({*range(-165, 181, 15), *shown})
    found = {float(np.radians(a)): Angle(awa=float(a), cell=0.2, felt={}, wind={}, outcome={}) for a in angles}
    monkeypatch.setattr(runs, "_in_wake", lambda angle: angle.awa in shown)
    assert sorted(round(np.degrees(a)) for a in runs._near_wakes(found)) == sorted({*shown, *among})


@pytest.mark.behaviour
@pytest.mark.parametrize("aws", [0.0, 103.0, float("nan")])
def test_wind_that_cannot_be_is_refused(aws, tmp_path):
    with pytest.raises(CouldNot, match="cannot be run"):
        Runner([small_scene()], Conditions(aws=aws, instrument_height=12.0), folder=tmp_path)


@pytest.mark.behaviour
def test_a_coarse_run_is_foretold_by_the_slower_rate_of_small_grids():
    rates = [updates_a_second(*asked) for asked in (("cpu", 200_000), ("cpu", 2_000_000), ("card", 200_000))]
    assert rates == sorted(rates)
    assert len(set(rates)) == 3


@pytest.mark.behaviour
def test_too_large_is_refused_and_says_what_it_needs(monkeypatch):
    monkeypatch.setattr(needs, "free_memory", lambda: 2e9)
    with pytest.raises(CouldNot, match=r"needs 4\.0 GB, of which 2\.0"):
        refuse_if_too_large(Need(cells=1, memory=4e9, updates=1.0, seconds=1.0))


@pytest.mark.analytic
def test_boat_speed_turns_the_wind_at_the_blade_towards_the_bow():
    moving = Runner([small_scene()], Conditions(aws=8.0, instrument_height=12.0, boat_speed=3.0))
    still = Runner([small_scene()], WIND)
    awa = np.radians(60.0)
    assert still.wind_at(awa)[0] == pytest.approx(awa)
    assert moving.wind_at(awa)[0] < awa
    _, velocity = moving.wind_at(awa)
    heights = np.array([1.65, 10.0])
    assert abs(velocity(heights)[0, 1]) < 0.05 * abs(velocity(heights)[1, 1])


@pytest.mark.behaviour
def test_mean_flow_gives_slices_streamlines_and_pressure(tmp_path):
    from canvas.wind.flow.outcome import Outcome

    runner = Runner([small_scene(screen=True)], WIND, folder=tmp_path, **BRIEF)
    got = runner.outcome(runner.scenes[0], 0.0, 0.3)
    assert isinstance(got, Outcome)
    assert got.panels == ("screen",)
    assert abs(got.panel_pressure[0]) > 0.3
    assert np.isfinite(got.along.speed).mean() > 0.5
    assert got.streamlines.shape == (35, 401, 3)
    moved = got.streamlines[:, 20, 0] - got.streamlines[:, 0, 0]
    assert np.nanmedian(moved) > 0.5


@pytest.mark.property
def test_mean_flow_is_known_down_to_the_sea_and_where_grids_meet():
    from canvas.wind.flow.outcome import MeanFlow

    scene = small_scene(screen=True)
    layout = lay([scene], awa=0.5, cell=0.15)
    _, wind = Runner([scene], WIND).wind_at(0.5)
    got = march(layout, scene, wind=wind, means=True, settle=0.04, average=0.03, device="cpu")
    assert len(got.fields) == 3
    assert all(np.isnan(field.speed).any() and np.isfinite(field.speed).any() for field in got.fields)
    random = np.random.default_rng(2).random((20_000, 3))
    points = np.array([-8.0, -3.0, scene.water_z]) + random * np.array([12.0, 6.0, 2.5])
    assert (points[:, 2] - scene.water_z).min() < 1e-3
    assert np.isfinite(MeanFlow(got, layout.pose).speed(points)).all()
    below = points - np.array([0.0, 0.0, 2.6])
    assert np.isnan(MeanFlow(got, layout.pose).speed(below)).all()


@pytest.mark.behaviour
def test_cures_take_things_down_raise_the_blade_and_bear_away(tmp_path):
    from canvas.wind.cures import behind, cures

    bare, canvas = small_scene(), small_scene(screen=True)
    got = cures(bare, canvas, WIND, awa=0.0, things=["cabin"], cell=0.3, folder=tmp_path, **BRIEF)
    assert got.names == ("screen", "cabin", "blade 0.3 m taller", "blade 0.3 m higher", "bearing away 15 deg")
    assert got.kinds == ("panel", "thing", "blade", "blade", "course")
    assert got.gained[0] > 0.0
    assert got.gained[3] > 0.0
    assert got.costliest in {None, "screen", "cabin"}
    assert behind(canvas) == ()


@pytest.mark.behaviour
def test_outcome_is_kept_from_the_same_run_and_says_where_gas_drifts(tmp_path):
    outlets = {"exhaust": (-1.5, 0.9, 0.6)}
    scenes = [small_scene(place=True), small_scene(screen=True, place=True)]
    asked = {"angles": [0.0], "keep": [0.0], "outlets": outlets, "coarse": 0.3, "fine": None, "folder": tmp_path}
    first = rose(scenes, WIND, **asked, **BRIEF)
    again = rose(scenes, WIND, **asked, **BRIEF)
    assert first.updates > 0
    assert again.updates == 0
    one, saved = (got.angles[0].outcome["screen"] for got in (first, again))
    assert one.outlets == ("exhaust",)
    assert one.drift.tolist() == saved.drift.tolist() == [[True]]
    assert np.array_equal(one.streamlines, saved.streamlines, equal_nan=True)
    assert "GB" in first.need.said()

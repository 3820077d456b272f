"""Hold what is sent of a changed picture to what changed, and the order of quick and slow work."""

from __future__ import annotations

import asyncio
import threading
import time

import numpy as np
import pytest

from canvas import verbs
from canvas.jobs.turns import give_way, standing_aside
from tests.viewer.conftest import copy_of
from viewer import light
from viewer.boat import Boat
from viewer.drawn import PATH_POINTS
from viewer.stage import Stage
from viewer.worker import REST, Worker

pytestmark = pytest.mark.behaviour


@pytest.fixture(scope="module")
def rigging():
    return verbs.rigging_of("examples/marrowgrass.toml")


@pytest.fixture
def stage(rigging):
    found = Stage([panel.name for panel in rigging.model.design.panel])
    found.show(rigging.rig("wet watch").scene)
    found.sun(np.array([0.0, 0.0, 1.0]), up=True, path=np.eye(3))
    blade = rigging.rig("wet watch").scene.blade.points
    found.wind(np.array([1.0, 0.0, 0.0]), blade, np.ones(len(blade), dtype=bool))
    found.sent()
    return found


def test_light_and_sun_are_moved_and_nothing_is_made(stage, rigging):
    points = sum(len(place.points) for place in rigging.model.places)
    seats = sum(len(place.points) for place in rigging.model.places if not place.name.endswith(", heads"))
    stage.light(np.linspace(0.0, 1.0, points))
    stage.sun(np.array([0.6, 0.0, 0.8]), up=True, path=np.vstack([np.eye(3), np.eye(3)]))
    assert not stage.made
    assert len(stage.moved["seats"]["values"]) == seats
    mapper = stage.plotter.actors["seats"].mapper
    mapper.GetInputAlgorithm().Update()
    assert mapper.dataset.cell_data["light"].max() == pytest.approx(1.0)
    assert mapper.dataset.n_cells == seats
    assert len(stage.moved["path"]["points"]) == 4 * 3 * PATH_POINTS
    assert stage.moved["sun"]["position"] == pytest.approx([1.3 + 5.2 * 0.6, 0.0, 0.9 + 5.2 * 0.8])
    stage.sent()
    stage.sun(np.array([0.6, 0.0, -0.8]), up=False, path=np.vstack([np.eye(3), np.eye(3)]))
    assert stage.moved["sun"]["visible"] is False
    assert not stage.made
    stage.sun(np.array([0.6, 0.0, 0.8]), up=True, path=np.vstack([np.eye(3), np.eye(3)]))
    assert stage.made  # what was not seen may not be there


def test_where_things_stand_is_what_was_moved_last(stage, rigging):
    points = sum(len(place.points) for place in rigging.model.places)
    stage.light(np.linspace(0.0, 1.0, points))
    stage.sun(np.array([0.6, 0.0, 0.8]), up=True, path=np.vstack([np.eye(3), np.eye(3)]))
    stage.wind(np.array([0.0, 1.0, 0.0]), stage._blade, np.zeros(len(stage._blade), dtype=bool))
    moved = {name: dict(one) for name, one in stage.moved.items()}
    stage.sent()
    standing = stage.standing()
    assert moved.keys() == {"seats", "sun", "path", "wind", "blade"} == standing.keys()
    for name, one in moved.items():
        for key, value in one.items():
            assert standing[name][key] == (value if isinstance(value, bytes) else pytest.approx(value))
    stage.sun(np.array([0.6, 0.0, -0.8]), up=False, path=np.vstack([np.eye(3), np.eye(3)]))
    assert [stage.standing()[name]["visible"] for name in ("sun", "path", "wind")] == [False, True, True]


def test_edited_panel_keeps_its_actor_and_the_rest_its_mesh(stage, tmp_path):
    boat = Boat(copy_of("marrowgrass", tmp_path))
    boat.shown = "wet watch"
    before = {name: (actor, actor.mapper.dataset.points.copy()) for name, actor in stage.plotter.actors.items()}
    assert boat.change(lambda draft: draft.set_length(("marks", "tent_aft_port", 2), 1.30))
    stage.show(boat.rigging.rig("wet watch").scene)
    assert stage.made
    changed = set()
    for name, (actor, points) in before.items():
        assert stage.plotter.actors[name] is actor
        now = actor.mapper.dataset.points
        if now.shape != points.shape or not np.allclose(now, points):
            changed.add(name)
    assert changed == {"s:watch tent roof"}


def test_thing_taken_away_is_kept_until_that_is_sent(stage):
    """One made meanwhile at its address would have its number in the browser, and be taken for it."""
    stage.pick("watch tent roof")
    stage.sent()
    actor = stage.plotter.actors["picked"]
    kept = {actor.__this__, actor.mapper.__this__, actor.prop.__this__}
    del actor
    for _ in range(5):
        stage.pick(None)
        stage.pick("bimini")
        new = stage.plotter.actors["picked"]
        assert not {new.__this__, new.mapper.__this__, new.prop.__this__} & kept
    stage.sent()
    assert stage._unmade == []


def test_slow_work_waits_for_quick_work(rigging):
    told: list[tuple[str, float]] = []

    def work(name: str, takes: float):
        def done() -> None:
            told.append((name, time.monotonic()))
            time.sleep(takes)

        return done

    async def run() -> None:
        worker = Worker()
        worker.start(asyncio.get_running_loop())
        worker.ask(work("quick", 0.2), lambda _: None, pace="quick")
        worker.ask(work("slow", 0.0), lambda _: None)
        worker.ask(work("quick too", 0.2), lambda _: None, pace="quick")
        while len(told) < 3:
            await asyncio.sleep(0.05)

    asyncio.run(run())
    assert [name for name, _ in told] == ["quick", "quick too", "slow"]
    assert told[2][1] - told[1][1] >= 0.2 + REST


def test_slow_work_stands_aside_between_its_steps_and_ends_when_its_turn_is_over():
    told: list[str] = []
    begun, hold = threading.Event(), threading.Event()

    def slow() -> None:
        told.append("slow begins")
        begun.set()
        hold.wait(60)
        give_way()
        told.append("slow goes on")
        give_way()
        told.append("slow ends")

    async def until(what: str) -> None:
        while what not in told:
            await asyncio.sleep(0.01)

    def quick() -> None:
        hold.set()
        time.sleep(0.3)
        told.append("quick")

    async def run() -> None:
        worker = Worker()
        worker.start(asyncio.get_running_loop())
        worker.ask(slow, lambda _: told.append("slow handed over"))
        await asyncio.to_thread(begun.wait, 60)
        worker.ask(quick, lambda _: None, pace="quick")
        await until("slow handed over")
        begun.clear()
        hold.clear()
        worker.ask(slow, lambda _: told.append("stale handed over"))
        await asyncio.to_thread(begun.wait, 60)
        worker.next_turn()
        hold.set()
        worker.ask(lambda: told.append("new turn"), lambda _: told.append("done"))
        await until("done")

    asyncio.run(run())
    assert told == [
        "slow begins", "quick", "slow goes on", "slow ends", "slow handed over", "slow begins", "new turn", "done",
    ]  # fmt: skip


def test_work_that_outlives_the_screen_is_thrown_away_and_its_thread_goes_on():
    begun, hold = threading.Event(), threading.Event()
    told: list[str] = []
    worker = Worker()

    def work() -> None:
        begun.set()
        hold.wait(60)

    async def run() -> None:
        worker.start(asyncio.get_running_loop())
        worker.ask(work, lambda _: told.append("handed over"))
        await asyncio.to_thread(begun.wait, 60)

    asyncio.run(run())
    hold.set()
    after = threading.Event()
    worker.ask(after.set, lambda _: told.append("handed over"))
    assert after.wait(60)
    assert told == []


def test_work_that_was_not_begun_so_stands_aside_for_nobody():
    calls: list[int] = []
    give_way()
    with standing_aside(lambda: calls.append(1)):
        give_way()
        other = threading.Thread(target=give_way)
        other.start()
        other.join()
    give_way()
    assert calls == [1]


def test_preview_asks_as_few_points_as_it_says(rigging):
    few = light.Follower(rigging.rig("wet watch"), most=480)
    asked = light.Asked(latitude=0.0, day=light.day_of_year(2026, 80), hour=9.0, heading=0.0, heel=0.0)
    assert 400 < len(few.at(asked).points) <= 480

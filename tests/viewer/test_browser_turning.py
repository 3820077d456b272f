"""Turn and zoom the boat with mouse, fingers and keys in a real browser: up stays up, nothing jumps."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from tests.viewer.conftest import Finger, Screen, copy_of, open_screen, serve
from viewer.looking import STEEPEST_DEG

pytestmark = [pytest.mark.behaviour, pytest.mark.browser]
MOST_TURNS = 10
CAMERA = """() => { const camera = Object.values(trame.refs)[0].$.provides.view.renderer.getActiveCamera();
  return [camera.getDirectionOfProjection(), camera.getViewUp()]; }"""


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory):
    running = serve(copy_of("oddfellow", tmp_path_factory.mktemp("boat")), "--port", "8480")
    yield running
    running.stop()


def middle(screen: Screen) -> tuple[float, float]:
    screen.page.locator(".picture").first.scroll_into_view_if_needed()
    box = screen.page.locator(".picture canvas").first.bounding_box()
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def with_mouse(screen: Screen, down: float) -> None:
    """Drag the boat so far down the screen, a little to the side and back [px]."""
    (x, y), mouse = middle(screen), screen.page.mouse
    mouse.move(x, y)
    mouse.down()
    for step in range(1, 13):
        mouse.move(x + 5 * (step % 3), y + down * step / 12)
        screen.page.wait_for_timeout(60)
    mouse.up()


def with_finger(screen: Screen, down: float) -> None:
    """Do the same with a finger."""
    (x, y), finger = middle(screen), Finger(screen)
    finger.does("touchStart", x, y)
    for step in range(1, 13):
        finger.does("touchMove", x + 5 * (step % 3), y + down * step / 12)
        screen.page.wait_for_timeout(60)
    finger.does("touchEnd")


def with_keys(screen: Screen, down: float) -> None:
    """Do the same with the arrow keys."""
    screen.page.locator(".picture").first.focus()
    for _ in range(30):
        screen.page.keyboard.press("ArrowUp" if down > 0 else "ArrowDown")
    screen.page.wait_for_timeout(1500)


@pytest.mark.parametrize("turn", [with_mouse, with_finger, with_keys])
def test_boat_turned_as_far_as_she_goes_stays_upright(browser: Any, served: Any, turn: Callable[[Screen, float], None]):
    screen = open_screen(browser, served.address, width=390, height=844)
    screen.drawn()
    before = heading(screen)
    for down, ends in ((150.0, STEEPEST_DEG), (-150.0, -STEEPEST_DEG)):
        for _ in range(MOST_TURNS):  # a busy machine may miss moves of a finger
            turn(screen, down)
            look, up = np.array(screen.page.evaluate(CAMERA))
            assert up[2] > 0
            assert abs(np.cross(look, up)[2]) < 1e-3  # the horizon is level
            if -np.degrees(np.arcsin(look[2])) == pytest.approx(ends, abs=0.1):
                break
        turn(screen, down)  # and no further
        look, _ = np.array(screen.page.evaluate(CAMERA))
        assert -np.degrees(np.arcsin(look[2])) == pytest.approx(ends, abs=0.1)
        assert abs((heading(screen) - before + 180) % 360 - 180) < 45
    assert screen.errors == []
    screen.page.close()


def heading(screen: Screen) -> float:
    """Return which way on the level the camera looks [deg]."""
    look, _ = np.array(screen.page.evaluate(CAMERA))
    return float(np.degrees(np.arctan2(look[1], look[0])))


def test_nothing_rolls_the_boat(browser: Any, served: Any):
    screen = open_screen(browser, served.address)
    screen.drawn()
    (x, y), page = middle(screen), screen.page
    page.keyboard.down("Alt")
    page.keyboard.down("Shift")
    page.mouse.move(x + 150, y)
    page.mouse.down()
    for step in range(1, 9):
        page.mouse.move(x + 150 - 10 * step, y + 15 * step)
        page.wait_for_timeout(60)
    page.mouse.up()
    page.keyboard.up("Shift")
    page.keyboard.up("Alt")
    look, up = np.array(page.evaluate(CAMERA))
    assert abs(np.cross(look, up)[2]) < 1e-3
    assert screen.errors == []
    page.close()


SPANS = """() => { const { renderer } = Object.values(trame.refs)[0].$.provides.view;
  const camera = renderer.getActiveCamera();
  window.spans = [];
  camera.onModified(() => window.spans.push(camera.getDistance())); return camera.getDistance(); }"""


def test_fingers_that_rest_before_they_pinch_move_her_no_further_than_they_spread(browser: Any, served: Any):
    screen = open_screen(browser, served.address, width=390, height=844)
    screen.answered()
    screen.drawn()
    (x, y), finger = middle(screen), Finger(screen)
    first = screen.page.evaluate(SPANS)
    finger.does("touchStart", x - 40, y)
    finger.does("touchStart", x - 40, y, x + 40, y)
    screen.page.wait_for_timeout(1000)
    for step in (10, 20, 30, 40):
        finger.does("touchMove", x - 40 - step, y, x + 40 + step, y)
        screen.page.wait_for_timeout(150)
    finger.does("touchEnd")
    spans = screen.page.evaluate("window.spans")
    assert min(spans) >= 0.45 * first  # spread twofold
    assert max(spans) <= 1.01 * first
    assert screen.errors == []
    screen.page.close()

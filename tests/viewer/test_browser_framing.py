"""What must be seen at first lies in the picture, by the camera that the browser has; the picture keeps its place."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from canvas import verbs
from canvas.design.guided.examples import example_names
from tests.viewer.conftest import copy_of, open_screen, serve

pytestmark = [pytest.mark.behaviour, pytest.mark.browser]
SIZES = ((1280, 800), (820, 1180), (390, 844))
SEEN = """(points) => { const view = Object.values(trame.refs)[0].$.provides.view;
  const { width, height } = view.container.getBoundingClientRect();
  return points.map((one) => Array.from(view.renderer.worldToNormalizedDisplay(...one, width / height))); }"""


def seen_at_first(design: Any) -> np.ndarray:
    """Return the corners of the blade's sweep, of the cockpit's places and of the canvas of every set."""
    rigging = verbs.rigging_of(design)
    scenes = [rigging.rig(name).scene for name in rigging.model.design.set_names()]
    cloth = [surface.vertices for scene in scenes for surface in scene.of_kind("cloth")]
    blade, places = rigging.model.blade.points, [place.points for place in rigging.model.places]
    return np.unique(np.round(np.vstack([blade, *places, *cloth]), 2), axis=0)


@pytest.mark.parametrize("name", example_names())
def test_first_view_holds_cockpit_canvas_and_blade(browser: Any, tmp_path: Any, name: str):
    running = serve(copy_of(name, tmp_path), "--port", "8470")
    try:
        points = seen_at_first(running.design)
        for width, height in SIZES:
            screen = open_screen(browser, running.address, width=width, height=height)
            screen.drawn()
            seen = np.array(screen.page.evaluate(SEEN, points.tolist()))
            assert seen[:, :2].min() >= 0.0
            assert seen[:, :2].max() <= 1.0
            assert np.ptp(seen[:, :2], axis=0).max() >= 0.6  # and is not lost in it
            assert screen.errors == []
            screen.page.close()
    finally:
        running.stop()


@pytest.mark.parametrize("name", example_names())
def test_answers_that_come_in_move_nothing_below_them_on_a_phone(browser: Any, tmp_path: Any, name: str):
    running = serve(copy_of(name, tmp_path), "--port", "8475")
    try:
        screen = open_screen(browser, running.address, width=390, height=844)
        picture = screen.page.locator(".picture").first
        waiting = screen.page.locator(".word.waiting").count()
        before = picture.bounding_box()
        screen.answered()
        assert waiting >= 3
        assert picture.bounding_box() == before
        assert screen.errors == []
    finally:
        running.stop()

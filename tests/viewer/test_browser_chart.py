"""Choose squares of the chart of hour by latitude by finger and by arrow keys."""

from __future__ import annotations

import re
from typing import Any

import pytest

from tests.viewer.conftest import LONG, Finger, Screen, open_screen

pytestmark = [pytest.mark.behaviour, pytest.mark.browser]
HOLD = 0.3  # longer than a finger rests before it slides [s]


@pytest.fixture(params=[(1280, 800), (390, 844)])
def screen(request: pytest.FixtureRequest, browser: Any, served: Any):
    opened = open_screen(browser, served.address, width=request.param[0], height=request.param[1])
    opened.page.wait_for_selector(".chart .grid", timeout=4 * LONG)
    opened.answered()
    yield opened
    assert opened.errors == []
    opened.page.close()


def middle(square: Any) -> tuple[float, float]:
    box = square.bounding_box()
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def stands(screen: Screen) -> list[str]:
    outputs = screen.page.locator(".knobs output")
    return [outputs.nth(0).inner_text(), outputs.nth(2).inner_text()]


def test_finger_is_told_the_square_before_it_lets_go_and_may_slide_to_another(screen):
    page, finger = screen.page, Finger(screen)
    squares = page.locator(".chart .row").nth(5).locator("button")
    squares.nth(4).scroll_into_view_if_needed()
    before = stands(screen)
    finger.does("touchStart", *middle(squares.nth(4)))
    screen.until("document.querySelector('.aim').innerText.startsWith('10° N, 9 h: ')")
    other = page.locator(".chart .row").nth(8).locator("button").nth(7)
    x, y = middle(other)
    finger.does("touchMove", x, y - 2, after=HOLD)
    finger.does("touchMove", x, y)
    screen.until("document.querySelector('.aim').innerText.startsWith('20° S, 12 h: ')")
    assert re.search(r"\d+ % in shade – let go to go there", page.locator(".aim").inner_text())
    assert page.locator(".aim").bounding_box()["y"] >= 0
    assert stands(screen) == before
    finger.does("touchEnd")
    screen.until("document.querySelectorAll('.knobs output')[2].innerText === '12:00'")
    assert stands(screen) == ["20° S", "12:00"]
    assert page.locator(".aim").inner_text() == ""


def test_finger_between_or_beside_squares_takes_the_nearest(screen):
    page, finger = screen.page, Finger(screen)
    square = page.locator(".chart .row").nth(6).locator("button").nth(0)
    square.scroll_into_view_if_needed()
    box = square.bounding_box()
    finger.does("touchStart", box["x"] - 20, box["y"] + box["height"] / 2)  # on the latitude's name
    finger.does("touchEnd")
    screen.until("document.querySelectorAll('.knobs output')[2].innerText === '05:00'")
    assert stands(screen) == ["0°", "05:00"]


def test_finger_that_scrolls_over_the_chart_goes_nowhere(screen):
    page, finger = screen.page, Finger(screen)
    square = page.locator(".chart .row").nth(6).locator("button").nth(5)
    square.scroll_into_view_if_needed()
    before = stands(screen)
    x, y = middle(square)
    finger.does("touchStart", x, y)
    for step in range(1, 6):
        finger.does("touchMove", x, y - 12 * step)
    finger.does("touchEnd")
    page.wait_for_timeout(500)
    assert stands(screen) == before
    assert page.locator(".aim").inner_text() == ""


def test_arrow_keys_go_from_square_to_square(screen):
    page = screen.page
    page.locator(".chart .row").nth(6).locator("button").nth(5).click()
    screen.until("document.querySelector('.chart button.here').getAttribute('aria-label').startsWith('0°, 10 h: ')")
    page.locator(".chart button.here").focus()
    for key, latitude, hour in (("ArrowRight", "0°", "11:00"), ("ArrowDown", "10° S", "11:00"),
                                ("ArrowLeft", "10° S", "10:00"), ("ArrowUp", "0°", "10:00")):  # fmt: skip
        page.keyboard.press(key)
        screen.until(
            "([l, h]) => { const o = document.querySelectorAll('.knobs output');"
            " return o[0].innerText === l && o[2].innerText === h; }",
            [latitude, hour],
        )
        said = page.evaluate("document.activeElement.getAttribute('aria-label')")
        assert said.startswith(f"{latitude}, {int(hour[:2])} h: ")

"""Build in a real browser: from an empty boat to a bridging piece, saved and opened again."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from canvas import verbs
from tests.viewer.conftest import open_screen, serve
from viewer.answers import vane_cell

AXE = Path(__file__).parent / "axe" / "axe.min.js"
pytestmark = [pytest.mark.behaviour, pytest.mark.browser]


def test_from_an_empty_boat_to_a_bridging_piece(browser: Any, tmp_path: Any):
    running = serve(tmp_path, "--port", "8390")
    try:
        screen = open_screen(browser, running.address)
        page = screen.page
        page.evaluate(AXE.read_text(encoding="utf-8"))
        assert page.evaluate("async () => (await axe.run(document)).violations.map(v => v.id)") == []
        page.fill("input[name=name]", "Tern")
        page.press("input[name=name]", "Tab")
        page.fill("input[name=beam]", "99 m")
        page.press("input[name=beam]", "Tab")
        page.wait_for_selector(".start .wrong")
        page.fill("input[name=beam]", "3.3 m")
        page.press("input[name=beam]", "Tab")
        screen.until("!document.querySelector('.start .wrong')")
        screen.until("document.querySelector('h1').innerText.includes('Tern')")
        page.get_by_label("with bare frames, no canvas").check()
        screen.until("document.querySelectorAll('.sets button').length === 1")
        page.get_by_role("button", name="Begin this boat").click()
        page.wait_for_selector("select[name=between0]")
        page.select_option("select[name=between0]", label="spray hood aft bow")
        page.select_option("select[name=between1]", label="bimini forward bow")
        page.fill("input[name=between_name]", "bridging piece")
        page.get_by_role("button", name="Put a panel between").click()
        screen.until("[...document.querySelectorAll('.sets button')].some(b => b.innerText === 'new canvas')")
        file = tmp_path / "tern.toml"
        page.get_by_role("button", name="Save").click()
        screen.until("document.querySelector('.said').innerText.includes('Saved tern.toml')")
        rigging = verbs.rigging_of(file)
        assert rigging.model.design.panel_named("bridging piece").cut_in == "new canvas"
        assert float(rigging.model.design.hull.deck_edge[0][1]) >= 0
        wanted = vane_cell(rigging, "new canvas", heel=0.0)
        screen.until("w => document.querySelector('[data-key=vane] .word')?.innerText === w", wanted.word)
        assert screen.rows("vane") == {name: figure for name, figure, _ in wanted.rows}
        assert screen.errors == []
        assert screen.outside == []
        page.close()
    finally:
        running.stop()
    again = serve(file, "--port", "8391")
    try:
        screen = open_screen(browser, again.address)
        screen.until("w => document.querySelector('[data-key=vane] .word')?.innerText === w", wanted.word)
        screen.page.close()
    finally:
        again.stop()


def test_new_boat_on_a_phone_begins_with_its_form_and_what_is_wrong_is_seen_from_below(browser: Any, tmp_path: Any):
    running = serve(tmp_path, "--port", "8392")
    try:
        screen = open_screen(browser, running.address, width=390, height=844)
        page, refused = screen.page, []
        page.on("response", lambda answer: refused.append(answer.url) if answer.status >= 400 else None)
        page.goto(running.address)
        page.wait_for_selector(".start h2")
        assert page.locator(".start h2").bounding_box()["y"] < 844 - 300
        assert page.locator(".picture canvas").first.bounding_box()["y"] < page.locator(".start").bounding_box()["y"]
        page.fill("input[name=cockpit_length]", "-2 m")
        page.press("input[name=cockpit_length]", "Tab")
        page.wait_for_selector(".start .wrong")
        page.get_by_role("button", name="Begin this boat").click()
        screen.until("document.querySelector('.said').innerText.startsWith('Mend the answers that are marked first.')")
        assert page.evaluate("scrollY") > 844
        assert page.locator(".said").bounding_box()["y"] == 0
        assert (refused, screen.errors, list(tmp_path.iterdir())) == ([], [], [])
        page.close()
    finally:
        running.stop()


ROOM = """() => [...document.querySelectorAll('.start select')].map(e => {
  const pen = document.createElement('canvas').getContext('2d');
  pen.font = getComputedStyle(e).font;
  return e.clientWidth - Math.max(...[...e.options].map(one => pen.measureText(one.text).width));
})"""  # beside the longest choice of each [px]
BORDERS_AND_ARROW = 2 * 12 + 18  # [px]


def test_choices_of_a_new_boat_are_read_whole(browser: Any, tmp_path: Any):
    running = serve(tmp_path, "--port", "8396")
    try:
        for width in (1280, 390):
            screen = open_screen(browser, running.address, width=width, height=844)
            screen.page.wait_for_selector(".start select")
            assert min(screen.page.evaluate(ROOM)) >= BORDERS_AND_ARROW
            screen.page.close()
    finally:
        running.stop()

"""Use the viewer in a real browser: drag, shape, undo, save, look; nothing leaves the machine."""

from __future__ import annotations

from datetime import date, time
from typing import Any

import numpy as np
import pytest

from canvas import verbs
from canvas.design.guided.examples import example_names
from tests.viewer.conftest import LONG, Screen, copy_of, open_screen, serve
from viewer.answers import vane_cell
from viewer.state import TABS

pytestmark = [pytest.mark.behaviour, pytest.mark.browser]


def shade_words(rigging: Any, name: str, *, latitude: float, day: date, hour: time) -> tuple[str, dict[str, str]]:
    """Return what the shade cell must say, from the verb."""
    answer = verbs.shade(
        rigging, sets=[name], latitude=np.radians(latitude), day=day, sun_time=hour, heading=np.radians(90)
    )
    given = {one["name"]: one["shade_share"] for one in answer.record()["sets"][0]["places"]}
    seats = {name: given[name] for name in ("port seat", "starboard seat", "helm")}
    return f"{100 * np.mean(list(seats.values())):.0f} %", {name: f"{100 * v:.0f} %" for name, v in seats.items()}


def test_dragging_latitude_day_and_hour_gives_the_shade_of_the_verb(screen, served):
    rigging = verbs.rigging_of(served.design)
    name = rigging.model.design.set_names()[1]
    seen = set()
    for latitude, day_n, hour in ((-17, 355, 9.5), (35, 80, 15), (35, 172, 12.25)):
        for key, value in (("lat", latitude), ("day", day_n), ("hour", hour)):
            screen.slide(key, value)
        day = date.fromordinal(date(2026, 1, 1).toordinal() + day_n - 1)
        at = time(int(hour), round(60 * (hour % 1)))
        word, rows = shade_words(rigging, name, latitude=latitude, day=day, hour=at)
        screen.until("w => document.querySelector('[data-key=shade] .word')?.innerText === w", word)
        assert screen.rows("shade") == rows
        seen.add(word)
    assert len(seen) > 1


def test_first_screen_says_whether_the_vane_steers(screen):
    box = screen.page.locator("[data-key=vane]").bounding_box()
    assert box["y"] + box["height"] <= 205
    assert "Will the vane steer?" in screen.page.locator("[data-key=vane] h2").inner_text()
    assert screen.page.locator("[data-key=vane] .word").inner_text().startswith("Not known")
    for width, height in ((820, 1180), (390, 844)):
        screen.page.set_viewport_size({"width": width, "height": height})
        box = screen.page.locator("[data-key=vane] .word").bounding_box()
        assert box["y"] + box["height"] < height / 3
        wide = screen.page.evaluate("document.documentElement.scrollWidth")
        assert wide <= width


def test_other_set_other_answers_and_seat_colours(screen, served):
    old = screen.word("vane")
    before = screen.picture()
    screen.page.get_by_role("radio", name="closed tent").click()
    wanted = vane_cell(verbs.rigging_of(served.design), "closed tent", heel=0.0)
    screen.until("w => document.querySelector('[data-key=vane] .word')?.innerText === w", wanted.word)
    assert screen.rows("vane") == {name: figure for name, figure, _ in wanted.rows}
    screen.redrawn(before)
    screen.page.get_by_role("radio", name="hood and bimini").click()
    screen.until("w => document.querySelector('[data-key=vane] .word')?.innerText === w", old)


@pytest.mark.parametrize("name", [name for name in example_names() if name != "marrowgrass"])
def test_each_example_opens_and_answers_for_the_vane(browser, tmp_path, name):
    running = serve(copy_of(name, tmp_path), "--port", "8440")
    try:
        screen = open_screen(browser, running.address)
        rigging = verbs.rigging_of(running.design)
        shown = next(one for one in rigging.model.design.set_names() if one != "bare")
        wanted = vane_cell(rigging, shown, heel=0.0)
        screen.until("w => document.querySelector('[data-key=vane] .word')?.innerText === w", wanted.word)
        assert screen.rows("vane") == {row: figure for row, figure, _ in wanted.rows}
        screen.answered()
        assert screen.page.evaluate(CUT_OFF) == []
        assert screen.outside == []
        assert screen.errors == []
        screen.page.close()
    finally:
        running.stop()


def test_shaped_undone_saved(browser, tmp_path):
    running = serve(copy_of("marrowgrass", tmp_path), "--port", "8370")
    try:
        screen = open_screen(browser, running.address)
        shape(screen, running.design)
        assert screen.outside == []
        assert screen.errors == []
    finally:
        running.stop()


def shape(screen: Screen, design: Any) -> None:
    """Lift the leech, take it back, make it again, save; the vane's words are the verb's; then break the file."""
    page = screen.page
    page.get_by_role("tab", name="Shape").click()
    page.select_option("select[name=part]", label="arch")
    number = page.locator('input[name="crown"]')
    assert number.input_value() == "1.68"
    page.select_option("select[name=part]", label="watch tent roof")
    page.get_by_role("radio", name="wet watch").click()
    number = page.locator('input[name="leech: height of both ends"]')
    assert number.input_value() == "1.195"
    page.locator('input[aria-label="leech: height of both ends, slider"]').evaluate(
        "e => { e.value = 1.4; e.dispatchEvent(new Event('input', { bubbles: true })) }"
    )
    screen.until("/preview by \\d+ points, ± \\d+ %/.test(document.querySelector('[data-key=shade] .note')?.innerText)")
    assert "not saved" not in page.locator("h1").inner_text()
    number.fill("1.75")
    number.press("Tab")
    screen.until("document.querySelector('[role=status]').innerText.includes('1.195 → 1.75')")
    screen.until("document.querySelector('h1').innerText.includes('not saved')")
    screen.until("document.querySelector('[data-key=shade] .note')?.innerText?.includes('traced')")
    page.get_by_role("button", name="Undo").click()
    screen.until("!document.querySelector('h1').innerText.includes('not saved')")
    page.get_by_role("button", name="Redo").click()
    screen.until("document.querySelector('h1').innerText.includes('not saved')")
    page.get_by_role("button", name="Save").click()
    screen.until("document.querySelector('[role=status]').innerText.includes('Saved')")
    rigging = verbs.rigging_of(design)
    assert rigging.model.marks.at("tent_aft_port")[2] == pytest.approx(1.745)
    wanted = vane_cell(rigging, "wet watch", heel=0.0)
    screen.until("n => document.querySelector('[data-key=vane] .note')?.innerText === n", wanted.note)
    assert screen.rows("vane") == {name: figure for name, figure, _ in wanted.rows}
    design.write_text(design.read_text(encoding="utf-8").replace('units = "m"', 'units = "cubits"'), encoding="utf-8")
    screen.until("document.querySelector('[role=status]').innerText.includes('cubits')")
    assert screen.word("vane") == wanted.word


CUT_OFF = """() => { const box = document.querySelector('.answers').getBoundingClientRect();
  return [...document.querySelectorAll('.answers *')].filter((e) => e.getBoundingClientRect().bottom > box.bottom + 1
    || e.getBoundingClientRect().right > e.closest('.cell').getBoundingClientRect().right + 1)
    .map((e) => e.innerText); }"""
LONGEST = """() => document.querySelectorAll('[data-key=vane] li b')
  .forEach((e) => { e.innerText = '100 %, edge of wake'; })"""


def test_longest_words_of_the_vane_are_not_cut_off(screen):
    screen.answered()
    screen.page.evaluate(LONGEST)
    for width, height in ((1280, 800), (820, 1180), (390, 844)):
        screen.page.set_viewport_size({"width": width, "height": height})
        assert screen.page.evaluate(CUT_OFF) == []


TOO_SMALL = """() => [...document.querySelectorAll('button, select, input, a.button')]
  .filter((e) => e.offsetParent && !e.closest('.chart') && !e.closest('.tick')
    && Math.min(e.getBoundingClientRect().height, e.getBoundingClientRect().width) < 44)
  .map((e) => e.innerText || e.name)"""


@pytest.mark.parametrize("size", [(820, 1180), (390, 844)])
def test_fingers_find_room_on_tablet_and_phone(screen, size):
    screen.page.set_viewport_size({"width": size[0], "height": size[1]})
    for name in TABS:
        screen.page.get_by_role("tab", name=name).click()
        screen.until("n => document.querySelector('[role=tab][aria-selected=true]').innerText === n", name)
        assert screen.page.evaluate(TOO_SMALL) == [], name
        ticks = screen.page.locator("label.tick")
        assert all(one.bounding_box()["height"] >= 44 for one in ticks.all() if one.is_visible())
    screen.page.get_by_role("tab", name="Sun").click()
    box = screen.page.locator("[data-key=vane] .word").bounding_box()
    assert box["y"] + box["height"] <= 210


def test_two_screens_are_told_that_they_share(screen, browser, served):
    other = open_screen(browser, served.address)
    screen.until("document.querySelector('[role=status]').innerText.includes('2 screens')")
    other.slide("hour", 10.5)
    screen.until("document.querySelectorAll('.knobs output')[2].innerText === '10:30'")
    other.page.close()
    screen.until("!document.querySelector('[role=status]').innerText.includes('2 screens')")


def test_every_control_is_reached_by_keyboard_and_reads(screen):
    screen.page.keyboard.press("Tab")
    names = set()
    for _ in range(45):
        names.add(
            screen.page.evaluate(
                "(document.activeElement.innerText || document.activeElement.name || '').trim().slice(0, 20)"
            )
        )
        screen.page.keyboard.press("Tab")
    assert {"wet watch", "Save", "Night watch", "Sun", "Shape", "lat", "hour", "heel", "helm"} <= names
    for scheme in ("day", "night"):
        if scheme == "night":
            screen.page.get_by_role("button", name="Night watch").click()
            screen.page.wait_for_selector(".page.night", timeout=LONG)
        assert screen.page.evaluate(LEAST_CONTRAST) >= 4.5
    screen.page.get_by_role("button", name="Daylight").click()


LEAST_CONTRAST = """() => {
  const lum = c => { const v = c.map(x => { x /= 255;
    return x <= 0.03928 ? x / 12.92 : ((x + 0.055) / 1.055) ** 2.4; });
    return 0.2126 * v[0] + 0.7152 * v[1] + 0.0722 * v[2]; };
  const rgb = s => s.match(/[\\d.]+/g).map(Number);
  const behind = e => { while (e) { const c = rgb(getComputedStyle(e).backgroundColor);
    if (c.length < 4 || c[3] === 1) return c;
    e = e.parentElement; } return [255, 255, 255]; };
  let least = 21;
  for (const e of document.querySelectorAll('.page *')) {
    const own = [...e.childNodes].some(n => n.nodeType === 3 && n.textContent.trim());
    if (!own || e.closest('svg') || !e.offsetParent) continue;
    const [a, b] = [lum(rgb(getComputedStyle(e).color)), lum(behind(e))];
    least = Math.min(least, (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05));
  }
  return least; }"""


def test_scene_taken_away_opens_offline(screen, served, tmp_path):
    import requests

    page = tmp_path / "scene.html"
    page.write_bytes(requests.get(served.address + "take/scene.html", timeout=60).content)
    shape_file = requests.get(served.address + "take/scene.glb", timeout=60).content
    assert shape_file[:4] == b"glTF"
    away = screen.page.context.browser.new_page()
    asked: list[str] = []
    away.on("request", lambda request: asked.append(request.url))
    away.goto(page.as_uri())
    away.wait_for_selector("canvas", timeout=LONG)
    assert [one for one in asked if one.startswith("http")] == []
    away.close()

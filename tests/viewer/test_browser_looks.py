"""Look, compare, measure, be led and take away in a real browser; an accessibility checker looks over every page."""

from __future__ import annotations

import re
from itertools import product
from pathlib import Path

import numpy as np
import pytest

from canvas import verbs
from canvas.wind.sector import sector
from tests.viewer.conftest import LONG, Screen, copy_of, serve
from viewer.answers import vane_cell
from viewer.state import TABS

pytestmark = [pytest.mark.behaviour, pytest.mark.browser]
AXE = Path(__file__).parent / "axe" / "axe.min.js"
THINGS = "Object.values(trame.refs)[0].$.provides.view.renderer.getActors().length"
WAIT = 1500  # for the picture to be drawn again [ms]


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory):
    folder = tmp_path_factory.mktemp("boats")
    copy_of("oddfellow", folder)
    running = serve(copy_of("marrowgrass", folder), "--port", "8410")
    yield running
    running.stop()


def tab(screen: Screen, name: str) -> None:
    screen.page.get_by_role("tab", name=name).click()


def drag(screen: Screen, which: str = ".picture") -> None:
    """Turn the boat with the mouse."""
    box = screen.page.locator(which).first.bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    mouse = screen.page.mouse
    mouse.move(x, y)
    mouse.down()
    for step in range(1, 7):
        mouse.move(x + 15 * step, y + 4 * step)
        screen.page.wait_for_timeout(60)
    mouse.up()
    screen.page.wait_for_timeout(WAIT)


def test_two_sets_side_by_side_turn_together_and_answer_each_for_itself(screen, served):
    page = screen.page
    page.get_by_role("radio", name="wet watch").click()
    tab(screen, "Beside")
    page.select_option("select[name=versus]", label="closed tent")
    page.wait_for_selector(".another canvas", timeout=LONG)
    page.wait_for_selector(".another .tag", timeout=LONG)
    screen.until("document.querySelectorAll('.bench tbody td').length > 1")
    before, other = screen.picture(), screen.picture(".another")
    assert before != other
    drag(screen)
    screen.redrawn(before)
    screen.redrawn(other, ".another")
    turned = screen.picture()
    drag(screen, ".another")
    screen.redrawn(turned)
    wanted = vane_cell(verbs.rigging_of(served.design), "closed tent", heel=0.0).word
    screen.until("w => document.querySelectorAll('.bench tbody td')[1]?.innerText === w", wanted)
    alone = page.evaluate(THINGS)
    page.get_by_label("laid over, as a net").check()
    screen.until("!document.querySelector('.another').offsetParent")
    screen.until(f"n => {THINGS} > n", alone)
    laid = screen.picture()
    page.select_option("select[name=versus]", label="nothing")
    screen.redrawn(laid)
    page.get_by_label("side by side, turned together").check()


def test_another_design_stands_beside(screen, served):
    page = screen.page
    tab(screen, "Beside")
    page.select_option("select[name=versus_design]", label="oddfellow.toml")
    rigging = verbs.rigging_of(served.design.parent / "oddfellow.toml")
    name = rigging.model.design.set_names()[-1]
    screen.until("n => [...document.querySelectorAll('select[name=versus] option')].some(o => o.innerText === n)", name)
    page.select_option("select[name=versus]", label=name)
    page.wait_for_selector(".another canvas", timeout=LONG)
    assert page.locator(".another .tag").inner_text() == f"{rigging.model.design.name}: {name}"
    page.select_option("select[name=versus]", label="nothing")
    screen.until("!document.querySelector('.another').offsetParent")
    page.select_option("select[name=versus_design]", label="this boat")


def test_finding_leads_to_its_place(screen):
    tab(screen, "Checks")
    button = screen.page.locator(".checks button").first
    button.wait_for(timeout=LONG)
    before = screen.picture()
    button.click()
    screen.page.wait_for_selector("tr.led", timeout=LONG)
    screen.redrawn(before)
    screen.page.get_by_role("button", name="the quarter").click()


def test_wind_of_the_dial_is_that_of_line_of_sight(screen, served):
    tab(screen, "Wind")
    rigging = verbs.rigging_of(served.design)
    name = screen.page.locator(".sets .on").inner_text()
    for degrees in (-35, 10, 140):
        screen.slide("awa", degrees)
        share = float(sector(rigging.rig(name).scene, awa=[np.radians(degrees)]).clear_share[0])
        words = f"{100 * share:.0f} % of the blade sees the wind"
        screen.until("w => document.querySelector('.bench .small').innerText.includes(w)", words)


def test_flow_begins_says_how_far_and_stops(screen):
    tab(screen, "Wind")
    button = screen.page.get_by_role("button", name=re.compile("the air"))
    button.click()
    screen.until("/coarse rose.*: \\d+ of \\d+/.test(document.querySelector('.bench').innerText)")
    assert "Stop the air" in button.inner_text()
    button.click()
    screen.until("document.querySelector('.said').innerText.includes('The flow run was stopped')")
    assert "Let the air flow" in button.inner_text()
    assert "Not known" in screen.word("vane")


def test_flat_part_and_panel_light_each_other_up(screen, served):
    page = screen.page
    tab(screen, "Parts")
    page.wait_for_selector("select[name=flat]", timeout=4 * LONG)
    names = page.locator("select[name=flat] option").all_inner_texts()
    screen.until("document.querySelector('.paper svg')")
    first = page.locator(".paper").inner_html()
    before = screen.picture()
    page.select_option("select[name=flat]", label=names[-1])
    screen.until("d => document.querySelector('.paper').innerHTML !== d", first)
    screen.redrawn(before)
    drawn = page.locator(".paper").inner_html()
    page.get_by_label("strain left in it").check()
    screen.until("d => document.querySelector('.paper').innerHTML !== d", drawn)
    assert "strain left from flat to shape" in page.locator(".paper").inner_text()
    page.get_by_label("strain left in it").uncheck()
    page.get_by_role("radio", name="closed tent").click()
    wanted = vane_cell(verbs.rigging_of(served.design), "closed tent", heel=0.0)
    screen.until("w => document.querySelector('[data-key=vane] .word')?.innerText === w", wanted.word)
    screen.answered()
    page.wait_for_selector("select[name=flat]", timeout=4 * LONG)
    page.select_option("select[name=flat]", label=names[0])
    page.get_by_role("button", name="the quarter").click()
    screen.picture()
    box = page.locator(".picture").bounding_box()
    chosen = page.locator("select[name=flat]").input_value()
    for x, y in product(np.linspace(0.4, 0.6, 6), np.linspace(0.3, 0.8, 6)):
        page.mouse.click(box["x"] + x * box["width"], box["y"] + y * box["height"])
        page.wait_for_timeout(250)
        if page.locator("select[name=flat]").input_value() != chosen:
            break
    screen.until("v => document.querySelector('select[name=flat]').value !== v", chosen)


def test_distance_between_marks_in_the_boats_own_unit(screen, served):
    tab(screen, "Take")
    marks = verbs.rigging_of(served.design).model.marks
    screen.page.select_option("select[name=from]", label="tent_aft_port")
    screen.page.select_option("select[name=to]", label="hood_foot_stbd")
    apart = float(np.linalg.norm(marks.at("tent_aft_port") - marks.at("hood_foot_stbd")))
    screen.until("w => document.querySelector('.bench .small').innerText.startsWith(w)", f"{apart:.3f} m apart")


def test_two_points_are_picked_in_the_picture_and_headroom_is_said(screen):
    page = screen.page
    tab(screen, "Take")
    page.get_by_role("button", name="Measure between two points").click()
    box = page.locator(".picture").bounding_box()
    screen.until("document.querySelector('.bench .small').innerText.startsWith('Pick the first point')")
    screen.drawn()
    for x, y, said in ((0.45, 0.75, "First point taken"), (0.55, 0.62, " apart: ")):
        page.mouse.click(box["x"] + x * box["width"], box["y"] + y * box["height"])
        screen.until("w => document.querySelector('.bench .small').innerText.includes(w)", said)
    assert re.search("room over it|Open sky over it", page.locator(".bench .small").first.inner_text())
    page.get_by_role("button", name="Stop measuring").click()


def test_picture_is_taken_away(screen, tmp_path):
    tab(screen, "Take")
    with screen.page.expect_download(timeout=LONG) as taken:
        screen.page.get_by_role("button", name="Picture of the screen").click()
    file = tmp_path / "picture.png"
    taken.value.save_as(file)
    assert file.read_bytes()[:8] == b"\x89PNG\r\n\x1a\n"
    assert taken.value.suggested_filename == "Marrowgrass.png"


def test_day_plays_and_stops(screen):
    tab(screen, "Sun")
    hour = screen.page.locator(".knobs output").nth(2)
    before = hour.inner_text()
    screen.page.get_by_role("button", name="Play the day").click()
    screen.until("b => document.querySelectorAll('.knobs output')[2].innerText !== b", before)
    screen.page.get_by_role("button", name="Stop the day").click()
    screen.page.get_by_role("button", name="Play the day").wait_for(timeout=LONG)
    still, last = hour.inner_text(), ""
    while still != last:  # what was on its way when the day was stopped may still come in
        screen.page.wait_for_timeout(WAIT)
        still, last = hour.inner_text(), still
    screen.page.wait_for_timeout(WAIT)
    assert hour.inner_text() == still


def test_square_of_the_chart_is_gone_to(screen):
    tab(screen, "Sun")
    square = screen.page.locator(".chart button").filter(has_text=re.compile(r"\d")).nth(20)
    square.wait_for(timeout=4 * LONG)
    said = square.get_attribute("aria-label")
    latitude, hour = re.match(r"(.+), (\d+) h", said).groups()
    screen.page.locator(f".chart button[aria-label='{said}']").click()  # squares fill one by one: the 20th changes
    for knob, words in ((0, latitude), (2, f"{int(hour):02d}:00")):
        screen.until("([k, w]) => document.querySelectorAll('.knobs output')[k].innerText === w", [knob, words])
    shown, traced = (int(re.search(r"(\d+) %", text)[1]) for text in (said, screen.word("shade")))
    assert abs(shown - traced) <= 6


def test_eyes_of_the_helm_see_something_else(screen):
    before = screen.picture()
    screen.page.get_by_role("button", name="helm", exact=True).click()
    screen.redrawn(before)
    screen.page.get_by_role("button", name="the quarter").click()


@pytest.mark.parametrize("scheme", ["Daylight", "Night watch"])
def test_accessibility_checker_finds_nothing_serious(screen, scheme):
    page = screen.page
    if scheme == "Night watch":
        page.get_by_role("button", name="Night watch").click()
        page.wait_for_selector(".page.night", timeout=LONG)
    page.evaluate(AXE.read_text(encoding="utf-8"))
    grave = {}
    for name in TABS:
        tab(screen, name)
        screen.until("n => document.querySelector('[role=tab][aria-selected=true]').innerText === n", name)
        page.wait_for_timeout(500)
        found = page.evaluate("async () => (await axe.run(document)).violations")
        for one in found:
            if one["impact"] in ("serious", "critical"):
                grave[name, one["id"]] = [node["html"][:160] for node in one["nodes"][:3]]
    if scheme == "Night watch":
        page.get_by_role("button", name="Daylight").click()
    assert grave == {}

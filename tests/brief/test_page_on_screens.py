"""Open the report in a real browser, as wide as a phone and as a laptop: nobody moves the page sideways to read it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from canvas import verbs
from canvas.brief.page import ReportContents, report_page
from canvas.cloth.rigging import Rigging

pytestmark = [pytest.mark.behaviour, pytest.mark.browser]
PHONE, LAPTOP = {"width": 390, "height": 844}, {"width": 1366, "height": 768}
CELLS = """[...document.querySelectorAll('.verdicts td')].map((cell) => {
  const { left, right } = cell.getBoundingClientRect();
  return [left, right, getComputedStyle(cell.firstChild, '::before').content]; })"""
UNHINTED = """[...document.querySelectorAll('.wide')].filter((frame) => frame.scrollWidth > frame.clientWidth
  && !getComputedStyle(frame).backgroundAttachment.includes('local')).length"""


@pytest.fixture(scope="module")
def file(sloop: Rigging, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a report that compares all sets of the sloop."""
    answers = {"vane": verbs.vane(sloop), "rain": verbs.rain(sloop)}
    path = tmp_path_factory.mktemp("report") / "report.html"
    path.write_text(report_page(ReportContents(rigging=sloop, answers=answers)), encoding="utf-8")
    return path


@pytest.mark.parametrize("size", [PHONE, LAPTOP], ids=["phone", "laptop"])
def test_page_stays_within_the_screen_and_wide_tables_show_where_they_go_on(
    browser: Any, file: Path, size: dict[str, int]
) -> None:
    page = browser.new_page(viewport=size)
    page.goto(file.as_uri())
    assert page.evaluate("document.documentElement.scrollWidth") <= size["width"]
    assert page.evaluate(UNHINTED) == 0
    page.close()


def test_answers_of_every_set_are_on_a_phones_screen_with_the_sets_name(
    browser: Any, file: Path, sloop: Rigging
) -> None:
    page = browser.new_page(viewport=PHONE)
    page.goto(file.as_uri())
    cells = page.evaluate(CELLS)
    assert min(left for left, _, _ in cells) >= 0
    assert max(right for _, right, _ in cells) <= PHONE["width"]
    assert {said.strip('"') for _, _, said in cells} == set(sloop.model.design.set_names())
    page.close()

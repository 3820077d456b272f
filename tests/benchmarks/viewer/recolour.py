"""Measure how long the viewer takes from a slider's input event to the second frame after the new number.

Computes: median and 95th percentile of recolouring and of an edit to its new vane answer, in a real browser, apart:
    until the number stands (of which the server's processor time, and bytes sent), from there to the second frame, and
    the same with nothing drawn, which leaves out the software renderer; how long a slider let go takes to refine.
Units: milliseconds; processor time by process, ten milliseconds a tick, over all moves.
Source: the goals stand in the project's issues.
Limits: chromium without a graphics card draws in software; wall times hold on an idle machine only; its load is said.

Run: python -m tests.benchmarks.viewer.recolour
"""

from __future__ import annotations

import os
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from playwright.sync_api import Playwright, sync_playwright

from tests.viewer.conftest import FLAGS, Screen, copy_of, open_screen, serve, slowness

MOVES = 40
PAUSE = 120  # between moves [ms], shorter than what counts as rest
DRAG = """(v) => new Promise((done) => {
  const slider = document.querySelector('input[name=hour]');
  const shown = document.querySelectorAll('.knobs output')[2];
  const begun = performance.now();
  const see = new MutationObserver(() => {
    see.disconnect();
    const number = performance.now() - begun;
    requestAnimationFrame(() => requestAnimationFrame(() => done([number, performance.now() - begun])));
  });
  see.observe(shown, { childList: true, characterData: true, subtree: true });
  slider.value = v; slider.dispatchEvent(new Event('input', { bubbles: true }));
})"""
EDIT = """(v) => new Promise((done) => {
  const box = document.querySelector('input[name="leech: height of both ends"]');
  const word = () => document.querySelector('[data-key=vane] .word').innerText;
  const begun = performance.now();
  let asked = false;
  const see = new MutationObserver(() => {
    asked = asked || word().includes('computing');
    if (!asked || word().includes('computing')) return;
    see.disconnect();
    const answer = performance.now() - begun;
    requestAnimationFrame(() => requestAnimationFrame(() => done([answer, performance.now() - begun])));
  });
  see.observe(document.querySelector('.answers'), { childList: true, characterData: true, subtree: true });
  box.value = v; box.dispatchEvent(new Event('change', { bubbles: true }));
})"""
HIDE = """(seen) => Object.values(trame.refs).map((one) => one && one.$ && one.$.provides.view)
  .filter((one) => one && one.renderer)
  .forEach((one) => { one.renderer.setDraw(seen); one.renderWindow.render(); })"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Spent:
    """Processor time so far [ms]: of the server, the page, and the process that draws."""

    server: float
    page: float
    drawing: float

    def since(self, before: Spent, moves: int) -> str:
        """Return what was spent a move, in words."""
        parts = [(getattr(self, one) - getattr(before, one)) / moves for one in ("server", "page", "drawing")]
        return "server {:.0f}, page {:.0f}, software drawing {:.0f} ms of processor a move".format(*parts)


def main() -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as play:
        running = serve(copy_of("marrowgrass", Path(folder)))
        try:
            measure(play, running.address, running.child.pid)
        finally:
            running.stop()


def ticks(pid: int) -> float:
    """Return the processor time that a process took so far [ms]."""
    fields = Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rpartition(") ")[2].split()
    return 1000 * (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def spent(pid: int, browser: Any) -> Spent:
    """Return what server and browser took so far."""
    talk = browser.new_browser_cdp_session()
    listed = talk.send("SystemInfo.getProcessInfo")["processInfo"]
    talk.detach()
    page, drawing = (
        1000 * sum(one["cpuTime"] for one in listed if one["type"] == kind) for kind in ("renderer", "GPU")
    )
    return Spent(server=ticks(pid), page=page, drawing=drawing)


def measure(play: Playwright, address: str, pid: int) -> None:
    """Drag and edit on one screen, and print how long it took."""
    browser = play.chromium.launch(executable_path="/usr/bin/chromium", args=FLAGS)
    screen = open_screen(browser, address)
    screen.page.get_by_role("radio", name="wet watch").click()
    settled(screen)
    print(f"bare interpreter starts {slowness():.1f} x as slow as on a quiet machine, load {os.getloadavg()[0]:.1f}")
    received = bytes_in(screen)
    whole = drag(screen, browser, pid, "recolour, asked 60 and 120")
    print(f"  {sum(received) / MOVES:.0f} bytes received a move")
    screen.page.evaluate(HIDE, False)
    empty = drag(screen, browser, pid, "the same with an empty picture")
    screen.page.evaluate(HIDE, True)
    share = 1.0 - np.median(empty[:, 1]) / np.median(whole[:, 1])
    print(f"  the software renderer takes {100 * share:.0f} % of the median wall time")
    settled(screen)
    screen.page.get_by_role("tab", name="Shape").click()
    screen.page.select_option("select[name=part]", label="watch tent roof")
    screen.page.wait_for_selector('input[name="leech: height of both ends"]')
    for what, pause in (("edit to new answers, asked 300 and 600", 12_000), ("edits one upon the other", 400)):
        before = spent(pid, browser)
        took = []
        for value in (1.25, 1.30, 1.35, 1.30, 1.25, 1.20):
            took.append(screen.page.evaluate(EDIT, f"{value:.2f}"))
            screen.page.wait_for_timeout(pause)
        say(what, np.array(took))
        print(f"  {spent(pid, browser).since(before, len(took))}, with all later answers and what was drawn meanwhile")
    print(f"let go to refined, asked 2000: {_let_go(screen):.0f} ms")
    browser.close()


def drag(screen: Screen, browser: Any, pid: int, what: str) -> Any:
    """Drag the hour; return when the number stood and when the second frame after it came [ms]."""
    before = spent(pid, browser)
    took = []
    for step in range(MOVES):
        took.append(screen.page.evaluate(DRAG, 7.25 + 0.25 * (step % 40)))
        screen.page.wait_for_timeout(PAUSE)
    say(what, np.array(took))
    print(f"  {spent(pid, browser).since(before, MOVES)}")
    screen.page.wait_for_timeout(2000)
    return np.array(took)


def say(what: str, took: Any) -> None:
    """Print the median and the 95th percentile of all, and the medians of its parts."""
    number, both = took[:, 0], took[:, 1]
    print(
        f"{what}: median {np.median(both):.0f} ms, 95th percentile {np.percentile(both, 95):.0f} ms "
        f"(to the number {np.median(number):.0f}, from there to the second frame {np.median(both - number):.0f})"
    )


def settled(screen: Screen) -> None:
    """Wait until nothing is being computed."""
    words = "[...document.querySelectorAll('.word')].every(e => !e.innerText.includes('computing'))"
    screen.page.wait_for_function(f"{words} && !document.querySelector('.busy')", timeout=300_000)
    screen.page.wait_for_timeout(1000)


def bytes_in(screen: Screen) -> list[int]:
    """Return a list to which the size of each message that the page receives is added."""
    sizes: list[int] = []
    talk = screen.page.context.new_cdp_session(screen.page)
    talk.send("Network.enable")
    talk.on("Network.webSocketFrameReceived", lambda e: sizes.append(len(e["response"]["payloadData"]) * 3 // 4))
    return sizes


def _let_go(screen: Screen) -> float:
    """Return how long after a held slider is let go the whole shade stands [ms]."""
    slider = screen.page.locator('input[aria-label="leech: height of both ends, slider"]')
    note = "document.querySelector('[data-key=shade] .note')?.innerText"
    slider.evaluate("e => { e.value = 1.33; e.dispatchEvent(new Event('input', { bubbles: true })) }")
    screen.until(f"{note}?.includes('preview')")
    begun = time.monotonic()
    slider.evaluate("e => e.dispatchEvent(new Event('change', { bubbles: true }))")
    screen.until(f"{note}?.includes('traced')")
    return 1000 * (time.monotonic() - begun)


if __name__ == "__main__":
    main()

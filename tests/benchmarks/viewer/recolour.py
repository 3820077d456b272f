"""Measure how long the viewer takes from a slider's input event to the second frame after the new number.

Computes: median and 95th percentile of recolouring, and of an edit to its new vane answer, in a real browser; how long
    the refined shade takes after a slider is let go; the server's processor time for one of each.
Units: milliseconds.
Source: none.
Limits: chromium without a graphics card draws in software, which takes most of the time; run on an idle machine.

Run: python -m tests.benchmarks.viewer.recolour
"""

from __future__ import annotations

import os
import tempfile
import time
from pathlib import Path

import numpy as np
from playwright.sync_api import Playwright, sync_playwright

from tests.viewer.conftest import FLAGS, Screen, copy_of, open_screen, serve

DRAG = """(v) => new Promise((done) => {
  const slider = document.querySelector('input[name=hour]');
  const said = () => document.querySelectorAll('.knobs output')[2].innerText;
  const before = said(), begun = performance.now();
  slider.value = v; slider.dispatchEvent(new Event('input', { bubbles: true }));
  const look = () => said() !== before
    ? requestAnimationFrame(() => requestAnimationFrame(() => done(performance.now() - begun))) : setTimeout(look, 1);
  look(); })"""


def main() -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as play:
        running = serve(copy_of("marrowgrass", Path(folder)))
        try:
            measure(play, running.address, running.child.pid)
        finally:
            running.stop()


def spent(pid: int) -> float:
    """Return the processor time that a process took so far [ms]."""
    fields = Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rpartition(") ")[2].split()
    return 1000 * (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def measure(play: Playwright, address: str, pid: int) -> None:
    """Drag and edit on one screen, and print how long it took."""
    browser = play.chromium.launch(executable_path="/usr/bin/chromium", args=FLAGS)
    screen = open_screen(browser, address)
    screen.page.get_by_role("radio", name="wet watch").click()
    words = "[...document.querySelectorAll('.word')].every(e => !e.innerText.includes('computing'))"
    screen.page.wait_for_function(words, timeout=300_000)
    screen.page.wait_for_timeout(8000)
    took = []
    before = spent(pid)
    for step in range(40):
        took.append(screen.page.evaluate(DRAG, 7.25 + 0.25 * (step % 40)))
        screen.page.wait_for_timeout(120)
    print(
        f"recolour: median {np.median(took):.0f} ms, 95th percentile {np.percentile(took, 95):.0f} ms, "
        f"server {(spent(pid) - before) / len(took):.0f} ms of processor"
    )
    screen.page.wait_for_timeout(3000)
    screen.page.get_by_role("tab", name="Shape").click()
    screen.page.select_option("select[name=part]", label="watch tent roof")
    box = screen.page.locator('input[name="leech: height of both ends"]')
    edits = []
    for value in (1.25, 1.30, 1.35, 1.30, 1.25, 1.20):
        begun = time.monotonic()
        box.fill(str(value))
        box.press("Tab")
        screen.until("v => document.querySelector('[role=status]').innerText.includes('→ ' + v)", str(value))
        screen.until("!document.querySelector('[data-key=vane] .word').innerText.includes('computing')")
        edits.append(1000 * (time.monotonic() - begun))
    print(f"edit to new answers: median {np.median(edits):.0f} ms, largest {max(edits):.0f} ms")
    print(f"let go to refined: {_let_go(screen):.0f} ms")
    browser.close()


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

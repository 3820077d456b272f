"""Drag for minutes and see whether server or browser grow.

Computes: resident memory of the server and the browser's heap after a warm-up and at the end.
Units: MiB; minutes on the command line.
Source: /proc; the browser's own count of its heap after collecting garbage.
Limits: Linux. The heap is what the page holds, not what the graphics process holds.

Run: python -m tests.benchmarks.viewer.memory [MINUTES]
"""

from __future__ import annotations

import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from playwright.sync_api import sync_playwright

from tests.viewer.conftest import FLAGS, Screen, copy_of, open_screen, serve

MEBI = 2**20


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """Memory held [MiB]."""

    server: float
    heap: float


def held(screen: Screen, pid: int) -> Held:
    """Return what server and page hold now, after the page collected its garbage."""
    talk = screen.page.context.new_cdp_session(screen.page)
    talk.send("HeapProfiler.collectGarbage")
    heap = talk.send("Runtime.getHeapUsage")["usedSize"]
    talk.detach()
    status = Path(f"/proc/{pid}/status").read_text(encoding="ascii")
    resident = next(int(line.split()[1]) for line in status.splitlines() if line.startswith("VmRSS"))
    return Held(server=resident * 1024 / MEBI, heap=heap / MEBI)


def drag_for(screen: Screen, seconds: float, *, edits: bool) -> int:
    """Drag sun, heading and a leech, to and fro, for so long; return how many moves were made."""
    page, begun, moves = screen.page, time.monotonic(), 0
    ends = {"hour": (6, 18), "lat": (-60, 60), "heading": (0, 355), "awa": (-180, 180)}
    while time.monotonic() - begun < seconds:
        share = 0.5 - 0.5 * float(np.cos(0.37 * moves))
        page.get_by_role("tab", name="Wind" if moves % 40 >= 30 else "Sun").click()
        for name in ("awa",) if moves % 40 >= 30 else ("hour", "lat", "heading"):
            low, high = ends[name]
            screen.slide(name, low + share * (high - low))
            page.wait_for_timeout(60)
        moves += 1
        if edits and moves % 40 == 0:
            _edit(page, 1.2 + 0.05 * (moves // 40 % 3))
    return moves


def _edit(page: Any, value: float) -> None:
    page.get_by_role("tab", name="Shape").click()
    page.select_option("select[name=part]", label="watch tent roof")
    box = page.locator('input[name="leech: height of both ends"]')
    box.fill(f"{value:.2f}")
    box.press("Tab")
    page.wait_for_timeout(500)


def grown(folder: Path, *, warm: float, seconds: float, edits: bool = True, port: str = "8460") -> tuple[Held, Held]:
    """Return what is held after a warm-up and after dragging on for so long [s]."""
    with sync_playwright() as play:
        running = serve(copy_of("marrowgrass", folder), "--port", port)
        browser = play.chromium.launch(executable_path="/usr/bin/chromium", args=FLAGS)
        try:
            screen = open_screen(browser, running.address)
            screen.page.get_by_role("radio", name="wet watch").click()
            words = "[...document.querySelectorAll('.word')].every(e => !e.innerText.includes('computing'))"
            screen.page.wait_for_function(words, timeout=300_000)
            drag_for(screen, warm, edits=edits)
            before = held(screen, running.child.pid)
            moves = drag_for(screen, seconds, edits=edits)
            after = held(screen, running.child.pid)
        finally:
            browser.close()
            running.stop()
    print(f"{moves} moves in {seconds:.0f} s: {before} to {after}")
    return before, after


def main() -> None:
    """Measure and print."""
    minutes = float(sys.argv[1]) if len(sys.argv) > 1 else 10.0
    with tempfile.TemporaryDirectory() as folder:
        before, after = grown(Path(folder), warm=max(60.0, 12 * minutes), seconds=60 * minutes)
    for name in ("server", "heap"):
        first, last = getattr(before, name), getattr(after, name)
        print(f"{name}: {first:.0f} MiB after the warm-up, {last:.0f} at the end, {100 * (last / first - 1):+.1f} %")


if __name__ == "__main__":
    main()

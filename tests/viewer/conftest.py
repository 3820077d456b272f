"""Serve a copy of an example, and drive a real browser that may talk to nobody else."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).parents[2]
FLAGS = [
    "--headless=new", "--no-sandbox", "--use-gl=angle", "--use-angle=swiftshader", "--enable-unsafe-swiftshader",
    "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update",
    "--disable-sync",
]  # fmt: skip
BARE_START = 0.05  # [s] that a bare interpreter takes from start to end on a quiet machine
LONG = 60_000  # a busy machine is no failure [ms]


@dataclass
class Served:
    """A viewer that runs."""

    child: subprocess.Popen[str]
    address: str
    design: Path
    said: list[str]

    def stop(self) -> float:
        """End it as Ctrl-C does; return how long that took [s]."""
        begun = time.monotonic()
        self.child.send_signal(signal.SIGINT)
        self.child.wait(60)
        took = time.monotonic() - begun
        if self.child.stderr is not None:
            self.child.stderr.close()
        return took


def serve(design: Path, *more: str) -> Served:
    """Start `python -m viewer` and wait for the address it says; in a folder it starts a new boat."""
    named = [] if design.is_dir() else [str(design)]
    child = subprocess.Popen(
        [sys.executable, "-m", "viewer", *named, "--no-browser", *more],
        cwd=design if design.is_dir() else ROOT, env={**os.environ, "PYTHONPATH": str(ROOT)},
        stderr=subprocess.PIPE, stdout=subprocess.DEVNULL, text=True,
    )  # fmt: skip
    said = []
    assert child.stderr is not None
    for line in child.stderr:
        said.append(line.strip())
        if " is at http" in line:
            address = line.split(" is at ")[1].split(" ")[0]
            _wait_for(address)
            return Served(child=child, address=address, design=design, said=said)
    raise AssertionError(f"the viewer ended: {said}")


def _wait_for(address: str) -> None:
    import requests

    for _ in range(200):
        try:
            requests.get(address.partition("?")[0], timeout=5, allow_redirects=False)
        except (requests.ConnectionError, requests.Timeout):
            time.sleep(0.1)
        else:
            return
    raise AssertionError("the viewer does not answer")


def slowness() -> float:
    """Return how many times longer than on a quiet machine it takes now to start and end a bare interpreter."""
    begun = time.monotonic()
    subprocess.run([sys.executable, "-I", "-S", "-c", ""], check=True)
    return max(1.0, (time.monotonic() - begun) / BARE_START)


def copy_of(name: str, folder: Path) -> Path:
    """Return a copy of an example that a test may change."""
    return Path(shutil.copy(ROOT / "examples" / f"{name}.toml", folder / f"{name}.toml"))


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """Return the first example, served."""
    running = serve(copy_of("marrowgrass", tmp_path_factory.mktemp("boat")), "--port", "8310")
    yield running
    running.stop()


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    """Return Debian's Chromium."""
    from playwright.sync_api import sync_playwright

    found = next((one for one in ("/usr/bin/chromium", "/usr/bin/chromium-browser") if Path(one).exists()), None)
    assert found is not None, "install Debian's chromium for the browser tests"
    with sync_playwright() as play:
        started = play.chromium.launch(executable_path=found, args=FLAGS)
        yield started
        started.close()


@dataclass
class Screen:
    """A page with what went wrong on it."""

    page: Any
    outside: list[str]
    errors: list[str]

    def word(self, key: str) -> str:
        """Return the answer of one cell."""
        return str(self.page.locator(f"[data-key={key}] .word").inner_text())

    def rows(self, key: str) -> dict[str, str]:
        """Return the parts of one answer."""
        rows = self.page.locator(f"[data-key={key}] li")
        return {row.locator("span").inner_text(): row.locator("b").inner_text() for row in rows.all()}

    def slide(self, name: str, value: float) -> None:
        """Move a slider as a hand does."""
        self.page.locator(f"input[name={name}]").evaluate(
            "(e, v) => { e.value = v; e.dispatchEvent(new Event('input', { bubbles: true })) }", value
        )

    def drawn(self) -> None:
        """Wait until all that has come is drawn, and finely."""
        self.until("window.boatStill && window.boatStill()")

    def picture(self, which: str = ".picture") -> bytes:
        """Return a picture once nothing in it moves any more."""
        self.drawn()
        return bytes(self.page.locator(f"{which} canvas").first.screenshot())

    def redrawn(self, before: bytes, which: str = ".picture") -> bytes:
        """Return the picture once it differs from what it was."""
        return self._pictured(lambda now: now != before, which)

    def redrawn_as(self, before: bytes) -> None:
        """Wait until the picture, which comes after the words, is as it was."""
        self._pictured(lambda now: now == before, ".picture")

    def _pictured(self, wanted: Callable[[bytes], bool], which: str) -> bytes:
        for _ in range(LONG // 500):
            if wanted(now := self.picture(which)):
                return now
            self.page.wait_for_timeout(500)
        raise AssertionError("the picture has not become what is waited for")

    def answered(self) -> None:
        """Wait until nothing is being computed any more."""
        words = "[...document.querySelectorAll('.word')].every(e => !e.innerText.includes('computing'))"
        self.page.wait_for_function(f"{words} && !document.querySelector('.busy')", timeout=4 * LONG)

    def until(self, what: str, arg: Any = None) -> None:
        """Wait for something to hold on the page."""
        self.page.wait_for_function(what, arg=arg, timeout=LONG)


class Finger:
    """A finger on the screen, or several."""

    def __init__(self, screen: Screen) -> None:
        self.screen = screen
        self.talk = screen.page.context.new_cdp_session(screen.page)
        self.talk.send("Emulation.setTouchEmulationEnabled", {"enabled": True})
        self.clock = time.time()

    def does(self, what: str, *at: float, after: float = 0.02) -> None:
        """Do something at points (x, y, x, y ...) so long after what was done last [s], however slow the machine is."""
        self.clock += after
        points = [{"x": x, "y": y, "id": n} for n, (x, y) in enumerate(zip(at[::2], at[1::2], strict=True))]
        self.talk.send("Input.dispatchTouchEvent", {"type": what, "touchPoints": points, "timestamp": self.clock})


def open_screen(browser: Any, address: str, *, width: int = 1280, height: int = 800) -> Screen:
    """Open the viewer; whatever asks another machine is refused and noted."""
    page = browser.new_page(viewport={"width": width, "height": height})
    screen = Screen(page=page, outside=[], errors=[])

    def gate(route: Any) -> None:
        if route.request.url.startswith(address.rsplit("/", 1)[0]):
            route.continue_()
        else:
            screen.outside.append(route.request.url)
            route.abort()

    page.route("**/*", gate)
    page.on("pageerror", lambda error: screen.errors.append(str(error)))
    page.goto(address)
    page.wait_for_selector("[data-key=vane] .word", timeout=LONG)
    return screen


@pytest.fixture
def screen(browser: Any, served: Served) -> Iterator[Screen]:
    """Return a screen of what is served; at the end nothing was asked of another machine and nothing failed in it."""
    opened = open_screen(browser, served.address)
    yield opened
    assert opened.outside == []
    assert opened.errors == []
    opened.page.close()

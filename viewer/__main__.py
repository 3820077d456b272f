"""Start the viewer: read where and what, find a free port, open the browser.

Computes: nothing.
Units: none.
Source: none.
Limits: serves this machine only unless an address is given; then only to who holds the one-time link.
"""

from __future__ import annotations

import argparse
import multiprocessing
import os
import secrets
import socket
import sys
import webbrowser
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from viewer.boat import Boat

FIRST_PORT, PORTS = 8137, 40
MISSING = (
    "The viewer is not installed. Install it with: pip install 'cockpit-canvas-aid[viewer]'; on a bare Debian also: "
    "apt install libegl1 libgl1-mesa-dri"
)


def main(arguments: list[str] | None = None) -> int:
    """Run the viewer until it is stopped; return the exit code."""
    reader = argparse.ArgumentParser(
        prog="canvas view", description="See the boat in the browser and shape its canvas."
    )
    reader.add_argument("design", type=Path, nargs="?", help="the boat's design file; none starts a new boat")
    reader.add_argument("--port", type=int, default=FIRST_PORT)
    reader.add_argument("--host", default="127.0.0.1", help="an address of this machine on the boat's own network")
    reader.add_argument("--no-browser", action="store_true")
    given = reader.parse_args(arguments)
    try:
        from viewer.serving import serve
    except ImportError as missing:
        _say(f"{MISSING}\n({missing})")
        return 3
    from canvas.design.problems import DesignError
    from canvas.jobs.failure import CouldNot
    from viewer.boat import Boat

    try:
        boat = Boat(given.design) if given.design is not None else new_boat(Path.cwd())
    except DesignError as wrong:
        for problem in wrong.problems:
            _say(str(problem))
        return 2
    except CouldNot as failure:
        _say(f"Could not be done: {failure}")
        return 3
    port = free_port(given.host, given.port)
    if port is None:
        _say(f"Ports {given.port} to {given.port + PORTS - 1} are all busy; name another with --port.")
        return 3
    if port != given.port:
        _say(f"Port {given.port} is busy; taking {port}.")
    here = given.host in ("127.0.0.1", "localhost")
    secret = None if here else secrets.token_urlsafe(24)
    link = f"http://{given.host}:{port}/" + ("" if secret is None else f"?pass={secret}")
    _say(f"{boat.rigging.model.design.name} is at {link} (Ctrl-C ends it)")
    if secret is not None:
        _say("The link works once, for one screen. Whoever can listen on this network can read it.")
    browser = None if given.no_browser else lambda: webbrowser.open(link)
    serve(boat, host=given.host, port=port, secret=secret, opened=browser, starting=given.design is None)
    return 0


def new_boat(folder: Path) -> Boat:
    """Return the usual boat, to be asked about on the screen and written into a folder."""
    from viewer import starting
    from viewer.boat import Boat

    form = starting.form_of({})
    path = starting.file_name(str(form.answers["name"]), folder)
    return Boat(path, text=starting.text_of(form, begin="canvas", path=path))


def free_port(host: str, first: int) -> int | None:
    """Return the first port from `first` on that nobody listens on; None where all tried are busy."""
    for port in range(first, min(first + PORTS, 65536)):
        with socket.socket(socket.AF_INET6 if ":" in host else socket.AF_INET, socket.SOCK_STREAM) as tried:
            tried.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                tried.bind((host, port))
            except OSError:
                continue
            return port
    return None


def _say(text: str) -> None:
    sys.stderr.write(f"{text}\n")
    sys.stderr.flush()


def leave(code: int) -> None:
    """End at once, children first: what is still being computed is wanted by nobody, and files are written whole."""
    for child in multiprocessing.active_children():
        child.terminate()
    sys.stderr.flush()
    os._exit(code)


if __name__ == "__main__":
    leave(main())

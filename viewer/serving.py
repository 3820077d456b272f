"""Put the viewer on a port: guarded, offline, under its own name.

Computes: nothing.
Units: none.
Source: trame's aiohttp server, with its page replaced by ours.
Limits: HTTP only.
"""

from __future__ import annotations

import logging
import os
import secrets
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

os.environ.setdefault("WSLINK_READY_MSG", "")
if sys.platform.startswith("linux") and not os.environ.get("DISPLAY"):
    os.environ.setdefault("VTK_DEFAULT_OPENGL_WINDOW", "vtkEGLRenderWindow")

import trame_client
from aiohttp import web

from viewer.app import Viewer
from viewer.boat import Boat
from viewer.guard import Guard, middleware
from viewer.taking import routes

TAKING_TURNS = 0.001  # the page is answered this soon while something is being computed beside it [s]


def serve(
    boat: Boat,
    *,
    host: str,
    port: int,
    secret: str | None = None,
    opened: Callable[[], Any] | None = None,
    starting: bool = False,
) -> None:
    """Serve a boat until stopped.

    Parameters
    ----------
    boat : Boat
    host : str
        Address to listen on.
    port : int
    secret : str, optional
        What the one-time link carries; None where only this machine is served.
    opened : callable, optional
        Called when the server answers.
    starting : bool
        Whether a new boat is asked for first.
    """
    logging.getLogger("wslink").setLevel(logging.ERROR)
    sys.setswitchinterval(TAKING_TURNS)
    viewer = Viewer(boat, starting=starting)
    hosts = {f"{host}:{port}"} | ({f"localhost:{port}"} if host == "127.0.0.1" else set())
    guard = Guard(hosts=hosts, secret=secret)
    key = secrets.token_urlsafe(16)

    def bound(server: Any) -> None:
        server.app.middlewares.append(middleware(guard, visited=viewer.visited))
        server.app.router.add_get("/index.html", _front_page(boat, key))
        server.app.router.add_get("/logo.png", _icon)
        server.app.router.add_routes(routes(viewer))

    viewer.server.controller.on_server_bind.add(bound)

    def ready(**_: Any) -> None:
        viewer.begin()
        if opened is not None:
            opened()

    viewer.server.controller.on_server_ready.add(ready)
    viewer.server.cli.parse_known_args = _own_arguments(viewer.server.cli.parse_known_args, key)
    viewer.server.start(
        port=port, host=host, open_browser=False, show_connection_info=False, disable_logging=True, timeout=0
    )


def _own_arguments(parse: Callable[..., Any], key: str) -> Callable[..., Any]:
    """Keep our own command line from the server's, and give the socket a secret of this run."""

    def parsed(*_: Any, **__: Any) -> Any:
        options, _rest = parse([])
        options.authKey = key
        return options, []

    return parsed


def _front_page(boat: Boat, key: str) -> Callable[[web.Request], Any]:
    www = Path(trame_client.__file__).parent / "module" / "vue3-www"
    page = (www / "index.html").read_text(encoding="utf-8")
    name = boat.rigging.model.design.name
    page = page.replace("trame is built by Kitware", f"{name}: cockpit canvas")
    page = page.replace("Application built with trame, a product from Kitware", "Cockpit canvas of one boat")
    page = page.replace(",maximum-scale=1,minimum-scale=1", "")
    page = page.replace("We're sorry but trame built by Kitware doesn't work properly without", "This page needs")
    page = page.replace("JavaScript enabled. Please enable it to continue.", "JavaScript.")

    async def front(request: web.Request) -> web.StreamResponse:
        if (
            request.query.get("secret") != key
        ):  # the page takes the socket's secret and place from its address, and hides them there
            return web.HTTPFound(f"/index.html?{urlencode({'secret': key, 'sessionURL': f'ws://{request.host}/ws'})}")
        return web.Response(text=page, content_type="text/html")

    return front


async def _icon(_: web.Request) -> web.Response:
    sail = '<path d="M1 12 Q8 1 15 9 L15 12Z" fill="#0d4f73"/>'
    drawn = f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 16 16">{sail}</svg>'
    return web.Response(text=drawn, content_type="image/svg+xml")

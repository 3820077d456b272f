"""Let nobody in who has no business here: Host, Origin, and the secret of a link given out once.

Computes: whether a request is answered.
Units: none.
Source: RFC 6454 (Origin); a page elsewhere can make a browser send requests to 127.0.0.1, hence both checks.
Limits: no encryption; on a boat's own network whoever can listen can read the link.
"""

from __future__ import annotations

import hmac
import secrets
from collections.abc import Awaitable, Callable
from dataclasses import dataclass, field

from aiohttp import web

Handler = Callable[[web.Request], Awaitable[web.StreamResponse]]
COOKIE = "boat-pass"
HEADERS = {
    "Content-Security-Policy": (
        "default-src 'self'; script-src 'self' 'unsafe-inline' 'unsafe-eval' blob:; style-src 'self' 'unsafe-inline'; "
        "img-src 'self' data: blob:; connect-src 'self' data: blob:; worker-src 'self' blob:; font-src 'self' data:; "
        "frame-ancestors 'none'"
    ),
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
}


@dataclass(slots=True)
class Guard:
    """Who may ask.

    Attributes
    ----------
    hosts : set of str
        Host headers that are answered, with their port.
    secret : str or None
        What the one-time link carries; None on this machine only.
    """

    hosts: set[str]
    secret: str | None = None
    _passes: set[str] = field(default_factory=set)

    def refusal(self, request: web.Request) -> str | None:
        """Return why a request is refused; None where it is not."""
        if request.headers.get("Host", "") not in self.hosts:
            return "This address is not the boat's."
        origin = request.headers.get("Origin")
        if origin is not None and origin.partition("://")[2] not in self.hosts:
            return "Another page may not ask the boat."
        if origin is None and request.headers.get("Upgrade", "").lower() == "websocket":
            return "Only the boat's own page may connect."
        if self.secret is None and not self._passes:
            return None
        if request.cookies.get(COOKIE, "") in self._passes:
            return None
        return "Open the link that the boat's screen shows; it can be used once."

    def admit(self, offered: str) -> str | None:
        """Return a pass for the link's secret, which is then used up; None where it is wrong."""
        if self.secret is None or not hmac.compare_digest(offered.encode(), self.secret.encode()):
            return None
        self.secret = None
        found = secrets.token_urlsafe(32)
        self._passes.add(found)
        return found


def middleware(
    guard: Guard, *, visited: Callable[[int], None] = lambda _: None
) -> Callable[[web.Request, Handler], Awaitable[web.StreamResponse]]:
    """Return the aiohttp middleware that asks `guard` first, and tells `visited` of each screen that comes or goes."""

    @web.middleware
    async def ask(request: web.Request, handler: Handler) -> web.StreamResponse:
        offered = request.query.get("pass")
        if offered is not None and request.headers.get("Host", "") in guard.hosts:
            given = guard.admit(offered)
            if given is not None:
                answer = web.HTTPFound("/index.html")
                answer.set_cookie(COOKIE, given, httponly=True, samesite="Strict")
                return answer
        refused = guard.refusal(request)
        if refused is not None:
            return web.Response(status=403, text=refused)
        if request.headers.get("Upgrade", "").lower() == "websocket":
            visited(1)
            try:
                return await handler(request)
            finally:
                visited(-1)
        response = await handler(request)
        if not response.prepared:
            response.headers.update(HEADERS)
        return response

    return ask

"""Headers every answer carries: nothing from elsewhere, no script, no frame, no copy kept, no address passed on."""

from __future__ import annotations

from starlette.datastructures import MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

POLICY = (
    "default-src 'none'; style-src 'self'; img-src 'self' data:; form-action 'self'; frame-ancestors 'none'; "
    "base-uri 'none'"
)
STATIC = "/static/"
CALENDAR = "/calendar.ics"


def headers_for(path: str, secure: bool) -> dict[str, str]:
    """The headers of an answer; only the stylesheet may be kept in a browser's cache.

    A calendar program keeps what it read anyway; told to ask again each time, it may ask whether anything changed.
    """
    headers = {
        "Content-Security-Policy": POLICY,
        "Referrer-Policy": "no-referrer",
        "X-Content-Type-Options": "nosniff",
        "Cache-Control": _kept(path),
    }
    return headers | ({"Strict-Transport-Security": "max-age=31536000"} if secure else {})


def _kept(path: str) -> str:
    if path.startswith(STATIC):
        return "private, max-age=3600"
    return "private, no-cache" if path.endswith(CALENDAR) else "no-store"


class SafeHeaders:
    """ASGI middleware that sets the headers on every answer but those to faults, which `broken` dresses."""

    def __init__(self, app: ASGIApp, secure: bool) -> None:
        self.app = app
        self.secure = secure

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on and dress the answer."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return

        async def dressed(message: Message) -> None:
            if message["type"] == "http.response.start":
                MutableHeaders(scope=message).update(headers_for(scope["path"], self.secure))
            await send(message)

        await self.app(scope, receive, dressed)

"""Headers every answer carries: nothing from elsewhere, no script, no frame, no copy kept, no address passed on."""

from __future__ import annotations

from starlette.datastructures import MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

POLICY = (
    "default-src 'none'; style-src 'self'; img-src 'self' data:; form-action 'self'; frame-ancestors 'none'; "
    "base-uri 'none'"
)
STATIC = "/static/"


class SafeHeaders:
    """ASGI middleware that sets the headers, and keeps only the stylesheet in a browser's cache."""

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
                self._dress(MutableHeaders(scope=message), scope["path"])
            await send(message)

        await self.app(scope, receive, dressed)

    def _dress(self, headers: MutableHeaders, path: str) -> None:
        headers["Content-Security-Policy"] = POLICY
        headers["Referrer-Policy"] = "no-referrer"
        headers["X-Content-Type-Options"] = "nosniff"
        headers["Cache-Control"] = "private, max-age=3600" if path.startswith(STATIC) else "no-store"
        if self.secure:
            headers["Strict-Transport-Security"] = "max-age=31536000"

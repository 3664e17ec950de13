"""Headers that every answer carries, whatever it is.

The one idea: a page may load from this server alone, run no inline script and stand in no
other page's frame; the browser is told so once, here.
"""

from __future__ import annotations

from starlette.datastructures import MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

__all__ = ["CONTENT_POLICY", "HEADERS", "SafeHeaders"]

CONTENT_POLICY = (
    "default-src 'self'; img-src 'self' blob: data:; frame-ancestors 'none'; "
    "base-uri 'none'; form-action 'self'; object-src 'none'"
)
#: Set where a route has not set its own.
HEADERS = {
    "content-security-policy": CONTENT_POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "geolocation=(), microphone=(), payment=(), usb=()",
    "cache-control": "private, no-cache",
}


class SafeHeaders:
    """Adds the headers to every answer."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, and add to its answer."""

        async def adding(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers.setdefault(name, value)
                number = scope.get("drypark.request")
                if number:
                    headers.setdefault("x-request-id", number)
            await send(message)

        await self.app(scope, receive, adding)

"""How large a request may be.

The one idea: nothing is read beyond the limit. A length stated in advance is refused before
the first byte; a stream without a length is counted as it comes.
"""

from __future__ import annotations

from collections.abc import Callable

from starlette.requests import Request
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from api.problems import ProblemError, problem_answer, problem_of

__all__ = ["JSON_BYTES", "PHOTO_BYTES", "BodyLimit", "limit_of"]

JSON_BYTES = 1_000_000
#: A photo as a telephone makes it is 2 to 8 MB.
PHOTO_BYTES = 16_000_000


def limit_of(path: str) -> int:
    """Return how many bytes a request to a path may have.

    Examples
    --------
    >>> limit_of("/api/jobs/abc/photos"), limit_of("/api/jobs")
    (16000000, 1000000)
    """
    return PHOTO_BYTES if path.endswith("/photos") else JSON_BYTES


class BodyLimit:
    """Refuses a body that is too large, with one sentence."""

    def __init__(self, app: ASGIApp, limit: Callable[[str], int] = limit_of) -> None:
        self.app, self.limit = app, limit

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, and count what it brings."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        allowed, got = self.limit(scope["path"]), 0
        request = Request(scope)
        stated = request.headers.get("content-length", "0")
        if stated.isdecimal() and int(stated) > allowed:
            problem, headers = problem_of(request, _too_large(allowed))
            await problem_answer(request, problem, headers)(scope, receive, send)
            return

        async def counting() -> Message:
            nonlocal got
            message = await receive()
            got += len(message.get("body", b""))
            if got > allowed:
                raise _too_large(allowed)
            return message

        await self.app(scope, counting, send)


def _too_large(allowed: int) -> ProblemError:
    """Return what is said to a body over the limit."""
    return ProblemError(
        413,
        f"this is larger than the {allowed // 1_000_000} MB allowed here; nothing was stored; "
        "send a smaller picture, or less at once",
        # What is left of the body is not read; the next request needs a connection of its own.
        headers={"connection": "close"},
    )

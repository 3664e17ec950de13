"""The outermost step: a number for each request, its line in the log, and no bare failure.

The one idea: whatever happens inside, the browser gets an answer in the one shape, and the
log gets a line with the same number. What an unforeseen error says stays out of both: it may
quote what a customer said. The log gets its class and where it was raised.
"""

from __future__ import annotations

import re
import secrets
import time
import traceback

from starlette.requests import ClientDisconnect, Request
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from api.edge.log import log
from api.edge.measures import Measures
from api.problems import problem_answer, problem_of

__all__ = ["Outer"]

_NUMBER = re.compile(r"[A-Za-z0-9_-]{8,64}")


class Outer:
    """Numbers, measures and logs requests; answers what nobody caught."""

    def __init__(self, app: ASGIApp, measures: Measures) -> None:
        self.app, self.measures = app, measures

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Handle one request."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        scope["drypark.request"] = _number_of(scope)
        began, status = time.perf_counter(), 0

        async def watching(message: Message) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = message["status"]
            await send(message)

        failure = ""
        try:
            await self.app(scope, receive, watching)
        except ClientDisconnect:
            failure = "the browser went away"
        except Exception as error:
            failure = _spot(error)
            if not status:
                request = Request(scope)
                problem, headers = problem_of(request, error)
                await problem_answer(request, problem, headers)(scope, receive, watching)
        self._tell(scope, status or 499, time.perf_counter() - began, failure)

    def _tell(self, scope: Scope, status: int, seconds: float, failure: str) -> None:
        """Count a request and write its line."""
        route = str(scope.get("drypark.route") or getattr(scope.get("route"), "path", "none"))
        self.measures.requests.labels(route, scope["method"], str(status)).observe(seconds)
        if status >= 400:
            self.measures.refused.labels(str(status)).inc()
        tell = log.error if status >= 500 else log.info
        extra = {"failure": failure} if failure else {}
        tell(
            "request",
            request=scope["drypark.request"],
            route=route,
            method=scope["method"],
            status=status,
            ms=round(1000 * seconds, 1),
            **extra,
        )


def _number_of(scope: Scope) -> str:
    """Return the number that a request brought, if it is one, else a new one."""
    for name, value in scope["headers"]:
        if name == b"x-request-id":
            text: str = value.decode("latin-1")
            if _NUMBER.fullmatch(text):
                return text
    return secrets.token_urlsafe(9)


def _spot(error: Exception) -> str:
    """Return class and place of an error, without its words."""
    frames = traceback.extract_tb(error.__traceback__)
    last = frames[-1] if frames else None
    at = f" at {last.filename.rpartition('/')[2]}:{last.lineno} in {last.name}" if last else ""
    return f"{type(error).__name__}{at}"

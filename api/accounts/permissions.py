"""Who may ask for what: the one table of role and route.

The one idea: the table is the gate. A request is looked up here before any route sees it, and
what is not in the table does not exist. What a role may *write down* inside a job (closing a
gate, overruling one) is asked event by event in `api.jobs.rules`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Final, Literal

from starlette.routing import compile_path

__all__ = ["ALL", "OPEN", "ROLES", "TABLE", "Row", "look_up", "methods_at"]

Role = Literal["technician", "senior", "trainee", "owner"]
ROLES: Final[tuple[Role, ...]] = ("trainee", "technician", "senior", "owner")
#: Anybody, signed in or not.
OPEN: Final[frozenset[str]] = frozenset({"anybody"})
ALL: Final[frozenset[str]] = frozenset(ROLES)
_BAY: Final[frozenset[str]] = ALL - {"trainee"}
_DESK: Final[frozenset[str]] = frozenset({"senior", "owner"})
_OWNER: Final[frozenset[str]] = frozenset({"owner"})


@dataclass(frozen=True, slots=True)
class Row:
    """One route, and who may ask for it."""

    method: str
    path: str
    who: frozenset[str]
    pattern: re.Pattern[str] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "pattern", compile_path(self.path)[0])


#: Rows are read from the top; the first whose path fits counts.
TABLE: Final[tuple[Row, ...]] = (
    # Whether it runs, and what it is.
    Row("GET", "/livez", OPEN),
    Row("GET", "/readyz", OPEN),
    Row("GET", "/metrics", OPEN),  # the route itself asks for this machine or the token
    Row("GET", "/openapi.json", OPEN),
    Row("GET", "/api/", OPEN),
    Row("GET", "/static/{path:path}", OPEN),
    Row("GET", "/worker.js", OPEN),
    Row("GET", "/manifest.webmanifest", OPEN),
    Row("GET", "/trust", OPEN),
    Row("GET", "/trust/{name}", OPEN),
    Row("GET", "/keys", OPEN),
    Row("POST", "/keys", OPEN),  # how this device looks; nothing of the shop
    # Coming and going.
    Row("GET", "/sign-in", OPEN),
    Row("POST", "/sign-in", OPEN),
    Row("POST", "/sign-out", OPEN),
    Row("GET", "/api/session", OPEN),
    Row("POST", "/api/session", OPEN),
    Row("DELETE", "/api/session", OPEN),
    Row("POST", "/api/device", _DESK),
    Row("DELETE", "/api/device", _DESK),
    Row("POST", "/device", _DESK),
    # People.
    Row("GET", "/api/people", ALL),
    Row("POST", "/api/people", _OWNER),
    Row("GET", "/api/people/{person}", _DESK),
    Row("PATCH", "/api/people/{person}", _OWNER),
    Row("GET", "/people", ALL),
    Row("POST", "/people", _OWNER),
    # Jobs, for programs.
    Row("GET", "/api/jobs", ALL),
    Row("POST", "/api/jobs", _BAY),
    Row("GET", "/api/jobs/{job}", ALL),
    Row("GET", "/api/jobs/{job}/events", ALL),
    Row("POST", "/api/jobs/{job}/events", ALL),
    Row("GET", "/api/jobs/{job}/answer", ALL),
    Row("GET", "/api/jobs/{job}/progress", ALL),
    Row("DELETE", "/api/jobs/{job}/progress", ALL),
    Row("POST", "/api/jobs/{job}/undo", ALL),
    Row("POST", "/api/jobs/{job}/photos", ALL),
    Row("GET", "/api/jobs/{job}/photos/{photo}", ALL),
    Row("POST", "/api/complaint", ALL),
    Row("POST", "/api/decode", ALL),
    Row("GET", "/api/knowledge", ALL),
    Row("GET", "/api/knowledge/{term}", ALL),
    # Jobs, for people.
    Row("GET", "/", ALL),
    Row("POST", "/jobs", _BAY),
    Row("GET", "/jobs/{job}", ALL),
    Row("GET", "/jobs/{job}/write-up", ALL),
    Row("POST", "/jobs/{job}/write-up", _BAY),
    Row("GET", "/jobs/{job}/why", ALL),
    Row("POST", "/jobs/{job}/why/stop", ALL),
    Row("GET", "/jobs/{job}/history", ALL),
    Row("POST", "/jobs/{job}/events", ALL),
    Row("POST", "/jobs/{job}/undo", ALL),
    Row("POST", "/jobs/{job}/stop", ALL),
    Row("POST", "/jobs/{job}/photos", ALL),
    Row("GET", "/jobs/{job}/photos/{photo}", ALL),
)


def look_up(method: str, path: str) -> Row | None:
    """Return the row for a request, or nothing where there is none.

    A HEAD is a GET without its body.

    Examples
    --------
    >>> look_up("GET", "/api/jobs/abc").path, look_up("GET", "/nowhere")
    ('/api/jobs/{job}', None)
    """
    asked = "GET" if method == "HEAD" else method
    return next((r for r in TABLE if r.method == asked and r.pattern.match(path)), None)


def methods_at(path: str) -> tuple[str, ...]:
    """Return the methods that a path knows; empty where there is nothing.

    Examples
    --------
    >>> methods_at("/sign-in")
    ('GET', 'POST')
    """
    return tuple(sorted({row.method for row in TABLE if row.pattern.match(path)}))

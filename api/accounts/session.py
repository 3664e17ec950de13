"""Who is signed in: cookies in, people out.

The one idea: a cookie holds a random token and nothing else; what it stands for is a row in the
database, so that signing out ends it everywhere. A shared tablet carries a second cookie, which
says only that the tablet is the shop's: it lets a name and a PIN count, and nothing more.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Final

from starlette.requests import Request
from starlette.responses import Response

from api.problems import ProblemError
from api.store.engine import Store
from api.store.people import Person
from api.store.sessions import SignedIn

__all__ = [
    "DEVICE_COOKIE",
    "PERSON_COOKIE",
    "TABLET",
    "current_person",
    "device_shop",
    "forget",
    "person_of",
    "remember",
]

PERSON_COOKIE: Final = "drypark-person"
DEVICE_COOKIE: Final = "drypark-tablet"
#: Begins the device text of a session that stands for a shared tablet, not for a person.
TABLET: Final = "tablet: "
_SECONDS = {PERSON_COOKIE: 14 * 86400, DEVICE_COOKIE: 365 * 86400}


def current_person(request: Request) -> Person:
    """Return who is signed in; a dependency of every route that needs somebody.

    Raises
    ------
    ProblemError
        401 where nobody is.
    """
    person = request.scope.get("drypark.person")
    if not isinstance(person, Person):
        raise ProblemError(401, "nobody is signed in here; sign in, then do it again")
    return person


def person_of(store: Store, token: str | None) -> Person | None:
    """Return whose session a token is, if that person still works here."""
    session = _session(store, token, _SECONDS[PERSON_COOKIE])
    if session is None or session.device.startswith(TABLET):
        return None
    return store.people.get(session.person)


def device_shop(store: Store, token: str | None) -> str:
    """Return the shop that a shared tablet belongs to, or nothing."""
    session = _session(store, token, _SECONDS[DEVICE_COOKIE])
    if session is None or not session.device.startswith(TABLET):
        return ""
    enrolled_by = store.people.get(session.person)
    return enrolled_by.shop if enrolled_by else ""


def _session(store: Store, token: str | None, seconds: int) -> SignedIn | None:
    """Return the session of a token, unless it is too old."""
    session = store.sessions.get(token) if token else None
    if session is None or datetime.now(UTC) - session.created > timedelta(seconds=seconds):
        return None
    return session


def remember(request: Request, response: Response, cookie: str, token: str) -> None:
    """Put a token into a cookie that no script reads and no other site sends."""
    response.set_cookie(
        cookie,
        token,
        max_age=_SECONDS[cookie],
        path="/",
        httponly=True,
        samesite="lax",
        secure=request.url.scheme == "https",
    )


def forget(request: Request, response: Response, cookie: str) -> None:
    """Take a cookie away."""
    response.delete_cookie(
        cookie, path="/", httponly=True, samesite="lax", secure=request.url.scheme == "https"
    )

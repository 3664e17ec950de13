"""The gatekeeper: every request passes here before a route sees it.

The one idea: whose machine is asked for, whether the request comes from our own page, who is
signed in and whether that role may; in this order, each refusal with its own sentence. A body
is not read before all four are settled.
"""

from __future__ import annotations

from urllib.parse import quote

from anyio import to_thread
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.types import ASGIApp, Receive, Scope, Send

from api.accounts.origin import comes_from_us, host_is_ours
from api.accounts.permissions import OPEN, Row, look_up, methods_at
from api.accounts.session import PERSON_COOKIE, person_of
from api.problems import ProblemError, problem_answer, problem_of, wants_page
from api.settings import LOCAL_NAMES, Settings
from api.store.engine import Store
from api.store.people import Person

__all__ = ["Gatekeeper"]


class Gatekeeper:
    """Lets a request in, or answers why not."""

    def __init__(self, app: ASGIApp, settings: Settings, store: Store) -> None:
        self.app, self.settings, self.store = app, settings, store

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Handle one request."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":  # no web sockets here
            return
        request = Request(scope)
        try:
            answer = await self._refusal(request)
        except ProblemError as error:
            problem, headers = problem_of(request, error)
            answer = problem_answer(request, problem, headers)
        await (answer or self.app)(scope, receive, send)

    async def _refusal(self, request: Request) -> Response | None:
        """Return an answer that sends the browser elsewhere, or nothing: it may pass."""
        names = (*LOCAL_NAMES, *self.settings.hosts)
        if self.settings.loopback and not host_is_ours(request.headers.get("host", ""), names):
            raise ProblemError(
                421,
                "this service answers to names of this machine only; name others in "
                "DRYPARK_HOSTS, separated by commas",
            )
        row = _row_of(request)
        request.scope["drypark.route"] = row.path
        if not comes_from_us(request.method, request.headers):
            raise ProblemError(
                403,
                "this request comes from another page or address, so nothing was done; open "
                "Drypark's own page and do it there",
                kind="foreign-origin",
            )
        person = await self._person(request)
        request.scope["drypark.person"] = person
        if row.who == OPEN:
            return None
        if person is None:
            return _sign_in_first(request)
        if person.role not in row.who:
            who = ", ".join(sorted(row.who))
            raise ProblemError(
                403,
                f"a {person.role} may not do this; allowed: {who}; ask one of them",
                kind="role",
            )
        return None

    async def _person(self, request: Request) -> Person | None:
        """Return who is signed in; the database is asked in a thread."""
        token = request.cookies.get(PERSON_COOKIE)
        return await to_thread.run_sync(person_of, self.store, token) if token else None


def _row_of(request: Request) -> Row:
    """Return the row of a request; what has none does not exist."""
    path = request.url.path
    row = look_up(request.method, path)
    if row is not None:
        return row
    methods = methods_at(path)
    if methods:
        allowed = ", ".join(methods)
        raise ProblemError(
            405,
            f"{request.method} is not possible here; allowed: {allowed}",
            headers={"allow": allowed},
        )
    raise ProblemError(404, "there is nothing at this address; the board lists every open job")


def _sign_in_first(request: Request) -> Response:
    """Send a person to the sign-in page, and tell a program that it must sign in."""
    if not wants_page(request):
        raise ProblemError(401, "nobody is signed in here; sign in, then do it again")
    back = request.url.path if request.method == "GET" else "/"
    return RedirectResponse(f"/sign-in?next={quote(back, safe='/')}", 303)

"""Signing in and out, and the shop's own tablets."""

from __future__ import annotations

from typing import Annotated, Any

from anyio import to_thread
from fastapi import APIRouter, Depends, Request
from pydantic import BaseModel, Field
from starlette.responses import Response

from api.accounts.session import (
    DEVICE_COOKIE,
    PERSON_COOKIE,
    forget,
    person_of,
    remember,
)
from api.accounts.signing import (
    enrol_tablet,
    forget_tablet,
    sign_in,
    sign_out,
    ways_in,
)
from api.documents.base import Document, Line
from api.problems import Problem
from api.routes.common import PersonDep, body_of, json_answer, takes
from api.store.people import Person

__all__ = ["router"]

router = APIRouter(prefix="/api", tags=["session"])


class Named(BaseModel):
    """Somebody, by id and name."""

    id: str
    name: str
    role: str


class SessionDocument(BaseModel):
    """Who is signed in here, and how somebody can sign in."""

    person: Named | None
    demo: bool = Field(description="the shop and everybody in it are invented")
    tablet: bool = Field(description="this device is one of the shop's tablets")
    pick: list[Named] = Field(description="people of the demo, one of whom is picked")
    pin: list[Named] = Field(description="people who may type their PIN here")


class Secret(Document):
    """A name with its password, or with its PIN on a shop's tablet; alone in the demo."""

    name: Line = Field(min_length=1)
    password: str = Field(default="", max_length=200)
    pin: str = Field(default="", max_length=12)


takes("POST", "/api/session", Secret)
_PATH = "/api/session"
_REFUSED: dict[int | str, dict[str, Any]] = {
    401: {"model": Problem, "description": "name and secret do not belong together"},
    429: {"model": Problem, "description": "too many tries"},
}


@router.get("/session", response_model=SessionDocument)
def who(request: Request) -> Response:
    """Say who is signed in here."""
    return json_answer(_document(request, request.scope.get("drypark.person")))


@router.post("/session", response_model=SessionDocument, responses=_REFUSED)
async def come(
    request: Request, given: Annotated[Secret, Depends(body_of("POST", _PATH))]
) -> Response:
    """Sign in. The answer sets a cookie that no script can read."""

    def signed() -> tuple[str, SessionDocument]:
        token = sign_in(request, given.name, password=given.password, pin=given.pin)
        return token, _document(request, person_of(request.app.state.store, token))

    token, document = await to_thread.run_sync(signed)
    answer = json_answer(document)
    remember(request, answer, PERSON_COOKIE, token)
    return answer


@router.delete("/session", status_code=204)
def go(request: Request) -> Response:
    """Sign out: the session ends on the server too."""
    sign_out(request)
    answer = Response(status_code=204)
    forget(request, answer, PERSON_COOKIE)
    return answer


@router.post("/device", status_code=204)
def enrol(request: Request, person: PersonDep) -> Response:
    """Make this device one of the shop's tablets, where a name and a PIN are enough."""
    answer = Response(status_code=204)
    remember(request, answer, DEVICE_COOKIE, enrol_tablet(request, person))
    return answer


@router.delete("/device", status_code=204)
def dismiss(request: Request, person: PersonDep) -> Response:
    """Let this device be no tablet of the shop any more."""
    forget_tablet(request)
    answer = Response(status_code=204)
    forget(request, answer, DEVICE_COOKIE)
    return answer


def _document(request: Request, person: Person | None) -> SessionDocument:
    """Return what is said about this device and whoever is signed in."""
    ways = ways_in(request)
    return SessionDocument(
        person=_named(person) if person is not None else None,
        demo=request.app.state.settings.demo,
        tablet=ways.tablet,
        pick=[_named(one) for one in ways.pick],
        pin=[_named(one) for one in ways.pin],
    )


def _named(person: Person) -> Named:
    return Named(id=str(person.id), name=person.name, role=person.role)

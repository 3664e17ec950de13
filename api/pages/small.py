"""The small pages: signing in, people, and how this device looks."""

from __future__ import annotations

import asyncio
from typing import Annotated, Final

from fastapi import APIRouter, Depends, Request
from starlette.responses import RedirectResponse, Response

from api.accounts.passwords import hashed, need_password, need_pin
from api.accounts.session import (
    DEVICE_COOKIE,
    PERSON_COOKIE,
    current_person,
    forget,
    remember,
)
from api.accounts.signing import enrol_tablet, forget_tablet, sign_in, sign_out, ways_in
from api.pages.forms import field, safe_back
from api.pages.rendering import THEMES, page
from api.problems import ProblemError
from api.store.people import Person

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
_YEAR: Final = 365 * 86400


@router.get("/sign-in")
async def sign_in_page(request: Request) -> Response:
    """Show the ways to sign in."""
    ways = await asyncio.to_thread(ways_in, request)
    after = request.query_params.get("next", "/")
    return page(request, "sign_in.html", ways=ways, next=after, here="sign-in", wrong="")


@router.post("/sign-in")
async def sign_in_form(request: Request) -> Response:
    """Sign somebody in, or say that it wasn't right."""
    form = await request.form()
    name, password, pin = field(form, "name"), str(form.get("password", "")), field(form, "pin")
    try:
        token = await asyncio.to_thread(sign_in, request, name, password=password, pin=pin)
    except ProblemError as error:
        ways = await asyncio.to_thread(ways_in, request)
        return page(
            request, "sign_in.html", status=error.status_code, ways=ways, here="sign-in",
            next=field(form, "back") or "/", wrong=str(error.detail),
        )  # fmt: skip
    answer = RedirectResponse(safe_back(form, "/"), 303)
    remember(request, answer, PERSON_COOKIE, token)
    return answer


@router.post("/sign-out")
async def sign_out_form(request: Request) -> Response:
    """End the session of this device."""
    await asyncio.to_thread(sign_out, request)
    answer = RedirectResponse("/sign-in", 303)
    forget(request, answer, PERSON_COOKIE)
    return answer


@router.get("/people")
async def people(request: Request, person: Annotated[Person, Depends(current_person)]) -> Response:
    """Show who works here, and for the owner a form for one more."""
    rows = await asyncio.to_thread(request.app.state.store.people.list, person.shop)
    ways = await asyncio.to_thread(ways_in, request)
    return page(request, "people.html", rows=rows, ways=ways, here="people")


@router.post("/people")
async def add_person(
    request: Request, person: Annotated[Person, Depends(current_person)]
) -> Response:
    """Add somebody to the shop."""
    form = await request.form()
    name, role = field(form, "name"), field(form, "role")
    password, pin = str(form.get("password", "")), field(form, "pin")
    if not name or role not in ("technician", "senior", "trainee", "owner"):
        raise ProblemError(422, "a person needs a name and a role; nobody was added")
    if not password and not pin:
        raise ProblemError(422, "a person needs a password or a PIN; nobody was added")
    await asyncio.to_thread(
        request.app.state.store.people.add,
        person.shop,
        name,
        role,
        hashed(need_password(password)) if password else None,
        hashed(need_pin(pin)) if pin else None,
    )
    return RedirectResponse("/people", 303)


@router.post("/device")
async def device(request: Request, person: Annotated[Person, Depends(current_person)]) -> Response:
    """Make this device one of the shop's tablets, or no longer."""
    form = await request.form()
    answer = RedirectResponse("/people", 303)
    if field(form, "tablet") == "on":
        token = await asyncio.to_thread(enrol_tablet, request, person)
        remember(request, answer, DEVICE_COOKIE, token)
    else:
        await asyncio.to_thread(forget_tablet, request)
        forget(request, answer, DEVICE_COOKIE)
    return answer


@router.get("/keys")
async def keys(request: Request) -> Response:
    """Show the themes and the keys."""
    return page(request, "keys.html", here="keys", themes=THEMES)


@router.post("/keys")
async def look(request: Request) -> Response:
    """Remember the theme, or whether single keys count, on this device."""
    form = await request.form()
    answer = RedirectResponse(safe_back(form, "/keys"), 303)
    theme, single = field(form, "theme"), field(form, "keys")
    secure = request.url.scheme == "https"
    if "theme" in form and theme in THEMES:
        answer.set_cookie("theme", theme, _YEAR, samesite="lax", secure=secure, httponly=True)
    if single in ("on", "off"):
        answer.set_cookie("keys", single, _YEAR, samesite="lax", secure=secure, httponly=True)
    return answer

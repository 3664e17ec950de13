"""What the forms of the bay sheet do: write events, take them back, stop a list.

The one idea: every form ends in a redirect (303), so that a reload sends nothing twice; and a
form sent twice is one event all the same.
"""

from __future__ import annotations

import asyncio
from typing import Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, Depends, Request
from pydantic import ValidationError
from starlette.datastructures import FormData
from starlette.responses import RedirectResponse, Response

from api.accounts.session import current_person
from api.jobs.writing import write
from api.pages.answers import WhereNeeded, bodies_of
from api.pages.forms import field, numbered, onward, safe_back, stem_of
from api.problems import ProblemError
from api.store import events as happened
from api.store.fold import JobState
from api.store.people import Person

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
_Person = Annotated[Person, Depends(current_person)]


@router.post("/jobs/{job}/events")
async def answer(request: Request, job: str, person: _Person) -> Response:
    """Write down what a form of the sheet says."""
    form = await request.form()
    try:
        await asyncio.to_thread(_write, request, person, job, form)
    except WhereNeeded as needed:
        asked = {"check": needed.check, "place": needed.place, "cause": needed.cause}
        return onward(request, f"/jobs/{job}?{urlencode(asked)}#where", needs="place")
    return onward(request, safe_back(form, f"/jobs/{job}#now"))


def _write(request: Request, person: Person, job: str, form: FormData) -> None:
    """Write the events of a form; one that was written before is not read again."""
    store, desk = request.app.state.store, request.app.state.desk
    state = store.jobs.state(person.shop, job)
    if _written(state, field(form, "event")):
        return
    try:
        events = numbered(form, bodies_of(desk.knowledge, state, form))
    except ValidationError as error:
        raise ProblemError(422, _sentence(error)) from None
    if events:
        write(store, desk, person, job, events)


def _written(state: JobState, stem: str) -> bool:
    """Return whether the events of a form stand in the job: it was sent twice."""
    return bool(stem) and any(stem_of(row.recorded.id) == stem for row in state.history)


def _sentence(error: ValidationError) -> str:
    """Return what is wrong with a form in a sentence, without what was typed."""
    first = error.errors()[0]
    where = str(first["loc"][-1]).replace("_", " ") if first["loc"] else "this"
    rest = str(first["msg"])
    return f"{where}: {rest[:1].lower()}{rest[1:]}; nothing was written; correct it and send again"


@router.post("/jobs/{job}/undo")
async def undo(request: Request, job: str, person: _Person) -> Response:
    """Take back everything that one answer wrote down; taking back a taking-back is redo."""
    form = await request.form()
    await asyncio.to_thread(_undo, request, person, job, form)
    return onward(request, safe_back(form, f"/jobs/{job}#now"))


def _undo(request: Request, person: Person, job: str, form: FormData) -> None:
    store, desk = request.app.state.store, request.app.state.desk
    state = store.jobs.state(person.shop, job)
    if _written(state, field(form, "event")):
        return
    stem = field(form, "undo")
    aims = [row.recorded.id for row in state.history if stem_of(row.recorded.id) == stem]
    if not aims:
        raise ProblemError(409, "there is nothing to take back by that name; look at the history")
    # The last first: what an answer replaced comes back before what it said goes.
    bodies = [happened.TakenBack(event=key) for key in reversed(aims)]
    write(store, desk, person, job, numbered(form, bodies))


@router.post("/jobs/{job}/stop")
async def stop(request: Request, job: str, person: _Person) -> Response:
    """Stop making the list, or its account; everything that was written down is kept."""
    store, desk = request.app.state.store, request.app.state.desk
    state = await asyncio.to_thread(store.jobs.state, person.shop, job)
    desk.cancel(desk.key(state))
    there = await asyncio.to_thread(desk.now, state) is not None
    return RedirectResponse(f"/jobs/{job}" if there else f"/jobs/{job}?stopped=true", 303)

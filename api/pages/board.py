"""The board: every open job, what comes next on it, and the way to a new one."""

from __future__ import annotations

import asyncio
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import RedirectResponse, Response

from api.accounts.session import current_person
from api.documents import Answer
from api.documents.case import CaseVehicle
from api.jobs.answering import nothing_known
from api.jobs.desk import Desk
from api.jobs.writing import open_job
from api.pages.bay_view import stage_of
from api.pages.forms import field, numbered
from api.pages.rendering import page
from api.picture.car import Shade, most_suspect, shades_of
from api.problems import ProblemError
from api.store.events import WrittenUp
from api.store.fold import JobState
from api.store.people import Person
from api.words import GATE_LEVELS, place_words

__all__ = ["JobRow", "job_row", "router"]

router = APIRouter(include_in_schema=False)
SHOWN = 50


@dataclass(frozen=True, slots=True)
class JobRow:
    """One job on the board.

    Attributes
    ----------
    next : the next check in words; empty where the list is not made yet
    gate : level of the gravest gate that something opened, in words
    """

    state: JobState
    stage: str
    next: str
    gate: str
    shades: Mapping[str, Shade]
    most: Shade | None


def job_row(state: JobState, answer: Answer | None) -> JobRow:
    """Return the row of a job."""
    shades = shades_of(answer.causes if answer else ())
    gates = answer.gates if answer else ()
    gate = next((row.level for row in gates if row.because and row.level != "none"), "")
    words = ""
    if answer and answer.checks:
        first = answer.checks[0]
        where = place_words(first.place)
        words = answer.label(first.id) + (f", {where}" if where else "")
    return JobRow(
        state, stage_of(state, answer), words, GATE_LEVELS.get(gate, gate), shades,
        most_suspect(shades),
    )  # fmt: skip


@router.get("/")
async def board(
    request: Request,
    person: Annotated[Person, Depends(current_person)],
    search: str = "",
    closed: bool = False,
) -> Response:
    """Show the open jobs, or those that a search finds, closed ones too where asked for."""
    rows, more = await asyncio.to_thread(_rows, request, person, search[:100], closed)
    return page(
        request, "board.html", rows=rows, more=more, search=search[:100], closed=closed,
        here="board",
    )  # fmt: skip


def _rows(request: Request, person: Person, search: str, closed: bool) -> tuple[list[JobRow], int]:
    store, desk = request.app.state.store, request.app.state.desk
    found = store.jobs.list(person.shop, open_only=not closed, search=search)
    states = [store.jobs.state(person.shop, row.job) for row in found[:SHOWN]]
    rows = [job_row(state, _now(desk, state)) for state in states]
    return rows, max(0, len(found) - SHOWN)


def _now(desk: Desk, state: JobState) -> Answer | None:
    """Return what is known of a job without working anything out; gates stand before any list."""
    return desk.gates_alone(state) if nothing_known(state.case) else desk.now(state)


@router.post("/jobs")
async def new_job(request: Request, person: Annotated[Person, Depends(current_person)]) -> Response:
    """Open a job and go to its write-up."""
    form = await request.form()
    ticket = field(form, "ticket")
    if not 0 < len(ticket) <= 100:
        raise ProblemError(
            422, "a job needs its ticket number, at most 100 characters; nothing was opened"
        )
    body = WrittenUp(ticket=ticket, vehicle=CaseVehicle(label=field(form, "label")[:200]))
    store, desk = request.app.state.store, request.app.state.desk
    (event,) = numbered(form, [body])
    made = await asyncio.to_thread(open_job, store, desk, person, event)
    return RedirectResponse(f"/jobs/{made.job}/write-up?step=car", 303)

"""The write-up: the car, recent work, the customer's words, codes, and the safety questions.

The one idea: one form. On a phone it shows one question at a time, on a desk all of them; every
button of it keeps what was filled in before it does its own thing.
"""

from __future__ import annotations

import asyncio
from contextlib import suppress
from dataclasses import dataclass
from typing import Annotated, Any, Final
from urllib.parse import quote

from fastapi import APIRouter, Depends, Request
from pydantic import ValidationError
from starlette.datastructures import FormData
from starlette.responses import Response

from api.accounts.session import current_person
from api.documents import Answer
from api.documents.case import CaseFinding
from api.jobs.answering import nothing_known
from api.jobs.desk import Desk
from api.jobs.writing import write
from api.labels import label_of
from api.pages.bay_view import bay_view
from api.pages.code_view import read_view
from api.pages.forms import field, numbered, onward, stem_of
from api.pages.rendering import page
from api.pages.write_up_form import changed_bodies, event_of_code
from api.pages.write_up_view import (
    STEPS,
    context_groups,
    fact_questions,
    gate_groups,
    next_step,
    places_for,
    questions_that_matter,
    taken_findings,
)
from api.problems import ProblemError
from api.store import events as happened
from api.store.fold import JobState
from api.store.people import Person
from api.words_match import nearest
from graph.terms import Knowledge
from triage.errors import TriageError

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
#: How long the questions wait for the list that they come from.
PATIENCE: Final = 0.9
_Person = Annotated[Person, Depends(current_person)]
MATCHES_SHOWN = 5
SEEK_SHOWN = 10


@dataclass(frozen=True, slots=True)
class Offered:
    """A finding that the words may mean."""

    id: str
    place: str
    state: str
    label: str
    where: str


@router.get("/jobs/{job}/write-up")
async def write_up(request: Request, job: str, person: _Person, step: str = "") -> Response:
    """Show the write-up, at one of its steps."""
    step = step if step in STEPS else "car"
    store, desk = request.app.state.store, request.app.state.desk
    knowledge: Knowledge = desk.knowledge
    state = await asyncio.to_thread(store.jobs.state, person.shop, job)
    answer = await _answer(desk, state, wait=step == "questions")
    seek, raw = request.query_params.get("seek", "")[:100], request.query_params.get("raw", "")
    values: dict[str, Any] = {
        "state": state,
        "view": bay_view(knowledge, state, answer),
        "step": step,
        "steps": STEPS,
        "next_step": next_step,
        "facts": fact_questions(knowledge),
        "contexts": context_groups(knowledge),
        "offers": await asyncio.to_thread(_offers, knowledge, state),
        "taken": taken_findings(knowledge, state),
        "seek": seek,
        "sought": _sought(knowledge, seek),
        "read": read_view(knowledge, raw[:4000]) if raw else None,
        "codes": [(code, event_of_code(state, code)) for code in state.case.codes],
        "questions": questions_that_matter(answer),
        "gates": gate_groups(knowledge, state),
        "work": desk.progress(state) if step == "questions" else None,
        "here": "job",
    }
    return page(request, "write_up.html", **values)


async def _answer(desk: Desk, state: JobState, *, wait: bool) -> Answer | None:
    """Return what there is of the answer; where it is asked about, it is begun and waited for."""
    if wait and not nothing_known(state.case):
        with suppress(TimeoutError, ProblemError, TriageError):
            work = await asyncio.to_thread(desk.start, state)
            async with asyncio.timeout(PATIENCE):
                await asyncio.shield(asyncio.wrap_future(work.future))
    return await asyncio.to_thread(desk.now, state)


def _offers(knowledge: Knowledge, state: JobState) -> list[Offered]:
    """Return the findings nearest to the customer's words that are not taken down yet."""
    if not state.case.complaint:
        return []
    taken = {seen.id for seen in state.case.findings}
    rows = []
    for one in nearest(knowledge, state.case.complaint, count=MATCHES_SHOWN + len(taken)):
        allowed = dict(places_for(knowledge, one.id))
        place = one.place if one.place in allowed else ""
        if one.id not in taken:
            where = allowed.get(place or "", "")
            rows.append(Offered(one.id, place or "", one.state, one.label, where))
    return rows[:MATCHES_SHOWN]


def _sought(knowledge: Knowledge, text: str) -> list[Offered]:
    """Return the findings whose name or known words hold every word looked for."""
    words = text.casefold().split()
    if not words:
        return []
    rows = []
    for finding in knowledge.findings.values():
        whole = " ".join((finding.label, *finding.customer_words)).casefold()
        if all(word in whole for word in words):
            rows.append(Offered(finding.id, "", "present", finding.label, ""))
    return rows[:SEEK_SHOWN]


@router.post("/jobs/{job}/write-up")
async def keep(request: Request, job: str, person: _Person) -> Response:
    """Keep what was filled in, and do what the pressed button says."""
    form = await request.form()
    step = field(form, "step") if field(form, "step") in STEPS else "car"
    do, go = field(form, "do"), field(form, "go")
    await asyncio.to_thread(_write, request, person, job, form)
    if do == "read":
        raw = quote(field(form, "raw")[:4000])
        return onward(request, f"/jobs/{job}/write-up?step=codes&raw={raw}#codes")
    if do == "seek":
        seek = quote(field(form, "seek")[:100])
        return onward(request, f"/jobs/{job}/write-up?step=findings&seek={seek}#findings")
    if go == "sheet":
        return onward(request, f"/jobs/{job}")
    there = go if go in STEPS else step
    return onward(request, f"/jobs/{job}/write-up?step={there}#{there}")


def _write(request: Request, person: Person, job: str, form: FormData) -> None:
    """Write what the form changes."""
    store, desk = request.app.state.store, request.app.state.desk
    now = store.jobs.state(person.shop, job)
    stem = field(form, "event")
    if stem and any(stem_of(row.recorded.id) == stem for row in now.history):
        return  # the form was sent twice
    version = field(form, "version")
    seen = int(version) if version.isascii() and version.isdecimal() and int(version) else None
    then = store.jobs.state(person.shop, job, seen)
    try:
        bodies = [
            *changed_bodies(desk.knowledge, now, then, form),
            *_pressed(desk.knowledge, now, form),
        ]
        events = numbered(form, bodies) if bodies else []
    except ValidationError:
        raise ProblemError(
            422, "something in this form can't be kept as it is; nothing was written; correct it"
        ) from None
    if events:
        write(store, desk, person, job, events)


def _pressed(knowledge: Knowledge, now: JobState, form: FormData) -> list[happened.Body]:
    """Return what the pressed button itself writes down."""
    what, _, rest = field(form, "do").partition("|")
    if what == "accept":
        finding, _, rest = rest.partition("|")
        place, _, state = rest.partition("|")
        if not label_of(knowledge, finding):
            raise ProblemError(422, "that finding is not known here; nothing was written")
        told = {"id": finding, "state": state or "present"} | ({"place": place} if place else {})
        return [happened.FindingSeen(finding=CaseFinding.model_validate(told))]
    if what == "none":
        words = " ".join(field(form, "complaint").split())[:200]
        return [happened.Unmatched(words=words)] if words else []
    if what == "drop-code":
        held = [row.recorded for row in now.history if row.recorded.id == rest]
        others = [code for row in held for code in getattr(row.body, "codes", ())]
        again = others if len(others) > 1 else []
        picked = field(form, "drop")
        kept = [happened.CodeRead(codes=(code,)) for code in again if code.code != picked]
        return [happened.TakenBack(event=rest), *kept] if held else []
    return []

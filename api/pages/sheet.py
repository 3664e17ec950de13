"""The bay sheet: one job, its gate, its next check, and everything beside it.

The one idea: the page is the whole state. Nothing is kept in the browser that the next request
needs, so that two people, a reload and a browser without scripts all see the same.
"""

from __future__ import annotations

import asyncio
from typing import Annotated, Any, Final

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from api.accounts.session import current_person
from api.documents import Answer
from api.jobs.answering import nothing_known
from api.jobs.desk import Desk
from api.labels import label_of
from api.pages.bay_view import BayView, bay_view
from api.pages.rendering import page
from api.pages.telling import told
from api.picture.car import SEATS
from api.problems import ProblemError
from api.store.fold import JobState
from api.store.people import Person
from api.words import place_words
from graph.terms import Check, Knowledge
from triage.errors import TriageError

__all__ = ["UNITS", "router"]

router = APIRouter(include_in_schema=False)
#: The units that a reading is typed in; the unit is chosen, never typed.
UNITS: Final = (
    "mm", "in", "°", "arcmin", "N·m", "bar", "kPa", "psi", "V", "mV", "A", "mA", "Ω", "kΩ", "°/s",
    "km/h", "%", "°C", "N", "g", "s",
)  # fmt: skip
#: How long a page waits for its list before it says that the list is being made.
PATIENCE: Final = 0.9
FOUND_SHOWN: Final = 12


@router.get("/jobs/{job}")
async def sheet(
    request: Request,
    job: str,
    person: Annotated[Person, Depends(current_person)],
    upto: int | None = None,
    stopped: bool = False,
) -> Response:
    """Show the bay sheet of a job, as it is or as it was after its first `upto` events.

    It comes with the list; the account of it comes in later, or where it was left out, when it is
    asked for.
    """
    store, desk = request.app.state.store, request.app.state.desk
    state = await asyncio.to_thread(store.jobs.state, person.shop, job, upto)
    bare = nothing_known(state.case)
    idle = bare or stopped
    answer, trouble = (None, "") if idle else await _answer(desk, state, live=upto is None)
    if bare:
        answer = await asyncio.to_thread(desk.gates_alone, state)
    wanted = request.query_params.get("account") == "yes"
    if wanted and answer is not None and answer.account == "left-out":
        await asyncio.to_thread(desk.account, state)
        answer = desk.as_it_is(desk.key(state), answer, state)
    if answer is not None and upto is None:  # the answer may have written down a gate
        state = await asyncio.to_thread(store.jobs.state, person.shop, job)
        desk.looked_at(state, person.who)
    asked = request.query_params
    jump = (asked.get("check", ""), asked.get("place", ""))
    which = asked.get("which") == "1"
    view = await asyncio.to_thread(bay_view, desk.knowledge, state, answer, jump, which=which)
    making = answer is None and not trouble and not idle
    values: dict[str, Any] = {
        "state": state,
        "view": view,
        "here": "job",
        "work": desk.progress(state) if making else None,
        "trouble": trouble,
        "bare": bare,
        "units": UNITS,
        "unit_first": _unit_first(view),
        "find": asked.get("find", "")[:100],
        "found": _found(desk.knowledge, asked.get("find", "")),
        "past": state.history[-1].recorded if upto is not None else None,
        "past_words": told(desk.knowledge, state.history[-1].recorded),
        "ask_where": _ask_where(view, asked.get("cause", "")),
        "proven": _proven(desk.knowledge, state),
        **_at(view, asked.get("at", "")),
    }
    return page(request, "bay.html", **values)


async def _answer(desk: Desk, state: JobState, *, live: bool) -> tuple[Answer | None, str]:
    """Return the answer if it comes soon, and else what stands in its way."""
    try:
        work = await asyncio.to_thread(desk.start, state, live=live)
        async with asyncio.timeout(PATIENCE):
            answer = await asyncio.shield(asyncio.wrap_future(work.future))
    except TimeoutError:
        return None, ""
    except ProblemError as error:
        return None, "" if error.kind == "stopped" else str(error.detail)
    except TriageError as error:
        return None, str(error)
    return desk.as_it_is(work.id, answer, state), ""


def _unit_first(view: BayView) -> str:
    """Return the unit that the check's outcome names, else millimetres."""
    outcome = view.next.check.outcome if view.next else ""
    return next((unit for unit in UNITS if unit in outcome.replace("deg", "°").split()), "mm")


def _found(knowledge: Knowledge, text: str) -> list[Check]:
    """Return the checks whose name, or what they show, holds every word looked for."""
    words = text.casefold().split()
    if not words:
        return []

    def holds(check: Check) -> bool:
        shown = " ".join(label_of(knowledge, row.target) for row in check.detects)
        setup = knowledge.setups[check.setup].label
        whole = f"{check.label} {check.how} {setup} {shown}".casefold()
        return all(word in whole for word in words)

    rows = [check for check in knowledge.checks.values() if holds(check)]
    first = words[0]
    return sorted(rows, key=lambda row: (first not in row.label.casefold(), row.label))[
        :FOUND_SHOWN
    ]


def _ask_where(view: BayView, cause: str) -> Any:
    """Return the thing whose place has to be tapped, or nothing."""
    if view.next is None or not cause:
        return None
    return next((row for row in view.next.targets if row.cause == cause), None)


def _at(view: BayView, place: str) -> dict[str, Any]:
    """Return what is suspect at a corner that was tapped."""
    if place not in SEATS:
        return {"at": None, "at_causes": ()}
    rows = [
        row
        for row in (*view.causes, *view.more_causes)
        if (row.id.partition("@")[2] or "vehicle") == place
    ]
    return {"at": view.shades[place], "at_causes": rows[:6]}


def _proven(knowledge: Knowledge, state: JobState) -> list[tuple[str, str]]:
    """Return what was found, as (id@place, words)."""
    found = {}
    for one in state.case.verdicts:
        if one.verdict == "found" and one.cause:
            place = one.at or one.place or "vehicle"
            node = one.cause if place == "vehicle" else f"{one.cause}@{place}"
            words, where = label_of(knowledge, one.cause), place_words(place)
            found[node] = f"{words}, {where}" if where else words
    return list(found.items())

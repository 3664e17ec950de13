"""Answers of a job: the list, how far it is, and stopping it.

The one idea: the list comes first, its account after it. Who asks gets what there is, or waits,
or is told how far it is and comes back; the document says in `account` which it is. The one that
was shown once can be had again.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from anyio import to_thread
from fastapi import APIRouter, Query, Request
from pydantic import BaseModel, Field
from starlette.responses import Response

from api.documents import Answer
from api.jobs.answering import nothing_known
from api.jobs.desk import Desk
from api.jobs.work import Progress
from api.problems import Problem, ProblemError
from api.routes.common import (
    DeskDep,
    JobId,
    PersonDep,
    StoreDep,
    etag_of,
    json_answer,
    not_changed,
)
from api.store.fold import JobState

__all__ = ["router"]

router = APIRouter(prefix="/api/jobs", tags=["answers"])


class AccountDocument(BaseModel):
    """How far the account of a list is."""

    state: Literal["made", "being-made", "left-out"]
    done: int = Field(description="parts done")
    of: int = Field(description="parts in all")
    doing: str = Field(description="the present part, in words")


class ProgressDocument(BaseModel):
    """How far a list is, and its account after it."""

    done: int = Field(description="steps done")
    of: int = Field(description="steps in all")
    doing: str = Field(description="the present step, in words")
    ahead: int = Field(description="answers that are worked out before this one")
    seconds: float = Field(description="since it was asked for")
    finished: bool = Field(description="the list is there; its account may still be made")
    cancelled: bool
    account: AccountDocument


_ANSWERS: dict[int | str, dict[str, Any]] = {
    202: {"model": ProgressDocument, "description": "it is being worked out; ask again"},
    304: {"description": "nothing is new"},
    409: {"model": Problem, "description": "somebody stopped it, or nothing is known yet"},
}


@router.get("/{job}/answer", response_model=Answer, responses=_ANSWERS)
async def answer(  # noqa: PLR0913 - what a route is given
    request: Request,
    store: StoreDep,
    desk: DeskDep,
    person: PersonDep,
    job: JobId,
    upto: Annotated[
        int | None, Query(ge=1, le=1_000_000, description="as it stood after this event")
    ] = None,
    wait: Annotated[bool, Query(description="false: never wait, 202 while it is made")] = True,
    account: Annotated[
        Literal["now", "wait"],
        Query(
            description="now: the list as soon as it is there, with its account if that is made; "
            "wait: the whole, which takes longer. An answer of earlier knowledge or prices comes "
            "as it was shown"
        ),
    ] = "now",
) -> Response:
    """Return what to check next, and why; `account` in it tells whether the why is made yet.

    Its ETag is the hash of what it was made from, and changes when the account comes in. Where
    nothing but safety questions was answered or left open, it holds their gates and no list.
    """
    state = await to_thread.run_sync(store.jobs.state, person.shop, job, upto)
    if nothing_known(state.case):
        gates = await to_thread.run_sync(desk.gates_alone, state)
        if gates is not None:
            return json_answer(gates, etag=etag_of(desk.key(state)[:32]))
    live, key = upto is None, await to_thread.run_sync(desk.key, state)
    past = None if live else await to_thread.run_sync(desk.shown, state)
    found = past[1] if past else await to_thread.run_sync(desk.now, state)
    if past:
        account, key = "now" if past[0] != key else account, past[0]
    elif found is not None and live and found.account == "left-out":
        found = await desk.answered(state)  # begins the account, unless somebody stopped it
    if found is None or (account == "wait" and found.account != "made"):
        if not wait and not await to_thread.run_sync(_begun, desk, state, live, account):
            return _how_far(desk.progress(state), 202)
        found = await (desk.accounted if account == "wait" else desk.answered)(state, live=live)
    if live:
        desk.looked_at(state, person.who)
    etag = etag_of(key[:32] + ("" if found.account == "made" else f"-{found.account}"))
    return not_changed(request, etag) or json_answer(found, etag=etag)


def _begun(desk: Desk, state: JobState, live: bool, account: str) -> bool:
    """Begin what was asked for; return whether it is there already."""
    if not desk.start(state, live=live).finished:
        return False
    return account == "now" or desk.account(state) is None


@router.get("/{job}/progress", response_model=ProgressDocument)
def progress(store: StoreDep, desk: DeskDep, person: PersonDep, job: JobId) -> Response:
    """Say how far the list of a job is, and its account after it."""
    return _how_far(desk.progress(store.jobs.state(person.shop, job)), 200)


@router.delete("/{job}/progress", status_code=204)
def stop(store: StoreDep, desk: DeskDep, person: PersonDep, job: JobId) -> Response:
    """Stop making the list of a job, or its account where the list is there.

    Whoever waits for it is told.
    """
    desk.cancel(desk.key(store.jobs.state(person.shop, job)))
    return Response(status_code=204)


def _how_far(found: Progress | None, status: int) -> Response:
    """Return how far an answer is."""
    if found is None:
        raise ProblemError(404, "no answer of this job is being made; ask for the answer first")
    made = ProgressDocument(
        done=found.done,
        of=found.of,
        doing=found.doing,
        ahead=found.ahead,
        seconds=found.seconds,
        finished=found.finished,
        cancelled=found.cancelled,
        account=AccountDocument(
            state=found.account.account,  # type: ignore[arg-type]
            done=found.account.done,
            of=found.account.of,
            doing=found.account.doing,
        ),
    )
    return json_answer(made, status=status, headers={"retry-after": "1"})

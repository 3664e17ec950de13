"""Answers of a job: the list, how far it is, and stopping it.

The one idea: who asks may wait for the answer, or be told how far it is and come back; the
answer is the same document either way, and the one that was shown once can be had again.
"""

from __future__ import annotations

from typing import Annotated, Any

from anyio import to_thread
from fastapi import APIRouter, Query, Request
from pydantic import BaseModel, Field
from starlette.responses import Response

from api.documents import Answer
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

__all__ = ["router"]

router = APIRouter(prefix="/api/jobs", tags=["answers"])


class ProgressDocument(BaseModel):
    """How far an answer is."""

    done: int = Field(description="steps done")
    of: int = Field(description="steps in all")
    doing: str = Field(description="the present step, in words")
    ahead: int = Field(description="answers that are worked out before this one")
    seconds: float = Field(description="since it was asked for")
    finished: bool
    cancelled: bool


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
) -> Response:
    """Return what to check next, and why. Its ETag is the hash of what it was made from."""
    state = await to_thread.run_sync(store.jobs.state, person.shop, job, upto)
    live = upto is None
    past = None if live else await to_thread.run_sync(desk.shown, state)
    etag = etag_of((past[0] if past else desk.key(state))[:32])
    same = not_changed(request, etag)
    if same is not None:
        return same
    found = past[1] if past else await to_thread.run_sync(desk.now, state)
    if found is None and not wait:
        work = await to_thread.run_sync(lambda: desk.start(state, live=live))
        if not work.finished:
            return _how_far(desk.progress(state), 202)
    if found is None:
        found = await desk.answered(state, live=live)
    return json_answer(found, etag=etag)


@router.get("/{job}/progress", response_model=ProgressDocument)
def progress(store: StoreDep, desk: DeskDep, person: PersonDep, job: JobId) -> Response:
    """Say how far the present answer of a job is."""
    return _how_far(desk.progress(store.jobs.state(person.shop, job)), 200)


@router.delete("/{job}/progress", status_code=204)
def stop(store: StoreDep, desk: DeskDep, person: PersonDep, job: JobId) -> Response:
    """Stop waiting for the answer of a job; whoever waits for it is told."""
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
    )
    return json_answer(made, status=status, headers={"retry-after": "1"})

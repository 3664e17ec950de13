"""Jobs: the board's list, a job as it stands, what happened to it, what is written into it.

The one idea: a job is its events. Everything that changes one is an event with an id made on
the device, so that a sending repeated after a dead network is the same sending.
"""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Depends, Query, Request
from pydantic import AwareDatetime, BaseModel, Field, ValidationError
from starlette.responses import Response

from api.documents import Case
from api.documents.base import Document
from api.jobs.undoing import latest_own
from api.jobs.writing import open_job, write
from api.problems import Problem, ProblemError, refused
from api.routes.common import (
    DeskDep,
    JobId,
    MeasuresDep,
    PersonDep,
    StoreDep,
    body_of,
    etag_of,
    json_answer,
    need_match,
    not_changed,
    takes,
)
from api.store.events import Body, EventId, NewEvent, Recorded, TakenBack
from api.store.fold import JobState

__all__ = ["router"]

router = APIRouter(prefix="/api/jobs", tags=["jobs"])

_CHANGED: dict[int | str, dict[str, Any]] = {
    409: {"model": Problem, "description": "an event id that stands for something else"},
    412: {"model": Problem, "description": "somebody wrote since"},
}


class Signed(BaseModel):
    """Who did it, as named then."""

    id: str
    name: str
    role: str


class EventRow(BaseModel):
    """An event as it stands in the record."""

    seq: int = Field(description="place within the job, from 1")
    id: str
    body: Body
    who: Signed
    device_time: datetime
    server_time: datetime
    knowledge: str = Field(description="SHA-256 of the knowledge that was in force")
    taken_back: bool = Field(default=False, description="it counts for nothing now")


class EventList(BaseModel):
    """Events of one job, in order."""

    job: str
    version: int
    events: list[EventRow]


class JobRow(BaseModel):
    """One line of the board."""

    job: str
    ticket: str
    label: str
    opened: datetime
    last: datetime
    version: int
    waiting_for: str
    open: bool
    comebacks: int


class JobList(BaseModel):
    """The board."""

    jobs: list[JobRow]


class JobDocument(BaseModel):
    """A job as it stands after an event."""

    job: str
    ticket: str
    opened: datetime
    last: datetime
    version: int = Field(description="seq of the last event; also the ETag")
    case: Case
    waiting_for: str
    closed: bool
    outcome: str
    notes: list[str]
    photos: list[str]
    unmatched: list[str]
    comebacks: list[str]


class Undo(Document):
    """Taking something back; without an event the last one of the person who asks."""

    id: EventId
    device_time: AwareDatetime
    event: EventId | None = None


takes("POST", "/api/jobs", NewEvent)
takes("POST", "/api/jobs/{job}/events", Annotated[tuple[NewEvent, ...], Field(max_length=200)])
takes("POST", "/api/jobs/{job}/undo", Undo)

_Version = Annotated[
    int | None, Query(ge=1, le=1_000_000, description="as it stood after this event; none = now")
]


@router.get("", response_model=JobList)
def board(
    store: StoreDep,
    person: PersonDep,
    show: Annotated[Literal["open", "all"], Query(description="open jobs only, or all")] = "open",
    search: Annotated[str, Query(max_length=200, description="words of ticket or car")] = "",
) -> Response:
    """List the jobs of the shop, the one written to last first."""
    rows = store.jobs.list(person.shop, open_only=show == "open", search=search)
    return json_answer(
        JobList(
            jobs=[
                JobRow(
                    job=row.job,
                    ticket=row.ticket,
                    label=row.label,
                    opened=row.opened,
                    last=row.last,
                    version=row.version,
                    waiting_for=row.waiting_for,
                    open=row.is_open,
                    comebacks=row.comebacks,
                )
                for row in rows
            ]
        )
    )


@router.post(
    "",
    status_code=201,
    response_model=EventList,
    responses={409: {"model": Problem, "description": "an event id used for something else"}},
)
def create(
    store: StoreDep,
    desk: DeskDep,
    person: PersonDep,
    measures: MeasuresDep,
    first: Annotated[NewEvent, Depends(body_of("POST", "/api/jobs"))],
) -> Response:
    """Open a job with its write-up. The same event sent again gives the same job again."""
    recorded = open_job(store, desk, person, first)
    measures.events.labels(recorded.body.kind).inc()
    made = EventList(job=recorded.job, version=recorded.seq, events=[_row(recorded)])
    where = {"location": f"/api/jobs/{recorded.job}"}
    return json_answer(made, status=201, etag=etag_of(recorded.seq), headers=where)


@router.get(
    "/{job}", response_model=JobDocument, responses={304: {"description": "nothing is new"}}
)
def state(
    request: Request, store: StoreDep, person: PersonDep, job: JobId, upto: _Version = None
) -> Response:
    """Return a job as it stands, or as it stood."""
    found = store.jobs.state(person.shop, job, upto)
    etag = etag_of(found.version)
    return not_changed(request, etag) or json_answer(_document(found), etag=etag)


@router.get(
    "/{job}/events", response_model=EventList, responses={304: {"description": "nothing is new"}}
)
def history(
    request: Request,
    store: StoreDep,
    person: PersonDep,
    job: JobId,
    after: Annotated[int, Query(ge=0, le=1_000_000, description="only those after this one")] = 0,
) -> Response:
    """Return everything that happened to a job, taken back or not."""
    found = store.jobs.state(person.shop, job)
    etag = etag_of(found.version)
    rows = [
        _row(row.recorded, taken_back=row.taken_back)
        for row in found.history
        if row.recorded.seq > after
    ]
    made = EventList(job=job, version=found.version, events=rows)
    return not_changed(request, etag) or json_answer(made, etag=etag)


@router.post("/{job}/events", response_model=EventList, responses=_CHANGED)
def add(  # noqa: PLR0913 - what a route is given
    request: Request,
    store: StoreDep,
    desk: DeskDep,
    person: PersonDep,
    measures: MeasuresDep,
    job: JobId,
    events: Annotated[tuple[NewEvent, ...], Depends(body_of("POST", "/api/jobs/{job}/events"))],
) -> Response:
    """Write events into a job, all or none; those sent before are given back as they stand."""
    if request.headers.get("if-match"):
        need_match(request, etag_of(store.jobs.state(person.shop, job).version))
    recorded = write(store, desk, person, job, events)
    for one in recorded:
        measures.events.labels(one.body.kind).inc()
    version = max(one.seq for one in recorded)
    made = EventList(job=job, version=version, events=[_row(one) for one in recorded])
    return json_answer(made, etag=etag_of(version))


@router.post(
    "/{job}/undo",
    response_model=EventList,
    responses={**_CHANGED, 428: {"model": Problem, "description": "no version was named"}},
)
def undo(  # noqa: PLR0913 - what a route is given
    request: Request,
    store: StoreDep,
    desk: DeskDep,
    person: PersonDep,
    job: JobId,
    asked: Annotated[Undo, Depends(body_of("POST", "/api/jobs/{job}/undo"))],
) -> Response:
    """Take an event back; without naming one, your own last one, and then If-Match is needed."""
    now = store.jobs.state(person.shop, job)
    target = asked.event
    if target is None:
        sent = next((r.recorded for r in now.history if r.recorded.id == asked.id), None)
        if sent is not None and isinstance(sent.body, TakenBack):
            target = sent.body.event  # the same sending once more
        else:
            need_match(request, etag_of(now.version), always=True)
            target = latest_own(now, str(person.id))
    if target is None:
        raise ProblemError(409, "there is nothing of yours to take back in this job")
    try:
        event = NewEvent(id=asked.id, device_time=asked.device_time, body=TakenBack(event=target))
    except ValidationError as error:
        raise refused(error.errors(include_url=False, include_input=False)) from None
    recorded = write(store, desk, person, job, (event,))
    version = recorded[-1].seq
    made = EventList(job=job, version=version, events=[_row(one) for one in recorded])
    return json_answer(made, etag=etag_of(version))


def _row(recorded: Recorded, *, taken_back: bool = False) -> EventRow:
    """Return an event as it is sent out."""
    who = recorded.who
    return EventRow(
        seq=recorded.seq,
        id=recorded.id,
        body=recorded.body,
        who=Signed(id=who.id, name=who.name, role=who.role),
        device_time=recorded.device_time,
        server_time=recorded.server_time,
        knowledge=recorded.knowledge,
        taken_back=taken_back,
    )


def _document(found: JobState) -> JobDocument:
    """Return a job as it is sent out."""
    return JobDocument(
        job=found.job,
        ticket=found.ticket,
        opened=found.opened,
        last=found.last,
        version=found.version,
        case=found.case,
        waiting_for=found.waiting_for,
        closed=found.closed is not None,
        outcome=found.closed.outcome if found.closed else "",
        notes=[_text(one) for one in found.notes],
        photos=[_text(one) for one in found.photos],
        unmatched=[_text(one) for one in found.unmatched],
        comebacks=[_text(one) for one in found.comebacks],
    )


def _text(recorded: Recorded) -> str:
    """Return the words of a note, a photo's name, and so on."""
    body = recorded.body
    for name in ("text", "photo", "words"):
        if hasattr(body, name):
            return str(getattr(body, name))
    return ""

"""Photos of a job."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Annotated

from anyio import to_thread
from fastapi import APIRouter, Form, Path, Request, UploadFile
from pydantic import BaseModel, Field, ValidationError
from starlette.responses import Response

from api.edge.body import PHOTO_BYTES
from api.jobs.desk import Desk
from api.jobs.photos import small_jpeg
from api.jobs.writing import write
from api.problems import Problem, ProblemError, refused
from api.routes.common import (
    DeskDep,
    JobId,
    PersonDep,
    StoreDep,
    etag_of,
    json_answer,
    not_changed,
)
from api.store.engine import Store
from api.store.events import NewEvent, PhotoTaken, Recorded
from api.store.people import Person

__all__ = ["PhotoSent", "keep_photo", "photo_answer", "router"]

router = APIRouter(prefix="/api/jobs", tags=["photos"])


@dataclass(frozen=True, slots=True)
class PhotoSent:
    """A photo as it came, with what its event says.

    Attributes
    ----------
    data : the file
    id, device_time, caption : of the event, as texts
    """

    data: bytes
    id: str
    device_time: str
    caption: str = ""


class PhotoKept(BaseModel):
    """A photo that was kept."""

    photo: str = Field(description="SHA-256 of the picture as it is kept")
    seq: int
    version: int


def keep_photo(store: Store, desk: Desk, person: Person, job: str, sent: PhotoSent) -> Recorded:
    """Keep a photo and write it into the job.

    Raises
    ------
    ProblemError
        If it is no photo, too large, or what comes with it isn't as described.
    JobNotFoundError
        If this shop has no such job.
    """
    _event_of(sent, "0" * 64)  # what is wrong with the event is said before any work
    store.jobs.summary(person.shop, job)
    sha = store.photos.put(person.shop, job, small_jpeg(sent.data))
    return write(store, desk, person, job, (_event_of(sent, sha),))[0]


def _event_of(sent: PhotoSent, sha: str) -> NewEvent:
    """Return the event of a photo that is kept under a name."""
    body = {"kind": "photo", "photo": sha, "caption": sent.caption}
    told = {"id": sent.id, "device_time": sent.device_time, "body": body}
    try:
        return NewEvent.model_validate_json(json.dumps(told))
    except ValidationError as error:
        raise refused(error.errors(include_url=False, include_input=False)) from None


@router.post(
    "/{job}/photos",
    status_code=201,
    response_model=PhotoKept,
    responses={
        409: {"model": Problem, "description": "an event id used for something else"},
        415: {"model": Problem, "description": "no JPEG, PNG or WebP"},
    },
)
async def add(  # noqa: PLR0913 - what a route is given
    store: StoreDep,
    desk: DeskDep,
    person: PersonDep,
    job: JobId,
    photo: UploadFile,
    id: Annotated[str, Form(max_length=64)],
    device_time: Annotated[str, Form(max_length=64)],
    caption: Annotated[str, Form(max_length=200)] = "",
) -> Response:
    """Keep a photo: made small, without the place where it was taken."""
    data = await photo.read(PHOTO_BYTES + 1)
    sent = PhotoSent(data, id, device_time, caption)
    kept = await to_thread.run_sync(keep_photo, store, desk, person, job, sent)
    sha = kept.body.photo if isinstance(kept.body, PhotoTaken) else ""
    made = PhotoKept(photo=sha, seq=kept.seq, version=kept.seq)
    where = {"location": f"/api/jobs/{job}/photos/{sha}"}
    return json_answer(made, status=201, etag=etag_of(kept.seq), headers=where)


@router.get(
    "/{job}/photos/{photo}",
    response_class=Response,
    responses={
        200: {"content": {"image/jpeg": {}}, "description": "the picture"},
        304: {"description": "nothing is new"},
    },
)
def show(
    request: Request,
    store: StoreDep,
    person: PersonDep,
    job: JobId,
    photo: Annotated[str, Path(pattern="^[0-9a-f]{64}$", description="SHA-256 of the picture")],
) -> Response:
    """Return a photo of a job."""
    return photo_answer(request, store, person, job, photo)


def photo_answer(request: Request, store: Store, person: Person, job: str, photo: str) -> Response:
    """Return a photo as an answer that a browser may keep."""
    same = not_changed(request, etag_of(photo))
    if same is not None:
        return same
    data: bytes | None = store.photos.get(person.shop, job, photo)
    if data is None:
        raise ProblemError(404, "there is no such photo in this job")
    headers = {
        "etag": etag_of(photo),
        "cache-control": "private, max-age=31536000, immutable",
        "content-security-policy": "default-src 'none'; frame-ancestors 'none'; sandbox",
        "content-disposition": "inline",
    }
    return Response(data, headers=headers, media_type="image/jpeg")

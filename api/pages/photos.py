"""A photo from a form, and the photo itself."""

from __future__ import annotations

import asyncio
from datetime import UTC, datetime
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.datastructures import UploadFile
from starlette.responses import Response

from api.accounts.session import current_person
from api.edge.body import PHOTO_BYTES
from api.pages.forms import field, onward
from api.problems import ProblemError
from api.routes.photos import PhotoSent, keep_photo, photo_answer
from api.store.people import Person

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
_Person = Annotated[Person, Depends(current_person)]


@router.post("/jobs/{job}/photos")
async def add(request: Request, job: str, person: _Person) -> Response:
    """Keep a photo with a job: made smaller, and without where it was taken."""
    async with request.form() as form:  # closes the file that came
        photo = form.get("photo")
        data = await photo.read(PHOTO_BYTES + 1) if isinstance(photo, UploadFile) else b""
        sent = PhotoSent(
            data,
            field(form, "event"),
            field(form, "device_time") or datetime.now(UTC).isoformat(),
            field(form, "caption"),
        )
    if not data:
        raise ProblemError(422, "no photo was picked; nothing was stored; pick one and send again")
    store, desk = request.app.state.store, request.app.state.desk
    await asyncio.to_thread(keep_photo, store, desk, person, job, sent)
    return onward(request, f"/jobs/{job}#notes")


@router.get("/jobs/{job}/photos/{photo}")
def show(request: Request, job: str, photo: str, person: _Person) -> Response:
    """Return a photo of a job."""
    return photo_answer(request, request.app.state.store, person, job, photo)

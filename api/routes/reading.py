"""Reading: customer's words into findings, typed codes and bytes into readings.

The one idea: both only offer. Nothing is written into a job here; a person picks.
"""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Depends
from pydantic import BaseModel, Field
from starlette.responses import Response

from api.documents.base import Document
from api.documents.case import Text
from api.routes.common import DeskDep, body_of, json_answer, takes
from api.terminal import decoded_document
from api.words_match import nearest
from triage.decode import decode

__all__ = ["router"]

router = APIRouter(prefix="/api", tags=["reading"])


class Words(Document):
    """The customer's words."""

    words: Text = Field(min_length=1, description="the customer's words, at most 4000 characters")


class Offer(BaseModel):
    """One finding that the words may mean."""

    id: str
    place: str | None
    label: str
    matched: str = Field(description="the words known for it that came nearest")
    negated: bool = Field(description="the customer says that it is not so")


class Offers(BaseModel):
    """The nearest findings, none of them chosen."""

    offers: list[Offer]


class Typed(Document):
    """What was typed or pasted."""

    text: Text = Field(min_length=1, description="codes, or response bytes as hexadecimal")


class Reading(BaseModel):
    """What it says."""

    document: dict[str, Any] = Field(description="as `drypark decode --json` writes it")


takes("POST", "/api/complaint", Words)
takes("POST", "/api/decode", Typed)


@router.post("/complaint", response_model=Offers)
def complaint(
    desk: DeskDep, asked: Annotated[Words, Depends(body_of("POST", "/api/complaint"))]
) -> Response:
    """Offer the findings that come nearest to the customer's words; a person picks."""
    found = nearest(desk.knowledge, asked.words, count=5)
    offers = [
        Offer(
            id=one.id,
            place=one.place,
            label=one.label,
            matched=one.matched,
            negated=one.negated,
        )
        for one in found
    ]
    return json_answer(Offers(offers=offers))


@router.post("/decode", response_model=Reading)
def read_codes(
    desk: DeskDep, asked: Annotated[Typed, Depends(body_of("POST", "/api/decode"))]
) -> Response:
    """Read codes or response bytes: what each one says, and what can't be read."""
    return json_answer(Reading(document=decoded_document(decode(asked.text), desk.knowledge)))

"""What can happen to a job: the events that its record is made of.

The one idea: an event says what a person did or saw, once, under an id that the device made.
Sent twice it is one event; the same id with another body is refused. Nothing is edited: what
was wrong is taken back by a further event.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Annotated, Literal

from pydantic import AfterValidator, AwareDatetime, Field, TypeAdapter
from pydantic_core import PydanticCustomError

from api.documents.answer import Level
from api.documents.base import Document, Line, Place, TermId
from api.documents.case import (
    MAX_CODES,
    MAX_IDS,
    CaseCode,
    CaseFinding,
    CaseReading,
    CaseVehicle,
    CaseVerdict,
    Text,
)

__all__ = [
    "ROLES",
    "WRITTEN_BY_SERVER",
    "Body",
    "Closed",
    "CodeRead",
    "Comeback",
    "Corner",
    "EventId",
    "FindingSeen",
    "GateAnswered",
    "GateClosed",
    "GateOpened",
    "GateOverruled",
    "IntakeDone",
    "NewEvent",
    "Note",
    "PhotoTaken",
    "ReadingTaken",
    "Recorded",
    "Role",
    "TakenBack",
    "Unmatched",
    "VerdictGiven",
    "Waiting",
    "Who",
    "WrittenUp",
    "body_from",
    "canonical",
]

Role = Literal["technician", "senior", "trainee", "owner"]
ROLES: tuple[Role, ...] = ("technician", "senior", "trainee", "owner")
Corner = Literal["lf", "rf", "lr", "rr"]
#: Kinds that no device may send; the server writes them when an answer gives cause.
WRITTEN_BY_SERVER = frozenset({"gate-opened"})

EventId = Annotated[
    str,
    Field(
        pattern=r"^[A-Za-z0-9_-]{16,64}$",
        description="16 to 64 letters, digits, - or _, made at random on the device",
    ),
]
_Said = Annotated[Line, Field(min_length=1)]
_Told = Annotated[Text, Field(min_length=1)]
_Corners = Annotated[tuple[Corner, ...], Field(max_length=4)]


class WrittenUp(Document):
    """The car, the recent work and the customer's words; replaces what was written up before."""

    kind: Literal["written-up"] = "written-up"
    ticket: Line = Field(default="", description="the shop's own number of the job, one line")
    vehicle: CaseVehicle = CaseVehicle()
    context: tuple[TermId, ...] = Field(
        default=(), max_length=MAX_IDS, description="a list of cx- ids"
    )
    complaint: Text = Field(default="", description="the customer's words, at most 4000 characters")


class CodeRead(Document):
    """Trouble codes that were read; added to those there are, a code of a module once."""

    kind: Literal["code-read"] = "code-read"
    codes: tuple[CaseCode, ...] = Field(
        default=(), max_length=MAX_CODES, description=f"a list of at most {MAX_CODES} codes"
    )
    raw: Text = Field(default="", description="what was typed, pasted or read, as it was")


class FindingSeen(Document):
    """Something observed, or looked for and not there; the last word on it counts."""

    kind: Literal["finding"] = "finding"
    finding: CaseFinding


class VerdictGiven(Document):
    """The outcome of a check."""

    kind: Literal["verdict"] = "verdict"
    verdict: CaseVerdict
    note: Line = ""


class ReadingTaken(Document):
    """A measured value with its limit, taken in a check."""

    kind: Literal["reading"] = "reading"
    check: TermId = Field(description="a ck- id")
    place: Place | None = None
    cause: TermId | None = None
    at: Place | None = None
    reading: CaseReading


class IntakeDone(Document):
    """A step of the intake was done."""

    kind: Literal["intake-done"] = "intake-done"
    check: TermId = Field(description="the ck- id of an intake step")


class Unmatched(Document):
    """Customer's words that no finding fits, for the senior technician."""

    kind: Literal["unmatched"] = "unmatched"
    words: _Said


class Note(Document):
    """Something worth writing down."""

    kind: Literal["note"] = "note"
    text: _Told


class PhotoTaken(Document):
    """A photo that was kept with the job."""

    kind: Literal["photo"] = "photo"
    photo: str = Field(pattern=r"^[0-9a-f]{64}$", description="SHA-256 of the photo, 64 hex digits")
    caption: Line = ""


class GateOpened(Document):
    """An answer opened a safety gate."""

    kind: Literal["gate-opened"] = "gate-opened"
    gate: TermId
    because: Line
    level: Level
    corners: _Corners = ("lf", "rf", "lr", "rr")


class GateAnswered(Document):
    """A safety question was answered."""

    kind: Literal["gate-answered"] = "gate-answered"
    finding: TermId
    answer: Literal["yes", "no", "unknown", "skipped"] = Field(
        description="yes, no, unknown, skipped"
    )
    corners: _Corners = ()


class GateClosed(Document):
    """A person puts a name under what a gate asks for."""

    kind: Literal["gate-closed"] = "gate-closed"
    gate: TermId


class GateOverruled(Document):
    """A senior technician opens the way although the gate is open."""

    kind: Literal["gate-overruled"] = "gate-overruled"
    gate: TermId
    reason: _Said
    instead: _Said


class Waiting(Document):
    """What the job waits for; empty = nothing any more."""

    kind: Literal["waiting"] = "waiting"
    waiting_for: Line = ""


class Closed(Document):
    """The job is done."""

    kind: Literal["closed"] = "closed"
    outcome: Text = ""
    causes: tuple[TermId, ...] = Field(
        default=(), max_length=MAX_IDS, description="proven causes such as rc-bearing-play@lr"
    )


class Comeback(Document):
    """The car came back; opens the job again."""

    kind: Literal["comeback"] = "comeback"
    words: _Told


class TakenBack(Document):
    """Undo of an earlier event of the same job; of a taken-back it is redo."""

    kind: Literal["taken-back"] = "taken-back"
    event: EventId


Body = Annotated[
    WrittenUp
    | CodeRead
    | FindingSeen
    | VerdictGiven
    | ReadingTaken
    | IntakeDone
    | Unmatched
    | Note
    | PhotoTaken
    | GateOpened
    | GateAnswered
    | GateClosed
    | GateOverruled
    | Waiting
    | Closed
    | Comeback
    | TakenBack,
    Field(discriminator="kind"),
]
_BODY: TypeAdapter[Body] = TypeAdapter(Body)

_FIRST, _LAST = datetime(2000, 1, 1, tzinfo=UTC), datetime(2200, 1, 1, tzinfo=UTC)


def _plausible(moment: datetime) -> datetime:
    """Refuse times that no clock of a device shows, and keep the rest in UTC."""
    if not _FIRST <= moment < _LAST:
        raise PydanticCustomError("moment", "no time of this century or the next")
    return moment.astimezone(UTC)


class NewEvent(Document):
    """An event as a device sends it."""

    id: EventId
    device_time: Annotated[AwareDatetime, AfterValidator(_plausible)] = Field(
        description="time on the device with its zone, such as 2026-03-02T08:15:00+01:00"
    )
    body: Body


@dataclass(frozen=True, slots=True)
class Who:
    """The person who did it, as named then."""

    id: str
    name: str
    role: Role


@dataclass(frozen=True, slots=True)
class Recorded:
    """An event as it stands in the record.

    Attributes
    ----------
    seq : place within the job, from 1
    job, id, body : as sent
    who : the person who was signed in
    device_time, server_time : in UTC
    knowledge : version of the knowledge that was in force
    position : place among all events of the records, from 1 (0 = not known)
    hash : chain of the job up to here, 64 hex digits
    """

    seq: int
    job: str
    id: str
    body: Body
    who: Who
    device_time: datetime
    server_time: datetime
    knowledge: str
    position: int = 0
    hash: str = ""


def canonical(body: Body) -> str:
    """Return the one text in which a body is kept, compared and hashed.

    Examples
    --------
    >>> canonical(Note(text="left rear hub warm"))
    '{"kind":"note","text":"left rear hub warm"}'
    """
    plain = body.model_dump(mode="json", by_alias=True)
    return json.dumps(plain, sort_keys=True, separators=(",", ":"), ensure_ascii=False)


def body_from(text: str) -> Body:
    """Return the body that `canonical` wrote."""
    return _BODY.validate_json(text)

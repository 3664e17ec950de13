"""What tests of the records are made from: a clock, people, events."""

from __future__ import annotations

import itertools
from datetime import UTC, datetime, timedelta

from api.documents.case import CaseFinding, CaseReading, CaseVehicle, CaseVerdict
from api.store import events as happened
from api.store.engine import Store
from api.store.events import Body, NewEvent, Recorded, Who

ADA = Who("ada", "Ada Example", "technician")
SAM = Who("sam", "Sam Example", "senior")
TIM = Who("tim", "Tim Example", "trainee")
SHOP, OTHER_SHOP, KNOWLEDGE = "corner-garage", "other-garage", "0.1.0"
START = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)

_numbers = itertools.count(1)


class Clock:
    """A clock that goes on by a second each time it is looked at."""

    def __init__(self) -> None:
        self.now = START

    def __call__(self) -> datetime:
        """Return the time."""
        self.now += timedelta(seconds=1)
        return self.now


def new(body: Body, name: str = "") -> NewEvent:
    """Return an event as a device sends it, under an id of its own unless it has a name."""
    return NewEvent(id=f"event-{name or next(_numbers):0>20}", device_time=START, body=body)


def write_up(ticket: str = "4711", complaint: str = "hums since the kerb") -> happened.WrittenUp:
    """Return a write-up."""
    return happened.WrittenUp(
        ticket=ticket,
        vehicle=CaseVehicle(label="old van", drivetrain="fwd", age_years=8.0),
        context=("cx-strike",),
        complaint=complaint,
    )


def note(text: str = "hub warm") -> happened.Note:
    """Return a note."""
    return happened.Note(text=text)


def finding(state: str = "present", place: str | None = "lr") -> happened.FindingSeen:
    """Return a finding."""
    seen = CaseFinding.model_validate({"id": "sy-hum-speed", "place": place, "state": state})
    return happened.FindingSeen(finding=seen)


def verdict(
    word: str = "found",
    *,
    check: str = "ck-wheel-shake-12-6",
    cause: str | None = "rc-bearing-play",
    at: str | None = "lr",
) -> happened.VerdictGiven:
    """Return the verdict of a check."""
    given = {"check": check, "cause": cause, "at": at, "verdict": word}
    return happened.VerdictGiven(verdict=CaseVerdict.model_validate(given))


def reading(
    value: float, uncertainty: float = 0.02, cause: str | None = "rc-bearing-play"
) -> happened.ReadingTaken:
    """Return a reading against a limit of 0.05 mm."""
    return happened.ReadingTaken(
        check="ck-bearing-play-dial",
        cause=cause,
        at="lr",
        reading=CaseReading(
            value=value,
            unit="mm",
            limit=0.05,
            uncertainty=uncertainty,
            limit_source="invented for this test",
        ),
    )


def undo(event: str) -> happened.TakenBack:
    """Return the undo of an event."""
    return happened.TakenBack(event=event)


def open_job(store: Store, shop: str = SHOP, ticket: str = "4711") -> Recorded:
    """Open a job and return its first event."""
    return store.jobs.create(shop, ADA, new(write_up(ticket)), KNOWLEDGE)


def add(store: Store, job: str, *bodies: Body, who: Who = ADA) -> list[Recorded]:
    """Append to a job."""
    return store.jobs.append(SHOP, job, who, [new(body) for body in bodies], KNOWLEDGE)


def record(*steps: tuple[str, Who, Body]) -> list[Recorded]:
    """Return a record without any database: id, person and body of each event."""
    return [
        Recorded(seq, "job", name, body, who, START, START + timedelta(minutes=seq), KNOWLEDGE)
        for seq, (name, who, body) in enumerate(steps, 1)
    ]

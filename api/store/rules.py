"""Which events may be written: what a role may not do, and what taking back cannot reach.

What stays open to everybody is not asked here: whether somebody may write at all is decided
where the request comes in. These rules hold whatever way an event comes.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from api.store.errors import EventRefusedError
from api.store.events import GateClosed, GateOverruled, NewEvent, Who
from api.store.undo import aim_of

__all__ = ["MAX_EVENTS", "Standing", "check", "check_taking_back"]

#: Events of one job; a real one has some dozens.
MAX_EVENTS = 5000


@dataclass(frozen=True, slots=True)
class Standing:
    """What is known of an earlier event of the job."""

    seq: int
    kind: str
    who: str
    aim: str = ""  # id of the event that it takes back


def check(event: NewEvent, who: Who, seq: int) -> None:
    """Refuse an event that may not be written.

    Parameters
    ----------
    event : as sent
    who : the person who is signed in
    seq : the place that it would have in its job

    Raises
    ------
    EventRefusedError
        With what is wrong and what to do.
    """
    if seq > MAX_EVENTS:
        raise EventRefusedError(
            event.id,
            f"the job has {MAX_EVENTS} events, and no more are kept in one",
            "close it and open a new one",
        )
    if isinstance(event.body, GateOverruled) and who.role != "senior":
        raise EventRefusedError(
            event.id,
            "only a senior technician overrules a gate",
            "do what the gate asks for, or fetch one",
        )
    if isinstance(event.body, GateClosed) and who.role == "trainee":
        raise EventRefusedError(
            event.id, "a trainee closes no gate", "let a technician look and sign"
        )


def check_taking_back(
    event: NewEvent, target: str, who: Who, earlier: Mapping[str, Standing]
) -> None:
    """Refuse to take back what is not there, or what must stand.

    Parameters
    ----------
    event : as sent
    target : id of what it takes back
    who : the person who is signed in
    earlier : the job's events before it, by id

    Raises
    ------
    EventRefusedError
        With what is wrong and what to do.
    """
    if target not in earlier:
        raise EventRefusedError(
            event.id, f"this job has no event {target!r} to take back", "look at its history"
        )
    aims = {key: row.aim for key, row in earlier.items() if row.aim}
    aim, out = aim_of(event.id, aims | {event.id: target})
    about = earlier[aim]
    if about.seq == 1:
        raise EventRefusedError(
            event.id, "the first write-up of a job cannot be taken back", "write it up anew"
        )
    if about.kind == "gate-opened":
        raise EventRefusedError(
            event.id,
            "an opened gate cannot be taken back",
            "do what it asks for, or let a senior technician overrule it",
        )
    if about.kind in ("gate-closed", "gate-overruled") and not out:
        raise EventRefusedError(
            event.id, "a name under a gate cannot be brought back by redo", "sign again"
        )
    if who.role == "trainee" and (about.who != who.id or earlier[target].who != who.id):
        raise EventRefusedError(
            event.id,
            "a trainee takes back only what the trainee wrote",
            "ask whoever wrote it, or a technician",
        )

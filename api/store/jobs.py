"""The jobs of all shops: opened, added to, read.

The one idea: `append` is all or nothing, and when it returns, what it returned is on the disk.
"""

from __future__ import annotations

import secrets
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TypeAlias

from pydantic import ValidationError
from sqlalchemy import Connection, RowMapping, func, insert, select, update

from api.documents.case import MAX_STATEMENTS
from api.store import rules
from api.store.chain import link, start
from api.store.errors import EventConflictError, EventRefusedError, JobNotFoundError
from api.store.events import NewEvent, Recorded, TakenBack, Who, WrittenUp, canonical
from api.store.fold import JobState, fold
from api.store.part import Part
from api.store.rows import recorded_of, recorded_where, row_of
from api.store.summary import BEARS_ON_SUMMARY, JobSummary, columns_of, summary_from
from api.store.tables import events, jobs

__all__ = ["JobStore"]

# Inside the class `list` is the method.
_Events: TypeAlias = list[Recorded]
_Summaries: TypeAlias = list[JobSummary]


@dataclass(frozen=True, slots=True)
class _Sending:
    """What one call wants to record."""

    shop: str
    who: Who
    knowledge: str
    now: datetime


class JobStore(Part):
    """The jobs; every call names the shop, and another shop's job is not found."""

    def create(self, shop: str, who: Who, first: NewEvent, knowledge: str) -> Recorded:
        """Open a job with its write-up; the same event sent again is the same job.

        Raises
        ------
        EventRefusedError
            If the event is no write-up.
        EventConflictError
            If its id stands for something else already.
        """
        if not isinstance(first.body, WrittenUp):
            raise EventRefusedError(
                first.id, "a job is opened with its write-up", "send the write-up first"
            )
        sending = _Sending(shop, who, knowledge, self._clock())
        return self._database.write(lambda connection: _open(connection, sending, first))

    def append(
        self, shop: str, job: str, who: Who, new: Sequence[NewEvent], knowledge: str
    ) -> _Events:
        """Record events, all or none; what was recorded before is returned as it stands.

        Raises
        ------
        JobNotFoundError
            If this shop has no such job.
        EventConflictError
            If an id stands for something else already.
        EventRefusedError
            If an event may not be written, or the job would grow past what a case can hold.
        """
        sending = _Sending(shop, who, knowledge, self._clock())
        return self._database.write(
            lambda connection: _append(connection, sending, job, tuple(new))
        )

    def events(self, shop: str, job: str) -> _Events:
        """Return the events of a job in order.

        Raises
        ------
        JobNotFoundError
            If this shop has no such job.
        """
        with self._database.reading() as connection:
            _job(connection, shop, job)
            return recorded_of(connection, job)

    def state(self, shop: str, job: str, upto: int | None = None) -> JobState:
        """Return a job as it is, or as it was after its first `upto` events.

        Raises
        ------
        JobNotFoundError
            If this shop has no such job.
        ParameterError
            If `upto` is less than 1.
        """
        return fold(job, shop, self.events(shop, job), upto)

    def summary(self, shop: str, job: str) -> JobSummary:
        """Return a job's line of the board; its version is what an ETag is made of.

        Raises
        ------
        JobNotFoundError
            If this shop has no such job.
        """
        with self._database.reading() as connection:
            return summary_from(_job(connection, shop, job))

    def list(
        self, shop: str, *, open_only: bool = True, search: str = "", most: int = 500
    ) -> _Summaries:
        """Return the jobs of a shop, last touched first.

        Parameters
        ----------
        open_only : whether closed jobs are left out
        search : words that must all stand in ticket, label, complaint or codes
        most : rows at most
        """
        asked = select(jobs).where(jobs.c.shop == shop)
        if open_only:
            asked = asked.where(jobs.c.is_open)
        for word in search.casefold().split()[:10]:
            asked = asked.where(jobs.c.search.contains(word, autoescape=True))
        asked = asked.order_by(jobs.c.last.desc(), jobs.c.id).limit(most)
        with self._database.reading() as connection:
            return [summary_from(row) for row in connection.execute(asked).mappings()]

    def since(self, shop: str, position: int, most: int = 500) -> _Events:
        """Return what was recorded in a shop after a position, oldest first.

        Positions are given in the order in which events become visible, so that whoever asks
        on from the last position it was given misses none.
        """
        with self._database.reading() as connection:
            return recorded_where(
                connection, events.c.shop == shop, events.c.position > position, most=most
            )


def _open(connection: Connection, sending: _Sending, first: NewEvent) -> Recorded:
    """Open a job, unless it is open already."""
    shop = sending.shop
    again = _sent_before(connection, shop, [first])
    if first.id in again:
        if again[first.id].seq != 1:
            raise EventConflictError(first.id)
        return again[first.id]
    job = secrets.token_urlsafe(12)
    position = _last_position(connection) + 1
    told = _recorded(sending, job, first, (1, position, start(shop, job)))
    state = fold(job, shop, [told])
    connection.execute(insert(jobs).values(id=job, shop=shop, hash=told.hash, **columns_of(state)))
    connection.execute(insert(events), [row_of(shop, told)])
    return told


def _append(
    connection: Connection, sending: _Sending, job: str, new: Sequence[NewEvent]
) -> list[Recorded]:
    """Record what is not recorded yet."""
    row = _job(connection, sending.shop, job)
    known = _sent_before(connection, sending.shop, new)
    if elsewhere := [event.id for event in known.values() if event.job != job]:
        raise EventConflictError(elsewhere[0])
    fresh = _fresh(new, known)
    if fresh:
        known |= _write(connection, sending, row, fresh)
    return [known[event.id] for event in new]


def _write(
    connection: Connection, sending: _Sending, row: RowMapping, fresh: list[NewEvent]
) -> dict[str, Recorded]:
    """Write events that are new; return them by id."""
    job, seq, before = row["id"], row["version"], row["hash"]
    _check_rules(connection, row, sending.who, fresh)
    position = _last_position(connection)
    now = max(sending.now, row["last"])  # a clock that was put back turns no history round
    sending = replace(sending, now=now)
    told: list[Recorded] = []
    for step, event in enumerate(fresh, 1):
        told.append(_recorded(sending, job, event, (seq + step, position + step, before)))
        before = told[-1].hash
    connection.execute(insert(events), [row_of(sending.shop, event) for event in told])
    columns = {"version": told[-1].seq, "last": now}
    if told[-1].seq > MAX_STATEMENTS or {e.body.kind for e in told} & BEARS_ON_SUMMARY:
        columns |= columns_of(_fold_or_refuse(connection, sending.shop, job, told))
    connection.execute(update(jobs).where(jobs.c.id == job).values(hash=before, **columns))
    return {event.id: event for event in told}


def _fold_or_refuse(
    connection: Connection, shop: str, job: str, told: Sequence[Recorded]
) -> JobState:
    """Return the state after all events; refuse one that no case can hold."""
    try:
        return fold(job, shop, recorded_of(connection, job))
    except ValidationError as error:
        where = ".".join(str(part) for part in error.errors()[0]["loc"])
        raise EventRefusedError(
            told[-1].id,
            f"the job has more {where} than a case can hold",
            "take back what is not needed",
        ) from None


def _job(connection: Connection, shop: str, job: str) -> RowMapping:
    """Return a job's row, or say that there is none."""
    asked = select(jobs).where(jobs.c.id == job, jobs.c.shop == shop)
    row = connection.execute(asked).mappings().first()
    if row is None:
        raise JobNotFoundError(job)
    return row


def _last_position(connection: Connection) -> int:
    last = connection.execute(select(func.max(events.c.position))).scalar_one()
    return int(last or 0)


def _sent_before(connection: Connection, shop: str, new: Sequence[NewEvent]) -> dict[str, Recorded]:
    """Return those of the events that are recorded, by id; refuse ids with another body."""
    ids = [event.id for event in new]
    known = {
        event.id: event
        for event in recorded_where(connection, events.c.shop == shop, events.c.id.in_(ids))
    }
    for event in new:
        if event.id in known and canonical(known[event.id].body) != canonical(event.body):
            raise EventConflictError(event.id)
    return known


def _fresh(new: Sequence[NewEvent], known: Mapping[str, Recorded]) -> list[NewEvent]:
    """Return the events that are not recorded, each once."""
    fresh: dict[str, NewEvent] = {}
    for event in new:
        if event.id in fresh and canonical(fresh[event.id].body) != canonical(event.body):
            raise EventConflictError(event.id)
        if event.id not in known:
            fresh.setdefault(event.id, event)
    return list(fresh.values())


def _recorded(sending: _Sending, job: str, event: NewEvent, at: tuple[int, int, str]) -> Recorded:
    """Return an event as it will stand in the record, chained to the one before."""
    seq, position, before = at
    told = Recorded(
        seq=seq,
        job=job,
        id=event.id,
        body=event.body,
        who=sending.who,
        device_time=event.device_time,
        server_time=sending.now,
        knowledge=sending.knowledge,
        position=position,
    )
    return replace(told, hash=link(before, told))


def _check_rules(
    connection: Connection, row: RowMapping, who: Who, fresh: Sequence[NewEvent]
) -> None:
    """Ask the rules about each event, in the order in which they come."""
    undoing = any(isinstance(event.body, TakenBack) for event in fresh)
    earlier = _standing(connection, row["id"]) if undoing else {}
    for seq, event in enumerate(fresh, row["version"] + 1):
        rules.check(event, who, seq)
        aim = ""
        if isinstance(event.body, TakenBack):
            rules.check_taking_back(event, event.body.event, who, earlier)
            aim = event.body.event
        earlier[event.id] = rules.Standing(seq, event.body.kind, who.id, aim)


def _standing(connection: Connection, job: str) -> dict[str, rules.Standing]:
    """Return what the rules know of a job's events."""
    return {
        event.id: rules.Standing(
            event.seq,
            event.body.kind,
            event.who.id,
            event.body.event if isinstance(event.body, TakenBack) else "",
        )
        for event in recorded_of(connection, job)
    }

"""Proof that the records are what was written: chain, places, photos, board, guards."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from pydantic import ValidationError
from sqlalchemy import Connection, RowMapping, func, select, text

from api.store.chain import link, start
from api.store.fold import fold
from api.store.rows import recorded_of
from api.store.summary import columns_of
from api.store.tables import events, jobs, photos

__all__ = ["Told", "Verified", "quiet", "verify_records"]

#: Is told what is gone through, how far it has come, and of how many.
Told = Callable[[str, int, int], None]

_GUARDED = ("events", "answers")
#: Guards that the database must have, by its kind.
_GUARDS = {
    "sqlite": {f"{t}_no_{w}" for t in _GUARDED for w in ("update", "delete", "replace")},
    "postgresql": {f"{t}_no_{w}" for t in _GUARDED for w in ("change", "truncate")},
}
_ASK_GUARDS = {
    "sqlite": "SELECT name FROM sqlite_master WHERE type = 'trigger'",
    "postgresql": "SELECT tgname FROM pg_trigger WHERE tgenabled = 'O' AND NOT tgisinternal",
}


@dataclass(frozen=True, slots=True)
class Verified:
    """What was looked at, and what is wrong with it.

    Attributes
    ----------
    jobs, events, photos : how many were looked at
    head : one hash over the end of every job's chain, 64 hex digits; written down elsewhere,
        it shows later whether anything was cut off
    problems : sentences; none = all is well
    """

    jobs: int
    events: int
    photos: int
    head: str
    problems: tuple[str, ...]


def quiet(_what: str, _done: int, _of: int) -> None:
    """Tell nobody."""


def verify_records(connection: Connection, told: Told = quiet) -> Verified:
    """Go through all records and return what is wrong with them.

    Parameters
    ----------
    connection : reads
    told : is called before the first job and after each
    """
    problems: list[str] = list(_about_guards(connection)) + list(_about_positions(connection))
    whole = hashlib.sha256()
    photos_seen = 0
    rows = connection.execute(select(jobs).order_by(jobs.c.id)).mappings().all()
    told("jobs", 0, len(rows))
    for number, row in enumerate(rows, 1):
        whole.update(f"{row['id']} {row['hash']}\n".encode())
        problems += _about_job(connection, row)
        told("jobs", number, len(rows))
    for job, sha in connection.execute(select(photos.c.job, photos.c.sha)).all():
        photos_seen += 1
        asked = select(photos.c.data).where(photos.c.job == job, photos.c.sha == sha)
        if hashlib.sha256(connection.execute(asked).scalar_one()).hexdigest() != sha:
            problems.append(f"job {job}: photo {sha[:12]} is not the one that was kept")
    count = connection.execute(select(func.count()).select_from(events)).scalar_one()
    return Verified(len(rows), count, photos_seen, whole.hexdigest(), tuple(problems))


def _about_guards(connection: Connection) -> Iterator[str]:
    """Say which guard of the database is gone."""
    kind = connection.dialect.name
    there = {str(name) for (name,) in connection.execute(text(_ASK_GUARDS[kind]))}
    for name in sorted(_GUARDS[kind] - there):
        yield f"the guard {name} is gone: rows that are only ever added to could be changed"


def _about_positions(connection: Connection) -> Iterator[str]:
    """Say whether events are missing anywhere before the last one."""
    count, last = connection.execute(select(func.count(), func.max(events.c.position))).one()
    if count != (last or 0):
        yield f"{(last or 0) - count} of {last} events are missing"
    astray = select(func.count()).select_from(events.join(jobs)).where(events.c.shop != jobs.c.shop)
    if number := connection.execute(astray).scalar_one():
        yield f"{number} events stand in another shop than their job"


def _about_job(connection: Connection, row: RowMapping) -> Iterator[str]:
    """Say what is wrong with one job."""
    job, shop = row["id"], row["shop"]
    try:
        told = recorded_of(connection, job)
    except ValidationError:
        yield f"job {job}: an event cannot be read"
        return
    before = start(shop, job)
    for seq, event in enumerate(told, 1):
        before = link(before, event)
        if event.seq != seq or event.hash != before:
            yield f"job {job}: event {seq} is missing or is not what was written"
            return
    if len(told) != row["version"] or before != row["hash"]:
        yield f"job {job}: its last events are missing or were added past the record"
        return
    shown = columns_of(fold(job, shop, told)) if told else {}
    if any(row[key] != value for key, value in shown.items()):
        yield f"job {job}: the board does not show what its events say"

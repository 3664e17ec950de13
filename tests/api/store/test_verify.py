"""What somebody changes behind our back is found."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any

import pytest
from sqlalchemy import text

from api.store.chain import link, start
from api.store.engine import Store
from api.store.verify import verify_records
from tests.api.store.making import ADA as ADA
from tests.api.store.making import SHOP, add, finding, note, open_job, record, verdict, write_up

#: What somebody with the database's password does -> what is said of it.
TAMPERING = {
    "UPDATE events SET who_name = 'Somebody Else' WHERE seq = 2": "event 2 is missing or is not",
    "UPDATE events SET body = replace(body, 'warm', 'cold') WHERE seq = 2": "event 2",
    "UPDATE events SET knowledge = '9.9.9' WHERE seq = 3": "event 3 is missing or is not",
    "UPDATE events SET body = '{}' WHERE seq = 2": "an event cannot be read",
    "DELETE FROM events WHERE seq = 2": "1 of 4 events are missing",
    "DELETE FROM events WHERE seq = 4": "its last events are missing",
    "UPDATE jobs SET ticket = '4712'": "the board does not show what its events say",
    "UPDATE jobs SET is_open = FALSE": "the board does not show what its events say",
    "UPDATE jobs SET version = 3": "its last events are missing or were added",
    "UPDATE events SET shop = 'other' WHERE seq = 4": "1 events stand in another shop",
    "UPDATE photos SET data = kept_elsewhere": "is not the one that was kept",
}


@pytest.fixture
def job(store: Store) -> str:
    """Give a job of four events and a photo."""
    job = open_job(store).job
    add(store, job, note("hub warm"), finding(), verdict())
    store.photos.put(SHOP, job, b"\xff\xd8\xff one")
    return job


def lift_guards(store: Store) -> None:
    """Take the guards off, as somebody would who means to change things."""
    kind = store.database.engine.dialect.name
    with store.database.writing() as connection:
        if kind == "sqlite":
            for word in ("update", "delete"):
                connection.execute(text(f"DROP TRIGGER events_no_{word}"))
        else:
            connection.execute(text("ALTER TABLE events DISABLE TRIGGER events_no_change"))


def problems(store: Store) -> tuple[str, ...]:
    """Return what is wrong."""
    with store.database.reading() as connection:
        return verify_records(connection).problems


def test_untouched_records_are_as_written(store: Store, job: str) -> None:
    """Partner of the sweep below: no false alarm."""
    with store.database.reading() as connection:
        told = verify_records(connection)

    assert (told.jobs, told.events, told.photos, told.problems) == (1, 4, 1, ())
    assert len(TAMPERING) == 11
    assert job


@pytest.mark.parametrize("statement", TAMPERING)
def test_tampering_is_found(store: Store, job: str, statement: str) -> None:
    """Once for what was changed, and once for the guard that had to go first."""
    lift_guards(store)
    other = b"\xff\xd8\xff another"
    with store.database.writing() as connection:
        if "kept_elsewhere" in statement:
            statement = statement.replace("kept_elsewhere", ":data")
            connection.execute(text(statement), {"data": other})
        else:
            connection.execute(text(statement))

    said = problems(store)

    assert any(TAMPERING.get(statement, "not the one that was kept") in line for line in said)
    assert any("the guard events_no_" in line for line in said)
    assert job


def test_the_head_shows_that_a_whole_job_was_cut_off(store: Store, job: str) -> None:
    """The last job with all its events leaves no gap; written down elsewhere, the head does."""
    with store.database.reading() as connection:
        before = verify_records(connection).head
    last = open_job(store).job
    with store.database.reading() as connection:
        whole = verify_records(connection).head
    lift_guards(store)
    with store.database.writing() as connection:
        connection.execute(text(f"DELETE FROM events WHERE job = '{last}'"))
        connection.execute(text(f"DELETE FROM jobs WHERE id = '{last}'"))
    with store.database.reading() as connection:
        after = verify_records(connection).head

    assert after == before != whole
    assert job


def test_every_word_of_an_event_is_in_its_hash() -> None:
    """Change any field, and the hash is another one."""
    (event,) = record(("event-1", ADA, write_up()))
    hashes = {link(start(SHOP, "job"), event)}
    for field in fields(event):
        value = getattr(event, field.name)
        other: Any
        match field.name:
            case "hash" | "job":  # the hash itself; the job is in the start of its chain
                continue
            case "seq" | "position":
                other = value + 1
            case "body":
                other = note()
            case "who":
                other = replace(value, role="senior")
            case "device_time" | "server_time":
                other = value.replace(microsecond=1)
            case _:
                other = value + "x"
        changed: dict[str, Any] = {field.name: other}
        hashes.add(link(start(SHOP, "job"), replace(event, **changed)))

    hashes |= {link(start(SHOP, "other"), event), link(start("other", "job"), event)}
    assert len(hashes) == 1 + (len(fields(event)) - 2) + 2

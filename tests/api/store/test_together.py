"""Writes that share a transaction: each fails alone, all are kept or refused truthfully."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Any

import pytest
from sqlalchemy import Connection, event, text
from sqlalchemy.exc import DBAPIError as DriverError

from api.store.engine import Store
from api.store.errors import RecordsFullError
from api.store.events import Body
from tests.api.store.making import SHOP, add, note, open_job, undo


def all_at_once(store: Store, works: list[Callable[[], Any]]) -> list[object]:
    """Let everybody queue while somebody else writes; return what each got, errors too."""
    got: list[object] = [None] * len(works)

    def call(number: int) -> None:
        try:
            got[number] = works[number]()
        except Exception as error:  # what a caller sees is what is tested
            got[number] = error

    threads = [threading.Thread(target=call, args=(n,)) for n in range(len(works))]
    waiting = store.database._together._waiting
    with store.database.writing():
        for number, thread in enumerate(threads, 1):
            thread.start()
            while len(waiting) < number:
                thread.join(0.001)
    for thread in threads:
        thread.join()
    return got


def appending(store: Store, job: str, body: Body) -> Callable[[], Any]:
    """Return the work of appending one event."""
    return lambda: add(store, job, body)[0].seq


def test_who_waits_together_is_written_together(store: Store) -> None:
    """Twelve writes, one commit: the disk is waited for once."""
    job = open_job(store).job
    commits: list[int] = []
    event.listen(store.database.engine, "commit", lambda _connection: commits.append(1))

    got = all_at_once(store, [appending(store, job, note(str(n))) for n in range(12)])

    assert got == list(range(2, 14))
    assert len(commits) == 2  # the one that held the turn, and the shared one
    assert [e.seq for e in store.jobs.events(SHOP, job)] == list(range(1, 14))


def test_one_that_is_refused_spoils_no_other(store: Store) -> None:
    """Its neighbours in the transaction are kept, and it alone is told."""
    job = open_job(store).job
    bad = undo("event-that-is-not-there")

    got = all_at_once(store, [appending(store, job, body) for body in (note("a"), bad, note("b"))])

    assert (got[0], got[2]) == (2, 3)
    assert "has no event" in str(got[1])
    assert [e.body.kind for e in store.jobs.events(SHOP, job)] == ["written-up", "note", "note"]


def test_a_mistake_in_one_leaves_nothing_of_it(store: Store) -> None:
    """Not even what it had written before it failed."""
    job = open_job(store).job

    def mistaken(connection: Connection) -> None:
        connection.execute(text("UPDATE jobs SET ticket = 'wrong'"))
        raise ZeroDivisionError("an invented mistake")

    got = all_at_once(
        store, [appending(store, job, note()), lambda: store.database.write(mistaken)]
    )

    assert got[0] == 2
    assert isinstance(got[1], ZeroDivisionError)
    assert store.jobs.summary(SHOP, job).ticket == "4711"


def test_when_the_disk_is_full_nobody_is_told_otherwise(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A commit that fails fails for all who shared it, and nothing of them is there."""
    job = open_job(store).job
    dialect = store.database.engine.dialect
    really = dialect.do_commit
    failing = [False]

    def commit(connection: Any) -> None:
        if failing[0]:
            failing[0] = False
            error = RuntimeError("as a driver raises it")
            error.sqlstate = "53100"  # type: ignore[attr-defined]
            raise DriverError("COMMIT", {}, error)
        really(connection)

    def fail_next(connection: Connection) -> int:
        failing[0] = True
        return int(connection.execute(text("SELECT 1")).scalar_one())

    monkeypatch.setattr(dialect, "do_commit", commit)
    works = [appending(store, job, note("a")), lambda: store.database.write(fail_next)]
    got = all_at_once(store, [*works, appending(store, job, note("b"))])

    assert [type(one) for one in got] == [RecordsFullError] * 3
    assert store.jobs.summary(SHOP, job).version == 1
    assert add(store, job, note("again"))[0].seq == 2

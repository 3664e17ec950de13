"""Several processes at the same records, and one that is killed in the middle."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from sqlalchemy import text
from sqlalchemy.exc import OperationalError

from api.store.database import connect, url_of
from api.store.engine import open_store
from api.store.trouble import is_busy
from api.store.verify import verify_records
from tests.api.store.making import SHOP, Clock, open_job

TOP = Path(__file__).resolve().parents[3]
KILLED_AFTER = 400


def start(address: str, job: str, count: int, name: str) -> subprocess.Popen[str]:
    """Start a process that appends."""
    words = [sys.executable, "-m", "tests.api.store.writer", address, job, str(count), name]
    environment = {**os.environ, "PYTHONPATH": str(TOP)}
    return subprocess.Popen(words, cwd=TOP, stdout=subprocess.PIPE, text=True, env=environment)


def test_kill_9_loses_nothing_that_was_acknowledged(address: str) -> None:
    """In the middle of 1,000 writes; a whole prefix is there, and the chain holds."""
    store = open_store(address, clock=Clock())
    job = open_job(store).job
    with start(address, job, 1000, "killed") as writer:
        assert writer.stdout
        told = [writer.stdout.readline().strip() for _ in range(KILLED_AFTER)]
        writer.send_signal(signal.SIGKILL if os.name == "posix" else signal.SIGTERM)
        told += writer.stdout.read().split()

    events = store.jobs.events(SHOP, job)
    with store.database.reading() as connection:
        verified = verify_records(connection)
    store.close()

    kept = [event.id for event in events[1:]]
    assert writer.returncode != 0
    assert KILLED_AFTER <= len(told) < 1000
    assert kept[: len(told)] == told
    assert len(kept) - len(told) in (0, 1)  # one may have been written and not told of
    assert verified.problems == ()


def test_records_go_on_after_the_kill(address: str) -> None:
    """No lock is left, nothing has to be repaired by hand."""
    store = open_store(address, clock=Clock())
    job = open_job(store).job
    with start(address, job, 1000, "killed") as writer:
        assert writer.stdout
        writer.stdout.readline()
        writer.kill()
    with start(address, job, 5, "next") as second:
        out, _ = second.communicate(timeout=60)

    assert second.returncode == 0
    assert len(out.split()) == 5
    assert [e.id for e in store.jobs.events(SHOP, job)][-5:] == out.split()
    store.close()


def test_two_processes_at_one_job_both_keep_everything(address: str) -> None:
    """Each event once, in the order in which its process sent it, at a place of its own."""
    store = open_store(address, clock=Clock())
    job = open_job(store).job
    writers = [start(address, job, 150, name) for name in ("left", "right")]
    told = [writer.communicate(timeout=120)[0].split() for writer in writers]

    events = store.jobs.events(SHOP, job)
    store.close()

    ids = [event.id for event in events[1:]]
    assert [writer.returncode for writer in writers] == [0, 0]
    assert [len(ids_told) for ids_told in told] == [150, 150]
    assert [i for i in ids if "left" in i] == told[0]
    assert [i for i in ids if "right" in i] == told[1]
    assert [event.seq for event in events] == list(range(1, 302))


def test_reading_before_writing_is_what_must_not_be_done(shop_file: Path) -> None:
    """The trap itself: a deferred transaction fails at once, one that takes the lock waits.

    SQLite documents it under BEGIN: who has read an older state can't become the writer, and no
    time of waiting helps. Partner: the store's own way, with the same two connections.
    """
    open_store(shop_file).close()
    one, other = (connect(url_of(shop_file)) for _ in range(2))
    change = text("UPDATE jobs SET version = 0")

    with one.engine.connect() as early, early.begin():
        early.execute(text("SELECT count(*) FROM jobs")).scalar_one()
        with other.writing() as quicker:
            quicker.execute(text("DELETE FROM sessions WHERE token = 'x'"))
            quicker.execute(text("INSERT INTO answers VALUES ('k', 'd', '2026-03-02 08:00:00')"))
        with pytest.raises(OperationalError, match="database is locked") as caught:
            early.execute(change)
    with one.writing() as connection:
        assert connection.execute(text("SELECT count(*) FROM answers")).scalar_one() == 1
        connection.execute(change)
    for database in (one, other):
        database.close()

    assert is_busy(caught.value)

"""A full disk, records that may not be written, another writer that never ends."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import event, text
from sqlalchemy.exc import OperationalError

from api.store import database as database_module
from api.store import engine as engine_module
from api.store.backup import backup
from api.store.database import connect, url_of
from api.store.engine import Store, open_store
from api.store.errors import (
    RecordsBusyError,
    RecordsFullError,
    RecordsReadOnlyError,
    RecordsUnreachableError,
)
from api.store.trouble import worded
from api.store.verify import verify_records
from tests.api.store.making import ADA, KNOWLEDGE, SHOP, START, Clock, add, new, note, open_job

TOP = Path(__file__).resolve().parents[3]
#: Written by a process whose files may not grow past a limit: every write is real, and so is
#: its failure.
FILLING = """
import resource, sys
from api.store.engine import open_store
from api.store.errors import StoreError
from tests.api.store.making import ADA, KNOWLEDGE, SHOP, new, note
address, job, limit = sys.argv[1:]
store = open_store(address)
resource.setrlimit(resource.RLIMIT_FSIZE, (int(limit), int(limit)))
try:
    for step in range(1000):
        event = new(note("x" * 3000), f"full-{step}")
        print(store.jobs.append(SHOP, job, ADA, [event], KNOWLEDGE)[0].id, flush=True)
except StoreError as error:
    print(error, file=sys.stderr)
    sys.exit(3)
"""


@contextmanager
def under(store: Store, *pragmas: str) -> Iterator[None]:
    """Let every connection of records live under a rule of SQLite for a while."""

    def rule(connection: Any, _record: object) -> None:
        for pragma in pragmas:
            connection.execute(f"PRAGMA {pragma}").close()

    engine = store.database.engine
    engine.dispose()
    event.listen(engine, "connect", rule)
    yield
    event.remove(engine, "connect", rule)
    engine.dispose()


def test_a_full_database_refuses_and_keeps(shop_file: Path) -> None:
    """What was acknowledged stays, the rest is refused in words, and room lets it go on."""
    store = open_store(shop_file, clock=Clock())
    job = open_job(store).job
    with store.database.reading() as connection:
        pages = connection.exec_driver_sql("PRAGMA page_count").scalar_one()
    kept = 1

    def fill() -> None:
        nonlocal kept
        for _ in range(100):
            add(store, job, note("x" * 3000))
            kept += 1

    with under(store, f"max_page_count={pages + 6}"):
        with pytest.raises(RecordsFullError, match=r"no room left.*everything that was confirmed"):
            fill()
        assert len(store.jobs.events(SHOP, job)) == kept
    add(store, job, note("again"))

    with store.database.reading() as connection:
        assert verify_records(connection).problems == ()
    assert 1 < len(store.jobs.events(SHOP, job)) == kept + 1
    store.close()


@pytest.mark.skipif(os.name != "posix", reason="only POSIX limits the size of a process's files")
def test_a_disk_that_takes_no_more_loses_nothing(shop_file: Path) -> None:
    """Writes fail inside the system, in the middle of the log; every confirmed event is there."""
    store = open_store(shop_file, clock=Clock())
    job = open_job(store).job
    words = [sys.executable, "-c", FILLING, str(shop_file), job, "500000"]
    environment = {**os.environ, "PYTHONPATH": str(TOP)}
    done = subprocess.run(
        words, cwd=TOP, capture_output=True, text=True, timeout=120, check=False, env=environment
    )

    told = done.stdout.split()
    events = store.jobs.events(SHOP, job)
    assert done.returncode == 3, done.stderr
    assert "the disk does not take" in done.stderr
    assert "everything that was confirmed before is kept" in done.stderr
    assert [event.id for event in events[1:]] == told
    assert len(told) > 5
    add(store, job, note("again"))
    store.close()


def test_records_that_may_not_be_written_are_still_read(shop_file: Path) -> None:
    """The board stays, writing is refused in words, and the service says it is not ready."""
    store = open_store(shop_file, clock=Clock())
    job = open_job(store).job
    with under(store, "query_only=ON"):
        with pytest.raises(RecordsReadOnlyError, match=r"cannot be written to.*give this program"):
            add(store, job, note())
        rows = {name: well for name, well, _told in store.ready()}
        assert store.jobs.state(SHOP, job).version == 1
    store.close()

    assert (rows["records"], rows["writing"]) == (True, False)


def test_a_folder_that_cannot_be_made_is_one_sentence(tmp_path: Path) -> None:
    """A file stands where the data folder should be."""
    (tmp_path / "data").write_text("in the way", encoding="utf-8")

    with pytest.raises(RecordsReadOnlyError, match="choose another data folder with DRYPARK_DATA"):
        open_store(tmp_path / "data" / "shop" / "drypark.sqlite3")


def test_a_writer_that_never_ends_is_waited_for_and_then_named(
    shop_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Twice the waiting time, then a sentence; nothing was written."""
    monkeypatch.setattr(database_module, "BUSY_SECONDS", 0.05)
    store = open_store(shop_file, clock=Clock())
    job = open_job(store).job
    other = connect(url_of(shop_file))

    with (
        other.writing(),
        pytest.raises(RecordsBusyError, match=r"writing for too long.*send it again"),
    ):
        add(store, job, note())

    assert len(add(store, job, note())) == 1
    other.close()
    store.close()


@pytest.mark.postgres
def test_a_server_that_only_reads_refuses_in_words(postgres: str) -> None:
    """A standby, or an administrator's decision; the sentence is the same as for a file."""
    store = open_store(postgres, clock=Clock())
    job = open_job(store).job
    with store.database.engine.connect() as connection:
        name = connection.execute(text("SELECT current_database()")).scalar_one()
        rule = f"ALTER DATABASE {name} SET default_transaction_read_only = on"
        connection.execute(text("SET SESSION CHARACTERISTICS AS TRANSACTION READ WRITE"))
        connection.commit()
        connection.execution_options(isolation_level="AUTOCOMMIT").execute(text(rule))
    store.database.engine.dispose()

    with pytest.raises(RecordsReadOnlyError, match="cannot be written to"):
        add(store, job, note())

    assert store.jobs.state(SHOP, job).version == 1
    store.close()


@pytest.mark.postgres
def test_a_server_that_went_away_comes_back_by_itself(postgres: str) -> None:
    """Connections that the server cut are made anew; nobody has to restart the service."""
    store = open_store(postgres, clock=Clock())
    job = open_job(store).job
    with store.database.engine.connect() as connection:
        cut = "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE pid <> pg_backend_pid()"
        mine = " AND datname = current_database()"
        connection.execute(text(cut + mine))

    (told,) = store.jobs.append(SHOP, job, ADA, [new(note())], KNOWLEDGE)

    assert told.seq == 2
    store.close()


@pytest.mark.parametrize(
    ("state", "error"),
    [
        ("53100", RecordsFullError),
        ("25006", RecordsReadOnlyError),
        ("55P03", RecordsBusyError),
        ("08006", RecordsUnreachableError),
        ("28P01", RecordsUnreachableError),
    ],
)
def test_the_states_of_postgres_are_told_apart(state: str, error: type[Exception]) -> None:
    """By SQLSTATE: PostgreSQL documentation, appendix A."""
    cause = RuntimeError("as the driver raises it")
    cause.sqlstate = state  # type: ignore[attr-defined]

    assert isinstance(worded(cause, "shop"), error)


def test_what_is_our_own_mistake_is_not_dressed_up(shop_file: Path) -> None:
    """A wrong statement is no trouble of the disk, and must not read like one."""
    store = open_store(shop_file)

    with (
        pytest.raises(OperationalError, match="no such table"),
        store.database.reading() as connection,
    ):
        connection.execute(text("SELECT * FROM nowhere"))

    store.close()


def test_a_backup_that_finds_no_room_leaves_nothing(shop_file: Path, tmp_path: Path) -> None:
    """Half a backup is worse than none."""
    store = open_store(shop_file, clock=Clock())
    open_job(store)
    (tmp_path / "taken").write_text("", encoding="utf-8")

    with pytest.raises(RecordsFullError, match=r"cannot be written.*records themselves"):
        backup(store.database, tmp_path / "taken" / "inside", START)

    store.close()
    assert {path.name for path in tmp_path.iterdir()} == {"shop.sqlite3", "taken"}


def test_every_connection_keeps_what_it_confirms(shop_file: Path) -> None:
    """SQLite forgets these between connections; FULL is what outlives a power cut in WAL mode."""
    store = open_store(shop_file)
    wanted = {"journal_mode": "wal", "synchronous": 2, "foreign_keys": 1, "recursive_triggers": 1}

    with store.database.reading() as one, store.database.reading() as other:
        for connection in (one, other):
            for pragma, value in wanted.items():
                assert connection.exec_driver_sql(f"PRAGMA {pragma}").scalar_one() == value
    store.close()


def test_little_room_and_a_network_drive_are_said(
    shop_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """SQLite's own advice: no database file on a network share."""
    store = open_store(shop_file)
    well = {name: ok for name, ok, _told in store.ready()}
    monkeypatch.setattr(engine_module, "_filesystem", lambda _folder: "nfs4")
    monkeypatch.setattr(engine_module, "LEAST_ROOM", 10**18)
    ill = {name: (ok, told) for name, ok, told in store.ready()}
    store.close()

    assert set(well) == set(ill) == {"records", "writing", "room", "disk"}
    assert well["disk"]
    assert not ill["disk"][0]
    assert "network drive (nfs4)" in ill["disk"][1]
    assert not ill["room"][0]

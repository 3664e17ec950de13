"""Backups, restored, and copies from one database to another."""

from __future__ import annotations

import hashlib
import sqlite3
import threading
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import pytest
from sqlalchemy import Connection, text

from api.store import copying
from api.store.backup import backup, newest, restore
from api.store.copying import Copied, copy_records
from api.store.engine import Store, open_database, open_store
from api.store.errors import BrokenRecordsError, NoRecordsError, TargetExistsError
from api.store.tables import TABLES
from api.store.verify import Told, quiet, verify_records
from tests.api.store.making import (
    OTHER_SHOP,
    SAM,
    SHOP,
    START,
    Clock,
    add,
    finding,
    note,
    open_job,
    verdict,
)

_HASH = "$argon2id$v=19$m=8,t=1,p=1$c29tZXNhbHQ$aW52ZW50ZWQ"


def filled(store: Store) -> str:
    """Put something into every table; return the id of a job."""
    job = open_job(store).job
    open_job(store, OTHER_SHOP)
    add(store, job, note("½ Ω 车 \U0001f697 'quoted' \\ =1+1"), finding(), verdict(), who=SAM)
    ada = store.people.add(SHOP, "Ada Example", "owner", password=_HASH)
    store.people.add(SHOP, "älteste Säge", "trainee")
    store.sessions.create(ada, "tablet")
    store.photos.put(SHOP, job, b"\xff\xd8\xff" + bytes(range(256)) * 40)
    store.answers.keep("e" * 64, '{"checks": []}')
    return job


def sha(path: Path) -> str:
    """Return the hash of a file."""
    return hashlib.sha256(path.read_bytes()).hexdigest()


def test_a_backup_holds_everything(store: Store, tmp_path: Path) -> None:
    """Of a file and of a server alike: one SQLite file, opened and counted."""
    job = filled(store)
    folder = tmp_path / "backups"

    kept = backup(store.database, folder, START)
    restored = restore(kept.path, tmp_path / "restored.sqlite3")
    again = open_store(restored.path, clock=Clock())

    assert kept.rows == restored.rows
    assert [kept.rows[table.name] for table in TABLES] == [2, 5, 2, 1, 1, 1]
    assert kept.sha256 == sha(kept.path)
    assert again.jobs.events(SHOP, job) == store.jobs.events(SHOP, job)
    assert again.people.list(SHOP) == store.people.list(SHOP)
    assert again.answers.get("e" * 64) == '{"checks": []}'
    with again.database.reading() as new, store.database.reading() as old:
        assert verify_records(new) == verify_records(old)
    again.close()
    assert [path.name for path in folder.iterdir()] == ["drypark-20260302-080000.000000.sqlite3"]


def test_a_backup_is_of_one_moment_while_others_write(store: Store, tmp_path: Path) -> None:
    """Made online: the chain holds at its end, and nobody's write fails."""
    job = open_job(store).job
    done = threading.Event()
    written: list[int] = []

    def work() -> None:
        while not done.is_set():
            written.append(add(store, job, note("x" * 500))[0].seq)

    thread = threading.Thread(target=work)
    thread.start()
    kept = [backup(store.database, tmp_path, START + timedelta(days=n)) for n in range(3)]
    done.set()
    thread.join()

    counts = [one.rows["events"] for one in kept]
    assert counts == sorted(counts)
    assert counts[0] >= 1
    assert len(store.jobs.events(SHOP, job)) == len(written) + 1 >= counts[-1]


def test_a_backup_never_replaces_another(shop_file: Path, tmp_path: Path) -> None:
    """Not even one of the same moment."""
    store = open_store(shop_file, clock=Clock())
    open_job(store)
    kept = backup(store.database, tmp_path, START)
    before = sha(kept.path)

    with pytest.raises(TargetExistsError, match=r"is there already.*not touched"):
        backup(store.database, tmp_path, START)

    store.close()
    assert sha(kept.path) == before


def test_the_newest_backup_is_known_by_its_name(shop_file: Path, tmp_path: Path) -> None:
    """Copying files about changes their times; and other files are none."""
    store = open_store(shop_file)
    folder = tmp_path / "backups"
    west = datetime(2026, 3, 1, 23, 0, tzinfo=timezone(timedelta(hours=-5)))
    assert newest(folder) is None
    for moment in (START, west):
        backup(store.database, folder, moment)
    (folder / "drypark-notes.sqlite3").write_text("no backup", encoding="utf-8")
    store.close()

    assert newest(folder) == START
    assert west.astimezone(UTC) < START


@pytest.mark.parametrize("beside", ["", "-wal", "-shm"])
def test_nothing_is_restored_over_what_is_there(
    shop_file: Path, tmp_path: Path, beside: str
) -> None:
    """Neither over live records, nor into what is left of some: their log would be mixed in."""
    store = open_store(shop_file, clock=Clock())
    open_job(store)
    kept = backup(store.database, tmp_path / "backups", START)
    store.close()
    target = tmp_path / "target.sqlite3"
    taken = Path(f"{target}{beside}")
    taken.write_bytes(b"somebody's")

    with pytest.raises(TargetExistsError, match="is there already"):
        restore(kept.path, target)

    assert taken.read_bytes() == b"somebody's"
    assert sorted(tmp_path.glob("target*")) == [taken]


def test_live_records_are_not_restored_over(shop_file: Path, tmp_path: Path) -> None:
    """While the shop works on them."""
    store = open_store(shop_file, clock=Clock())
    job = open_job(store).job
    kept = backup(store.database, tmp_path / "backups", START)
    add(store, job, note())

    with pytest.raises(TargetExistsError, match="is there already"):
        restore(kept.path, shop_file)

    assert len(store.jobs.events(SHOP, job)) == 2
    store.close()


def test_a_damaged_backup_is_not_restored(shop_file: Path, tmp_path: Path) -> None:
    """And nothing half is left behind, nor is the backup changed."""
    store = open_store(shop_file, clock=Clock())
    for ticket in range(40):
        open_job(store, ticket=str(ticket))
    kept = backup(store.database, tmp_path / "backups", START)
    store.close()
    damaged = bytearray(kept.path.read_bytes())
    damaged[8192:16384] = b"\xa5" * 8192
    kept.path.write_bytes(bytes(damaged))
    before = sha(kept.path)

    with pytest.raises(BrokenRecordsError, match=r"damaged|not whole"):
        restore(kept.path, tmp_path / "target.sqlite3")

    assert sha(kept.path) == before
    assert list(tmp_path.glob("*target*")) == []


def test_a_backup_that_somebody_edited_is_not_restored(shop_file: Path, tmp_path: Path) -> None:
    """The database is whole, the chain is not."""
    store = open_store(shop_file, clock=Clock())
    open_job(store)
    kept = backup(store.database, tmp_path / "backups", START)
    store.close()
    with closing(sqlite3.connect(kept.path)) as raw, raw:
        raw.execute("DROP TRIGGER events_no_update")
        raw.execute("UPDATE events SET who_name = 'Somebody Else'")

    with pytest.raises(BrokenRecordsError, match=r"not whole.*is not what was written"):
        restore(kept.path, tmp_path / "target.sqlite3")


def test_a_backup_with_rows_that_belong_to_nothing_is_not_restored(
    shop_file: Path, tmp_path: Path
) -> None:
    """The pages are whole and the chain holds; the photo of a job that is not there does not."""
    store = open_store(shop_file, clock=Clock())
    filled(store)
    kept = backup(store.database, tmp_path / "backups", START)
    store.close()
    with closing(sqlite3.connect(kept.path)) as raw, raw:
        raw.execute("UPDATE photos SET job = 'nowhere'")

    with pytest.raises(BrokenRecordsError, match="what was read is not whole"):
        restore(kept.path, tmp_path / "target.sqlite3")


def test_what_is_no_backup_is_not_restored(tmp_path: Path) -> None:
    """No file, any file, or a database of something else."""
    target = tmp_path / "target.sqlite3"
    (tmp_path / "diary.txt").write_text("Dear diary, " * 100, encoding="utf-8")
    with closing(sqlite3.connect(tmp_path / "other.sqlite3")) as raw:
        raw.execute("CREATE TABLE recipes (name TEXT)")

    with pytest.raises(NoRecordsError, match="no such backup"):
        restore(tmp_path / "nowhere.sqlite3", target)
    with pytest.raises(BrokenRecordsError, match="no database"):
        restore(tmp_path / "diary.txt", target)
    with pytest.raises(BrokenRecordsError, match="of something else"):
        restore(tmp_path / "other.sqlite3", target)

    assert not target.exists()


def test_records_move_to_another_database(store: Store, tmp_path: Path) -> None:
    """Counts and hashes of every table are the same; the source stays as it was."""
    job = filled(store)
    target = tmp_path / "moved.sqlite3"
    with store.database.reading() as connection:
        before = verify_records(connection)

    tables = copy_records(store.database, target)
    moved = open_store(target, clock=Clock())

    assert [copied.table for copied in tables] == [table.name for table in TABLES]
    assert [copied.rows for copied in tables] == [2, 5, 2, 1, 1, 1]
    assert moved.jobs.events(SHOP, job) == store.jobs.events(SHOP, job)
    with moved.database.reading() as connection:
        assert verify_records(connection) == before
    add(moved, job, note("goes on"))
    moved.close()
    with store.database.reading() as connection:
        assert verify_records(connection) == before


@pytest.mark.postgres
def test_a_shop_moves_to_a_server_and_back(shop_file: Path, tmp_path: Path, postgres: str) -> None:
    """The hashes do not depend on the database that the rows lie in."""
    store = open_store(shop_file, clock=Clock())
    job = filled(store)

    there = copy_records(store.database, postgres)
    server = open_store(postgres, clock=Clock())
    add(server, job, note("on the server"))
    back = copy_records(server.database, tmp_path / "back.sqlite3")
    again = copy_records(open_database(tmp_path / "back.sqlite3"), tmp_path / "again.sqlite3")

    assert [row.rows for row in there] == [2, 5, 2, 1, 1, 1]
    assert again == back
    assert [row.table for row, was in zip(back, there, strict=True) if row != was] == [
        "jobs",
        "events",
    ]
    with pytest.raises(TargetExistsError, match="is not empty"):
        copy_records(store.database, postgres)
    server.close()
    store.close()


def test_nothing_is_copied_over_what_is_there(shop_file: Path, tmp_path: Path) -> None:
    """Not over other records, and not over a file of any kind."""
    store = open_store(shop_file, clock=Clock())
    other = tmp_path / "other.sqlite3"
    open_store(other).close()
    before = sha(other)

    with pytest.raises(TargetExistsError, match="is there already"):
        copy_records(store.database, other)

    store.close()
    assert sha(other) == before


def test_a_copy_that_arrives_otherwise_is_not_kept(
    store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Counts and hashes are compared before anything counts."""
    filled(store)
    really = copying._arrived

    def changed(connection: Connection, table: object) -> Copied:
        if table is TABLES[2]:
            connection.execute(text("UPDATE people SET name = 'Somebody' WHERE role = 'owner'"))
        return really(connection, table)  # type: ignore[arg-type]

    monkeypatch.setattr(copying, "_arrived", changed)

    with pytest.raises(BrokenRecordsError, match=r"people arrived otherwise.*nothing was kept"):
        copy_records(store.database, tmp_path / "moved.sqlite3")

    assert list(tmp_path.glob("*moved*")) == []


@pytest.mark.parametrize("work", ["backup", "restore", "copy"])
def test_work_that_is_stopped_leaves_nothing(store: Store, tmp_path: Path, work: str) -> None:
    """Ctrl-C in the middle: no half file, and the next try is not in its way."""
    filled(store)
    kept = backup(store.database, tmp_path / "kept", START).path
    told: list[tuple[str, int, int]] = []

    def stop(what: str, done: int, of: int) -> None:
        told.append((what, done, of))
        raise KeyboardInterrupt

    works: dict[str, Callable[[Told], object]] = {
        "backup": lambda tell: backup(store.database, tmp_path / "new", START, tell),
        "restore": lambda tell: restore(kept, tmp_path / "new" / "file", tell),
        "copy": lambda tell: copy_records(store.database, tmp_path / "new" / "file", tell),
    }
    with pytest.raises(KeyboardInterrupt, match=r"^$"):
        works[work](stop)

    assert list((tmp_path / "new").iterdir()) == []
    ((what, done, of),) = told
    assert what in ("copying pages", "jobs")
    assert 0 < done <= of
    works[work](quiet)
    assert len(list((tmp_path / "new").iterdir())) == 1

"""Backups: made while the shop works, looked at before they count, restored into a new file.

A backup is one SQLite file, whatever the records lie in, so that it can be opened without a
server years later.
"""

from __future__ import annotations

import hashlib
import sqlite3
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy.engine import URL

from api.store.copying import fill
from api.store.database import Database, connect
from api.store.errors import BrokenRecordsError, NoRecordsError
from api.store.files import appearing
from api.store.schema import check_file, must_be_current, shape_of
from api.store.trouble import in_words
from api.store.verify import Told, quiet, verify_records

__all__ = ["Kept", "backup", "newest", "restore"]

#: Pages that are copied at once, of 4 kB each.
_PAGES = 2_000
_NAME = "drypark-%Y%m%d-%H%M%S.%f.sqlite3"


@dataclass(frozen=True, slots=True)
class Kept:
    """A file that was made and looked at.

    Attributes
    ----------
    path : where it is
    rows : by table
    sha256 : of the file
    """

    path: Path
    rows: dict[str, int]
    sha256: str


def backup(database: Database, folder: Path, now: datetime, told: Told = quiet) -> Kept:
    """Make a backup in a folder, named by the time, while others go on writing.

    Parameters
    ----------
    database : open; records in a file may be older than this program
    folder : made when it is not there
    now : with its zone
    told : is called while it is made and looked at

    Raises
    ------
    StoreError
        If it cannot be written, or what was written is not whole; nothing is left of it then.
    """
    path = folder / now.astimezone(UTC).strftime(_NAME)
    with appearing(path) as part:
        wanted = (
            _copy_file(database, part, told)
            if database.file
            else _copy_server(database, part, told)
        )
        rows = _look_at(part, told)
        if rows != wanted:
            raise _not_whole(part, f"{wanted} rows were to be in it, {rows} are")
    return Kept(path, rows, _sha(path))


def _copy_file(database: Database, part: Path, told: Told) -> dict[str, int]:
    """Copy an SQLite database as it is at one moment; return its rows by table."""
    with database.reading() as connection:
        raw = connection.connection.driver_connection
        if not isinstance(raw, sqlite3.Connection):
            raise TypeError(f"{database.name} is no SQLite database")
        wanted = _counts(raw)  # reads first, so that the copy is of the same moment
        with in_words(str(part)), closing(sqlite3.connect(part)) as copy:
            _copy_pages(raw, copy, told)
    return wanted


def _copy_pages(old: sqlite3.Connection, new: sqlite3.Connection, told: Told) -> None:
    """Copy all of a database, some pages at a time, so that it can be followed and stopped."""

    def some(_status: int, remaining: int, of: int) -> None:
        told("copying pages", of - remaining, of)

    old.backup(new, pages=_PAGES, progress=some)


def _copy_server(database: Database, part: Path, told: Told) -> dict[str, int]:
    """Copy a database of a server into an SQLite file; return its rows by table."""
    target = connect(URL.create("sqlite", database=str(part)))
    try:
        rows = {copied.table: copied.rows for copied in fill(database, target, told)}
    finally:
        target.close()
    return dict(sorted({**rows, "alembic_version": 1}.items()))


def restore(source: Path, target: Path, told: Told = quiet) -> Kept:
    """Copy a backup into a new file, and look at it; the backup itself stays as it is.

    Parameters
    ----------
    source, target : files; the target is not there
    told : is called while it is copied and looked at

    Raises
    ------
    NoRecordsError, BrokenRecordsError, TargetExistsError, RecordsFullError
        Nothing that was there is overwritten, and nothing half is left.
    """
    if not source.exists():
        raise NoRecordsError(
            f"{source}: there is no such backup",
            safe="nothing was made",
            remedy="give the file that drypark backup named",
        )
    check_file(source)
    with appearing(target) as part:
        with (
            in_words(str(source)),
            closing(sqlite3.connect(f"{source.absolute().as_uri()}?mode=ro", uri=True)) as old,
            closing(sqlite3.connect(part)) as new,
        ):
            wanted = _counts(old)
            _copy_pages(old, new, told)
        rows = _look_at(part, told)
        if rows != wanted:
            raise _not_whole(source, f"{wanted} rows were to be in it, {rows} are")
    return Kept(target, rows, _sha(target))


def newest(folder: Path) -> datetime | None:
    """Return when the newest backup in a folder was made, by its name, or None."""
    times: list[datetime] = []
    for path in folder.glob("drypark-*.sqlite3"):
        try:
            times.append(datetime.strptime(path.name, _NAME).replace(tzinfo=UTC))
        except ValueError:
            continue
    return max(times, default=None)


def _counts(raw: sqlite3.Connection) -> dict[str, int]:
    """Return the number of rows by table, of any shape of the records."""
    names = raw.execute("SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name")
    tables = [str(name) for (name,) in names if not str(name).startswith("sqlite_")]
    counted: dict[str, int] = {}
    for table in tables:
        quoted = '"' + table.replace('"', '""') + '"'
        counted[table] = raw.execute(f"SELECT count(*) FROM {quoted}").fetchone()[0]  # noqa: S608
    return counted


def _look_at(part: Path, told: Told) -> dict[str, int]:
    """Open what was written, check and count it, and make it one single file."""
    with in_words(str(part)), closing(sqlite3.connect(part)) as raw:
        said = [row[0] for row in raw.execute("PRAGMA integrity_check")]
        loose = raw.execute("PRAGMA foreign_key_check").fetchall()
        if said != ["ok"] or loose:
            raise _not_whole(part, "; ".join(str(line) for line in said[:3]))
        raw.execute("PRAGMA journal_mode=DELETE").close()
        rows = _counts(raw)
    database = connect(URL.create("sqlite", database=str(part)), wal=False)
    try:
        with database.reading() as connection:
            shape, _found = shape_of(connection)
            if shape not in ("current", "behind"):
                must_be_current(connection, str(part))
            problems = verify_records(connection, told).problems if shape == "current" else ()
    finally:
        database.close()
    if problems:
        raise _not_whole(part, "; ".join(problems[:3]))
    return rows


def _not_whole(path: Path, why: str) -> BrokenRecordsError:
    return BrokenRecordsError(
        f"{path}: what was read is not whole ({why})",
        safe="no file was made and none was changed",
        remedy="run drypark records verify, and keep older backups",
    )


def _sha(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()

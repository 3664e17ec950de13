"""The records, opened: what the service and the commands work with."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import text

from api.store.answers import AnswerStore
from api.store.database import Database, connect, file_of, url_of
from api.store.errors import (
    BrokenRecordsError,
    RecordsReadOnlyError,
    StoreError,
)
from api.store.jobs import JobStore
from api.store.people import PeopleStore
from api.store.photos import PhotoStore
from api.store.schema import check_file, ensure, must_be_current, must_exist
from api.store.sessions import SessionStore

__all__ = ["Store", "open_database", "open_store", "server_clock"]

#: Less free room than this is a warning.
LEAST_ROOM = 1_000_000_000
_NETWORK = frozenset({"nfs", "nfs4", "cifs", "smb3", "smbfs", "9p", "fuse.sshfs", "afs"})


def server_clock() -> datetime:
    """Return the time of this machine."""
    return datetime.now(UTC)


class Store:
    """The records of all shops in one database.

    Parameters
    ----------
    database : open, and of the right shape
    clock : returns the time of the server with its zone

    Attributes
    ----------
    jobs, people, photos, answers, sessions : what is kept, each by its own rules
    """

    def __init__(self, database: Database, clock: Callable[[], datetime] = server_clock) -> None:
        self.database = database
        self.jobs = JobStore(database, clock)
        self.people = PeopleStore(database, clock)
        self.photos = PhotoStore(database, clock)
        self.answers = AnswerStore(database, clock)
        self.sessions = SessionStore(database, clock)

    def close(self) -> None:
        """Close every connection."""
        self.database.close()

    def ready(self) -> list[tuple[str, bool, str]]:
        """Return what there is to say about the records: name, whether it is well, a sentence."""
        rows = [
            _asked("records", "they answer and have the right shape", self._is_current),
            _asked("writing", "they can be written to", self._can_write),
        ]
        if self.database.file is not None:
            rows += _about_disk(self.database.file)
        return rows

    def _is_current(self) -> None:
        with self.database.reading() as connection:
            must_be_current(connection, self.database.name)

    def _can_write(self) -> None:
        with self.database.writing() as connection:
            connection.execute(text("UPDATE jobs SET version = version WHERE id = ''"))


def _asked(name: str, well: str, ask: Callable[[], None]) -> tuple[str, bool, str]:
    """Return a row from something that raises when it is not well."""
    try:
        ask()
    except StoreError as error:
        return name, False, str(error)
    return name, True, well


def _about_disk(file: Path) -> list[tuple[str, bool, str]]:
    """Return what there is to say about the place of the file."""
    try:
        free = shutil.disk_usage(file.parent).free
    except OSError as error:
        return [("room", False, f"{file.parent} does not answer ({error.strerror}); is it there?")]
    kind = _filesystem(file.parent)
    local = kind not in _NETWORK
    room = f"{free / 1e9:.1f} GB are free; below {LEAST_ROOM / 1e9:.0f} GB make room"
    where = "the records lie on a disk of this machine"
    if not local:
        where = (
            f"the records lie on a network drive ({kind}), where two machines can damage them; "
            "move the data folder to a disk of this machine"
        )
    return [("room", free >= LEAST_ROOM, room), ("disk", local, where)]


def _filesystem(folder: Path) -> str:
    """Return the kind of file system a folder lies on, or nothing where that cannot be asked."""
    try:
        mounts = Path("/proc/self/mounts").read_text(encoding="utf-8").splitlines()
        real = folder.resolve()
    except OSError:
        return ""
    best, kind = -1, ""
    for line in mounts:
        _, where, found, *_ = line.split(" ")
        if real.is_relative_to(where.replace("\\040", " ")) and len(where) >= best:
            best, kind = len(where), found
    return kind


def open_database(address: str | Path, *, make: bool = True) -> Database:
    """Return a database that was looked at and is of the right shape.

    Parameters
    ----------
    address : file, or URL of SQLite or PostgreSQL
    make : whether an empty or missing place becomes new records

    Raises
    ------
    StoreError
        In one sentence; nothing that was there is overwritten.
    """
    url = url_of(address)
    path = file_of(url)
    if path is not None:
        check_file(path)
        if make:
            _make_folder(path.parent)
    database = connect(url, wal=make)
    try:
        if path is not None and path.exists() and path.stat().st_size:
            _look_through(database)
        if make:
            ensure(database)
            _keep_private(path)
        else:
            _must_be_there(database, path)
    except BaseException:
        database.close()
        raise
    return database


def _must_be_there(database: Database, path: Path | None) -> None:
    """Refuse a place without records, without making a file in it."""
    if path is not None:
        must_exist(path)
    with database.reading() as connection:
        must_be_current(connection, database.name)


def _make_folder(folder: Path) -> None:
    """Make the data folder, for its owner's eyes only."""
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as error:
        raise RecordsReadOnlyError(
            f"{folder}: the folder cannot be made ({(error.strerror or 'unknown reason').lower()})",
            safe="nothing was changed",
            remedy="choose another data folder with DRYPARK_DATA",
        ) from None


def _keep_private(path: Path | None) -> None:
    """Let nobody else read the file, where the system knows such a thing."""
    if path is not None and os.name == "posix" and path.stat().st_uid == os.getuid():
        path.chmod(0o600)


def _look_through(database: Database) -> None:
    """Refuse a file that fails SQLite's own quick check.

    Raises
    ------
    BrokenRecordsError
        If a page is damaged.
    """
    with database.reading() as connection:
        said = connection.exec_driver_sql("PRAGMA quick_check(1)").scalar_one()
    if said != "ok":
        raise BrokenRecordsError(
            f"{database.name}: the file is damaged ({' '.join(str(said).split())})",
            safe="nothing in it was overwritten",
            remedy="keep it, and restore the last backup into a new file: "
            "drypark restore BACKUP --to NEWFILE",
        )


def open_store(address: str | Path, *, clock: Callable[[], datetime] = server_clock) -> Store:
    """Return the records at an address, making them where there are none.

    Parameters
    ----------
    address : file, or URL of SQLite or PostgreSQL
    clock : returns the time of the server with its zone

    Raises
    ------
    StoreError
        If they are broken, older or newer than this program, or cannot be reached; in one
        sentence, and with nothing overwritten.
    """
    return Store(open_database(address), clock)

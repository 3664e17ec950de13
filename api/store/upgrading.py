"""From an older shape of the records to the one this program knows, a backup first."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from sqlalchemy import text

from api.store.backup import Kept, backup
from api.store.database import Database, connect, file_of, url_of
from api.store.errors import BrokenRecordsError, SchemaBehindError
from api.store.schema import check_file, head, move, must_be_current, must_exist, shape_of
from api.store.verify import Told, quiet

__all__ = ["Upgraded", "upgrade"]


@dataclass(frozen=True, slots=True)
class Upgraded:
    """What was done.

    Attributes
    ----------
    before, after : names of the shapes; the same when there was nothing to do
    kept : the backup that was made first, or None
    """

    before: str
    after: str
    kept: Kept | None


def upgrade(
    address: str | Path,
    folder: Path,
    now: datetime,
    *,
    backed_up: bool = False,
    told: Told = quiet,
) -> Upgraded:
    """Bring records to the shape that this program knows, all steps or none.

    Parameters
    ----------
    address : file, or URL of SQLite or PostgreSQL
    folder : for the backup
    now : with its zone
    backed_up : whether the caller has a backup of a PostgreSQL database
    told : is called while the backup is made and looked at

    Raises
    ------
    StoreError
        If they are newer, broken or of something else, or the backup cannot be made.
    """
    url = url_of(address)
    path = file_of(url)
    if path is not None:
        must_exist(path)
        check_file(path)
    database = connect(url, enforce=False)
    try:
        with database.reading() as connection:
            shape, before = shape_of(connection)
            if shape != "behind":
                must_be_current(connection, database.name)
                return Upgraded(before, before, None)
        kept = _keep(database, folder, now, backed_up, told)
        _move(database)
    finally:
        database.close()
    return Upgraded(before, head(), kept)


def _keep(
    database: Database, folder: Path, now: datetime, backed_up: bool, told: Told
) -> Kept | None:
    """Make the backup, or see that there is one."""
    if database.file is not None:
        return backup(database, folder, now, told)
    if not backed_up:
        raise SchemaBehindError(
            f"{database.name}: an older shape cannot be backed up from here",
            safe="nothing was changed",
            remedy="make a backup with pg_dump, then run drypark db upgrade --backed-up",
        )
    return None


def _move(database: Database) -> None:
    """Run the steps in one transaction."""
    with database.writing() as connection:
        move(connection)
        if database.file is not None and connection.execute(text("PRAGMA foreign_key_check")).all():
            raise BrokenRecordsError(
                f"{database.name}: rows would be left that belong to nothing",
                safe="nothing was changed",
                remedy="report this, with the names of both versions",
            )

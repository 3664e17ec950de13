"""The commands that look after the records: backup, restore, copy, verify, export, upgrade."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from api.settings import Settings
from api.store.backup import Kept, backup, restore
from api.store.copying import copy_records
from api.store.database import Database
from api.store.engine import open_database, server_clock
from api.store.export import as_csv, as_json_lines, shop_of
from api.store.files import appearing
from api.store.fold import fold
from api.store.jobs import JobStore
from api.store.upgrading import upgrade
from api.store.verify import Told, verify_records
from api.terminal import Progress, unfinished

__all__ = [
    "make_backup",
    "restore_backup",
    "run_copy",
    "run_export",
    "run_upgrade",
    "run_verify",
]

_NO_BACKUP = "no backup was made; the records are untouched"
_NOT_COPIED = "nothing was kept where they were to go; the records copied from are untouched"


@contextmanager
def _opened(address: str | None = None) -> Iterator[Database]:
    """Yield the shop's records, or others; none are made here."""
    database = open_database(address or Settings().url, make=False)
    try:
        yield database
    finally:
        database.close()


def _say(*lines: str) -> None:
    sys.stdout.write("".join(f"{line}\n" for line in lines))


@contextmanager
def _counted(left: str) -> Iterator[Told]:
    """Yield what says how far the work has come; at Ctrl-C `left` says what was not done."""
    with unfinished(left), Progress() as told:
        yield told


def _what(kept: Kept) -> str:
    rows = ", ".join(f"{n} {table}" for table, n in kept.rows.items() if table != "alembic_version")
    return f"looked at and whole: {rows}"


def _folder(to: str | None) -> Path:
    return Path(to) if to else Settings().data / "backups"


def make_backup(to: str | None) -> None:
    """Make a backup and name it.

    Raises
    ------
    StoreError
        If the records cannot be read, or the backup not be written.
    """
    with _opened() as database, _counted(_NO_BACKUP) as told:
        kept = backup(database, _folder(to), server_clock(), told)
    _say(str(kept.path), _what(kept), f"SHA-256 {kept.sha256}")


def restore_backup(source: str, to: str) -> None:
    """Restore a backup into a new file.

    Raises
    ------
    StoreError
        If it is not whole, or the file is there already.
    """
    with _counted("nothing was restored; the backup is untouched") as told:
        kept = restore(Path(source), Path(to).absolute(), told)
    url = f"sqlite:///{kept.path.as_posix()}"
    _say(str(kept.path), _what(kept), f"to work with it, start with DRYPARK_DATABASE_URL={url}")


def run_copy(to: str, source: str | None) -> None:
    """Copy all records to another place, and compare.

    Raises
    ------
    StoreError
        If the place is taken, or what arrived differs.
    """
    with _opened(source) as database, _counted(_NOT_COPIED) as told:
        tables = copy_records(database, to, told)
    for copied in tables:
        _say(f"{copied.table:9} {copied.rows:8} rows, the same in both places  {copied.sha256}")


def run_verify() -> bool:
    """Go through the records; return whether all is well."""
    with (
        _opened() as database,
        _counted("the records were not gone through to the end; nothing was changed") as told,
        database.reading() as connection,
    ):
        found = verify_records(connection, told)
    wrong = f"{len(found.problems)} things are wrong" if found.problems else "all as written"
    _say(*found.problems)
    _say(
        f"{found.jobs} jobs, {found.events} events, {found.photos} photos: {wrong}",
        f"head of the chain {found.head}",
    )
    return not found.problems


def run_export(job: str, out: str | None, *, csv: bool) -> None:
    """Write the history of a job.

    Raises
    ------
    StoreError
        If there is no such job, or the file is there already.
    """
    with _opened() as database:
        shop = shop_of(database, job)
        rows = fold(job, shop, JobStore(database, server_clock).events(shop, job)).history
    text = as_csv(rows) if csv else as_json_lines(rows)
    if out is None:
        sys.stdout.write(text.replace("\r\n", "\n"))
        return
    with unfinished("no file was written"), appearing(Path(out).absolute()) as part:
        part.write_text(text, encoding="utf-8", newline="")


def run_upgrade(*, backed_up: bool) -> None:
    """Bring the records to the shape of this program.

    Raises
    ------
    StoreError
        If they are newer or broken, or the backup cannot be made.
    """
    url, folder = Settings().url, _folder(None)
    with _counted("the records have the shape they had, all of them") as told:
        done = upgrade(url, folder, server_clock(), backed_up=backed_up, told=told)
    if done.kept:
        _say(f"backup made first: {done.kept.path}", _what(done.kept))
    if done.before == done.after:
        _say(f"the records have the shape {done.after} already; nothing was changed")
    else:
        _say(f"the records went from shape {done.before} to {done.after}")

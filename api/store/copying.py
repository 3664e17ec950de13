"""All records from one database into another, empty one, compared row by row before it counts."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Row, Table, func, insert, select
from sqlalchemy.engine import URL

from api.store.database import Database, connect, file_of, url_of
from api.store.errors import BrokenRecordsError, TargetExistsError
from api.store.files import appearing, must_be_free
from api.store.schema import move, must_be_current, shape_of
from api.store.tables import TABLES
from api.store.verify import Told, quiet

__all__ = ["Copied", "copy_records", "fill"]

_AT_ONCE = 200


@dataclass(frozen=True, slots=True)
class Copied:
    """One table, as it is in both places.

    Attributes
    ----------
    table : its name
    rows : how many
    sha256 : over all rows in the order of their keys
    """

    table: str
    rows: int
    sha256: str


def copy_records(source: Database, target: str | Path, told: Told = quiet) -> list[Copied]:
    """Copy all records to a new file or into an empty database; the source stays as it is.

    Parameters
    ----------
    source : open
    target : a new file, or the URL of an empty database
    told : is called after some rows

    Raises
    ------
    TargetExistsError
        If there is anything at the target.
    BrokenRecordsError
        If what arrived differs from what was sent; nothing is kept of it.
    StoreError
        If either database has trouble.
    """
    url = url_of(target)
    path = file_of(url)
    if path is None:
        return _into(source, url, told)
    must_be_free(path)
    with appearing(path) as part:
        return _into(source, URL.create("sqlite", database=str(part)), told)


def _into(source: Database, url: URL, told: Told) -> list[Copied]:
    database = connect(url)
    try:
        return fill(source, database, told)
    finally:
        database.close()


def fill(source: Database, target: Database, told: Told = quiet) -> list[Copied]:
    """Copy all records into a database that is open and empty, in one transaction.

    Parameters
    ----------
    source, target : open
    told : is called after some rows

    Raises
    ------
    StoreError
        As `copy_records`.
    """
    with source.reading() as old, target.writing() as new:
        must_be_current(old, source.name)
        _make_ready(new, target.name)
        sent = [_send(old, new, table, told) for table in TABLES]
        arrived = [_arrived(new, table) for table in TABLES]
        if sent != arrived:
            different = [a.table for a, b in zip(sent, arrived, strict=True) if a != b]
            raise BrokenRecordsError(
                f"{target.name}: {', '.join(different)} arrived otherwise than they were sent",
                safe="nothing was kept there, and the records copied from are untouched",
                remedy="see that the target keeps text as UTF-8, and try again",
            )
    return sent


def _make_ready(connection: Connection, name: str) -> None:
    """Make the tables, or refuse a place where anything is kept."""
    shape, _found = shape_of(connection)
    if shape == "empty":
        move(connection)
        return
    if shape == "current" and not any(
        connection.execute(select(func.count()).select_from(table)).scalar_one() for table in TABLES
    ):
        return
    raise TargetExistsError(
        f"{name} is not empty", safe="it was not touched", remedy="give an empty database"
    )


@contextmanager
def _rows(connection: Connection, table: Table) -> Iterator[Iterator[Sequence[Row[Any]]]]:
    """Yield the rows of a table by key, some at a time."""
    binary = "BINARY" if connection.dialect.name == "sqlite" else "C"
    asked = select(table).order_by(
        # By bytes, which is the same in every database and country.
        *(key if key.name == "position" else key.collate(binary) for key in table.primary_key)
    )
    with connection.execute(asked, execution_options={"yield_per": _AT_ONCE}) as result:
        yield result.partitions()


def _send(old: Connection, new: Connection, table: Table, told: Told) -> Copied:
    """Copy one table; return what was sent."""
    count, whole = 0, hashlib.sha256()
    every = old.execute(select(func.count()).select_from(table)).scalar_one()
    with _rows(old, table) as rows:
        for some in rows:
            new.execute(insert(table), [dict(row._mapping) for row in some])
            for row in some:
                whole.update(_line(row))
            count += len(some)
            told(table.name, count, every)
    return Copied(table.name, count, whole.hexdigest())


def _arrived(connection: Connection, table: Table) -> Copied:
    """Return what is in one table."""
    count, whole = 0, hashlib.sha256()
    with _rows(connection, table) as rows:
        for row in (row for some in rows for row in some):
            whole.update(_line(row))
            count += 1
    return Copied(table.name, count, whole.hexdigest())


def _line(row: Row[Any]) -> bytes:
    """Return a row as a line that is the same whatever database it was read from."""
    cells = [_cell(value) for value in row]
    return json.dumps(cells, ensure_ascii=True, separators=(",", ":")).encode("ascii") + b"\n"


def _cell(value: object) -> object:
    if isinstance(value, datetime):
        return value.isoformat(timespec="microseconds")
    if isinstance(value, bytes | memoryview):
        return hashlib.sha256(value).hexdigest()
    return value

"""What the database complains about, in words that say what is safe and what to do."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy.exc import DBAPIError
from sqlalchemy.exc import TimeoutError as PoolTimeoutError

from api.store.errors import (
    BrokenRecordsError,
    RecordsBusyError,
    RecordsFullError,
    RecordsReadOnlyError,
    RecordsUnreachableError,
    StoreError,
)

__all__ = ["in_words", "is_busy", "worded"]

_KEPT = "everything that was confirmed before is kept, this was not recorded"

#: Kind of trouble -> (error, what is wrong, what is safe, what to do).
_WORDS: dict[str, tuple[type[StoreError], str, str, str]] = {
    "full": (
        RecordsFullError,
        "there is no room left to write",
        _KEPT,
        "make room on the disk and send it again",
    ),
    "read-only": (
        RecordsReadOnlyError,
        "the records cannot be written to",
        _KEPT,
        "give this program the right to write the file and its folder",
    ),
    "missing": (
        RecordsReadOnlyError,
        "the file of the records cannot be opened or made",
        "nothing was overwritten",
        "see that its folder is there and may be written to",
    ),
    "disk": (
        RecordsFullError,
        "the disk does not take or give what is asked of it",
        _KEPT,
        "see whether it is full, unplugged or failing, and make a backup elsewhere",
    ),
    "broken": (
        BrokenRecordsError,
        "the file is damaged, or is no database",
        "nothing in it was overwritten",
        "keep it, and restore the last backup into a new file: drypark restore BACKUP --to NEWFILE",
    ),
    "busy": (
        RecordsBusyError,
        "somebody else has been writing for too long",
        _KEPT,
        "send it again; if it stays so, see which program holds the file",
    ),
    "unreachable": (
        RecordsUnreachableError,
        "the database does not answer, or does not let us in",
        _KEPT,
        "see that it runs, and that address, name and password are right",
    ),
}

#: SQLite's primary result codes, from its own documentation.
_SQLITE = {
    5: "busy",
    6: "busy",
    8: "read-only",
    10: "disk",
    11: "broken",
    13: "full",
    14: "missing",
    26: "broken",
}
#: SQLSTATE of PostgreSQL, whole or its class (PostgreSQL documentation, appendix A).
_SQLSTATE = {
    "53100": "full",
    "25006": "read-only",
    "42501": "read-only",
    "55P03": "busy",
    "40001": "busy",
    "40P01": "busy",
    "XX001": "broken",
    "XX002": "broken",
    "08": "unreachable",
    "28": "unreachable",
    "3D": "unreachable",
    "53": "unreachable",
    "57": "unreachable",
}


def _kind(cause: BaseException | None) -> str:
    """Return which trouble it is, or nothing when it is none of these."""
    code = getattr(cause, "sqlite_errorcode", None)
    if isinstance(code, int):
        return _SQLITE.get(code & 0xFF, "")
    state = getattr(cause, "sqlstate", None)
    if isinstance(state, str):
        return _SQLSTATE.get(state) or _SQLSTATE.get(state[:2], "")
    if type(cause).__module__.startswith("psycopg") and type(cause).__name__ == "OperationalError":
        return "unreachable"  # no connection was made, so there is no state
    return ""


def is_busy(error: DBAPIError) -> bool:
    """Return whether another writer was in the way."""
    return _kind(error.orig) == "busy"


def worded(cause: BaseException | None, where: str) -> StoreError | None:
    """Return what a database's complaint means, or None when it is no trouble from outside."""
    found = _WORDS.get(_kind(cause))
    if found is None:
        return None
    error, what, safe, remedy = found
    return error(f"{where}: {what}", safe=safe, remedy=remedy)


@contextmanager
def in_words(where: str) -> Iterator[None]:
    """Turn complaints of the database into errors that a person can act on.

    Raises
    ------
    StoreError
        In place of what the database said.
    """
    try:
        yield
    except (DBAPIError, sqlite3.Error) as error:
        told = worded(error.orig if isinstance(error, DBAPIError) else error, where)
        if told is None:
            raise
        raise told from error
    except PoolTimeoutError as error:
        raise RecordsBusyError(
            f"{where}: every connection is in use", safe=_KEPT, remedy="send it again"
        ) from error

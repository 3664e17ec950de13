"""One way into the database: sessions that read, sessions that write, and errors in words.

The one idea: whoever writes takes the lock *before* reading. On SQLite that is BEGIN IMMEDIATE
(a transaction that reads first and writes later fails when another process wrote in between,
whatever the waiting time); on PostgreSQL it is one advisory lock, so that positions in the
record are given in the order in which they become visible.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any, TypeVar

from sqlalchemy import Connection, Engine, create_engine, event, make_url, text
from sqlalchemy.engine import URL
from sqlalchemy.exc import ArgumentError, OperationalError

from api.store.errors import NoRecordsError
from api.store.together import Together
from api.store.trouble import in_words, is_busy

__all__ = ["BUSY_SECONDS", "Database", "connect", "file_of", "url_of"]

_T = TypeVar("_T")
#: How long a writer waits for another one.
BUSY_SECONDS = 5.0
#: Any number will do, as long as nobody else takes it: "drypark" in ASCII.
_LOCK = 0x6472797061726B
_WRITES = "drypark_writes"


def url_of(address: str | Path) -> URL:
    """Return the URL of a database from a URL or from the name of a file.

    Raises
    ------
    NoRecordsError
        If it is neither a file nor a PostgreSQL database.
    """
    spelled = str(address)
    if "://" not in spelled:
        return URL.create("sqlite", database=str(Path(spelled).absolute()))
    try:
        url = make_url(spelled)
    except ArgumentError:
        raise _no_address() from None
    kind = url.get_backend_name()
    if kind in ("postgresql", "postgres"):
        return url.set(drivername="postgresql+psycopg")
    if kind == "sqlite" and url.database and url.database != ":memory:":
        return URL.create("sqlite", database=str(Path(url.database).absolute()))
    raise _no_address()


def _no_address() -> NoRecordsError:
    # The address itself is not repeated: it may hold a password.
    return NoRecordsError(
        "the address of the records cannot be read",
        safe="nothing was changed",
        remedy="give sqlite:///FILE or postgresql://USER@HOST/DATABASE",
    )


def file_of(url: URL) -> Path | None:
    """Return the file of an SQLite database, or None for a server."""
    return Path(url.database or "") if url.get_backend_name() == "sqlite" else None


class Database:
    """A database that is open.

    Attributes
    ----------
    url : where it is
    engine : SQLAlchemy's pool of connections
    name : the address without password, for people
    """

    def __init__(self, url: URL, engine: Engine) -> None:
        self.url, self.engine = url, engine
        path = file_of(url)
        self.file = path
        self.name = str(path) if path else url.render_as_string(hide_password=True)
        self._together = Together(self._transaction)

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """Yield a connection that sees one state of the records.

        Raises
        ------
        StoreError
            If the database is broken, gone or busy.
        """
        with in_words(self.name), self.engine.connect() as connection, connection.begin():
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """Yield a connection that alone may write; what it wrote is kept when it returns.

        Raises
        ------
        StoreError
            If there is no room, no right to write, or another writer doesn't finish.
        """
        with self._together.turn, self._transaction() as connection:
            yield connection

    def write(self, work: Callable[[Connection], _T]) -> _T:
        """Do a small piece of work that writes, together with those of others who wait.

        Parameters
        ----------
        work : takes the connection, returns what the caller gets once it is on the disk

        Raises
        ------
        StoreError
            As `writing`, and whatever the work raises.
        """
        return self._together.write(work)

    @contextmanager
    def _transaction(self) -> Iterator[Connection]:
        """Yield a connection that alone may write, whatever thread it is."""
        with (
            in_words(self.name),
            self.engine.connect().execution_options(**{_WRITES: True}) as connection,
            connection.begin(),
        ):
            yield connection

    def close(self) -> None:
        """Close every connection."""
        self.engine.dispose()


def connect(url: URL, *, enforce: bool = True, wal: bool = True) -> Database:
    """Return a database, not yet looked at; nothing is read or made by this.

    Parameters
    ----------
    url : where it is
    enforce : whether SQLite refuses rows that belong to nothing; off while tables are rebuilt
    wal : whether an SQLite file is set to write-ahead logging; off where one is only looked at
    """
    if url.get_backend_name() == "sqlite":
        engine = create_engine(
            url,
            connect_args={
                "isolation_level": None,
                "check_same_thread": False,
                "timeout": BUSY_SECONDS,
            },
            pool_size=20,
            max_overflow=40,
        )
        pragmas = ["synchronous=FULL", "recursive_triggers=ON"]
        pragmas += ["journal_mode=WAL"] if wal else []
        pragmas += ["foreign_keys=ON" if enforce else "foreign_keys=OFF"]
        event.listen(engine, "connect", _setter(pragmas))
        event.listen(engine, "begin", _begin_sqlite)
    else:
        engine = create_engine(
            url,
            connect_args={"connect_timeout": 10, "options": "-c timezone=UTC"},
            isolation_level="READ COMMITTED",
            pool_size=10,
            max_overflow=20,
            pool_pre_ping=True,
        )
        event.listen(engine, "begin", _begin_postgres)
    return Database(url, engine)


def _setter(pragmas: Sequence[str]) -> Callable[[Any, object], None]:
    """Return what sets, on a new connection, what SQLite forgets between connections."""

    def prepare(connection: Any, _record: object) -> None:
        for pragma in pragmas:
            connection.execute(f"PRAGMA {pragma}").close()

    return prepare


def _writes(connection: Connection) -> bool:
    return bool(connection.get_execution_options().get(_WRITES))


def _begin_sqlite(connection: Connection) -> None:
    """Begin; a writer takes the lock at once, and tries once more when it is taken."""
    if not _writes(connection):
        connection.exec_driver_sql("BEGIN")
        return
    try:
        connection.exec_driver_sql("BEGIN IMMEDIATE")
    except OperationalError as error:
        if not is_busy(error):
            raise
        connection.exec_driver_sql("BEGIN IMMEDIATE")


def _begin_postgres(connection: Connection) -> None:
    """Begin; a writer waits for its turn, a reader sees one state throughout."""
    if _writes(connection):
        connection.execute(text(f"SET LOCAL lock_timeout = '{int(BUSY_SECONDS * 2000)}ms'"))
        connection.execute(text(f"SELECT pg_advisory_xact_lock({_LOCK})"))
    else:
        connection.execute(text("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY"))

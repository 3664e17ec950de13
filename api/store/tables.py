"""The tables of the records, the same on SQLite and PostgreSQL.

The one idea: `events` and `answers` are only ever added to, and the database itself refuses
anything else (`migrations`). The columns of `jobs` behind its id are what the board asks for,
worked out from the events in the same transaction; they can be worked out again at any time.
"""

from __future__ import annotations

from datetime import UTC, datetime

from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    DateTime,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
    UniqueConstraint,
)
from sqlalchemy.engine import Dialect
from sqlalchemy.types import TypeDecorator

__all__ = [
    "TABLES",
    "Moment",
    "answers",
    "events",
    "jobs",
    "metadata",
    "people",
    "photos",
    "sessions",
]


class Moment(TypeDecorator[datetime]):
    """A time in UTC with its zone; SQLite keeps none, so it is put back when read."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Return what is written."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("a time without zone")
        moment = value.astimezone(UTC)
        return moment.replace(tzinfo=None) if dialect.name == "sqlite" else moment

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Return what was read."""
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


metadata = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s",
        "pk": "pk_%(table_name)s",
    }
)
_ID, _SHA = String(64), String(64)

jobs = Table(
    "jobs",
    metadata,
    Column("id", _ID, primary_key=True),
    Column("shop", _ID, nullable=False),
    Column("opened", Moment, nullable=False),
    Column("last", Moment, nullable=False),
    Column("version", Integer, nullable=False),
    Column("hash", _SHA, nullable=False),
    Column("ticket", Text, nullable=False),
    Column("label", Text, nullable=False),
    Column("waiting_for", Text, nullable=False),
    Column("is_open", Boolean, nullable=False),
    Column("comebacks", Integer, nullable=False),
    Column("search", Text, nullable=False),
    Index(None, "shop", "is_open", "last"),
)

events = Table(
    "events",
    metadata,
    Column("position", BigInteger, primary_key=True, autoincrement=False),
    Column("shop", _ID, nullable=False),
    Column("job", _ID, ForeignKey("jobs.id"), nullable=False),
    Column("seq", Integer, nullable=False),
    Column("id", _ID, nullable=False),
    Column("kind", String(20), nullable=False),
    Column("body", Text, nullable=False),
    Column("who_id", _ID, nullable=False),
    Column("who_name", Text, nullable=False),
    Column("who_role", String(20), nullable=False),
    Column("device_time", Moment, nullable=False),
    Column("server_time", Moment, nullable=False),
    Column("knowledge", Text, nullable=False),
    Column("hash", _SHA, nullable=False),
    UniqueConstraint("job", "seq"),
    UniqueConstraint("shop", "id"),
    Index(None, "shop", "position"),
)

people = Table(
    "people",
    metadata,
    Column("id", _ID, primary_key=True),
    Column("shop", _ID, nullable=False),
    Column("name", Text, nullable=False),
    Column("role", String(20), nullable=False),
    Column("password", Text, nullable=True),
    Column("pin", Text, nullable=True),
    Column("active", Boolean, nullable=False),
    Column("added", Moment, nullable=False),
    UniqueConstraint("shop", "name"),
)

photos = Table(
    "photos",
    metadata,
    Column("job", _ID, ForeignKey("jobs.id"), primary_key=True),
    Column("sha", _SHA, primary_key=True),
    Column("data", LargeBinary, nullable=False),
    Column("kept", Moment, nullable=False),
)

answers = Table(
    "answers",
    metadata,
    Column("key", _SHA, primary_key=True),
    Column("document", LargeBinary, nullable=False),
    Column("kept", Moment, nullable=False),
)

sessions = Table(
    "sessions",
    metadata,
    Column("token", _SHA, primary_key=True),
    Column("person", _ID, ForeignKey("people.id"), nullable=False),
    Column("device", Text, nullable=False),
    Column("created", Moment, nullable=False),
    Index(None, "person"),
)

#: In an order in which they can be filled.
TABLES = (jobs, events, people, photos, answers, sessions)

"""The first shape: jobs, events, people, photos, answers, sessions; what may only be added to."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from api.store.tables import Moment

__all__ = ["down_revision", "downgrade", "revision", "upgrade"]

revision = "0001"
down_revision = None

_ID, _SHA, _WORD = sa.String(64), sa.String(64), sa.String(20)
#: Table -> the columns that may not come twice, by which a replacing insert is known.
_ONLY_ADDED = {
    "events": ("position", ("job", "seq"), ("shop", "id")),
    "answers": ("key",),
}


def upgrade() -> None:
    """Go to this shape."""
    op.create_table(
        "jobs",
        sa.Column("id", _ID, nullable=False),
        sa.Column("shop", _ID, nullable=False),
        sa.Column("opened", Moment, nullable=False),
        sa.Column("last", Moment, nullable=False),
        sa.Column("version", sa.Integer, nullable=False),
        sa.Column("hash", _SHA, nullable=False),
        sa.Column("ticket", sa.Text, nullable=False),
        sa.Column("label", sa.Text, nullable=False),
        sa.Column("waiting_for", sa.Text, nullable=False),
        sa.Column("is_open", sa.Boolean, nullable=False),
        sa.Column("comebacks", sa.Integer, nullable=False),
        sa.Column("search", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_jobs"),
    )
    op.create_index("ix_jobs_shop_is_open_last", "jobs", ["shop", "is_open", "last"])
    _create_events()
    _create_people()
    op.create_table(
        "answers",
        sa.Column("key", _SHA, nullable=False),
        sa.Column("document", sa.LargeBinary, nullable=False),
        sa.Column("kept", Moment, nullable=False),
        sa.PrimaryKeyConstraint("key", name="pk_answers"),
    )
    for table, keys in _ONLY_ADDED.items():
        for statement in _guards(op.get_bind().dialect.name, table, keys):
            op.execute(statement)


def _create_events() -> None:
    """Create what hangs on a job."""
    op.create_table(
        "events",
        sa.Column("position", sa.BigInteger, autoincrement=False, nullable=False),
        sa.Column("shop", _ID, nullable=False),
        sa.Column("job", _ID, nullable=False),
        sa.Column("seq", sa.Integer, nullable=False),
        sa.Column("id", _ID, nullable=False),
        sa.Column("kind", _WORD, nullable=False),
        sa.Column("body", sa.Text, nullable=False),
        sa.Column("who_id", _ID, nullable=False),
        sa.Column("who_name", sa.Text, nullable=False),
        sa.Column("who_role", _WORD, nullable=False),
        sa.Column("device_time", Moment, nullable=False),
        sa.Column("server_time", Moment, nullable=False),
        sa.Column("knowledge", sa.Text, nullable=False),
        sa.Column("hash", _SHA, nullable=False),
        sa.PrimaryKeyConstraint("position", name="pk_events"),
        sa.ForeignKeyConstraint(["job"], ["jobs.id"], name="fk_events_job"),
        sa.UniqueConstraint("job", "seq", name="uq_events_job_seq"),
        sa.UniqueConstraint("shop", "id", name="uq_events_shop_id"),
    )
    op.create_index("ix_events_shop_position", "events", ["shop", "position"])
    op.create_table(
        "photos",
        sa.Column("job", _ID, nullable=False),
        sa.Column("sha", _SHA, nullable=False),
        sa.Column("data", sa.LargeBinary, nullable=False),
        sa.Column("kept", Moment, nullable=False),
        sa.PrimaryKeyConstraint("job", "sha", name="pk_photos"),
        sa.ForeignKeyConstraint(["job"], ["jobs.id"], name="fk_photos_job"),
    )


def _create_people() -> None:
    """Create people and where they are signed in."""
    op.create_table(
        "people",
        sa.Column("id", _ID, nullable=False),
        sa.Column("shop", _ID, nullable=False),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("role", _WORD, nullable=False),
        sa.Column("password", sa.Text, nullable=True),
        sa.Column("pin", sa.Text, nullable=True),
        sa.Column("active", sa.Boolean, nullable=False),
        sa.Column("added", Moment, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_people"),
        sa.UniqueConstraint("shop", "name", name="uq_people_shop_name"),
    )
    op.create_table(
        "sessions",
        sa.Column("token", _SHA, nullable=False),
        sa.Column("person", _ID, nullable=False),
        sa.Column("device", sa.Text, nullable=False),
        sa.Column("created", Moment, nullable=False),
        sa.PrimaryKeyConstraint("token", name="pk_sessions"),
        sa.ForeignKeyConstraint(["person"], ["people.id"], name="fk_sessions_person"),
    )
    op.create_index("ix_sessions_person", "sessions", ["person"])


def downgrade() -> None:
    """Go back to nothing."""
    for table in ("sessions", "photos", "events", "answers", "people", "jobs"):
        op.drop_table(table)
    if op.get_bind().dialect.name == "postgresql":
        op.execute("DROP FUNCTION drypark_only_added()")


def _guards(dialect: str, table: str, keys: tuple[str | tuple[str, ...], ...]) -> list[str]:
    """Return the statements that make a table one that is only added to."""
    said = f"{table} are only ever added to"
    if dialect == "sqlite":
        rows = [f"({_same(key)})" for key in keys]
        taken = f"EXISTS (SELECT 1 FROM {table} WHERE {' OR '.join(rows)})"  # noqa: S608
        refuse = f"BEGIN SELECT RAISE(ABORT, '{said}'); END"
        return [
            f"CREATE TRIGGER {table}_no_update BEFORE UPDATE ON {table} {refuse}",
            f"CREATE TRIGGER {table}_no_delete BEFORE DELETE ON {table} {refuse}",
            f"CREATE TRIGGER {table}_no_replace BEFORE INSERT ON {table} WHEN {taken} {refuse}",
        ]
    when = f"ON {table} FOR EACH STATEMENT EXECUTE FUNCTION drypark_only_added()"
    return [
        "CREATE OR REPLACE FUNCTION drypark_only_added() RETURNS trigger LANGUAGE plpgsql AS $$"
        " BEGIN RAISE EXCEPTION '% are only ever added to', TG_TABLE_NAME; END $$",
        f"CREATE TRIGGER {table}_no_change BEFORE UPDATE OR DELETE {when}",
        f"CREATE TRIGGER {table}_no_truncate BEFORE TRUNCATE {when}",
    ]


def _same(key: str | tuple[str, ...]) -> str:
    """Return the condition that a row has the new row's key."""
    columns = (key,) if isinstance(key, str) else key
    return " AND ".join(f"{column} = NEW.{column}" for column in columns)

"""Which shape the records have, and how they get to the shape that this program knows.

The one idea: look first. Nothing is made or changed before it is known that the place is empty,
or holds records of a shape that this program can read.
"""

from __future__ import annotations

from pathlib import Path
from typing import Literal

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, inspect

from api.store.database import Database
from api.store.errors import (
    BrokenRecordsError,
    NoRecordsError,
    SchemaAheadError,
    SchemaBehindError,
)

__all__ = [
    "LOCATIONS",
    "Shape",
    "check_file",
    "ensure",
    "head",
    "move",
    "must_be_current",
    "must_exist",
    "shape_of",
]

_HERE = Path(__file__).parent / "migrations"
#: Folders with steps; a test adds one.
LOCATIONS: tuple[Path, ...] = (_HERE / "versions",)
#: What a place holds.
Shape = Literal["empty", "behind", "current", "ahead", "foreign"]
_MAGIC = b"SQLite format 3\x00"


def _config(connection: Connection | None = None) -> Config:
    config = Config()
    config.set_main_option("script_location", _plain(_HERE))
    config.set_main_option("version_locations", "\n".join(_plain(path) for path in LOCATIONS))
    config.set_main_option("path_separator", "newline")
    config.attributes["connection"] = connection
    return config


def _plain(path: Path) -> str:
    return str(path).replace("%", "%%")


def head() -> str:
    """Return the name of the shape that this program knows."""
    return ScriptDirectory.from_config(_config()).get_current_head() or ""


def shape_of(connection: Connection) -> tuple[Shape, str]:
    """Return what a database holds, and the name of its shape."""
    tables = inspect(connection).get_table_names()
    if not tables:
        return "empty", ""
    if "alembic_version" not in tables:
        return "foreign", ""
    found = MigrationContext.configure(connection).get_current_revision() or ""
    steps = ScriptDirectory.from_config(_config())
    if found == steps.get_current_head():
        return "current", found
    if found == "" and tables == ["alembic_version"]:
        return "empty", ""
    known = {step.revision for step in steps.walk_revisions()}
    return ("behind" if found in known else "ahead"), found


def move(connection: Connection, to: str = "head") -> None:
    """Run the steps to a shape, within the transaction of the connection."""
    if to == "base":
        command.downgrade(_config(connection), to)
    else:
        command.upgrade(_config(connection), to)


def must_exist(path: Path) -> None:
    """Refuse a file that is not there, so that looking makes none.

    Raises
    ------
    NoRecordsError
        If it is not there.
    """
    if not path.exists():
        raise _none(str(path))


def _none(where: str) -> NoRecordsError:
    return NoRecordsError(
        f"{where}: there are no records here",
        safe="nothing was made",
        remedy="start the service once, or give the address of a shop's records",
    )


def must_be_current(connection: Connection, name: str) -> None:
    """Refuse records that this program cannot read or must not write.

    Raises
    ------
    NoRecordsError, SchemaBehindError, SchemaAheadError, BrokenRecordsError
        With one sentence each; nothing was changed.
    """
    shape, found = shape_of(connection)
    if shape == "empty":
        raise _none(name)
    if shape == "behind":
        raise SchemaBehindError(
            f"{name}: the records have the older shape {found}, this program needs {head()}",
            safe="nothing was changed",
            remedy="run drypark db upgrade, which makes a backup first",
        )
    if shape == "ahead":
        raise SchemaAheadError(
            f"{name}: the records have the shape {found or 'unknown'}, which this program does not "
            "know: a newer one wrote them",
            safe="nothing was changed",
            remedy="use the newer program, or restore a backup of its day into a new file",
        )
    if shape == "foreign":
        raise BrokenRecordsError(
            f"{name}: this is a database of something else",
            safe="nothing in it was changed",
            remedy="give the address of a shop's records, or of a new file",
        )


def check_file(path: Path) -> None:
    """Refuse a file that is no database before anything opens it.

    Raises
    ------
    BrokenRecordsError
        If the file is there and is something else.
    """
    if path.is_dir():
        problem = "this is a folder"
    elif path.exists() and path.stat().st_size and _first_bytes(path) != _MAGIC:
        problem = "the file is damaged, or is no database"
    else:
        return
    raise BrokenRecordsError(
        f"{path}: {problem}",
        safe="nothing in it was overwritten",
        remedy="keep it, and restore the last backup into a new file: "
        "drypark restore BACKUP --to NEWFILE",
    )


def ensure(database: Database) -> None:
    """Make the tables in an empty place, and refuse every place that is not as it must be."""
    with database.reading() as connection:
        empty = shape_of(connection)[0] == "empty"
    if empty:
        with database.writing() as connection:
            if shape_of(connection)[0] == "empty":  # unless another process was quicker
                move(connection)
    with database.reading() as connection:
        must_be_current(connection, database.name)


def _first_bytes(path: Path) -> bytes:
    with path.open("rb") as file:
        return file.read(len(_MAGIC))

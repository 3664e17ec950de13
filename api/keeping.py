"""Arguments of the commands that look after the records: backup, restore, records, db.

As in `api.command`, the work is imported only when a command runs.
"""

from __future__ import annotations

from typing import Annotated

import typer

__all__ = ["add_keeping"]

_CHECK_FAILED = 1


def add_keeping(app: typer.Typer) -> None:
    """Add the commands to the command line."""
    app.command("backup")(_backup)
    app.command("restore")(_restore)
    records = typer.Typer(help="The records of the shop.", rich_markup_mode=None)
    records.command("copy")(_copy)
    records.command("verify")(_verify)
    records.command("export")(_export)
    app.add_typer(records, name="records")
    db = typer.Typer(help="The database that the records lie in.", rich_markup_mode=None)
    # With a callback a group of one command keeps the command's name.
    db.callback()(_database)
    db.command("upgrade")(_upgrade)
    app.add_typer(db, name="db")


def _database() -> None:
    """Look after the database that the records lie in."""


def _backup(
    to: Annotated[
        str | None,
        typer.Option("--to", metavar="FOLDER", help="None: backups in the data folder."),
    ] = None,
) -> None:
    """Make a backup while the shop works, and look whether it is whole.

    Example: drypark backup --to E:/backups
    """
    from api.commands import records as command

    command.make_backup(to)


def _restore(
    source: Annotated[str, typer.Argument(metavar="BACKUP", help="A file of drypark backup.")],
    to: Annotated[str, typer.Option("--to", metavar="NEWFILE", help="A file that is not there.")],
) -> None:
    """Restore a backup into a new file; nothing is overwritten.

    Example: drypark restore drypark-20260302-181500.sqlite3 --to restored.sqlite3
    """
    from api.commands import records as command

    command.restore_backup(source, to)


def _copy(
    to: Annotated[
        str, typer.Option("--to", metavar="URL", help="An empty database, or a new file.")
    ],
    source: Annotated[
        str | None,
        typer.Option("--from", metavar="URL", help="None: the shop's records."),
    ] = None,
) -> None:
    """Copy all records into another database, and compare counts and hashes.

    Example: drypark records copy --to postgresql://drypark@server/shop
    """
    from api.commands import records as command

    command.run_copy(to, source)


def _verify() -> None:
    """Show that nothing was changed or cut out since it was written.

    Example: drypark records verify
    """
    from api.commands import records as command

    if not command.run_verify():
        raise typer.Exit(_CHECK_FAILED)


def _export(
    job: Annotated[str, typer.Argument(metavar="JOB", help="The job's id, as in its address.")],
    csv: Annotated[
        bool, typer.Option("--csv", help="A table for spreadsheets instead of JSON lines.")
    ] = False,
    out: Annotated[
        str | None,
        typer.Option("--out", metavar="FILE", help="A new file; none: standard output."),
    ] = None,
) -> None:
    """Write everything that happened to a job.

    Example: drypark records export nlohW2Ei2woJPnMM --csv --out job.csv
    """
    from api.commands import records as command

    command.run_export(job, out, csv=csv)


def _upgrade(
    backed_up: Annotated[
        bool, typer.Option("--backed-up", help="There is a backup of the PostgreSQL database.")
    ] = False,
) -> None:
    """Bring the records to the shape this program needs; a backup is made first.

    Example: drypark db upgrade
    """
    from api.commands import records as command

    command.run_upgrade(backed_up=backed_up)

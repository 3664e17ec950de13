"""Arguments of `drypark cert`; the work is imported only when it runs."""

from __future__ import annotations

from typing import Annotated

import typer

__all__ = ["add_trusting"]

_cert = typer.Typer(help="The shop's own certificates.", rich_markup_mode=None)


def add_trusting(app: typer.Typer) -> None:
    """Add the command to the command line."""
    _cert.callback()(_group)
    _cert.command("create")(_create)
    app.add_typer(_cert, name="cert")


def _group() -> None:
    """Make the shop's own certificates."""


def _create(
    host: Annotated[
        list[str] | None,
        typer.Option(
            "--host",
            metavar="NAME",
            help="Name or address that tablets type; may be given more than once. None: the "
            "names of DRYPARK_HOSTS and of this machine.",
        ),
    ] = None,
) -> None:
    """Make the shop's authority, once, and a certificate for this machine."""
    from api.commands import cert as command

    command.run(host or ())

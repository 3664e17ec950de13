"""Arguments of the commands around the service: serve, doctor, people.

They stand apart from `api.command`, as `api.upkeep` does; the work is imported only when a
command runs.
"""

from __future__ import annotations

from typing import Annotated

import typer

__all__ = ["add_serving"]

_people = typer.Typer(help="The people of the shop.", rich_markup_mode=None)
_Name = Annotated[str, typer.Argument(metavar="NAME", help="The name, in quotes if it has parts.")]
_AsJson = Annotated[bool, typer.Option("--json", help="Write JSON instead of text.")]


def add_serving(app: typer.Typer) -> None:
    """Add the commands to the command line."""
    app.command("serve")(_serve)
    app.command("doctor")(_doctor)
    _people.command("add")(_add)
    _people.command("list")(_list)
    _people.command("password")(_password)
    _people.command("leave")(_leave)
    app.add_typer(_people, name="people")


def _serve(  # noqa: PLR0913 -- one for each option
    demo: Annotated[
        bool, typer.Option("--demo", help="The invented shop, in a folder that is thrown away.")
    ] = False,
    host: Annotated[
        str | None,
        typer.Option("--host", metavar="H", help="Address to listen on; none: this machine only."),
    ] = None,
    port: Annotated[
        int | None,
        typer.Option("--port", metavar="N", min=0, max=65535, help="Port; none: 8000."),
    ] = None,
    cert: Annotated[
        str | None,
        typer.Option("--cert", metavar="FILE.pem", help="Certificate of this machine, for https."),
    ] = None,
    key: Annotated[
        str | None, typer.Option("--key", metavar="FILE.pem", help="Key of that certificate.")
    ] = None,
    tls: Annotated[
        bool, typer.Option("--tls", help="https with what `drypark cert create` made.")
    ] = False,
) -> None:
    """Start the pages for the bay."""
    from api.commands import serve as command

    if tls:
        from api.commands.cert import files

        cert, key = files()
    command.run(command.Asked(demo, host, port, cert, key))


def _doctor(as_json: _AsJson = False) -> None:
    """Say whether everything is right that the service needs."""
    from api.commands import doctor as command

    if not command.run(as_json=as_json):
        raise typer.Exit(1)


def _add(
    name: _Name,
    role: Annotated[
        str,
        typer.Option("--role", metavar="ROLE", help="technician, senior, trainee or owner."),
    ] = "technician",
    pin: Annotated[
        bool, typer.Option("--pin", help="Ask for a PIN for the shop's tablets as well.")
    ] = False,
) -> None:
    """Add somebody; the password is asked for, or read from standard input."""
    from api.commands import people as command

    command.add(name, role, with_pin=pin)


def _list(as_json: _AsJson = False) -> None:
    """List the people of the shop."""
    from api.commands import people as command

    command.show(as_json=as_json)


def _password(
    name: _Name,
    pin: Annotated[bool, typer.Option("--pin", help="Set the PIN instead.")] = False,
) -> None:
    """Set a new password, and sign that person out everywhere."""
    from api.commands import people as command

    command.set_secret(name, pin=pin)


def _leave(name: _Name) -> None:
    """Let somebody sign in no more; the name stays in the records."""
    from api.commands import people as command

    command.leave(name)

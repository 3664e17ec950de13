"""Arguments of the commands that look after the knowledge: stats, notes, export, query.

They stand apart from `api.command` because they are for the senior technician's desk, not
for the bay. As there, the work is imported only when a command runs.
"""

from __future__ import annotations

from typing import Annotated

import typer

__all__ = ["add_upkeep"]

_AsJson = Annotated[bool, typer.Option("--json", help="Write JSON instead of text.")]
_Folder = Annotated[
    str | None,
    typer.Option("--folder", metavar="FOLDER", help="Knowledge folder; none: the shipped one."),
]


def add_upkeep(group: typer.Typer) -> None:
    """Add the commands to a group."""
    group.command("export")(_export)
    group.command("query")(_query)
    group.command("release-notes")(_release_notes)
    group.command("stats")(_stats)


def _stats(
    folder: _Folder = None,
    cases: Annotated[
        str | None,
        typer.Option(
            "--cases", metavar="FOLDER", help="Cases to weigh links on; none: practice cases."
        ),
    ] = None,
    quick: Annotated[bool, typer.Option("--quick", help="Counts only, no weights.")] = False,
    as_json: _AsJson = False,
) -> None:
    """Count the knowledge, and find the links that matter most for the ranking."""
    from api.commands import statistics as command

    command.run(folder, cases, quick=quick, as_json=as_json)


def _release_notes(
    old: Annotated[
        str | None,
        typer.Option(
            "--from", metavar="FOLDER", help="The older knowledge; none: a first release."
        ),
    ] = None,
    new: Annotated[
        str | None,
        typer.Option("--to", metavar="FOLDER", help="The newer one; none: the shipped knowledge."),
    ] = None,
    as_json: _AsJson = False,
) -> None:
    """Say what differs between two knowledge folders, as Markdown."""
    from api.commands import release_notes as command

    command.run(old, new, as_json=as_json)


def _export(
    form: Annotated[
        str, typer.Option("--format", metavar="FORMAT", help="turtle, jsonld or graphml.")
    ] = "turtle",
    out: Annotated[
        str | None,
        typer.Option("--out", metavar="FILE", help="Write to a file instead of standard output."),
    ] = None,
    into: Annotated[
        str | None,
        typer.Option("--into", metavar="FOLDER", help="Write the Turtle files into a new folder."),
    ] = None,
) -> None:
    """Write the knowledge as one document, or as its files into a new folder."""
    from api.commands import export as command

    command.run(form, out, into)


def _query(
    text: Annotated[
        str,
        typer.Argument(
            metavar="FILE|TEXT", help="A SPARQL query, a file that holds one, or - for input."
        ),
    ],
    folder: _Folder = None,
    seconds: Annotated[
        float, typer.Option("--seconds", min=0.1, max=60.0, help="How long it may take.")
    ] = 2.0,
    as_json: _AsJson = False,
) -> None:
    """Ask the knowledge a SPARQL query, read-only."""
    from api.commands import query as command

    command.run(text, folder, seconds=seconds, as_json=as_json)

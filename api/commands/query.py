"""`drypark knowledge query`: SPARQL over the knowledge, read-only."""

from __future__ import annotations

import sys
from pathlib import Path

from api.commands.output import write_json
from api.commands.sources import knowledge_folder, standard_input
from api.terminal import Page
from api.terminal.table import show_table
from graph.query import TEXT_LIMIT, Limits, Queries, Table
from triage.errors import DocumentError

__all__ = ["run"]


def run(given: str, folder: str | None, *, seconds: float, as_json: bool) -> None:
    """Write the answer to a query, as a table or in the SPARQL 1.1 results JSON format.

    Parameters
    ----------
    given : the query itself, the name of a file that holds it, or ``-``
    folder : knowledge folder; None: the shipped one
    seconds : how long it may take

    Raises
    ------
    DocumentError
        If the query cannot be read, is not allowed, or takes too long.
    """
    text = _query_text(given)
    limits = Limits(seconds=seconds)
    with Queries(knowledge_folder(folder), limits) as queries:
        table = queries.ask(text)
    if as_json:
        write_json(table.document())
    else:
        _show(table, Page())
    if table.cut:
        what = f"{limits.rows} rows" if table.cut == "rows" else f"{len(table.rows)} rows by size"
        sys.stderr.write(
            f"drypark: cut at {what}; there is more: narrow the query, or use LIMIT and OFFSET\n"
        )


def _query_text(given: str) -> str:
    """Return the query: an argument with a space in it is one, anything else names a file."""
    if given == "-":
        return _decoded(standard_input(), "standard input")
    if any(char.isspace() for char in given.strip()) or "{" in given:
        return given
    path = Path(given)
    try:
        with path.open("rb") as file:
            return _decoded(file.read(TEXT_LIMIT + 1), given)
    except OSError as error:
        raise DocumentError(
            f"the file cannot be read ({(error.strerror or 'unknown reason').lower()})",
            where=given,
            allowed="a query, a file that holds one, or - for standard input",
            remedy="correct the name",
        ) from None


def _decoded(data: bytes, where: str) -> str:
    """Return bytes as text."""
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise DocumentError(
            f"byte {error.start} is not UTF-8",
            where=where,
            allowed="text in UTF-8",
            remedy="save it as UTF-8",
        ) from None


def _show(table: Table, page: Page) -> None:
    """Write the answer as a table; an answer without rows says so."""
    if table.boolean is not None:
        page.line("yes" if table.boolean else "no")
    elif table.rows:
        show_table(page, table.columns, table.texts())
    else:
        page.line("nothing fits")

"""`drypark knowledge export`: the knowledge as files, or as one document for other programs."""

from __future__ import annotations

import sys
from pathlib import Path

from api.commands.knowledge import export as export_files
from api.commands.output import whole_file
from api.terminal import unfinished
from graph.export import export
from graph.load import load_knowledge
from triage.errors import DocumentError

__all__ = ["run"]


def run(form: str, out: str | None, into: str | None) -> None:
    """Write one document to a file or to standard output, or the files into a new folder.

    Raises
    ------
    DocumentError
        If the options contradict each other, or the file cannot be written.
    UnknownTermError
        If there is no such format.
    """
    if into is not None:
        if form != "turtle" or out is not None:
            raise DocumentError(
                "a folder and one document at once",
                where="--into",
                allowed="--into FOLDER, or --format and --out",
                remedy="leave one out",
            )
        export_files(into)
        return
    text = export(load_knowledge(), form)
    if out is None:
        sys.stdout.write(text)
        return
    with unfinished("no file was written"), whole_file(Path(out)) as part:
        part.write_text(text, encoding="utf-8", newline="\n")

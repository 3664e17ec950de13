"""`drypark knowledge`: check the files, show one term, write everything out."""

from __future__ import annotations

import sys
from pathlib import Path

from api.commands.output import write_folder
from api.commands.sources import knowledge_folder
from api.terminal import Page, Progress, unfinished
from api.terminal.page import plain
from graph.load import load_knowledge
from graph.validate import validate
from graph.view import view_text
from graph.write import write_knowledge

__all__ = ["check", "export", "show"]


def check(folder: str | None) -> bool:
    """Write everything that is wrong with the files, a row a line; return whether none is an error.

    Raises
    ------
    DocumentError
        If the folder is none.
    """
    where = knowledge_folder(folder)
    left = "the knowledge was not looked at to the end; nothing was changed"
    with unfinished(left), Progress() as told:
        report = validate(where, told)
    for row in report.rows:
        sys.stdout.write(f"{plain(str(row))}\n")
    counts = report.counts
    looked = sum(report.looked_at.values())
    verdict = "passed" if report.passed else "failed"
    Page().line(
        f"{looked} terms looked at: {counts['ERROR']} errors, {counts['WARN']} warnings, "
        f"{counts['INFO']} remarks: {verdict}"
    )
    return report.passed


def show(term: str) -> None:
    """Write what is said about a term; a place behind it is left aside.

    Raises
    ------
    UnknownTermError
        If the term is not known.
    """
    page = Page()
    for line in view_text(load_knowledge(), term.partition("@")[0]).splitlines():
        indent = len(line) - len(line.lstrip())
        page.item(" " * indent, line.strip(), indent=0, column=indent + 2 if indent else 0)


def export(into: str | None) -> None:
    """Write the knowledge as Turtle, to standard output or into a new folder.

    Raises
    ------
    DocumentError
        If the folder is there already.
    """
    texts = write_knowledge(load_knowledge())
    if into is None:
        for name in sorted(texts):
            sys.stdout.write(f"# {name}\n{texts[name]}\n")
        return
    with unfinished("no folder was made"):
        write_folder(Path(into), texts)

"""Where a command's input comes from: a file, a folder, or standard input for a dash."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from api.documents import MAX_BYTES, Case, check_terms, read_case
from graph.terms import Knowledge
from triage.errors import DocumentError, TriageError

__all__ = ["case_from", "know_terms", "knowledge_folder", "standard_input"]


def case_from(name: str) -> Case:
    """Return the case in a file, or on standard input for ``-``.

    Raises
    ------
    DocumentError
        If it cannot be read, is no case, or is too large; it names the file.
    """
    with _named(name):
        return read_case(standard_input() if name == "-" else name)


def know_terms(name: str, case: Case, knowledge: Knowledge) -> None:
    """See that all ids of a case are known.

    Raises
    ------
    TriageError
        If one is not; it names the file.
    """
    with _named(name):
        check_terms(case, knowledge)


def standard_input() -> bytes:
    """Return what stands on standard input, never more than one byte over what is allowed."""
    return sys.stdin.buffer.read(MAX_BYTES + 1)


def knowledge_folder(name: str | None) -> Path | None:
    """Return a folder of knowledge files that somebody named; None is the shipped knowledge.

    Raises
    ------
    DocumentError
        If there is no such folder.
    """
    if name is not None and not Path(name).is_dir():
        raise DocumentError(
            "there is no such folder",
            where=name,
            allowed="a folder of Turtle files, or nothing for the shipped knowledge",
            remedy="correct the name",
        )
    return None if name is None else Path(name)


@contextmanager
def _named(name: str) -> Iterator[None]:
    """Say of which file a problem is, in each of its lines that does not say it already."""
    what = "standard input" if name == "-" else name
    try:
        yield
    except TriageError as error:
        lines = str(error).splitlines()
        error.args = ("\n".join(x if what and what in x else f"{what}: {x}" for x in lines),)
        raise

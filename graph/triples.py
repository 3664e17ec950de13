"""From Turtle files to statements, each with the file it stands in.

The parser is pyoxigraph's: ten times as fast as rdflib's, and a first answer must
not wait for it. Order of the statements is kept. Nothing is understood here; what
cannot be parsed becomes a row of the report, and the other files are read on.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from importlib.resources.abc import Traversable
from pathlib import Path

import pyoxigraph as ox

from graph.namespaces import TERMS, compact, expand
from graph.report import ERROR, Row

__all__ = ["Folder", "Resource", "Statements", "Value", "read_statements", "turtle_files"]

Folder = Path | Traversable
#: An object as it was read.
Value = ox.NamedNode | ox.BlankNode | ox.Literal

_TYPE = expand("rdf:type")
_FIRST, _REST = expand("rdf:first"), expand("rdf:rest")


@dataclass(slots=True)
class Resource:
    """One subject: what its statements say, in reading order."""

    file: str
    said: dict[str, list[Value]] = field(default_factory=dict)


@dataclass(slots=True)
class Statements:
    """All that a folder says, by subject IRI, and what could not be read."""

    resources: dict[str, Resource] = field(default_factory=dict)
    lists: dict[str, tuple[Value, str]] = field(default_factory=dict)  # cell -> first, rest
    texts: dict[str, str] = field(default_factory=dict)  # file -> its text
    rows: list[Row] = field(default_factory=list)

    def where(self, iri: str, file: str = "") -> str:
        """Return file and line at which the statements about a subject begin."""
        name = file or (self.resources[iri].file if iri in self.resources else "")
        if name not in self.texts:
            return name or "the knowledge folder"
        subject = re.compile(rf"^(?:{re.escape(compact(iri))}|<{re.escape(iri)}>)(?=\s)", re.M)
        starts = [found.start() for found in subject.finditer(self.texts[name])]
        if not starts:
            return name
        return f"{name}:{self.texts[name].count(chr(10), 0, starts[-1]) + 1}"

    def column(self, cell: str) -> Iterator[Value]:
        """Yield the members of an RDF list; a list that bites its tail ends there."""
        seen = set()
        while cell in self.lists and cell not in seen:
            seen.add(cell)
            first, cell = self.lists[cell]
            yield first


def turtle_files(folder: Folder) -> dict[str, bytes]:
    """Return the Turtle files of a folder by name, sorted."""
    names = sorted(entry.name for entry in folder.iterdir() if entry.name.endswith(".ttl"))
    return {name: folder.joinpath(name).read_bytes() for name in names}


def read_statements(files: dict[str, bytes]) -> Statements:
    """Return what the files say.

    Parameters
    ----------
    files : dict of file name to bytes
        Turtle in UTF-8.

    Returns
    -------
    Statements
        `rows` holds one row for each file that is not UTF-8 or not Turtle, with the
        line at which the parser gave up. O(bytes).
    """
    statements = Statements()
    for name, content in files.items():
        try:
            statements.texts[name] = content.decode("utf-8")
            _read_file(name, content, statements)
        except UnicodeDecodeError as error:
            line = content.count(b"\n", 0, error.start) + 1
            statements.rows.append(
                Row(
                    ERROR,
                    "unreadable-file",
                    "",
                    f"byte {error.start} is not UTF-8",
                    f"{name}:{line}",
                    "save the file as UTF-8",
                )
            )
        except SyntaxError as error:
            reason = str(error.msg).rpartition(": ")[2].rstrip(".").lower()
            statements.rows.append(
                Row(
                    ERROR,
                    "unreadable-file",
                    "",
                    f"the file is not Turtle from here on: {reason}",
                    f"{name}:{error.lineno or 1}",
                    "correct the statement at this line or the one before it",
                )
            )
    return statements


def _read_file(name: str, content: bytes, statements: Statements) -> None:
    """Add the statements of one file."""
    firsts: dict[str, Value] = {}
    quads = list(ox.parse(content, format=ox.RdfFormat.TURTLE))  # all of a file or nothing
    for quad in quads:
        value = quad.object
        if isinstance(quad.subject, ox.Triple) or isinstance(value, ox.Triple):
            raise SyntaxError("a statement about a statement is not used here")
        subject, predicate = quad.subject.value, quad.predicate.value
        if predicate == _FIRST:
            firsts[subject] = value
        elif predicate == _REST:
            if subject in firsts:
                statements.lists[subject] = (firsts[subject], value.value)
        else:
            _say(statements, name, (subject, predicate, value))


def _say(statements: Statements, name: str, triple: tuple[str, str, Value]) -> None:
    """Add one statement, unless it describes a subject a second time."""
    subject, predicate, value = triple
    held = statements.resources.get(subject)
    if held is None:
        held = statements.resources[subject] = Resource(name)
    if predicate == _TYPE and _TYPE in held.said:
        statements.rows.append(_twice(statements, subject, name))
    else:
        held.said.setdefault(predicate, []).append(value)


def _twice(statements: Statements, iri: str, file: str) -> Row:
    """Return the row about a subject that is described a second time."""
    term = iri.removeprefix(TERMS)
    first = statements.where(iri)
    return Row(
        ERROR,
        "duplicate-id",
        term,
        f"{term!r} is described twice, first at {first}",
        statements.where(iri, file),
        "give the second one an id of its own, or merge the two",
    )

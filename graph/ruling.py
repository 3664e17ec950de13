"""The rules: one violation a file, run as SPARQL over all statements.

Each file in ``graph/rules`` begins with its intent and selects ``?entity ?property
?value``. Level, sentence and remedy stand in one table, ``severity.tsv``, so that
reading the table is reading what is checked. Before the rules run, every active
link is said once more as a plain ``:leadsTo`` (star families spelled out), so that a
rule can follow paths.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import pyoxigraph as ox

from graph.namespaces import PREFIXES, compact, term_of
from graph.report import Row
from graph.triples import Statements
from graph.wording import quoted

__all__ = ["Severity", "broken_rules", "rule_texts", "severities"]

_DERIVE = f"""
PREFIX : <{PREFIXES[""]}>
PREFIX owl: <{PREFIXES["owl"]}>
INSERT {{ ?source :leadsTo ?reached }} WHERE {{
    ?link :from ?source ; :to ?target .
    FILTER NOT EXISTS {{ ?link owl:deprecated true }}
    OPTIONAL {{ ?code :family ?target }}
    BIND(COALESCE(?code, ?target) AS ?reached)
}}
"""


@dataclass(frozen=True, slots=True)
class Severity:
    """One line of the table: how bad, what to say, what to do."""

    level: str
    sentence: str
    remedy: str


@cache
def severities() -> Mapping[str, Severity]:
    """Return the table of rules: name -> level, sentence, remedy."""
    lines = files("graph").joinpath("rules", "severity.tsv").read_text("utf-8").splitlines()[1:]
    cells = (line.split("\t") for line in lines)
    return {name: Severity(level, sentence, remedy) for name, level, sentence, remedy in cells}


@cache
def rule_texts() -> Mapping[str, str]:
    """Return the query of every rule by its name, sorted."""
    folder = files("graph").joinpath("rules")
    names = sorted(entry.name for entry in folder.iterdir() if entry.name.endswith(".rq"))
    return {name[: -len(".rq")]: folder.joinpath(name).read_text("utf-8") for name in names}


def broken_rules(content: Mapping[str, bytes], statements: Statements) -> Iterator[Row]:
    """Yield one row for every violation, rule by rule, terms in order.

    Parameters
    ----------
    content : mapping of file name to bytes
        The files, every one of them readable as Turtle.
    statements : Statements
        The same files as they were read: they know the lines.
    """
    store = ox.Store()
    for turtle in content.values():
        store.bulk_load(turtle, format=ox.RdfFormat.TURTLE)
    store.update(_DERIVE)
    for name, text in rule_texts().items():
        solutions = store.query(text)
        assert isinstance(solutions, ox.QuerySolutions)
        found = [(_iri(row["entity"]), _iri(row["property"]), row["value"]) for row in solutions]
        for entity, about, value in sorted(found, key=str):
            yield _row(name, (entity, about, value), statements)


def _iri(term: object) -> str:
    """Return the IRI of a selected term."""
    assert isinstance(term, ox.NamedNode)
    return term.value


def _row(name: str, found: tuple[str, str, object], statements: Statements) -> Row:
    """Return the row of one violation."""
    entity, about, value = found
    severity = severities()[name]
    shown = _iri(value) if isinstance(value, ox.NamedNode) else getattr(value, "value", "")
    sentence = severity.sentence.format(entity=quoted(entity), value=quoted(shown))
    return Row(
        severity.level,
        name,
        term_of(entity) or entity,
        sentence,
        statements.where(entity),
        severity.remedy,
        compact(about),
    )

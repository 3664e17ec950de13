"""The canonical writer, held against the dataclasses, the files and another reader."""

from __future__ import annotations

import dataclasses
import difflib
from decimal import Decimal
from pathlib import Path
from typing import Any

import pyoxigraph as ox
import pytest
import rdflib
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from rdflib.compare import isomorphic
from rdflib.namespace import DCTERMS, OWL, PROV, SKOS

from graph import terms
from graph.kinds import KINDS, PROVENANCE, RELEASE
from graph.load import examine, load_knowledge, shipped_folder
from graph.lookup import ALLOWED, PREDICATES, RECORDS
from graph.namespaces import PREFIXES, TERMS
from graph.rdf import vocabulary
from graph.schema import Field
from graph.terms import Knowledge
from graph.triples import turtle_files
from graph.write import number, write_knowledge
from tests.graph.knowledge_sample import any_knowledge, sample

ROOT = Path(__file__).parents[2]
MINIMAL = ROOT / "fixtures" / "minimal"
SHIPPED = turtle_files(shipped_folder())
TABLES: dict[str, tuple[type[Any], tuple[Field, ...]]] = {
    **{kind.name: (kind.type, kind.fields) for kind in KINDS},
    **{
        field.part.name: (field.part.type, field.part.fields)
        for kind in KINDS
        for field in kind.fields
        if field.part is not None and field.part.type is not None
    },
    "Provenance": (terms.Provenance, PROVENANCE),
}


def encoded(knowledge: Knowledge) -> dict[str, bytes]:
    """Return the files of some knowledge as bytes."""
    return {name: text.encode() for name, text in write_knowledge(knowledge).items()}


@pytest.mark.parametrize("name", TABLES)
def test_the_table_lists_every_field_of_the_dataclass(name: str) -> None:
    """A field that the table forgets would be lost in silence."""
    holder, fields = TABLES[name]
    stated = {field.name for field in dataclasses.fields(holder)} - {"id", "provenance"}

    assert {field.name for field in fields} == stated


def test_every_dataclass_of_the_knowledge_is_in_the_table() -> None:
    """The sweep above must not miss a class."""
    classes = {name for name in terms.__all__ if isinstance(getattr(terms, name), type)}

    assert classes - {"Knowledge", "Place"} == set(TABLES)


def test_every_field_of_the_knowledge_is_written() -> None:
    """A collection that no kind claims would be lost in silence."""
    claimed = {kind.attribute for kind in KINDS} | {field.name for field in RELEASE}

    assert {field.name for field in dataclasses.fields(Knowledge)} == claimed | {"sha256"}


def test_the_sample_says_something_in_every_field() -> None:
    """A sample that leaves a field at its default proves nothing about it."""
    silent = set()
    for name, (holder, _) in TABLES.items():
        values = [value for value in _values(sample()) if type(value) is holder]
        for field in dataclasses.fields(holder):
            if all(getattr(value, field.name) in ("", (), None, field.default) for value in values):
                silent.add(f"{name}.{field.name}")

    assert silent == set()


def test_the_sample_comes_back_unchanged() -> None:
    """Star families, deprecated links, infinite bounds and odd characters survive."""
    decoded = examine(encoded(sample()))

    assert decoded.rows == []
    assert decoded.knowledge() == sample()


@given(any_knowledge())
@settings(max_examples=30, deadline=None, suppress_health_check=list(HealthCheck))
def test_any_knowledge_comes_back_unchanged(knowledge: Knowledge) -> None:
    """Knowledge -> Turtle -> Knowledge is the identity, and writing again gives the same text."""
    decoded = examine(encoded(knowledge))

    assert decoded.rows == []
    assert decoded.knowledge() == knowledge
    assert encoded(decoded.knowledge()) == encoded(knowledge)


def test_the_shipped_files_are_canonical() -> None:
    """Writing what was read gives the same bytes, so a difference is a difference in content."""
    written = encoded(load_knowledge())

    assert written.keys() == SHIPPED.keys()
    assert [name for name in SHIPPED if written[name] != SHIPPED[name]] == []


def test_the_shipped_files_are_there() -> None:
    """The comparison above must not be one of nothing with nothing."""
    assert len(SHIPPED) > 50


def test_the_minimal_fixture_is_canonical() -> None:
    """A fixture that people copy from shows the form."""
    assert encoded(load_knowledge(MINIMAL)) == turtle_files(MINIMAL)


def test_the_order_of_a_mapping_does_not_change_the_text() -> None:
    """Two people who state the same things get the same files."""
    knowledge = load_knowledge(MINIMAL)
    turned = dataclasses.replace(
        knowledge,
        causes=dict(reversed(list(knowledge.causes.items()))),
        links=tuple(reversed(knowledge.links)),
    )

    assert encoded(turned) == encoded(knowledge)


def test_one_changed_strength_changes_one_line() -> None:
    """A reviewer must see one changed number as one changed line."""
    knowledge = load_knowledge(MINIMAL)
    first = dataclasses.replace(knowledge.links[0], strength=0.123)
    changed = dataclasses.replace(knowledge, links=(first, *knowledge.links[1:]))
    before = "\n".join(write_knowledge(knowledge).values()).splitlines()
    after = "\n".join(write_knowledge(changed).values()).splitlines()
    lines = [line for line in difflib.ndiff(before, after) if line.startswith(("+ ", "- "))]

    assert lines == ["-     :strength 0.9 ;", "+     :strength 0.123 ;"]


@pytest.mark.parametrize("name", ["sample", "minimal", "links-hub.ttl"])
def test_rdflib_reads_the_same_statements(name: str) -> None:
    """Two parsers written by different people agree on what the text says."""
    content = {"sample": encoded(sample()), "minimal": turtle_files(MINIMAL)}.get(
        name, {name: SHIPPED.get(name, b"")}
    )
    ours, theirs = rdflib.Graph(), rdflib.Graph()
    for text in content.values():
        triples = ox.serialize(
            ox.parse(text, format=ox.RdfFormat.TURTLE), format=ox.RdfFormat.N_TRIPLES
        )
        ours.parse(data=triples, format="nt")
        theirs.parse(data=text, format="turtle")

    assert len(theirs) > 10
    assert isomorphic(ours, theirs)


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_a_number_reads_back_as_itself(value: float) -> None:
    """Python's decimal module, which knows no floats, reads the same number."""
    assert float(Decimal(number(value))) == value
    assert "e" not in number(value).lower()


def test_every_own_term_in_use_is_described_in_the_vocabulary() -> None:
    """A predicate without a description means whatever its reader thinks."""
    described = {
        str(subject) for subject in vocabulary().subjects() if str(subject)[:7] == "https:/"
    }
    used = {iri for iri in PREDICATES.values() if iri.startswith(TERMS)}
    used |= {TERMS + name for name in ALLOWED} | RECORDS

    assert used - described == set()


def test_the_vocabulary_describes_nothing_that_is_not_in_use() -> None:
    """Words left over mislead; leadsTo alone is derived for the rules and never written."""
    own = {str(subject) for subject in vocabulary().subjects() if str(subject).startswith(TERMS)}
    used = set(PREDICATES.values()) | {TERMS + name for name in ALLOWED} | RECORDS

    assert own - used == {TERMS + "leadsTo"}


@pytest.mark.parametrize(
    ("prefix", "vocabulary_of"),
    [("skos", SKOS), ("prov", PROV), ("dcterms", DCTERMS), ("owl", OWL)],
)
def test_borrowed_predicates_exist_where_they_are_borrowed(prefix: str, vocabulary_of: Any) -> None:
    """Rdflib ships the published term lists of these W3C and DCMI vocabularies."""
    borrowed = [iri for iri in PREDICATES.values() if iri.startswith(PREFIXES[prefix])]

    assert borrowed
    assert all(rdflib.URIRef(iri) in vocabulary_of for iri in borrowed)


def _values(held: Any) -> list[Any]:
    """Return every dataclass value inside a value, at any depth."""
    if isinstance(held, dict):
        return [value for one in held.values() for value in _values(one)]
    if isinstance(held, tuple):
        return [value for one in held for value in _values(one)]
    if dataclasses.is_dataclass(held):
        inner = [getattr(held, field.name) for field in dataclasses.fields(held)]
        return [held, *(value for one in inner for value in _values(one))]
    return []

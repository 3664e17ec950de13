"""Every rule, shape and reading check is tripped by one broken file and by no other."""

from __future__ import annotations

from pathlib import Path

import pytest
from rdflib import URIRef
from rdflib.namespace import SH

from graph.namespaces import TERMS
from graph.report import ERROR, INFO, WARN
from graph.ruling import rule_texts, severities
from graph.shaping import shape_names, shapes
from graph.triples import turtle_files
from graph.validate import validate_files

ROOT = Path(__file__).parents[2]
MINIMAL = turtle_files(ROOT / "fixtures" / "minimal")
BROKEN = {path.stem: path for path in sorted((ROOT / "fixtures" / "broken").glob("*.ttl"))}
#: About what is not there, so that no file laid over others can trip them.
WITHOUT_FIXTURE = {"missing-file", "missing-folder"}
#: Found by walking the graph or while reading; neither a query nor a shape.
IN_CODE = {
    "link-loop",
    "link-without-meaning",
    "unreadable-file",
    "missing-file",
    "missing-folder",
    "duplicate-id",
    "unknown-kind",
    "unknown-predicate",
    "unknown-term",
    "unknown-word",
    "wrong-datatype",
    "wrong-prefix",
    "missing-statement",
    "repeated-statement",
    "out-of-range",
    "stray-part",
}


def test_the_ground_is_good() -> None:
    """Whatever a broken file trips must come from that file."""
    assert validate_files(MINIMAL).rows == ()


@pytest.mark.parametrize("name", BROKEN)
def test_a_broken_file_trips_its_own_rule_and_no_other(name: str) -> None:
    """A rule that also fires elsewhere, or not at all, says something other than its name."""
    path = BROKEN[name]
    rows = validate_files({**MINIMAL, path.name: path.read_bytes()}).rows

    assert {row.rule for row in rows} == {name}, [str(row) for row in rows]
    assert {row.level for row in rows} == {severities()[name].level}
    assert all(row.where.startswith(f"{path.name}:") for row in rows)


def test_every_rule_has_its_broken_file_and_the_reverse() -> None:
    """A rule that nothing trips may check nothing."""
    assert set(BROKEN) | WITHOUT_FIXTURE == set(severities())


def test_the_table_lists_every_query_and_every_shape_and_nothing_else() -> None:
    """Reading the table is reading what is checked."""
    assert set(severities()) == set(rule_texts()) | set(shape_names()) | IN_CODE


def test_every_level_is_one_of_the_three() -> None:
    """A level that nobody knows would sort nowhere."""
    assert {severity.level for severity in severities().values()} <= {ERROR, WARN, INFO}


def test_rules_and_shapes_were_collected() -> None:
    """A glob that silently collects nothing must fail here."""
    assert len(rule_texts()) >= 20
    assert len(shape_names()) >= 18


@pytest.mark.parametrize("name", rule_texts())
def test_a_rule_begins_with_its_intent_and_is_short(name: str) -> None:
    """A rule that needs a page is two rules."""
    lines = rule_texts()[name].splitlines()

    assert lines[0].startswith("# ")
    assert len(lines) < 30
    assert "SELECT DISTINCT ?entity ?property ?value WHERE {" in lines


@pytest.mark.parametrize("name", rule_texts())
def test_a_rule_has_a_sentence_that_names_the_term(name: str) -> None:
    """A row without a sentence tells a person nothing."""
    severity = severities()[name]

    assert "{entity}" in severity.sentence
    assert severity.remedy


@pytest.mark.parametrize("name", shape_names())
def test_a_shape_has_one_sentence_and_the_level_of_the_table(name: str) -> None:
    """Two places that state how bad a thing is must agree."""
    shape = URIRef(TERMS + name)
    word = {ERROR: SH.Violation, WARN: SH.Warning, INFO: SH.Info}[severities()[name].level]

    assert len(list(shapes().objects(shape, SH.message))) == 1
    assert list(shapes().objects(shape, SH.severity)) == [word]


@pytest.mark.parametrize("name", shape_names())
def test_a_shape_is_put_to_use(name: str) -> None:
    """A constraint that no node shape names is never asked."""
    assert list(shapes().subjects(SH.property, URIRef(TERMS + name)))

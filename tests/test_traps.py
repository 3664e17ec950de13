"""Nine traps that were walked into once, and the tests that keep them shut.

The one idea: a trap is known by what happened, and named here with where it is tested; a
partner test asks whether the named tests are still there.
"""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest
from rdflib import Literal
from rdflib.namespace import XSD

from graph.load import load_knowledge
from triage.errors import KnowledgeError

TOP = Path(__file__).resolve().parent.parent
LAYERS = ("triage", "graph", "api")

TRAPS: dict[str, tuple[str, ...]] = {
    "without a trusted certificate there is no worker, no randomUUID, no lock": (
        "tests/browser/test_secure_context.py::test_http_by_name_keeps_answers_but_has_no_worker",
        "tests/browser/test_secure_context.py::test_a_warning_clicked_away_is_no_trust",
        "tests/browser/test_secure_context.py::test_an_installed_authority_lets_the_worker_in",
        "tests/browser/test_secure_context.py::test_localhost_is_trusted_by_itself",
    ),
    "two processes that read before they write lock each other out": (
        "tests/api/store/test_processes.py::test_reading_before_writing_is_what_must_not_be_done",
        "tests/api/store/test_processes.py::test_two_processes_at_one_job_both_keep_everything",
    ),
    "a query reads local files and calls other machines": (
        "tests/graph/test_query.py::test_a_query_that_reaches_out_or_writes_is_refused",
        "tests/graph/test_query.py::test_the_second_lock_holds_where_the_first_is_open",
        "tests/graph/test_query.py::test_the_third_lock_leaves_no_socket_to_call_with",
    ),
    "nested entities in RDF/XML keep a parser busy": (
        "tests/test_traps.py::test_nothing_of_ours_reads_rdf_xml",
        "tests/test_traps.py::test_nested_entities_are_no_turtle",
    ),
    "a JSON-LD context is fetched from another machine": (
        "tests/graph/test_export.py::test_a_remote_context_is_not_fetched",
    ),
    "a unit library misreads what a person types": (
        "tests/test_traps.py::test_no_unit_library_reads_what_people_type",
        "tests/test_traps.py::test_a_number_with_two_readings_is_asked_about",
    ),
    "a decimal made from a float is ill-typed": (
        "tests/graph/test_write.py::test_a_number_reads_back_as_itself",
        "tests/test_traps.py::test_no_literal_is_made_from_a_float",
    ),
    "the framework's own pages load their script from elsewhere": (
        "tests/api/web/test_description.py::test_the_frameworks_own_pages_are_off",
        "tests/api/web/test_description.py::test_the_page_needs_no_other_machine",
    ),
    "two conventions of the leak give two answers": (
        "tests/triage/test_noisy_or.py::test_the_two_leak_conventions_give_their_own_numbers",
    ),
}
NAMED = [name for names in TRAPS.values() for name in names]
SOURCES = sorted(path for layer in LAYERS for path in (TOP / layer).rglob("*.py"))
#: Eight levels of ten: a hundred million words, if anything unfolded them.
BOMB = (
    '<?xml version="1.0"?><!DOCTYPE r ['
    + '<!ENTITY e0 "x">'
    + "".join(f'<!ENTITY e{n} "{f"&e{n - 1};" * 10}">' for n in range(1, 9))
    + ']><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">&e8;</rdf:RDF>'
)


def test_every_trap_is_tested() -> None:
    """Nine were found; a list that got shorter would hide one."""
    assert len(TRAPS) == 9
    assert all(TRAPS.values())
    assert len(NAMED) == len(set(NAMED))


@pytest.mark.parametrize("name", NAMED)
def test_a_test_that_is_named_is_there(name: str) -> None:
    """A test that was renamed away protects nothing."""
    path, _, function = name.partition("::")
    tree = ast.parse((TOP / path).read_text(encoding="utf-8"))

    assert function in {node.name for node in tree.body if isinstance(node, ast.FunctionDef)}


def test_nothing_of_ours_reads_rdf_xml() -> None:
    """Turtle and JSON-LD are read; a parser that isn't asked can't be kept busy."""
    asked = re.compile(r"rdf\+xml|format=[\"'](?:xml|pretty-xml)[\"']|RdfFormat\.RDF_XML")
    holding = [path.name for path in SOURCES if asked.search(path.read_text(encoding="utf-8"))]

    assert len(SOURCES) > 200
    assert holding == []


def test_nested_entities_are_no_turtle(tmp_path: Path) -> None:
    """Whatever a file is called, it is read as Turtle, refused at once and never unfolded."""
    (tmp_path / "bomb.ttl").write_text(BOMB, encoding="utf-8")

    with pytest.raises(KnowledgeError, match=r"bomb\.ttl"):
        load_knowledge(tmp_path)


def test_no_unit_library_reads_what_people_type() -> None:
    """Units are chosen from a list; the library is an oracle of tests and nothing else."""
    importing = [
        path.name
        for path in SOURCES
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if (isinstance(node, ast.Import) and any(a.name == "pint" for a in node.names))
        or (isinstance(node, ast.ImportFrom) and node.module == "pint")
    ]

    assert importing == []


@pytest.mark.parametrize(
    ("typed", "read"),
    [("0,4", 0.4), ("0.19", 0.19), ("1.234", None), ("1 1/2", None), ("9**9**9**9", None)],
)
def test_a_number_with_two_readings_is_asked_about(typed: str, read: float | None) -> None:
    """0,4 mm is no 0 mm, 1 1/2 is no 0.5; what can't be read one way is refused."""
    from starlette.datastructures import FormData

    from api.pages.forms import number
    from api.problems import ProblemError

    form = FormData([("value", typed)])
    if read is None:
        with pytest.raises(ProblemError, match=r"two ways|no number"):
            number(form, "value", "the reading")
    else:
        assert number(form, "value", "the reading") == read


def test_no_literal_is_made_from_a_float() -> None:
    """Held against rdflib: what we write as a decimal is one, and keeps its digits."""
    from graph.write import number

    for value in (0.758, 0.001, 1e-6, 12.0, 0.1 + 0.2):
        made = Literal(number(value), datatype=XSD.decimal)
        assert made.ill_typed is False
        assert float(made.toPython()) == value

"""Queries: right answers, and every way out of the fence that somebody might try."""

from __future__ import annotations

import io
import socket
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

import pyoxigraph as ox
import pytest
import rdflib
from rdflib.plugins.sparql.results.jsonresults import JSONResultParser

from api.commands.output import write_json
from graph.query import Limits, Queries, QueryStoppedError, check_text
from graph.query_worker import CELL_LIMIT, refusal
from graph.rdf import load_graph
from triage.errors import DocumentError

MINIMAL = Path(__file__).parents[2] / "fixtures" / "minimal"
WORKER = Path(__file__).parents[2] / "graph" / "query_worker.py"
SYSTEM_LIMITS = pytest.mark.skipif(
    not sys.platform.startswith("linux"), reason="this system does not keep such limits"
)
PRODUCT = "SELECT (COUNT(*) AS ?n) { ?a ?b ?c . ?d ?e ?f . ?g ?h ?i }"


@pytest.fixture(scope="module")
def queries() -> Iterator[Queries]:
    """Return a process over the shipped knowledge."""
    with Queries() as running:
        yield running


#: query -> what the refusal says
ATTACKS = {
    "SELECT * { SERVICE <http://h.example/> { ?s ?p ?o } }": "the word SERVICE",
    "SELECT * { service silent <http://h.example/> { ?s ?p ?o } }": "the word SERVICE",
    "SELECT * { ?s ?p ?o FILTER EXISTS { SERVICE <x:y> { ?s ?p ?o } } }": "the word SERVICE",
    "SELECT * { ?s ?p ?o FILTER NOT EXISTS { { SERVICE ?s { ?s ?p ?o } } } }": "the word SERVICE",
    "SELECT * { { SELECT ?s { SERVICE SILENT <x:y> { ?s ?p ?o } } } }": "the word SERVICE",
    "SELECT * { ?s ?p ?o FILTER(1<2)SERVICE<x:y>{ ?s ?p ?o } }": "the word SERVICE",
    "SELECT * { ?s ?p '''a''''' SERVICE <x:y> {} }": "the word SERVICE",
    "SELECT * { #<\nSERVICE <x:y> { ?s ?p ?o } #>\n}": "the word SERVICE",
    "SELECT * { \\u0053ERVICE <x:y> { ?s ?p ?o } }": "an escaped character",
    "SELECT * { ?s ?p '\\u0027 . SERVICE <x:y> { ?s ?p ?o } #' }": "an escaped character",
    "SELECT * FROM <file:///secret.ttl> { ?s ?p ?o }": "the word FROM",
    "SELECT * FROM NAMED <file:///secret.ttl> { GRAPH ?g { ?s ?p ?o } }": "the word FROM",
    "ASK FROM<http://h.example/> { ?s ?p ?o }": "the word FROM",
    "CONSTRUCT { ?s ?p ?o } FROM <file:///secret.ttl> WHERE { ?s ?p ?o }": "the word FROM",
    "DESCRIBE <x:y> FROM <file:///secret.ttl>": "the word FROM",
    "LOAD <file:///secret.ttl>": "the word LOAD",
    "LOAD SILENT <http://h.example/> INTO GRAPH <x:y>": "the word LOAD",
    "INSERT DATA { <x:a> <x:b> <x:c> }": "the word INSERT",
    "DELETE WHERE { ?s ?p ?o }": "the word DELETE",
    "CLEAR ALL": "the word CLEAR",
    "SELECT * { ?s ?p ?o } ; DROP ALL": "the word DROP",
    "WITH <x:y> DELETE { ?s ?p ?o } WHERE { ?s ?p ?o }": "the word DELETE",
    "ASK { ?s ?p '" + "x" * 5000 + "' }": "bytes of text",
    "ASK { ?s ?p '" + "é" * 2048 + "' }": "bytes of text",
    "SELECT * { ?s ?p ?o FILTER(" + "(" * 1500 + "1" + ")" * 1500 + ") }": "nested too deeply",
    "SELECT * {": "Expected",
    "": "Expected",
}


@pytest.mark.parametrize("text", ATTACKS, ids=[text[:50] for text in ATTACKS])
def test_a_query_that_reaches_out_or_writes_is_refused(text: str, queries: Queries) -> None:
    """One sentence that names the word, and the next query is answered as ever."""
    with pytest.raises(DocumentError, match=ATTACKS[text]):
        queries.ask(text)

    assert queries.ask("ASK { :rc-bearing-play a :Cause }").boolean is True


def test_the_attacks_were_collected() -> None:
    """Partner of the sweep above."""
    assert len(ATTACKS) == 27


@pytest.mark.parametrize(
    "text", [text for text, why in ATTACKS.items() if why[-7:] in ("SERVICE", "rd FROM")]
)
def test_the_second_lock_holds_where_the_first_is_open(text: str) -> None:
    """The algebra is searched as well; what does not even parse is no danger."""
    try:
        said = refusal(text, {})
    except Exception as error:
        said = f"no query: {error}"

    assert "is not allowed" in said or "no query" in said


def test_the_second_lock_knows_both_words() -> None:
    """Partner of the sweep above: not everything there may be a failure to parse."""
    assert "SERVICE is not" in refusal("ASK { { SELECT ?s { SERVICE <x:y> { ?s ?p ?o } } } }", {})
    assert "FROM is not" in refusal("ASK FROM NAMED <x:y> { ?s ?p ?o }", {})


@pytest.mark.parametrize(
    "text",
    [
        "SELECT ?service { ?service :from ?from }",
        "SELECT ?x { ?x skos:note 'SERVICE and FROM' }",
        'SELECT ?x { ?x skos:note """FROM "here" to there""" } # LOAD it',
        "SELECT ?x { ?x <x:SERVICE> ?y }",
        "SELECT ?x { ?x skos:prefLabel 'a'@from FILTER(1<2 && 3>2) }",
    ],
)
def test_a_word_in_its_innocent_place_is_allowed(text: str, queries: Queries) -> None:
    """The knowledge itself says :from; a text may say anything."""
    check_text(text)

    assert queries.ask(text).cut in ("", "rows")


@SYSTEM_LIMITS
@pytest.mark.parametrize(("closed", "heard"), [(False, True), (True, False)])
def test_the_third_lock_leaves_no_socket_to_call_with(closed: bool, heard: bool) -> None:
    """With every word allowed a listener hears the bare engine, and not the fenced one."""
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        listener.listen()
        port = listener.getsockname()[1]
        query = f"SELECT * {{ SERVICE <http://127.0.0.1:{port}/> {{ ?s ?p ?o }} }}"

        assert _calls(listener, _script(query, closed=closed)) == (heard, "OSError")


def _script(query: str, *, closed: bool) -> str:
    """Return a program that runs a query in the worker's engine, without its guard."""
    lines = [
        "import runpy",
        "import pyoxigraph",
        f"worker = runpy.run_path({str(WORKER)!r})",
        "store = pyoxigraph.Store()",
        "worker['_close_the_doors'](1 << 31)" if closed else "",
        "try:",
        f"    list(store.query({query!r}))",
        "except OSError:",
        "    print('OSError')",
    ]
    return "\n".join(lines)


def _calls(listener: socket.socket, script: str) -> tuple[bool, str]:
    """Run a program; return whether it called the listener, and what it printed."""
    heard = threading.Event()

    def answer() -> None:
        try:
            connection, _ = listener.accept()
        except TimeoutError:
            return
        heard.set()
        connection.close()

    listener.settimeout(5.0)
    waiting = threading.Thread(target=answer)
    waiting.start()
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=False
    )
    if not heard.is_set():  # end the wait by calling ourselves, without counting it
        with socket.create_connection(listener.getsockname()):
            waiting.join()
        return False, done.stdout.strip()
    waiting.join()
    return True, done.stdout.strip()


def test_a_three_way_product_is_ended_and_the_next_query_answered() -> None:
    """41,000 statements cubed would take years; the process is gone, a new one takes over."""
    with Queries(limits=Limits(seconds=0.5)) as running:
        running.ask("ASK {}")
        assert running._process is not None
        first = running._process

        with pytest.raises(QueryStoppedError, match=r"more time.*allowed: 0.5 seconds"):
            running.ask(PRODUCT)

        assert first.poll() is not None
        assert running.ask("ASK { :rc-bearing-play a :Cause }").boolean is True


@SYSTEM_LIMITS
def test_a_query_that_eats_memory_is_ended() -> None:
    """Text doubled again and again: 512 MB are full long before the time is over."""
    text = "BIND('xxxxxxxxxxxxxxxx' AS ?v0)" + "".join(
        f" BIND(CONCAT(?v{k},?v{k},?v{k},?v{k}) AS ?v{k + 1})" for k in range(14)
    )
    with (
        Queries(MINIMAL, Limits(seconds=60.0, memory=512 * 1_048_576)) as running,
        pytest.raises(QueryStoppedError, match="more memory than it may have"),
    ):
        running.ask(f"SELECT ?v14 {{ {text} }}")


def test_a_giant_cell_is_cut() -> None:
    """A small query can make a large text; nobody reads 4 MB in a table."""
    text = "BIND('xxxxxxxxxxxxxxxx' AS ?v0)" + "".join(
        f" BIND(CONCAT(?v{k},?v{k},?v{k},?v{k}) AS ?v{k + 1})" for k in range(8)
    )
    with Queries(MINIMAL) as running:
        ((cell,),) = running.ask(f"SELECT ?v8 {{ {text} }}").rows

    assert cell is not None
    assert len(cell["value"]) == CELL_LIMIT + 3


def test_more_rows_than_allowed_are_cut_and_it_is_said(queries: Queries) -> None:
    """Who sees 1,000 rows must know whether there are more."""
    table = queries.ask("SELECT * { ?s ?p ?o }")

    assert (len(table.rows), table.cut) == (1000, "rows")
    assert queries.ask("SELECT * { ?s ?p ?o } LIMIT 1000").cut == ""


def test_many_long_cells_are_cut_by_size() -> None:
    """1,000 rows of 4,000 letters are more than a page can show."""
    text = "BIND('xxxxxxxxxxxxxxxx' AS ?v0)" + "".join(
        f" BIND(CONCAT(?v{k},?v{k},?v{k},?v{k}) AS ?v{k + 1})" for k in range(4)
    )
    with Queries(limits=Limits(seconds=20.0)) as running:
        table = running.ask(f"SELECT ?v4 {{ ?s a ?t . {text} }}")

    assert table.cut == "text"
    assert 300 < len(table.rows) < 1000


@pytest.mark.parametrize(
    "text",
    [
        "SELECT ?c ?l { ?c a :Cause ; skos:prefLabel ?l }",
        "SELECT ?l ?m { ?l :to :st-hub-play ; :mechanism ?m OPTIONAL { ?l :nothing ?n } }",
        "SELECT ?g (COUNT(?c) AS ?n) { ?c a :Cause ; :group ?g } GROUP BY ?g",
        "SELECT ?s { ?c :from :rc-bearing-play ; :to ?s ; :strength ?x FILTER(?x > 0.5) }",
    ],
)
def test_another_engine_gives_the_same_answer(text: str) -> None:
    """Rdflib runs the same query over the same files; its own reader takes our JSON."""
    expected = load_graph(MINIMAL).query(text)
    with Queries(MINIMAL) as running:
        document = running.ask(text).document()

    found = JSONResultParser().parse(io.BytesIO(_json(document)))  # type: ignore[no-untyped-call]

    assert len(expected) > 0
    assert _rows(found) == _rows(expected)


def test_construct_and_ask_are_answered(queries: Queries) -> None:
    """A few statements come as a table of three columns; a question as yes or no."""
    built = queries.ask("CONSTRUCT { ?c a :Part } WHERE { ?c :isPart true } LIMIT 2")

    assert built.columns == ("subject", "predicate", "object")
    assert {row[1:] for row in built.texts()} == {("rdf:type", "Part")}
    assert queries.ask("ASK { :rc-none a :Cause }").document() == {"head": {}, "boolean": False}


def test_the_store_cannot_be_changed(queries: Queries) -> None:
    """The engine's own query function refuses an update even without our words."""
    with pytest.raises(SyntaxError, match="expected"):
        ox.Store().query("INSERT DATA { <x:a> <x:b> <x:c> }")

    before = queries.ask("SELECT (COUNT(*) AS ?n) { ?s ?p ?o }").texts()
    with pytest.raises(DocumentError, match="INSERT"):
        queries.ask("INSERT DATA { <x:a> <x:b> <x:c> }")
    assert queries.ask("SELECT (COUNT(*) AS ?n) { ?s ?p ?o }").texts() == before


def _json(document: object) -> bytes:
    """Return a document as the command writes it."""
    text, out = io.StringIO(), sys.stdout
    sys.stdout = text
    try:
        write_json(document)
    finally:
        sys.stdout = out
    return text.getvalue().encode()


def _rows(result: object) -> set[frozenset[tuple[str, rdflib.term.Node]]]:
    """Return the rows of a result as rdflib holds them."""
    bindings = result.bindings  # type: ignore[attr-defined]
    return {
        frozenset((str(name), value) for name, value in row.items() if value is not None)
        for row in bindings
    }

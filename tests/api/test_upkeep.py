"""The commands that look after the knowledge: exit codes, sentences, what goes where."""

from __future__ import annotations

import io
import json
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest
from rdflib.plugins.sparql.results.jsonresults import JSONResultParser

from api.command import run
from api.terminal import Page
from api.terminal.table import show_table
from graph.write import write_knowledge
from tests.graph.knowledge_sample import sample

Captured = pytest.CaptureFixture[str]
MINIMAL = "fixtures/minimal"

#: command line -> what the one line on standard error says
BAD = {
    ("query", "nowhere.rq"): "the file cannot be read",
    ("query", "SELECT * { SERVICE <x:y> {} }"): "the word SERVICE",
    ("query", "ASK {}", "--folder", "nowhere"): "there is no such folder",
    ("query", "ASK {}", "--seconds", "0"): "greater than or equal to 0.1",
    ("export", "--format", "xml"): "unknown format 'xml'",
    ("export", "--format", "jsonld", "--into", "new"): "a folder and one document at once",
    ("export", "--out", "no/such/folder/k.ttl"): "the file cannot be written",
    ("release-notes", "--from", "nowhere"): "there is no such folder",
    ("release-notes", "--json"): "nothing to compare with",
    ("stats", "--folder", "nowhere"): "there is no such folder",
    ("stats", "--cases", "nowhere"): "there is no case",
}


@pytest.mark.parametrize("words", BAD, ids=" ".join)
def test_bad_input_is_one_sentence(words: tuple[str, ...], capsys: Captured) -> None:
    """2 is bad input; standard output stays empty."""
    code = run(["knowledge", *words])

    out, err = capsys.readouterr()
    assert (code, out) == (2, "")
    assert BAD[words] in err
    assert len(err.splitlines()) == 1


def test_the_bad_lines_were_collected() -> None:
    """Partner of the sweep above."""
    assert len(BAD) == 11


def test_a_query_is_answered_as_a_table(capsys: Captured) -> None:
    """Own ids stand bare, so that they can be copied into knowledge show."""
    text = "SELECT ?link ?strength { ?link :to :st-hub-play ; :strength ?strength }"

    assert run(["knowledge", "query", text, "--folder", MINIMAL]) == 0
    out, err = capsys.readouterr()
    assert [line.split() for line in out.splitlines()] == [["link", "strength"], ["lk-0001", "0.9"]]
    assert err == ""


def test_a_query_is_answered_as_json(capsys: Captured) -> None:
    """In the results format of SPARQL 1.1, read by rdflib."""
    assert (
        run(["knowledge", "query", "ASK { :sy-hum a :Finding }", "--folder", MINIMAL, "--json"])
        == 0
    )
    result = JSONResultParser().parse(  # type: ignore[no-untyped-call]
        io.BytesIO(capsys.readouterr().out.encode())
    )
    assert result.askAnswer is True


def test_a_query_is_read_from_a_file_and_from_standard_input(
    tmp_path: Path, capsys: Captured, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A query that is asked every month lives in a file."""
    path = tmp_path / "hums.rq"
    path.write_text("ASK { :sy-hum a :Finding }", encoding="utf-8")
    monkeypatch.setattr(
        sys, "stdin", SimpleNamespace(buffer=io.BytesIO(b"ASK { :sy-no a :Cause }"))
    )

    assert run(["knowledge", "query", str(path), "--folder", MINIMAL]) == 0
    assert capsys.readouterr().out == "yes\n"
    assert run(["knowledge", "query", "-", "--folder", MINIMAL]) == 0
    assert capsys.readouterr().out == "no\n"


def test_a_file_that_is_too_large_is_refused_by_size(tmp_path: Path, capsys: Captured) -> None:
    """It is read no further than needed to know that."""
    path = tmp_path / "large.rq"
    path.write_text("#" * 10_000, encoding="utf-8")

    assert run(["knowledge", "query", str(path), "--folder", MINIMAL]) == 2
    assert "4097 bytes of text at the query; allowed: 4096 bytes" in capsys.readouterr().err


def test_a_cut_answer_says_so_beside_the_rows(capsys: Captured) -> None:
    """The rows can be piped on; the remark goes to the person."""
    assert run(["knowledge", "query", "SELECT * { ?s ?p ?o }"]) == 0
    out, err = capsys.readouterr()
    assert len(out.splitlines()) == 1001
    assert "cut at 1000 rows; there is more" in err


def test_an_answer_without_rows_says_so(capsys: Captured) -> None:
    """An empty screen looks like a fault."""
    assert run(["knowledge", "query", "SELECT * { ?s :nothing ?o }", "--folder", MINIMAL]) == 0
    assert capsys.readouterr().out == "nothing fits\n"


def test_counts_alone_are_quick_and_silent(capsys: Captured) -> None:
    """Nothing is weighed, so nothing is told beside the results."""
    assert run(["knowledge", "stats", "--quick", "--folder", MINIMAL]) == 0
    out, err = capsys.readouterr()
    assert "Knowledge minimal-1" in out
    assert "100.0 %" in out
    assert "matter most" not in out
    assert err == ""


def test_links_are_weighed_on_the_cases_of_a_folder(tmp_path: Path, capsys: Captured) -> None:
    """A shop may weigh links on its own closed jobs."""
    case = {
        "format": "drypark-case/1",
        "case": "one",
        "findings": [{"id": "sy-hum", "state": "present"}],
    }
    (tmp_path / "one.json").write_text(json.dumps(case), encoding="utf-8")
    line = ["knowledge", "stats", "--folder", MINIMAL, "--cases", str(tmp_path)]

    assert run(line) == 0
    out = capsys.readouterr().out
    assert out.split("matter most")[1].splitlines()[-1].split()[:4] == [
        "lk-0003",
        "rc-bearing-play",
        "sy-hum",
        "0.6",
    ]
    assert run([*line, "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert document["links"]["by_weight"][0]["id"] == "lk-0003"
    assert document["shares"]["estimate"] == 1.0


def test_notes_between_two_folders_are_written(tmp_path: Path, capsys: Captured) -> None:
    """As Markdown for people, as JSON for a page."""
    for name, text in write_knowledge(sample()).items():
        (tmp_path / name).write_text(text, encoding="utf-8", newline="\n")
    line = ["knowledge", "release-notes", "--from", MINIMAL, "--to", str(tmp_path)]

    assert run(line) == 0
    assert capsys.readouterr().out.startswith("# Knowledge release sample-1\n\nCompared with")
    assert run([*line, "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert (document["from"], document["to"]) == ("minimal-1", "sample-1")
    assert "rc-a" in document["added"]
    assert "rc-bearing-play" in document["gone"]


def test_an_export_goes_to_a_file(tmp_path: Path, capsys: Captured) -> None:
    """The same text that would go to standard output."""
    path = tmp_path / "knowledge.json"

    assert run(["knowledge", "export", "--format", "jsonld", "--out", str(path)]) == 0
    assert capsys.readouterr().out == ""
    assert json.loads(path.read_text(encoding="utf-8"))["@graph"]


def test_a_table_in_a_pipe_keeps_a_row_on_one_line() -> None:
    """So that other tools can take it apart; and no blanks are left at its end."""
    out = io.StringIO()

    show_table(Page(out), ["name", "n"], [["x" * 200, "7"], ["\x1b[31my", "10"]], numbers=[1])

    lines = out.getvalue().splitlines()
    assert [len(lines), lines[1]] == [3, "x" * 200 + "   7"]
    assert lines[2].startswith("?[31my ")
    assert lines[0] == "name".ljust(202) + " n"

"""The command line: exit codes, one sentence on standard error, results on standard output."""

from __future__ import annotations

import io
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest

from api.command import run
from api.documents import Answer

CASE = "fixtures/cases/sensor-really-bad.json"
BARE = b'{"format": "drypark-case/1", "case": "piped"}'

Captured = pytest.CaptureFixture[str]


def _piped(monkeypatch: pytest.MonkeyPatch, data: bytes) -> None:
    """Put bytes on standard input."""
    monkeypatch.setattr(sys, "stdin", SimpleNamespace(buffer=io.BytesIO(data)))


#: command line -> what the one line on standard error says
BAD = {
    "triag": "no such command 'triag'",
    "triage": "missing argument 'CASE.json'",
    "triage nowhere.json": "the file cannot be read",
    "triage --frob x": "no such option: --frob",
    "decode hello": "no trouble code in the pasted text",
    "knowledge": "missing command",
    "knowledge show rc-bearing-pla": "did you mean 'rc-bearing-play'",
    "knowledge check nowhere": "there is no such folder at nowhere",
    "knowledge export --into .": "the folder cannot be made",
    "network export --case nowhere.json": "the file cannot be read",
    "schema cas": "did you mean 'case'",
}


@pytest.mark.parametrize("line", BAD)
def test_bad_input_is_one_sentence_and_exit_2(line: str, capsys: Captured) -> None:
    """A person reads one line; a script reads the number."""
    code = run(line.split())

    out, err = capsys.readouterr()
    assert code == 2
    assert out == ""
    assert BAD[line] in err
    assert len(err.splitlines()) == 1


def test_the_bad_lines_were_collected() -> None:
    """Partner of the sweep above."""
    assert len(BAD) == 11


def test_every_problem_of_a_case_has_its_line(tmp_path: Path, capsys: Captured) -> None:
    """Two mistakes, two lines, both with the file and the place in it."""
    path = tmp_path / "case.json"
    path.write_text('{"format": "drypark-case/1", "case": "x", "codes": 1, "context": 2}', "utf-8")

    assert run(["triage", str(path)]) == 2
    begins = f"drypark: {path}: "
    assert [line[: len(begins) + 2] for line in capsys.readouterr().err.splitlines()] == [
        f"{begins}2 ",
        f"{begins}1 ",
    ]


def test_without_arguments_there_is_help(capsys: Captured) -> None:
    """Somebody who types the bare name wants to know what there is."""
    assert run([]) == 0
    assert "triage" in capsys.readouterr().out


@pytest.mark.parametrize("command", ["triage", "decode", "schema", "knowledge", "network"])
def test_every_command_has_help(command: str, capsys: Captured) -> None:
    """Help goes to standard output, so that it can be paged."""
    assert run([command, "--help"]) == 0
    assert "Usage: drypark" in capsys.readouterr().out


def test_the_version_is_shown(capsys: Captured) -> None:
    """A report of a fault names it."""
    assert run(["--version"]) == 0
    assert capsys.readouterr().out.startswith("drypark")


def test_debug_shows_the_traceback() -> None:
    """It may stand anywhere on the line."""
    with pytest.raises(Exception, match="the file cannot be read"):
        run(["triage", "nowhere.json", "--debug"])


def test_a_case_is_answered_as_text(capsys: Captured) -> None:
    """The demo in which the sensor really is bad: it must stand first among the causes."""
    assert run(["triage", CASE]) == 0
    out, err = capsys.readouterr()
    causes = out.split("What it can be")[1]
    assert causes.split("\n")[1].strip() == "Failed wheel speed sensor, right front [MAJOR]"
    assert all(line.startswith("drypark: the account: ") for line in err.splitlines())


def test_a_case_is_answered_as_json(capsys: Captured) -> None:
    """The document is the published one, and names its case."""
    assert run(["triage", CASE, "--json"]) == 0
    answer = Answer.model_validate_json(capsys.readouterr().out)
    assert answer.case == "sensor-really-bad"
    assert answer.vehicle == "Ticket 4712, small hatchback"
    assert answer.sensor_first[0].part == "rc-wss-sensor-failed@rf"


def test_every_id_of_an_answer_has_words(capsys: Captured) -> None:
    """A technician must never see an id."""
    run(["triage", "fixtures/cases/must-not-be-driven.json", "--json"])
    answer = Answer.model_validate_json(capsys.readouterr().out)
    ids = [
        *answer.intake,
        *(row.id for row in answer.causes),
        *(one.finding for row in answer.causes for one in row.evidence),
        *(row.id for row in answer.gates),
        *(check for row in answer.gates for check in row.closes_on),
        *(term for row in answer.checks for term in (row.id, row.setup, *row.finds)),
        *(term for row in answer.while_there for term in (row.id, row.setup, *row.finds)),
        *answer.notes,
    ]

    assert ids
    assert not [term for term in ids if answer.label(term).startswith(("rc-", "ck-", "s", "dtc-"))]


def test_a_case_is_read_from_standard_input(
    capsys: Captured, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A dash means standard input, as everywhere."""
    _piped(monkeypatch, BARE)
    assert run(["network", "export", "--case", "-"]) == 0
    assert json.loads(capsys.readouterr().out)["nodes"]


def test_codes_are_read_from_standard_input(
    capsys: Captured, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A scan report is pasted or piped, not typed."""
    _piped(monkeypatch, Path("fixtures/scans/by_status_mask.txt").read_bytes())
    assert run(["decode", "-", "--json"]) == 0
    assert len(json.loads(capsys.readouterr().out)["codes"]) == 5


def test_the_shipped_knowledge_passes_its_check(capsys: Captured) -> None:
    """What is shipped must be what is checked."""
    assert run(["knowledge", "check"]) == 0
    assert "0 errors" in capsys.readouterr().out


def test_broken_knowledge_is_exit_1(tmp_path: Path, capsys: Captured) -> None:
    """1 is a failed check, 2 is bad input: a pipeline tells them apart."""
    shutil.copytree("graph/knowledge", tmp_path / "k")
    (tmp_path / "k" / "release.ttl").unlink()
    assert run(["knowledge", "check", str(tmp_path / "k")]) == 1
    assert "release.ttl" in capsys.readouterr().out


def test_a_term_is_shown_with_or_without_its_place(capsys: Captured) -> None:
    """Answers print ids with a place; copying one must work."""
    run(["knowledge", "show", "rc-bearing-play"])
    bare = capsys.readouterr().out
    assert run(["knowledge", "show", "rc-bearing-play@lr"]) == 0
    assert capsys.readouterr().out == bare
    assert "Hub bearing play" in bare


def test_exported_knowledge_loads_again(tmp_path: Path, capsys: Captured) -> None:
    """An export that cannot come back is no export."""
    assert run(["knowledge", "export", "--into", str(tmp_path / "out")]) == 0
    assert run(["knowledge", "check", str(tmp_path / "out")]) == 0
    assert "passed" in capsys.readouterr().out


def test_exported_knowledge_is_one_turtle_text(capsys: Captured) -> None:
    """Read by pyoxigraph, a library of its own."""
    import pyoxigraph

    assert run(["knowledge", "export"]) == 0
    triples = pyoxigraph.parse(capsys.readouterr().out, format=pyoxigraph.RdfFormat.TURTLE)
    assert sum(1 for _triple in triples) > 10_000


def _process(*arguments: str, **environment: str) -> subprocess.CompletedProcess[bytes]:
    return subprocess.run(
        [sys.executable, "-m", "api.command", *arguments],
        capture_output=True,
        env={**os.environ, **environment},
        check=False,
    )


def test_in_a_process_of_its_own_the_output_is_plain() -> None:
    """No colour, no escape, whatever the locale."""
    done = _process("decode", "C0040", NO_COLOR="1", PYTHONIOENCODING="ascii")

    assert done.returncode == 0
    assert b"\x1b" not in done.stdout
    assert b"brake pedal switch A" in done.stdout


def test_in_a_process_of_its_own_an_error_leaves_no_traceback() -> None:
    """Standard output stays empty, so a pipe gets nothing wrong."""
    done = _process("triage", "nowhere.json")

    assert done.returncode == 2
    assert done.stdout == b""
    assert b"Traceback" not in done.stderr

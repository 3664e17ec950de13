"""Wrong files, folders, addresses and variables on the command line: what, where, what to do."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from api.command import run

#: Name of a file in the folder `bad` -> what stands in it.
FILES = {
    "empty.json": b"",
    "broken.json": b'{"format": ',
    "list.json": b"[]",
    "utf16.json": '{"case": "x"}'.encode("utf-16"),
    "big.json": b" " * 2_000_001,
    "older.json": b'{"format": "drypark-case/9", "case": "x"}',
    "code.json": b'{"format": "drypark-case/1", "case": "x", "codes": [{"code": "Z9"}]}',
    "term.json": b'{"format": "drypark-case/1", "case": "x", "findings": [{"id": "sy-hu", '
    b'"state": "present"}]}',
    "place.json": b'{"format": "drypark-case/1", "case": "x", "findings": [{"id": "sy-hum", '
    b'"state": "present", "place": "roof"}]}',
    "notes.txt": b"no database",
    "wrong.rq": b"SELECT",
}
CASE = "fixtures/cases/sensor-really-bad.json"
_POSTGRES = "postgresql://nobody@127.0.0.1:1/x"

#: Command line, {bad} the folder -> what its sentence says, in this order.
LINES: dict[str, tuple[str, ...]] = {
    "triage {bad}/empty.json": ("empty.json", "not JSON: nothing stands in it", "allowed"),
    "triage {bad}/broken.json": ("broken.json", "not JSON", "line 1, column 12", "correct it"),
    "triage {bad}/list.json": ("list.json", "a list at the top", "allowed: an object with"),
    "triage {bad}/utf16.json": ("utf16.json", "not UTF-8", "save the file as UTF-8"),
    "triage {bad}/big.json": ("big.json", "2000001 bytes", "at most 2000000 bytes"),
    "triage {bad}/older.json": ("older.json", "'drypark-case/9'", "allowed: drypark-case/1"),
    "triage {bad}/code.json": ("code.json", "'Z9' at codes[0].code", "such as C0051"),
    "triage {bad}/term.json": (
        "term.json",
        "'sy-hu' at findings[0].id",
        "did you mean 'sy-hum-speed'",
    ),
    "triage {bad}/place.json": ("place.json", "'roof'", "allowed: lf, rf"),
    "triage {bad}/folder": ("is a directory", "{bad}/folder", "correct the name"),
    "triage {bad}/nowhere.json": ("no such file", "{bad}/nowhere.json", "correct the name"),
    "network export --case {bad}/term.json": ("term.json", "did you mean 'sy-hum-speed'"),
    "decode 59": ("no status availability mask", "allowed: sub-function, mask", "paste the whole"),
    "decode Z9": ("no trouble code", "allowed: trouble codes", "type a code such as"),
    "schema x": ("unknown document 'x'", "known: answer, case, network"),
    "knowledge check {bad}/empty.json": ("no such folder", "allowed: a folder of Turtle files"),
    "knowledge stats --folder {bad}/nowhere": ("no such folder", "{bad}/nowhere", "correct"),
    "knowledge stats --cases {bad}/folder": ("there is no case", "{bad}/folder", "*.json"),
    "knowledge query {bad}/wrong.rq": ("allowed: ", "correct the query"),
    "knowledge query {bad}/nowhere.rq": ("cannot be read", "{bad}/nowhere.rq", "correct the name"),
    "knowledge query {bad}/wrong.rq --folder {bad}/nowhere": ("no such folder", "{bad}/nowhere"),
    "knowledge query {bad}/wrong.rq --seconds 0": ("'--seconds'", "0.1", "--help lists"),
    "knowledge release-notes --from {bad}/nowhere": ("no such folder", "{bad}/nowhere"),
    "knowledge export --format xml": ("unknown format 'xml'", "known: graphml, jsonld, turtle"),
    "knowledge export --out {bad}/nowhere/x": ("cannot be written", "{bad}/nowhere/x", "choose"),
    "knowledge export --out {bad}/folder": ("is a directory", "{bad}/folder", "choose another"),
    "knowledge export --into {bad}/folder": ("file exists", "{bad}/folder", "choose another"),
    "knowledge export --into {bad}/empty.json/x": ("not a directory", "choose another name"),
    "replay {bad}/nowhere.json": ("no such file", "{bad}/nowhere.json", "correct the name"),
    "replay {bad}/broken.json": ("broken.json", "not JSON", "correct it there"),
    "replay {bad}/folder": ("no case", "{bad}/folder", "name at least one"),
    f"replay {CASE} --truth {{bad}}/broken.json": ("unreadable truth file", "{bad}/broken.json"),
    "replay --simulate x": ("'--simulate'", "integer", "--help lists"),
    "replay --simulate 1 --workers 0": ("number of workers is 0", "1 and more", "state more"),
    "replay --simulate 1 --picture {bad}/nowhere/x": ("folder that is not there", "name another"),
    "backup": ("there are no records here", "nothing was made"),
    "backup --to {bad}/empty.json": ("no records here",),
    "restore {bad}/nowhere --to {bad}/new": ("{bad}/nowhere", "no such backup", "nothing was made"),
    "restore {bad}/notes.txt --to {bad}/new": ("{bad}/notes.txt", "is no database"),
    "restore {bad}/folder --to {bad}/new": ("{bad}/folder", "this is a folder"),
    "records copy --from {bad}/nowhere --to {bad}/new": ("{bad}/nowhere", "no records here"),
    "records copy --to mysql://x/y": ("no records here",),
    f"records copy --from {_POSTGRES} --to {{bad}}/new": ("127.0.0.1:1", "does not answer"),
    "records copy --from http://x/y --to {bad}/new": ("address", "sqlite:///FILE or postgresql"),
    "records export nope": ("no records here", "nothing was made"),
    "cert create --host a_b": ("'a_b'", "neither a name nor an address", "correct it"),
    "serve --port 99999": ("'--port'", "65535", "--help lists"),
    "serve --cert x": ("give --cert and --key, or neither",),
    "serve --cert {bad}/x --key y": ("no file {bad}/x", "drypark cert create"),
    "serve --tls": ("there is no certificate", "drypark cert create"),
    "serve --demo --host 0.0.0.0": ("the demo has no passwords", "leave --host out"),
    "people add --role boss X": ("unknown role 'boss'", "known: owner, senior, technician"),
    "people leave X": ("unknown person 'X'", "known: none"),
}
#: Variables, and a command that needs them -> what its sentence says.
VARIABLES: dict[str, tuple[str, str, tuple[str, ...]]] = {
    "a price that is no number": (
        "DRYPARK_LABOUR_PER_HOUR=abc",
        "people list",
        ("DRYPARK_LABOUR_PER_HOUR is 'abc'", "number", "correct it or leave it out"),
    ),
    "days below none": ("DRYPARK_BACKUP_DAYS=-3", "doctor", ("BACKUP_DAYS is '-3'", "correct it")),
    "an address of another kind": (
        "DRYPARK_DATABASE_URL=mysql://a/b",
        "records verify",
        ("the address of the records", "sqlite:///FILE or postgresql://"),
    ),
    "a data folder that is a file": (
        "DRYPARK_DATA={bad}/notes.txt",
        "people list",
        ("{bad}/notes.txt", "the folder cannot be made", "DRYPARK_DATA"),
    ),
    "keys where a file is": (
        "DRYPARK_DATA={bad}/notes.txt",
        "cert create",
        ("{bad}/notes.txt", "nothing was changed", "DRYPARK_DATA"),
    ),
}

Captured = pytest.CaptureFixture[str]


@pytest.fixture
def bad(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return a folder with what is wrong; the data folder is empty."""
    folder = tmp_path / "bad"
    (folder / "folder").mkdir(parents=True)
    for name, data in FILES.items():
        (folder / name).write_bytes(data)
    monkeypatch.setenv("DRYPARK_DATA", str(tmp_path / "data"))
    return folder


def _told(line: str, words: tuple[str, ...], bad: Path, capsys: Captured) -> None:
    """Run a line; it must end as bad input, with one line that says the words in their order."""
    before = sorted(bad.rglob("*"))
    code = run([word.format(bad=bad) for word in line.split()])

    out, err = capsys.readouterr()
    assert (code, out) == (2, ""), err
    assert len(err.splitlines()) == 1, err
    assert "itself is wrong" not in err
    at = 0
    for word in words:
        at = err.find(word.format(bad=bad), at)
        assert at >= 0, (word, err)
    assert sorted(bad.rglob("*")) == before


@pytest.mark.parametrize("line", LINES)
def test_wrong_input_is_one_sentence(line: str, bad: Path, capsys: Captured) -> None:
    """It says what is wrong, where, what is allowed or what to do; nothing is made."""
    _told(line, LINES[line], bad, capsys)


@pytest.mark.parametrize("name", VARIABLES)
def test_a_wrong_variable_is_one_sentence(
    name: str, bad: Path, capsys: Captured, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It names the variable: nobody sees those on the command line."""
    setting, line, words = VARIABLES[name]
    variable, _, value = setting.format(bad=bad).partition("=")
    monkeypatch.setenv(variable, value)
    _told(line, words, bad, capsys)


def test_the_wrong_lines_are_as_many_as_they_were() -> None:
    """Partner of the sweeps above."""
    assert (len(LINES), len(VARIABLES), len(FILES)) == (53, 5, 11)


@pytest.mark.parametrize("line", ["knowledge export --out {bad}/x", "people list", "cert create"])
def test_a_folder_that_may_not_be_written_to_is_named(
    line: str, bad: Path, capsys: Captured, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A shop's folder may be somebody else's."""
    monkeypatch.setenv("DRYPARK_DATA", str(bad / "data"))
    bad.chmod(0o500)
    try:
        if os.access(bad, os.W_OK):
            pytest.skip("whoever runs this may write everywhere")
        _told(line, ("permission denied", "choose"), bad, capsys)
    finally:
        bad.chmod(0o700)

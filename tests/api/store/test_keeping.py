"""The commands that look after the records: exit codes, sentences, examples."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from api.command import run
from api.settings import Settings
from api.store.engine import open_store
from tests.api.store.making import SHOP, Clock, add, note, open_job

Captured = pytest.CaptureFixture[str]
COMMANDS = [
    ("backup",),
    ("restore",),
    ("records", "copy"),
    ("records", "verify"),
    ("records", "export"),
    ("db", "upgrade"),
]


@pytest.fixture
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Give the data folder of a shop that the commands find."""
    folder = tmp_path / "data"
    monkeypatch.setenv("DRYPARK_DATA", str(folder))
    monkeypatch.delenv("DRYPARK_DATABASE_URL", raising=False)
    return folder


@pytest.fixture
def job(data: Path) -> str:
    """Give a job of the shop in the data folder."""
    assert Settings().data == data
    store = open_store(Settings().url, clock=Clock())
    job = open_job(store).job
    add(store, job, note("=1+1"))
    store.close()
    return job


@pytest.mark.parametrize("words", COMMANDS, ids=" ".join)
def test_the_help_of_each_command_has_an_example(words: tuple[str, ...], capsys: Captured) -> None:
    """Nobody reads a manual on the day the disk fails."""
    assert run([*words, "--help"]) == 0
    out = capsys.readouterr().out

    assert re.search(rf"Example: drypark {' '.join(words)}\b", out)


def test_the_commands_were_all_asked() -> None:
    """Partner of the sweep above."""
    assert len(COMMANDS) == 6


@pytest.mark.usefixtures("data")
@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("backup",), "there are no records here"),
        (("records", "verify"), "there are no records here"),
        (("records", "export", "x"), "there are no records here"),
        (("records", "copy", "--to", "elsewhere.sqlite3"), "there are no records here"),
        (("db", "upgrade"), "there are no records here"),
        (("restore", "nowhere", "--to", "new.sqlite3"), "there is no such backup"),
    ],
)
def test_a_shop_without_records_is_one_sentence(
    words: tuple[str, ...], said: str, tmp_path: Path, capsys: Captured
) -> None:
    """And none are made by asking."""
    code = run(list(words))

    out, err = capsys.readouterr()
    assert (code, out) == (2, "")
    assert said in err
    assert len(err.splitlines()) == 1
    assert not list(tmp_path.rglob("*.sqlite*"))


def test_a_backup_is_made_named_and_restored(
    job: str, data: Path, tmp_path: Path, capsys: Captured
) -> None:
    """The way that a shop goes when its disk has failed."""
    assert run(["backup"]) == 0
    path = Path(capsys.readouterr().out.splitlines()[0])
    assert run(["restore", str(path), "--to", str(tmp_path / "new.sqlite3")]) == 0
    told = capsys.readouterr().out
    assert run(["restore", str(path), "--to", str(tmp_path / "new.sqlite3")]) == 2

    assert path.parent == data / "backups"
    assert "looked at and whole" in told
    assert "2 events, 1 jobs" in told
    assert "is there already" in capsys.readouterr().err
    store = open_store(tmp_path / "new.sqlite3")
    assert len(store.jobs.events(SHOP, job)) == 2
    store.close()


@pytest.mark.usefixtures("job")
def test_a_copy_says_what_was_compared(tmp_path: Path, capsys: Captured) -> None:
    """Count and hash of each table; a second copy is of another place."""
    assert run(["records", "copy", "--to", str(tmp_path / "copy.sqlite3")]) == 0
    first = capsys.readouterr().out
    words = ["--from", str(tmp_path / "copy.sqlite3"), "--to", str(tmp_path / "again.sqlite3")]
    assert run(["records", "copy", *words]) == 0

    assert len(first.splitlines()) == 6
    assert "events           2 rows, the same in both places" in first
    assert capsys.readouterr().out == first


@pytest.mark.usefixtures("job")
def test_verify_fails_when_something_was_changed(capsys: Captured) -> None:
    """With exit code 1, as a check that failed."""
    assert run(["records", "verify"]) == 0
    assert "1 jobs, 2 events, 0 photos: all as written" in capsys.readouterr().out
    store = open_store(Settings().url)
    with store.database.writing() as connection:
        connection.exec_driver_sql("UPDATE jobs SET ticket = 'forged'")
    store.close()

    assert run(["records", "verify"]) == 1
    assert "the board does not show what its events say" in capsys.readouterr().out


def test_a_job_is_exported(job: str, tmp_path: Path, capsys: Captured) -> None:
    """To the terminal or into a new file, as lines or as a table."""
    assert run(["records", "export", job]) == 0
    lines = capsys.readouterr().out.splitlines()
    target = tmp_path / "job.csv"
    words = ["records", "export", job, "--csv", "--out", str(target)]
    assert (run(words), run(words)) == (0, 2)

    assert json.loads(lines[1])["body"]["text"] == "=1+1"
    assert b'"\'=1+1"' in target.read_bytes()
    assert "is there already" in capsys.readouterr().err
    assert run(["records", "export", "nowhere"]) == 2
    assert "there is no job 'nowhere'" in capsys.readouterr().err


@pytest.mark.usefixtures("job")
def test_an_upgrade_with_nothing_to_do_does_nothing(data: Path, capsys: Captured) -> None:
    """It may be run by habit."""
    assert run(["db", "upgrade"]) == 0

    assert "nothing was changed" in capsys.readouterr().out
    assert not (data / "backups").exists()

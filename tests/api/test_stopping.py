"""Ctrl-C, command by command: one sentence on what was not done, exit 130, nothing left half."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from typer.main import get_command

from api.command import app, run
from api.settings import Settings
from api.store.engine import open_store
from api.terminal import Progress

TOP = Path(__file__).resolve().parent.parent.parent
CASE = "fixtures/cases/sensor-really-bad.json"

#: Every command that takes over a second, or may on large records -> what it says when stopped.
#: {new} is a name that is not there yet, {backup} a backup, {truth} a truth file for the case.
LONG = {
    f"triage {CASE}": "the list above is whole, its account was not made",
    f"triage {CASE} --json": "no answer was written",
    "knowledge check": "the knowledge was not looked at to the end; nothing was changed",
    "knowledge stats": "the links were not weighed; nothing was changed",
    f"replay {CASE} --truth {{truth}}": "not all cases were ranked, so none is shown",
    "replay --simulate 1 --workers 1 --picture {new}": "no car is counted; nothing was written",
    "backup --to {new}": "no backup was made; the records are untouched",
    "restore {backup} --to {new}": "nothing was restored; the backup is untouched",
    "records copy --to {new}": "nothing was kept where they were to go",
    "records verify": "the records were not gone through to the end; nothing was changed",
}
#: Commands that are done in under a second, or wait for somebody: nothing to count.
SHORT = {
    "cert create": "two keys",
    "db upgrade": "the count is that of the backup it makes first",
    "decode": "a table",
    "doctor": "asks, and changes nothing",
    "knowledge export": "one text; a file or a folder appears whole or not at all",
    "knowledge query": "ends by itself after --seconds",
    "knowledge release-notes": "one text",
    "knowledge show": "one term",
    "network export": "one document",
    "people add": "asks somebody",
    "people leave": "one line of the records",
    "people list": "a list",
    "people password": "asks somebody",
    "records export": "one job; a file appears whole or not at all",
    "schema": "one document",
    "serve": "runs until it is stopped; its ways to end have tests of their own",
}

Captured = pytest.CaptureFixture[str]


@pytest.fixture
def places(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> dict[str, str]:
    """Return what stands for the braces; the records of a shop with one person are there."""
    monkeypatch.setenv("DRYPARK_DATA", str(tmp_path / "data"))
    (tmp_path / "data").mkdir()
    store = open_store(Settings().url)
    store.people.add(Settings().shop, "Somebody", "owner")
    store.close()
    assert run(["backup", "--to", str(tmp_path / "kept")]) == 0
    truth = tmp_path / "truth.json"
    truth.write_text(json.dumps({Path(CASE).stem: {"causes": ["rc-wss-sensor-failed@rf"]}}))
    (backup,) = (tmp_path / "kept").iterdir()
    return {"new": str(tmp_path / "new"), "backup": str(backup), "truth": str(truth)}


def _commands(group: Any, before: str = "") -> Iterator[str]:
    """Yield the full names of all commands."""
    for name, command in group.commands.items():
        if hasattr(command, "commands"):
            yield from _commands(command, f"{before}{name} ")
        else:
            yield f"{before}{name}"


@pytest.mark.parametrize("line", LONG)
def test_a_command_that_is_stopped_says_what_was_not_done(
    line: str,
    places: dict[str, str],
    capsys: Captured,
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
) -> None:
    """Stopped where it first says how far it is: so it does say that, and leaves nothing half."""
    before = sorted(path for path in tmp_path.rglob("*") if path.parent != tmp_path / "data")
    capsys.readouterr()

    def stopped(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(Progress, "__call__", stopped)
    code = run([word.format(**places) for word in line.split()])

    err = capsys.readouterr().err
    assert code == 130
    assert err.startswith(f"drypark: stopped; {LONG[line]}")
    assert len(err.splitlines()) == 1
    after = sorted(path for path in tmp_path.rglob("*") if path.parent != tmp_path / "data")
    assert [path for path in after if path != tmp_path / "new" or any(path.iterdir())] == before


def test_every_command_is_long_or_short() -> None:
    """Partner of the sweep above: a new command has to be put into one of the two tables."""
    commands = set(_commands(get_command(app)))
    long = {name for name in commands if any(line.startswith(name) for line in LONG)}

    assert len(LONG) == 10
    assert len(commands) == 24
    assert long | set(SHORT) == commands
    assert not long & set(SHORT)


@pytest.mark.skipif(os.name == "nt", reason="there Ctrl-C goes to a group of processes")
def test_the_processes_of_a_replay_end_with_it() -> None:
    """Each of them hears Ctrl-C too; one sentence is said, and no traceback of theirs."""
    line = ["replay", "--simulate", "4000", "--workers", "2"]
    with subprocess.Popen(
        [sys.executable, "-m", "api.command", *line],
        cwd=TOP,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        start_new_session=True,
    ) as running:
        try:
            assert running.stderr is not None
            first = running.stderr.readline()
            os.killpg(running.pid, signal.SIGINT)
            out, rest = running.communicate(timeout=120)
        finally:
            running.kill()
    assert b" of 4000" in first
    assert running.returncode == 130
    assert out == b""
    said = [line for line in rest.splitlines() if b" of 400" not in line]
    assert said == [b"drypark: stopped; no car is counted; nothing was written"]

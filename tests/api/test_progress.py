"""How far a command is, and how it ends when somebody stops it."""

from __future__ import annotations

import io
import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from api.answering.accounting import account_for
from api.answering.listing import Listed
from api.command import _tell, run
from api.commands import triage as command
from api.documents import Answer
from api.terminal import Progress, StoppedError, unfinished

TOP = Path(__file__).resolve().parent.parent.parent
CASE = "fixtures/cases/sensor-really-bad.json"


class _Screen(io.StringIO):
    """A stream that says it is a terminal."""

    def isatty(self) -> bool:
        return True


def _clock(*seconds: float) -> Iterator[float]:
    return iter((0.0, *seconds))


def test_a_short_command_says_nothing() -> None:
    """Nobody needs to know how far it is when it is done."""
    screen, times = _Screen(), _clock(0.3, 0.9)
    with Progress(screen, clock=lambda: next(times)) as told:
        told("rows", 1, 2)
        told("rows", 2, 2)
    assert screen.getvalue() == ""


def test_on_a_screen_the_line_stays_in_its_place_and_is_wiped() -> None:
    """What comes after it starts on an empty line."""
    screen, times = _Screen(), _clock(10.0, 20.0)
    with Progress(screen, clock=lambda: next(times)) as told:
        told("copying rows", 1, 100)
        told("rows", 2, 3)
    first = "drypark: copying rows, 1 of 100, about 16 min left"
    second = "drypark: rows, 2 of 3"
    wiped = f"\r{'':<{len(second)}}\r"
    assert screen.getvalue() == f"\r{first}\r{second:<{len(first)}}{wiped}"


def test_in_a_pipe_there_are_plain_lines_now_and_then() -> None:
    """A log wants a few whole lines, without characters that steer a terminal."""
    pipe, times = io.StringIO(), _clock(1.0, 6.0, 7.0, 15.0, 16.5)
    with Progress(pipe, clock=lambda: next(times)) as told:
        for done in range(1, 6):
            told("cars", done, 5)
    assert pipe.getvalue().splitlines() == [
        "drypark: cars, 2 of 5, about 9 s left",
        "drypark: cars, 5 of 5",
    ]


def test_whoever_is_stopped_says_what_was_done() -> None:
    """The sentence is that of the work nearest to it, made at that moment."""
    done = 3
    with (
        pytest.raises(StoppedError, match=r"^3 of 5 are done$"),
        unfinished("nothing was done"),
        unfinished(lambda: f"{done} of 5 are done"),
    ):
        raise KeyboardInterrupt


def test_a_stopped_command_exits_130_with_its_sentence(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The list is whole when its account is stopped; it is told so, and nothing comes after it."""

    def stopped(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(command, "account_for", stopped)
    assert run(["triage", CASE]) == 130
    out, err = capsys.readouterr()
    assert "What it can be" in out
    assert "Replace the sensor first?" not in out
    assert err == "drypark: stopped; the list above is whole, its account was not made\n"


def test_a_stopped_document_is_not_written_at_all(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Half a document is none."""

    def stopped(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(command, "account_for", stopped)
    assert run(["triage", CASE, "--json"]) == 130
    out, err = capsys.readouterr()
    assert (out, err) == ("", "drypark: stopped; no answer was written\n")


def test_the_list_is_written_before_its_account_is_begun(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whoever waits reads; the list is not written again with the account."""
    seen = []

    def looked(listed: Listed, pause: object) -> Answer:
        seen.append(capsys.readouterr().out)
        return account_for(listed)

    monkeypatch.setattr(command, "account_for", looked)
    assert run(["triage", CASE]) == 0
    after = capsys.readouterr().out
    assert "What to check" in seen[0]
    assert "What it can be" in seen[0]
    assert "What to check" not in after
    assert "How sure that is" in after


#: Work without an end that hears no signal, as a sweep over large tables does not.
_DEAF = """
import signal, time
from api.terminal import stoppable
signal.signal(signal.SIGINT, lambda number, frame: None)
with stoppable("nothing was written"):
    print("at work", flush=True)
    while True:
        time.sleep(1)
"""


@pytest.mark.skipif(os.name == "nt", reason="there Ctrl-C goes to a group of processes")
def test_work_that_hears_nothing_is_ended_too() -> None:
    """Within a second or so; by itself it would go on for ever."""
    with subprocess.Popen(
        [sys.executable, "-c", _DEAF],
        cwd=TOP,
        env={**os.environ, "PYTHONPATH": str(TOP)},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    ) as running:
        try:
            assert running.stdout is not None
            assert running.stdout.readline() == b"at work\n"
            running.send_signal(signal.SIGINT)
            _, err = running.communicate(timeout=60)
        finally:
            running.kill()
    assert running.returncode == 130
    assert err.strip() == b"drypark: stopped; nothing was written"


def test_every_line_of_a_sentence_is_named(capsys: pytest.CaptureFixture[str]) -> None:
    """Beside other programs' lines it must be clear whose it is."""
    assert _tell("one\ntwo", 2) == 2
    assert capsys.readouterr().err == "drypark: one\ndrypark: two\n"

"""`drypark serve` and `drypark people`: started as a process, refused where it must not start."""

from __future__ import annotations

import io
import json
import os
import re
import signal
import socket
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from api.command import run
from api.settings import Settings
from tests.api.web.shop import PASSWORD, PIN

TOP = Path(__file__).resolve().parents[3]


@contextmanager
def served(
    folder: Path, *options: str, **variables: str
) -> Iterator[tuple[subprocess.Popen[str], str]]:
    """Start the service on a free port; return the process and where it is."""
    inside = {**os.environ, "TMPDIR": str(folder), "PYTHONPATH": str(TOP), **variables}
    command = [sys.executable, "-m", "api.command", "serve", "--port", "0", *options]
    with (
        (folder / "said.txt").open("w+", encoding="utf-8") as said,
        subprocess.Popen(command, cwd=TOP, env=inside, stderr=said, text=True) as process,
    ):
        try:
            yield process, _address(process, folder / "said.txt")
        finally:
            process.kill()


def _address(process: subprocess.Popen[str], said: Path) -> str:
    """Return where the service says that it is, once it answers."""
    until = time.monotonic() + 120
    while time.monotonic() < until and process.poll() is None:
        found = re.search(r"serving (http://\S+)/", said.read_text(encoding="utf-8"))
        if found:
            try:
                urllib.request.urlopen(f"{found[1]}/livez", timeout=30).close()
                return found[1]
            except urllib.error.URLError:
                pass
        time.sleep(0.05)
    raise AssertionError(said.read_text(encoding="utf-8"))


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="signals as here are POSIX")
def test_the_demo_is_one_process_and_leaves_nothing(tmp_path: Path) -> None:
    """It says that it is invented, shows six jobs, listens on loopback, cleans up at the end."""
    with served(tmp_path, "--demo") as (process, address):
        pages = json.loads(urllib.request.urlopen(f"{address}/api/session", timeout=30).read())
        folders = [path for path in tmp_path.iterdir() if path.is_dir()]
        process.send_signal(signal.SIGTERM)
        process.wait(60)
        said = (tmp_path / "said.txt").read_text(encoding="utf-8")

    assert address.startswith("http://127.0.0.1:")
    assert pages["demo"]
    assert len(pages["pick"]) == 4
    assert "are invented" in said
    assert len(folders) == 1
    assert [path for path in tmp_path.iterdir() if path.is_dir()] == []


@pytest.mark.slow
def test_what_was_acknowledged_is_there_after_a_restart(tmp_path: Path) -> None:
    """Killed without warning, started again: the same people, the same jobs."""
    data = {"DRYPARK_DATA": str(tmp_path / "data")}
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("DRYPARK_DATA", data["DRYPARK_DATA"])
        patch.setattr("sys.stdin", io.StringIO(f"{PASSWORD}\n"))
        assert run(["people", "add", "--role", "owner", "Test owner"]) == 0

    def ask(address: str, path: str, body: object = None, cookie: str = "") -> tuple[str, str]:
        """Send a request; return its text and the cookie that it sets."""
        content = None if body is None else json.dumps(body).encode()
        headers = {"content-type": "application/json", "origin": address, "cookie": cookie}
        asked = urllib.request.Request(f"{address}{path}", content, headers)
        with urllib.request.urlopen(asked, timeout=30) as answer:
            sets = answer.headers.get("set-cookie") or ""
            return answer.read().decode(), sets.partition(";")[0]

    first = {
        "id": "write-up-before-kill",
        "device_time": "2026-03-02T08:15:00Z",
        "body": {"kind": "written-up", "ticket": "4711"},
    }
    secret = {"name": "Test owner", "password": PASSWORD}
    with served(tmp_path, **data) as (process, address):
        _text, cookie = ask(address, "/api/session", secret)
        made = json.loads(ask(address, "/api/jobs", first, cookie)[0])
        process.kill()
    with served(tmp_path, **data) as (_process, address):
        again = json.loads(ask(address, "/api/jobs", first, cookie)[0])
        board = json.loads(ask(address, "/api/jobs", cookie=cookie)[0])

    assert again == made
    assert [row["job"] for row in board["jobs"]] == [made["job"]]


@pytest.fixture
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return a data folder that the commands of a test use."""
    monkeypatch.setenv("DRYPARK_DATA", str(tmp_path))
    return tmp_path


@pytest.mark.parametrize("options", [[], ["--host", "0.0.0.0"], ["--host", "::"]], ids=str)
def test_without_an_owner_it_does_not_start(
    data: Path, options: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    """And it says how to make one; there is no default password."""
    assert run(["serve", *options]) == 2
    assert "drypark people add --role owner NAME" in capsys.readouterr().err


def test_a_demo_for_the_whole_network_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    """It has no passwords."""
    assert run(["serve", "--demo", "--host", "0.0.0.0"]) == 2
    assert "served to this machine only" in capsys.readouterr().err


def test_a_taken_port_is_one_sentence(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """With what to do about it, and no traceback."""
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = str(taken.getsockname()[1])

        assert run(["serve", "--demo", "--port", port]) == 2

    told = capsys.readouterr().err
    assert f"it can't listen on 127.0.0.1 port {port}" in told
    assert "--port" in told


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--cert", "a.pem"], "both the certificate and its key"),
        (["--cert", "none.pem", "--key", "none.pem"], "there is no file none.pem"),
        (["--port", "99999"], "65535"),
    ],
    ids=["half", "missing", "port"],
)
def test_wrong_options_are_refused(
    data: Path, options: list[str], words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """In one sentence, exit 2."""
    assert run(["serve", *options]) == 2
    assert words in capsys.readouterr().err


def test_a_broken_database_file_is_left_alone(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One sentence, and not a byte of the file is changed."""
    file = data / "drypark.sqlite"
    file.write_bytes(b"this was a database once" * 1000)
    before = file.read_bytes()

    assert run(["serve"]) == 2

    assert file.read_bytes() == before
    assert len(capsys.readouterr().err.splitlines()) == 1


def test_people_are_added_from_standard_input(
    data: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A password is no argument; the list shows none."""
    monkeypatch.setattr("sys.stdin", io.StringIO(f"{PASSWORD}\n{PIN}\n"))
    assert run(["people", "add", "--role", "owner", "--pin", "Test owner"]) == 0
    assert run(["people", "list", "--json"]) == 0

    told = capsys.readouterr().out
    assert '"Test owner"' in told
    assert PASSWORD not in told
    assert b"four words" not in (data / "drypark.sqlite").read_bytes()


@pytest.mark.parametrize(
    ("arguments", "typed", "words"),
    [
        (["add", "--role", "owner", "A"], "", "0 characters"),
        (["add", "--role", "owner", "A"], "short", "10 to 200 characters"),
        (["add", "--role", "king", "A"], PASSWORD, "technician"),
        (["add", "--pin", "A"], f"{PASSWORD}\nabc", "digits"),
        (["password", "Nobody"], PASSWORD, "unknown person"),
        (["leave", "Nobody"], "", "unknown person"),
    ],
    ids=lambda value: str(value)[:30],
)
def test_people_that_will_not_do_are_refused(  # noqa: PLR0913 - the case and its fixtures
    data: Path,
    arguments: list[str],
    typed: str,
    words: str,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """One sentence, exit 2, nobody added."""
    monkeypatch.setattr("sys.stdin", io.StringIO(typed))

    assert run(["people", *arguments]) == 2
    assert words in capsys.readouterr().err


def test_settings_come_from_variables(monkeypatch: pytest.MonkeyPatch) -> None:
    """Lists are parted by commas; the database lies in the data folder unless it is named."""
    with tempfile.TemporaryDirectory() as folder:
        monkeypatch.setenv("DRYPARK_DATA", folder)
        monkeypatch.setenv("DRYPARK_HOSTS", "shop-pc, shop-pc.local")
        here = Settings()
        monkeypatch.setenv("DRYPARK_DATABASE_URL", "postgresql+psycopg://localhost/drypark")
        there = Settings()

    assert here.hosts == ("shop-pc", "shop-pc.local")
    assert here.url == f"sqlite:///{Path(folder) / 'drypark.sqlite'}"
    assert there.url.startswith("postgresql")
    assert here.loopback

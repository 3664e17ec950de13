"""What every test shares: no way out of this machine, and draws that repeat."""

from __future__ import annotations

import ipaddress
import os
import sys
from typing import Any

import pytest
from hypothesis import HealthCheck, settings

LOCAL_NAMES = ("", "localhost", "testserver")

settings.register_profile(
    "repeatable",
    derandomize=True,
    deadline=None,
    database=None,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("repeatable")


class NetworkBlockedError(RuntimeError):
    """A test tried to reach another machine; give it a fixture file instead."""


def refuse_other_machines(event: str, arguments: tuple[Any, ...]) -> None:
    """Raise for a socket that looks for anything beyond this machine."""
    if event in ("socket.connect", "socket.sendto"):
        address = arguments[1]
        if isinstance(address, tuple) and not is_local(address[0]):
            raise NetworkBlockedError(f"a test tried to reach {address[0]}; tests use no network")
    elif event == "socket.getaddrinfo" and not is_local(arguments[0]):
        raise NetworkBlockedError(f"a test asked for the address of {arguments[0]}")


def is_local(host: object) -> bool:
    """Return whether a host name or address is this machine."""
    name = host.decode() if isinstance(host, bytes) else str(host or "")
    if name.lower() in LOCAL_NAMES:
        return True
    try:
        return ipaddress.ip_address(name.partition("%")[0]).is_loopback
    except ValueError:
        return False


def pytest_configure() -> None:
    """Close the way out before anything is collected; a hook of the interpreter can't be undone."""
    sys.addaudithook(refuse_other_machines)


@pytest.fixture(autouse=True)
def _plain_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    """Give every test the same terminal, whatever this one is."""
    for name in ("FORCE_COLOR", "COLUMNS", "CLICOLOR_FORCE"):
        if name in os.environ:
            monkeypatch.delenv(name)

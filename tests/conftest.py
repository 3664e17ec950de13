"""What every test shares: no way out of this machine, and property tests that repeat."""

from __future__ import annotations

import os
import socket
from typing import Any

import pytest
from hypothesis import HealthCheck, settings

LOOPBACK = ("127.", "::1", "localhost")

settings.register_profile(
    "repeatable", derandomize=True, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("repeatable")


@pytest.fixture(autouse=True)
def _no_way_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """Refuse every connection that leaves this machine."""
    connect = socket.socket.connect

    def guarded(self: socket.socket, address: Any) -> None:
        if isinstance(address, tuple) and not str(address[0]).startswith(LOOPBACK):
            raise AssertionError(f"a test tried to reach {address[0]}")
        connect(self, address)

    monkeypatch.setattr(socket.socket, "connect", guarded)


@pytest.fixture(autouse=True)
def _plain_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    """Give every test the same terminal, whatever this one is."""
    for name in ("FORCE_COLOR", "COLUMNS", "CLICOLOR_FORCE"):
        if name in os.environ:
            monkeypatch.delenv(name)

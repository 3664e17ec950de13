"""Records to test on: every contract test runs on SQLite and on a real PostgreSQL."""

from __future__ import annotations

import itertools
import os
from collections.abc import Iterator
from pathlib import Path

import psycopg
import pytest
from sqlalchemy import make_url

from api.store.engine import Store, open_store
from tests.api.store.making import Clock
from tests.api.store.postgres_server import running_server

_NUMBERS = itertools.count(1)


@pytest.fixture(scope="session")
def postgres_server() -> Iterator[str]:
    """Give the URL of a server: one that was named, or the one from the test lock."""
    named = os.environ.get("DRYPARK_TEST_PG_URL")
    if named:
        yield named
        return
    with running_server() as url:
        yield url


@pytest.fixture
def postgres(postgres_server: str) -> Iterator[str]:
    """Give the URL of an empty database of its own."""
    name = f"drypark_{os.getpid()}_{next(_NUMBERS)}"
    with psycopg.connect(postgres_server, autocommit=True) as server:
        server.execute(f"CREATE DATABASE {name}")
        url = make_url(postgres_server).set(database=name)
        yield url.render_as_string(hide_password=False)
        server.execute(f"DROP DATABASE {name} WITH (FORCE)")


@pytest.fixture(params=["sqlite", pytest.param("postgres", marks=pytest.mark.postgres)])
def address(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """Give the address of a place without records."""
    if request.param == "postgres":
        return str(request.getfixturevalue("postgres"))
    return f"sqlite:///{(tmp_path / 'shop' / 'drypark.sqlite3').as_posix()}"


@pytest.fixture
def clock() -> Clock:
    """Give a clock that goes on by a second each time it is looked at."""
    return Clock()


@pytest.fixture
def store(address: str, clock: Clock) -> Iterator[Store]:
    """Give new records."""
    store = open_store(address, clock=clock)
    yield store
    store.close()


@pytest.fixture
def shop_file(tmp_path: Path) -> Path:
    """Give the name of a file that is not there."""
    return tmp_path / "shop.sqlite3"

"""`drypark serve`: one process with the pages and the interface.

The one idea: it listens only when it may. Everything that speaks against it (nobody who owns
the shop, a demo for the whole network, a taken port) is said before the first request can come.
"""

from __future__ import annotations

import contextlib
import os
import signal
import socket
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import uvicorn

from api.app import create_app
from api.documents import CaseShop
from api.edge.log import start_log
from api.jobs.answering import nothing_known
from api.jobs.demo import SHOP, DemoClock, fill
from api.jobs.desk import Desk
from api.jobs.terms import Hands, ShopTerms
from api.settings import Settings
from api.store.engine import Store, open_store
from graph.load import load_knowledge
from triage.errors import TriageError

__all__ = ["Asked", "CannotServeError", "desk_for", "opened", "run", "settings_for"]


class CannotServeError(TriageError):
    """The service can't be started as asked."""


@dataclass(frozen=True, slots=True)
class Asked:
    """The options of the command; None = not given."""

    demo: bool = False
    host: str | None = None
    port: int | None = None
    cert: str | None = None
    key: str | None = None


def run(asked: Asked) -> None:
    """Serve until it is stopped.

    Raises
    ------
    CannotServeError
        If it must not or can't listen there.
    StoreError
        If the records can't be opened.
    """
    settings = settings_for(asked)
    _check_files(asked)
    # Sweeps let go of the interpreter for a millisecond; the usual 5 ms to get it back is long.
    sys.setswitchinterval(0.0005)
    with _door(settings) as door, opened(settings) as (live, store, desk):
        app = create_app(live, store, desk)
        config = uvicorn.Config(
            app,
            log_config=None,
            access_log=False,  # its lines hold paths with ids; ours don't
            server_header=False,
            timeout_keep_alive=60,  # a check takes a minute; a new connection takes its time too
            timeout_graceful_shutdown=5,
            ssl_certfile=asked.cert,
            ssl_keyfile=asked.key,
        )
        door.listen(2048)
        start_log()
        _greet(live, door, secure=asked.cert is not None)
        _warm(store, desk, live)
        # uvicorn hands a signal on when it has stopped; the folder of a demo must go before.
        signal.signal(signal.SIGTERM, _leave)
        with contextlib.suppress(KeyboardInterrupt, SystemExit):
            uvicorn.Server(config).run(sockets=[door])
        desk.close()
        busy = desk.busy() or desk.makes_fuller()
    if busy:  # the records are closed; nobody waits for what is still being worked out
        sys.stderr.flush()
        os._exit(0)


def _leave(number: int, frame: object) -> None:
    """Leave by the front door when told to stop."""
    raise SystemExit(0)


def settings_for(asked: Asked) -> Settings:
    """Return the settings, options before variables."""
    given: dict[str, Any] = {"demo": asked.demo}
    if asked.host is not None:
        given["host"] = asked.host
    if asked.port is not None:
        given["port"] = asked.port
    settings = Settings(**given)
    if settings.demo and not settings.loopback:
        raise CannotServeError(
            f"the demo has no passwords, so it is served to this machine only, not on "
            f"{settings.host}; leave --host out, or serve a shop of your own without --demo"
        )
    return settings


@contextmanager
def opened(settings: Settings) -> Iterator[tuple[Settings, Store, Desk]]:
    """Open records and desk; of the demo in a folder that is removed afterwards."""
    if settings.demo:
        with tempfile.TemporaryDirectory(
            prefix="drypark-demo-", ignore_cleanup_errors=True
        ) as folder:
            live = settings.model_copy(
                update={"data": Path(folder), "database_url": "", "shop": SHOP}
            )
            clock = DemoClock()
            with _at(live, open_store(live.url, clock=clock)) as (store, desk):
                fill(store, desk, clock)
                yield live, store, desk
        return
    with _at(settings, open_store(settings.url)) as (store, desk):
        if not store.people.has_owner(settings.shop):
            raise CannotServeError(
                "the shop has no owner yet, and nobody could sign in; make one with: "
                "drypark people add --role owner NAME (it asks for a password), then start again"
            )
        yield settings, store, desk


@contextmanager
def _at(settings: Settings, store: Store) -> Iterator[tuple[Store, Desk]]:
    """Open a desk over a store; close both afterwards."""
    try:
        desk = desk_for(settings, store)
        try:
            yield store, desk
        finally:
            desk.close()
    finally:
        store.close()


def desk_for(settings: Settings, store: Store) -> Desk:
    """Return the desk of a shop, with the shipped knowledge."""
    shop = CaseShop(labour_per_hour=settings.labour_per_hour, currency=settings.currency)
    terms = ShopTerms(shop, frozenset(settings.licensed))
    return Desk(load_knowledge(), store, terms=terms, hands=Hands(ahead=True))


def _warm(store: Store, desk: Desk, settings: Settings) -> None:
    """Begin on the answers of the open jobs, so that the first page finds them made."""
    for row in reversed(store.jobs.list(settings.shop, most=50)):
        state = store.jobs.state(settings.shop, row.job)
        if not nothing_known(state.case):
            desk.start(state)


@contextmanager
def _door(settings: Settings) -> Iterator[socket.socket]:
    """Hold the address, or say why it can't be had; nobody is let in yet."""
    family = socket.AF_INET6 if ":" in settings.host else socket.AF_INET
    with socket.socket(family, socket.SOCK_STREAM) as door:
        if sys.platform != "win32":  # there it would let two services share the port
            door.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            door.bind((settings.host.strip("[]"), settings.port))
        except OSError as error:
            raise CannotServeError(
                f"it can't listen on {settings.host} port {settings.port} "
                f"({(error.strerror or 'unknown reason').lower()}); stop what listens there, or "
                "choose another with --port"
            ) from None
        yield door


def _check_files(asked: Asked) -> None:
    """Refuse half a certificate, and files that are not there."""
    given = [name for name in (asked.cert, asked.key) if name is not None]
    if len(given) == 1:
        raise CannotServeError(
            "https needs both the certificate and its key; give --cert and --key, or neither"
        )
    missing = [name for name in given if not Path(name).is_file()]
    if missing:
        raise CannotServeError(
            f"there is no file {missing[0]}; make both with: drypark cert create"
        )


def _greet(settings: Settings, door: socket.socket, *, secure: bool) -> None:
    """Say where the pages are, and that a demo is one."""
    host, port = settings.host, door.getsockname()[1]
    name = f"[{host}]" if ":" in host and not host.startswith("[") else host
    if settings.demo:
        sys.stderr.write(
            "drypark: demo. The shop, its people, the cars and every reading are invented, and "
            "everything you write is thrown away at the end.\n"
        )
    scheme = "https" if secure else "http"
    sys.stderr.write(f"drypark: serving {scheme}://{name}:{port}/ until you press Ctrl+C\n")
    sys.stderr.flush()

"""A real server with the invented shop, and a real browser that reaches nothing else.

The list is made on paper (`tests.api.pages.paper`), so that what is tested is the pages and
takes no time. Without a browser these tests are skipped by name; `DRYPARK_REQUIRE_BROWSER=1`
makes that a failure.
"""

from __future__ import annotations

import asyncio
import os
import shutil
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
import uvicorn

from api.accounts.passwords import hashed
from api.answering.gating import GateRecord
from api.app import create_app
from api.documents import Answer, Case
from api.jobs.answering import Compute, at_once
from api.jobs.demo import SHOP, DemoClock, fill
from api.jobs.desk import Desk
from api.jobs.explaining import Account, Explainer
from api.settings import Settings, is_loopback
from api.store.engine import Store, open_store
from api.store.fold import JobState
from api.words_match import nearest
from graph.terms import Knowledge
from tests.api.pages.paper import paper_account, paper_answer
from tests.api.web.shop import known

#: Where a browser may be found; the first that exists is driven.
NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "msedge")
FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
)
PHONE = {"width": 360, "height": 740}
DESK = {"width": 1280, "height": 900}
#: The complaint of a job whose list is never ready while the tests run.
NEVER_READY = "the list of this one takes its time"
UNEXPLAINED = "rc-wss-sensor-failed@rr"  # its account neither
PASSWORD, PIN = "four words in a row", "271828"


@dataclass
class Served:
    """The invented shop, listening on this machine, and one beside it that asks for passwords."""

    base: str
    store: Store
    jobs: list[str]
    desk: Desk
    stuck: threading.Event  # set: the server takes requests and answers none
    strict: str = ""  # where the shop with passwords is
    shop: str = SHOP
    making: str = ""  # a job whose list is being made, where a test wrote one


@dataclass
class Windows:
    """Opens browser windows, and remembers every address that they asked for."""

    browser: Any
    served: Served
    asked: list[str] = field(default_factory=list)
    opened: list[Any] = field(default_factory=list)

    def open(self, size: dict[str, int] | None = None, *, js: bool = True, **more: Any) -> Any:
        """Return a page in a window of its own, nobody signed in."""
        context = self.browser.new_context(
            viewport=size or DESK, java_script_enabled=js, base_url=self.served.base, **more
        )
        context.set_default_timeout(10_000)
        context.on("request", lambda request: self.asked.append(request.url))
        self.opened.append(context)
        return context.new_page()

    def signed_in(
        self, size: dict[str, int] | None = None, *, who: str = "technician", **more: Any
    ) -> Any:
        """Return the page of a person of the invented shop."""
        page = self.open(size, **more)
        people = self.served.store.people.list(self.served.shop)
        name = next(one.name for one in people if one.role == who)
        page.goto("/sign-in")
        page.get_by_role("button", name=name).click()
        page.wait_for_url("**/")
        return page

    def close(self) -> None:
        """Close every window; nothing may have been asked of another machine."""
        for context in self.opened:
            context.close()
        elsewhere = [
            url
            for url in self.asked
            if urlsplit(url).scheme not in ("data", "blob")
            and not is_loopback(urlsplit(url).hostname or "")
        ]
        assert elsewhere == []
        assert self.asked


class SlowOnce(Explainer):
    """Explains on paper, and one cause never."""

    def start(self, state: JobState, answer: Answer, cause: str) -> Account:
        """Return an account that is never ready, for the one cause."""
        return Account(done=2) if cause == UNEXPLAINED else super().start(state, answer, cause)


def browser_path() -> str | None:
    """Return the browser to drive, if there is one."""
    return next((found for name in NAMES if (found := shutil.which(name))), None)


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    """Return a browser; of a module, since its event loop must not outlive it."""
    path = browser_path()
    if path is None:
        if os.environ.get("DRYPARK_REQUIRE_BROWSER") == "1":
            pytest.fail("no browser found, and DRYPARK_REQUIRE_BROWSER=1 asks for one")
        pytest.skip(f"no browser: none of {', '.join(NAMES)} is on the path")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=path, args=list(FLAGS))
        yield opened
        opened.close()


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """Serve the invented shop on a free port of this machine, and a shop with passwords."""
    end = threading.Event()

    def on_paper(knowledge: Knowledge, case: Case, record: GateRecord) -> Answer:
        """Answer at once, or not before the end."""
        if case.complaint == NEVER_READY:
            end.wait(600)
        return paper_answer(knowledge, case, record)

    with serve(Path(tmp_path_factory.mktemp("shop")), at_once(on_paper)) as running:
        yield running
        end.set()


@contextmanager
def serve(folder: Path, compute: Compute, shop: Path | None = None) -> Iterator[Served]:
    """Serve a shop, answered by something that stands in for the engine, or by the engine.

    Parameters
    ----------
    shop : folder that says who and what is in it; None = the invented shop of this project
    """
    settings = Settings(data=folder, demo=True, shop=SHOP)
    clock, stuck = DemoClock(), threading.Event()
    store = open_store(settings.url, clock=clock)
    desk = Desk(known(), store, compute=compute)
    explainer = SlowOnce(desk, paper_account)
    jobs = fill(store, desk, clock, shop)
    nearest(known(), "it hums")  # the index is made by the first who asks
    beside = Settings(data=settings.data, demo=False, shop="a-shop")
    store.people.add(beside.shop, "Olga", "owner", hashed(PASSWORD))
    store.people.add(beside.shop, "Pim", "technician", hashed(PASSWORD), hashed(PIN))
    with (
        listening(hanging(create_app(settings, store, desk, explainer=explainer), stuck)) as base,
        listening(create_app(beside, store, desk, explainer=explainer)) as strict,
    ):
        yield Served(base, store, jobs, desk, stuck, strict)
    explainer.close()
    desk.close()
    store.close()


def hanging(app: Any, stuck: threading.Event) -> Any:
    """Return an application that answers nothing while it is stuck."""

    async def run(scope: Any, receive: Any, send: Any) -> None:
        while stuck.is_set():
            await asyncio.sleep(0.02)
        await app(scope, receive, send)

    return run


@contextmanager
def listening(app: Any, **tls: str) -> Iterator[str]:
    """Serve an application on a free port of this machine; return where."""
    door = socket.create_server(("127.0.0.1", 0))
    config = uvicorn.Config(
        app,
        log_config=None,
        access_log=False,
        ssl_certfile=tls.get("cert"),
        ssl_keyfile=tls.get("key"),
    )
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, kwargs={"sockets": [door]}, daemon=True)
    thread.start()
    _wait_for(lambda: server.started)
    yield f"{'https' if tls else 'http'}://127.0.0.1:{door.getsockname()[1]}"
    server.should_exit = True
    thread.join(10)
    door.close()


def _wait_for(ready: Any, seconds: float = 10.0) -> None:
    """Poll until something holds."""
    end = time.monotonic() + seconds
    while not ready():
        assert time.monotonic() < end, "it did not come up in time"
        time.sleep(0.01)


@pytest.fixture
def windows(browser: Any, served: Served) -> Iterator[Windows]:
    """Return what opens windows; no request may have left this machine."""
    made = Windows(browser, served)
    yield made
    made.close()

"""A shop for tests of the service: a store in a folder, people of each role, a quick desk."""

from __future__ import annotations

import itertools
import json
import time
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

from api.accounts.passwords import hashed
from api.answering.asked_cause import account_of_cause
from api.answering.gating import GateRecord
from api.app import create_app
from api.documents import Answer, Case
from api.documents.answer import KnowledgeUsed
from api.jobs.answering import Compute, at_once
from api.jobs.desk import Desk
from api.jobs.explaining import Explainer, Explains
from api.jobs.terms import Hands
from api.settings import Settings
from api.store.engine import Store, open_store
from api.store.people import Person
from graph.load import load_knowledge
from graph.terms import Knowledge

with warnings.catch_warnings():  # the test client's own advice about another client library
    warnings.simplefilter("ignore")
    from starlette.testclient import TestClient

__all__ = [
    "PASSWORD",
    "PIN",
    "Client",
    "Shop",
    "event",
    "known",
    "open_shop",
    "quick_answer",
    "until",
]

PASSWORD, PIN = "four words in a row", "271828"
WHEN = "2026-03-02T08:15:00+01:00"
#: The write-up that a test starts from; invented.
WRITE_UP = {
    "kind": "written-up",
    "ticket": "4711",
    "vehicle": {"label": "invented van", "drivetrain": "fwd"},
    "complaint": "the light is on",
}
_NUMBERS = itertools.count(1)


@cache
def known() -> Knowledge:
    """Return the shipped knowledge."""
    return load_knowledge()


@cache
def _hash(secret: str) -> str:
    return hashed(secret)


def quick_answer(knowledge: Knowledge, case: Case, record: GateRecord) -> Answer:
    """Answer at once, with nothing but what was asked: for tests of the way, not of the answer."""
    return Answer(
        case=case.case,
        knowledge=KnowledgeUsed(version=knowledge.version, sha256=knowledge.sha256),
        exact=True,
        log_evidence=-float(len(case.findings)),
        width=0,
        complaint=case.complaint,
        notes=(f"{len(record.events)} in the record",),
    )


def until(holds: Callable[[], bool]) -> None:
    """Poll until something holds; half a minute at the most."""
    end = time.monotonic() + 30
    while not holds():
        assert time.monotonic() < end, "it did not come in time"
        time.sleep(0.005)


def event(body: dict[str, Any], *, id: str = "") -> dict[str, Any]:
    """Return an event as a device sends it."""
    return {"id": id or f"test-event-{next(_NUMBERS):08d}", "device_time": WHEN, "body": body}


class Client:
    """A browser of one person, that says where its requests come from."""

    def __init__(self, http: TestClient) -> None:
        self.http = http

    def send(self, method: str, path: str, body: Any = None, **more: Any) -> Any:
        """Send a request from our own page."""
        headers = {"origin": str(self.http.base_url), **more.pop("headers", {})}
        if body is not None:
            more["content"] = body if isinstance(body, bytes | str) else json.dumps(body)
            headers.setdefault("content-type", "application/json")
        return self.http.request(method, path, headers=headers, follow_redirects=False, **more)

    def get(self, path: str, **more: Any) -> Any:
        """Ask."""
        return self.send("GET", path, **more)

    def post(self, path: str, body: Any = None, **more: Any) -> Any:
        """Send JSON."""
        return self.send("POST", path, body, **more)

    def new_case(self, **changes: Any) -> str:
        """Open a job about which one thing is known; return its id."""
        job = self.new_job(**changes)
        body = {"kind": "finding", "finding": {"id": "sy-lamp-abs", "state": "present"}}
        assert self.post(f"/api/jobs/{job}/events", [event(body)]).status_code == 200
        return job

    def new_job(self, **changes: Any) -> str:
        """Open a job; return its id."""
        made = self.post("/api/jobs", event({**WRITE_UP, **changes}))
        assert made.status_code == 201, made.text
        job: str = made.json()["job"]
        return job


@dataclass
class Shop:
    """A shop with its service."""

    settings: Settings
    store: Store
    desk: Desk
    app: Any
    people: dict[str, Person] = field(default_factory=dict)
    base: str = "http://localhost"

    def anybody(self, **more: Any) -> Client:
        """Return a browser that nobody is signed in at."""
        more.setdefault("client", ("127.0.0.1", 50000))
        return Client(TestClient(self.app, base_url=self.base, **more))

    def as_role(self, role: str) -> Client:
        """Return the browser of the person of a role, signed in."""
        client = self.anybody()
        token = self.store.sessions.create(self.people[role], "a test")
        client.http.cookies.set("drypark-person", token)
        return client


@contextmanager
def open_shop(  # noqa: PLR0913 - what a test may want otherwise
    folder: Path,
    *,
    compute: Callable[[Knowledge, Case, GateRecord], Answer] = quick_answer,
    begin: Compute | None = None,
    explains: Explains = account_of_cause,
    hands: Hands | None = None,
    more: Callable[[], dict[str, Any]] = dict,
) -> Iterator[Shop]:
    """Open a shop in a folder.

    Parameters
    ----------
    compute : what answers, all at once
    begin : what answers, list first; `api.jobs.answering.begin_answer` is the engine
    explains : what makes the account of a cause
    hands : what works on lists; by default nothing is thought of ahead
    more : further settings
    """
    settings = Settings(data=folder, backup_days=0, **more())
    store = open_store(settings.url)
    desk = Desk(known(), store, compute=begin or at_once(compute), hands=hands)
    explainer = Explainer(desk, explains)
    try:
        shop = Shop(settings, store, desk, create_app(settings, store, desk, explainer=explainer))
        for role in ("owner", "senior", "technician", "trainee"):
            shop.people[role] = store.people.add(
                settings.shop, f"Test {role}", role, _hash(PASSWORD), _hash(PIN)
            )
        yield shop
    finally:
        explainer.close()
        desk.close()
        store.close()

"""Fifty technicians with a session, a connection and a job each, and the service that they use.

The service is a process of its own, on loopback, with its database on disk. The cases are those
of the demo and for practice whose list comes soon enough; those left out are named.
"""

from __future__ import annotations

import http.client
import json
import os
import random
import re
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from api.answering.gating import GateRecord
from api.documents import Answer, Case, read_case
from api.jobs.answering import begin_answer
from api.jobs.demo import bodies_of_case
from api.store.engine import open_store
from api.store.events import NewEvent, WrittenUp, body_from
from graph.build import compile_case
from graph.terms import Knowledge
from triage.compiling import compile_case as fold_and_plan

__all__ = ["Seat", "all_at_once", "cases_in_time", "list_of", "seats_for", "served", "write_jobs"]

WHEN = "2026-03-02T08:15:00Z"
SHOP = "shop"
Told = tuple[float, bool]  # seconds, and whether it was right
_UNBOUNDED = 64  # nothing is built, only planned


@dataclass
class Seat:
    """One technician with a job and the verdicts that will be given."""

    number: int
    case: Case
    verdicts: list[dict[str, Any]]
    job: str = ""
    token: str = ""
    connection: http.client.HTTPConnection = field(init=False)
    list: bytes = b""  # as it came last
    whole: frozenset[str] = frozenset()  # checks that have one answer

    def event(self, step: int) -> str:
        """Return the id of an event of this seat."""
        return f"bench-{self.number:04d}-{step:08d}"

    def after(self, rounds: int) -> Case:
        """Return the case after so many verdicts."""
        bodies = [body_from(json.dumps({"kind": "verdict", "verdict": v})) for v in self.verdicts]
        given = tuple(body.verdict for body in bodies[:rounds])  # type: ignore[union-attr]
        return self.case.model_copy(update={"verdicts": (*self.case.verdicts, *given)})

    def answer_another(self, step: int) -> Told | None:
        """Answer the check after the next one of the list; nothing where the list has ended."""
        rows = _rows_of(self.list)[1:2]
        return self.say(step, _verdict(rows[0]["id"], rows[0]["place"])) if rows else None

    def answer_next(self, step: int) -> Told | None:
        """Answer the next check of the list, found as often as it says it would be.

        Nothing where the list has ended.
        """
        rows = _rows_of(self.list)
        if not rows:
            return None
        row = rows[0]
        found = random.Random(1000 * self.number + step).random() < row["chance_found"]
        given: dict[str, Any] = {"check": row["id"], "place": row["place"]}
        if found and row["id"] not in self.whole:
            cause, _, at = row["finds"][0].partition("@")
            given |= {"cause": cause, "at": at or "vehicle"}
        return self.say(step, given | {"verdict": "found" if found else "not-found"})

    def say(self, step: int, verdict: dict[str, Any]) -> Told:
        """Post a verdict and get the new list; return seconds, and whether both were right."""
        body = {"kind": "verdict", "verdict": verdict}
        event = {"id": self.event(step), "device_time": WHEN, "body": body}
        began = time.perf_counter()
        posted, _text = self.ask("POST", f"/api/jobs/{self.job}/events", [event])
        seconds, right = self.get()
        return time.perf_counter() - began, right and posted == 200 and seconds > 0

    def get(self, asked: str = "") -> Told:
        """Get the answer as it is; return seconds, and whether it is one."""
        began = time.perf_counter()
        status, text = self.ask("GET", f"/api/jobs/{self.job}/answer{asked}")
        took = time.perf_counter() - began
        self.list = text
        return took, status == 200 and b'"causes"' in text

    def ask(self, method: str, path: str, body: Any = None) -> tuple[int, bytes]:
        """Send a request over the connection of this seat."""
        content = None if body is None else json.dumps(body)
        headers = {
            "content-type": "application/json",
            "sec-fetch-site": "same-origin",
            "cookie": f"drypark-person={self.token}",
        }
        for again in (True, False):
            try:
                self.connection.request(method, path, content, headers)
                answer = self.connection.getresponse()
                return answer.status, answer.read()
            except (BrokenPipeError, ConnectionResetError, http.client.RemoteDisconnected):
                self.connection.close()  # it was idle for too long; a browser does the same
                if not again:
                    raise
        raise AssertionError("either answered or raised")


def _rows_of(document: bytes) -> list[dict[str, Any]]:
    """Return the checks of a list."""
    rows: list[dict[str, Any]] = json.loads(document)["checks"] if document else []
    return rows


def list_of(knowledge: Knowledge, case: Case) -> Answer:
    """Return the list of a case by the engine called directly."""
    return begin_answer(knowledge, case, GateRecord(), lambda: None).answer


def cases_in_time(
    knowledge: Knowledge, products: float, seconds: float
) -> Iterator[tuple[Case, str]]:
    """Yield the demo and practice cases, with what they take where it is more than this.

    Parameters
    ----------
    products : that one evaluation may take
    seconds : that the list may take on this machine now, the better of two
    """
    top = Path("fixtures")
    for path in sorted([*top.glob("cases/*.json"), *top.glob("practice/cases/*.json")]):
        case = read_case(path)
        compiled = compile_case(knowledge, case.to_input())
        cost = fold_and_plan(compiled.network, compiled.evidence, budget=_UNBOUNDED).plan.cost
        if cost > products:
            yield case, f"{cost:.0e} products"
            continue
        took = min(_seconds(knowledge, case) for _ in range(2))
        yield case, f"{took:.1f} s" if took > seconds else ""


def _seconds(knowledge: Knowledge, case: Case) -> float:
    """Return how long one list takes."""
    began = time.perf_counter()
    list_of(knowledge, case)
    return time.perf_counter() - began


def seats_for(
    knowledge: Knowledge, cases: Sequence[Case], people: int, verdicts: int
) -> list[Seat]:
    """Return the seats; each has a car of its own, so that no list is made for two of them."""
    plans: dict[str, list[dict[str, Any]]] = {}
    whole = frozenset(key for key, one in knowledge.checks.items() if one.kind == "one-verdict")
    seats = []
    for number in range(people):
        case = cases[number % len(cases)]
        if case.case not in plans:
            rows = list_of(knowledge, case).checks
            asked = [row for row in rows if knowledge.checks[row.id].kind != "intake"]
            plans[case.case] = [_verdict(row.id, row.place) for row in asked[:verdicts]]
        car = case.vehicle.model_copy(update={"label": f"invented car {number}"})
        case = case.model_copy(update={"vehicle": car})
        seats.append(Seat(number, case, plans[case.case], whole=whole))
    return seats


def _verdict(check: str, place: str) -> dict[str, Any]:
    return {"check": check, "place": place, "verdict": "not-found"}


def write_jobs(seats: Sequence[Seat], folder: Path) -> None:
    """Write people, sessions and jobs into the records that the service will open."""
    store = open_store(folder / "drypark.sqlite")
    try:
        store.people.add(SHOP, "Owner", "owner")
        for seat in seats:
            person = store.people.add(SHOP, f"Technician {seat.number}", "technician")
            seat.token = store.sessions.create(person, "bench")
            for step, body in enumerate(bodies_of_case(seat.case, f"ticket {seat.number}")):
                event = NewEvent.model_validate_json(
                    json.dumps({"id": seat.event(900 + step), "device_time": WHEN, "body": body})
                )
                if isinstance(event.body, WrittenUp):
                    seat.job = store.jobs.create(SHOP, person.who, event, "bench").job
                else:
                    store.jobs.append(SHOP, seat.job, person.who, [event], "bench")
    finally:
        store.close()


def all_at_once(seats: Sequence[Seat], do: Callable[[Seat], Any]) -> list[Any]:
    """Let every seat do something at the same instant; return what each got."""
    gate = threading.Barrier(len(seats))

    def at_once(seat: Seat) -> Any:
        gate.wait()
        return do(seat)

    with ThreadPoolExecutor(len(seats)) as pool:
        return list(pool.map(at_once, seats))


@contextmanager
def served(folder: Path) -> Iterator[int]:
    """Start the service over the records in a folder; give its port."""
    inside = {**os.environ, "DRYPARK_DATA": str(folder)}
    command = [sys.executable, "-m", "api.command", "serve", "--port", "0"]
    said = folder / "said.txt"
    with (
        said.open("w+", encoding="utf-8") as out,
        subprocess.Popen(command, env=inside, stderr=out) as process,
    ):
        try:
            yield _port(process, said)
        finally:
            process.terminate()
            process.wait(30)


def _port(process: subprocess.Popen[bytes], said: Path) -> int:
    """Return the port that the service says it listens on."""
    while process.poll() is None:
        found = re.search(r"serving http://127\.0\.0\.1:(\d+)/", said.read_text(encoding="utf-8"))
        if found:
            return int(found[1])
        time.sleep(0.05)
    raise RuntimeError(said.read_text(encoding="utf-8"))

"""Fifty technicians answer at once: from a tap on a verdict to the new list.

A real service in a process of its own, on loopback, with its database on disk. Fifty people,
each with a session, a connection and a job of their own, post a verdict at the same instant and
ask for the new list; the time runs from the first byte sent to the last byte of the list. The
same engine answers the same states directly in the same run, in as many threads as the service
has, handed over at the same instant: the difference is what the service costs.

Besides *all at the same instant*, which no shop does, verdicts are spread at random as they
come where fifty people take half a minute for a check.
"""

from __future__ import annotations

import http.client
import json
import os
import random
import re
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from api.answering.gating import GateRecord
from api.documents import Answer, Case, read_case
from api.jobs.answering import answer_for
from api.jobs.demo import bodies_of_case
from api.store.engine import open_store
from api.store.events import NewEvent, WrittenUp, body_from
from graph.build import compile_case
from graph.load import load_knowledge
from graph.terms import Knowledge
from triage.compiling import compile_case as fold_and_plan

__all__ = ["bay_rows"]

PEOPLE, ROUNDS, WORKERS = 50, 3, 2
#: Cases whose one evaluation takes more products than this, or whose answer takes longer than
#: so many seconds on this machine now, are left out, and counted.
BUDGET, LONGEST = 1e7, 1.0
#: Seconds that a technician takes for a check, in the second part.
EACH = 30.0
WHEN = "2026-03-02T08:15:00Z"
SHOP = "shop"


@dataclass
class Seat:
    """One technician with a job and the verdicts that will be given."""

    number: int
    case: Case
    verdicts: list[dict[str, Any]]
    job: str = ""
    token: str = ""
    connection: http.client.HTTPConnection = field(init=False)

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


def bay_rows() -> list[dict[str, object]]:
    """Return a row for each way of asking: how many, p50 and p95 in ms, errors."""
    knowledge = load_knowledge()
    cases, left_out = _cases(knowledge)
    sys.stderr.write(
        f"{len(cases)} cases; {left_out} left out: over {BUDGET:.0e} products or {LONGEST:.0f} s\n"
    )
    seats = _seats(knowledge, cases)
    with tempfile.TemporaryDirectory(prefix="drypark-bench-") as folder:
        _write(seats, Path(folder))
        alone = _alone(knowledge, seats)
        direct = _direct(knowledge, seats)
        with _served(Path(folder)) as port:
            for seat in seats:
                seat.connection = http.client.HTTPConnection("127.0.0.1", port, timeout=600)
            _all(seats, lambda seat: seat.ask("GET", f"/api/jobs/{seat.job}/answer"))
            burst, wrong = _burst(seats)
            again, wrong_again = _kept(seats)
            spread, wrong_spread = _spread(seats)
    return [
        _row("engine alone, one after the other", alone, 0),
        _row(f"engine, {PEOPLE} at the same instant, {WORKERS} threads", direct, 0),
        _row(f"service, {PEOPLE} at the same instant", burst, wrong, direct),
        _row(f"service, {PEOPLE} people, a verdict each {EACH:.0f} s", spread, wrong_spread, alone),
        _row(f"service, {PEOPLE} at once, list made before", again, wrong_again),
    ]


def _row(
    what: str, seconds: Sequence[float], wrong: int, beside: Sequence[float] = ()
) -> dict[str, object]:
    """Return a row of the table; the ratio is that of the 95th percentiles."""
    p50, p95 = (1000 * float(np.quantile(seconds, q)) for q in (0.5, 0.95))
    row: dict[str, object] = {"what": what, "n": len(seconds), "p50 ms": p50, "p95 ms": p95}
    row["errors"] = wrong
    row["p95 / engine"] = p95 / (1000 * float(np.quantile(beside, 0.95))) if beside else ""
    return row


def _cases(knowledge: Knowledge) -> tuple[list[Case], int]:
    """Return the demo and practice cases that are not too dear, and how many are."""
    top = Path("fixtures")
    paths = sorted([*top.glob("cases/*.json"), *top.glob("practice/cases/*.json")])
    kept = []
    for path in paths:
        case = read_case(path)
        compiled = compile_case(knowledge, case.to_input())
        cost = fold_and_plan(compiled.network, compiled.evidence).plan.cost
        if cost <= BUDGET and _seconds(knowledge, case) <= LONGEST:
            kept.append(case)
    if not kept:
        raise RuntimeError("no case is answered in time on this machine now; nothing to measure")
    return kept, len(paths) - len(kept)


def _seconds(knowledge: Knowledge, case: Case) -> float:
    """Return how long one answer takes, the better of two."""
    times = []
    for _ in range(2):
        began = time.perf_counter()
        answer_for(knowledge, case, GateRecord())
        times.append(time.perf_counter() - began)
    return min(times)


def _seats(knowledge: Knowledge, cases: Sequence[Case]) -> list[Seat]:
    """Return the seats; each has a car of its own, so that no list is made for two of them."""
    plans: dict[str, list[dict[str, Any]]] = {}
    seats = []
    for number in range(PEOPLE):
        case = cases[number % len(cases)]
        if case.case not in plans:
            answer = answer_for(knowledge, case, GateRecord())
            plans[case.case] = [_verdict(row.id, row.place) for row in _checks(answer, knowledge)]
        car = case.vehicle.model_copy(update={"label": f"invented car {number}"})
        seats.append(Seat(number, case.model_copy(update={"vehicle": car}), plans[case.case]))
    return seats


def _checks(answer: Answer, knowledge: Knowledge) -> list[Any]:
    """Return the first checks of a list that give a verdict, one for each time of answering."""
    rows = [row for row in answer.checks if knowledge.checks[row.id].kind != "intake"]
    return rows[: ROUNDS + 2]


def _verdict(check: str, place: str) -> dict[str, Any]:
    at = {} if place == "vehicle" else {"place": place}
    return {"check": check, **at, "verdict": "not-found"}


def _write(seats: Sequence[Seat], folder: Path) -> None:
    """Write people, sessions and jobs into the records that the service will open."""
    store = open_store(folder / "drypark.sqlite")
    try:
        store.people.add(SHOP, "Owner", "owner")
        for seat in seats:
            person = store.people.add(SHOP, f"Technician {seat.number}", "technician")
            seat.token = store.sessions.create(person, "bench")
            for step, body in enumerate(bodies_of_case(seat.case, f"ticket {seat.number}")):
                event = NewEvent.model_validate_json(
                    json.dumps({"id": _id(seat, 900 + step), "device_time": WHEN, "body": body})
                )
                if isinstance(event.body, WrittenUp):
                    seat.job = store.jobs.create(SHOP, person.who, event, "bench").job
                else:
                    store.jobs.append(SHOP, seat.job, person.who, [event], "bench")
    finally:
        store.close()


def _id(seat: Seat, step: int) -> str:
    return f"bench-{seat.number:04d}-{step:08d}"


def _after(seat: Seat, rounds: int) -> Case:
    """Return the case of a seat after so many verdicts."""
    bodies = [body_from(json.dumps({"kind": "verdict", "verdict": v})) for v in seat.verdicts]
    given = tuple(body.verdict for body in bodies[:rounds])  # type: ignore[union-attr]
    return seat.case.model_copy(update={"verdicts": (*seat.case.verdicts, *given)})


def _alone(knowledge: Knowledge, seats: Sequence[Seat]) -> list[float]:
    """Return how long the engine takes for a first verdict, nothing else running."""
    out = []
    for seat in seats[::5]:
        case, began = _after(seat, 1), time.perf_counter()
        answer_for(knowledge, case, GateRecord())
        out.append(time.perf_counter() - began)
    return out


def _direct(knowledge: Knowledge, seats: Sequence[Seat]) -> list[float]:
    """Return how long each seat waits when all hand their state to the engine at once."""
    out = []
    with ThreadPoolExecutor(WORKERS) as pool:
        for number in range(1, ROUNDS + 1):
            began = time.perf_counter()

            def ended(case: Case, since: float = began) -> float:
                answer_for(knowledge, case, GateRecord())
                return time.perf_counter() - since

            out += list(pool.map(ended, [_after(seat, number) for seat in seats]))
    return out


def _answered(seat: Seat, step: int) -> tuple[float, bool]:
    """Post a verdict and get the new list; return the seconds, and whether both were right."""
    began = time.perf_counter()
    body = {"kind": "verdict", "verdict": seat.verdicts[step % len(seat.verdicts)]}
    event = {"id": _id(seat, step), "device_time": WHEN, "body": body}
    posted, _text = seat.ask("POST", f"/api/jobs/{seat.job}/events", [event])
    got, text = seat.ask("GET", f"/api/jobs/{seat.job}/answer")
    right = posted == got == 200 and b'"causes"' in text
    return time.perf_counter() - began, right


def _all(seats: Sequence[Seat], do: Callable[[Seat], Any]) -> list[Any]:
    """Let every seat do something at the same instant; return what each got."""
    gate = threading.Barrier(len(seats))

    def at_once(seat: Seat) -> Any:
        gate.wait()
        return do(seat)

    with ThreadPoolExecutor(len(seats)) as pool:
        return list(pool.map(at_once, seats))


def _burst(seats: Sequence[Seat]) -> tuple[list[float], int]:
    """All at the same instant, round after round."""
    rows = []
    for step in range(ROUNDS):
        rows += _all(seats, partial(_answered, step=step))
    return [seconds for seconds, _right in rows], sum(not right for _seconds, right in rows)


def _kept(seats: Sequence[Seat]) -> tuple[list[float], int]:
    """All ask once more for the list that they have: what everything but the engine takes."""

    def ask(seat: Seat) -> tuple[float, bool]:
        began = time.perf_counter()
        status, _text = seat.ask("GET", f"/api/jobs/{seat.job}/answer")
        return time.perf_counter() - began, status == 200

    rows = _all(seats, ask)
    return [seconds for seconds, _right in rows], sum(not right for _seconds, right in rows)


def _spread(seats: Sequence[Seat]) -> tuple[list[float], int]:
    """Each seat answers once within the time of a check, at a moment drawn at random."""
    draw = random.Random(1)
    moments = {seat.number: draw.uniform(0.0, EACH) for seat in seats}
    began = time.perf_counter()

    def later(seat: Seat) -> tuple[float, bool]:
        time.sleep(max(0.0, began + moments[seat.number] - time.perf_counter()))
        return _answered(seat, ROUNDS)

    rows = _all(seats, later)
    return [seconds for seconds, _right in rows], sum(not right for _seconds, right in rows)


@contextmanager
def _served(folder: Path) -> Iterator[int]:
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

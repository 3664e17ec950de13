"""The answer desk: worked out once, kept, counted, stopped; gates written down exactly once."""

from __future__ import annotations

import json
import threading
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import pytest

from api.answering.gating import GateRecord
from api.documents import Answer, Case, CaseShop
from api.jobs.answering import answer_key, at_once, begin_answer
from api.jobs.desk import Desk
from api.jobs.terms import ShopTerms
from api.jobs.work import STEPS
from api.problems import ProblemError
from api.store.events import FindingSeen, GateOpened
from graph.terms import Knowledge
from tests.api.web.shop import Client, Shop, event, known, open_shop, quick_answer

FINDING = {"kind": "finding", "finding": {"id": "sy-hum-speed", "state": "present"}}


class Counting:
    """Answers quickly, counts how often, and waits as long as it is held."""

    def __init__(self) -> None:
        self.asked: list[Case] = []
        self.held = threading.Event()
        self.begun = threading.Event()
        self.held.set()

    def __call__(self, knowledge: Knowledge, case: Case, record: GateRecord) -> Answer:
        """Answer one case."""
        self.asked.append(case)
        self.begun.set()
        assert self.held.wait(30)
        return quick_answer(knowledge, case, record)


@pytest.fixture
def counting() -> Counting:
    """Return what answers."""
    return Counting()


@pytest.fixture
def counted(tmp_path: Path, counting: Counting) -> Iterator[Shop]:
    """Return a shop whose desk counts."""
    with open_shop(tmp_path, compute=counting) as opened:
        yield opened


def test_ten_who_ask_at_once_get_one_answer(counted: Shop, counting: Counting) -> None:
    """Ten tablets on one job make the machine work once."""
    job = counted.as_role("technician").new_case()
    state = counted.store.jobs.state("shop", job)
    counting.held.clear()

    with ThreadPoolExecutor(10) as pool:
        waiting = [pool.submit(counted.desk.answer, state) for _ in range(10)]
        assert counting.begun.wait(10)
        counting.held.set()
        answers = [one.result(30) for one in waiting]

    assert len(counting.asked) == 1
    assert len({answer.model_dump_json() for answer in answers}) == 1


def test_an_answer_that_was_shown_is_shown_again_exactly(counted: Shop, counting: Counting) -> None:
    """By another desk, after more was written, at other prices, with newer knowledge."""
    technician = counted.as_role("technician")
    job = technician.new_case()
    first = technician.get(f"/api/jobs/{job}/answer")
    technician.post(f"/api/jobs/{job}/events", [event(FINDING)])
    technician.get(f"/api/jobs/{job}/answer")
    asked = len(counting.asked)

    dearer = ShopTerms(CaseShop(labour_per_hour=999))
    newer = replace(known(), sha256="0" * 64)
    again = Desk(newer, counted.store, terms=dearer, compute=at_once(counting))
    counted.app.state.desk = again
    then = technician.get(f"/api/jobs/{job}/answer?upto=2")
    again.close()

    assert then.content == first.content
    assert then.headers["etag"] == first.headers["etag"]
    assert len(counting.asked) == asked == 2


def test_what_changes_the_answer_changes_its_key(counted: Shop) -> None:
    """And the name of the job, which doesn't, does not."""
    technician = counted.as_role("technician")
    one, other = technician.new_case(), technician.new_case()
    before = technician.get(f"/api/jobs/{one}/answer").headers["etag"]
    same = technician.get(f"/api/jobs/{other}/answer")
    technician.post(f"/api/jobs/{one}/events", [event(FINDING)])
    after = technician.get(f"/api/jobs/{one}/answer").headers["etag"]

    assert same.headers["etag"] == before
    assert same.json()["case"] == other
    assert after != before
    unchanged = technician.get(f"/api/jobs/{one}/answer", headers={"if-none-match": after})
    assert unchanged.status_code == 304


def test_prices_licences_and_knowledge_are_part_of_the_key() -> None:
    """An answer of yesterday's prices is another answer."""
    case = Case(format="drypark-case/1", case="one")
    dear = case.model_copy(update={"shop": ShopTerms().shop.model_copy(update={"currency": "X"})})
    keys = {
        answer_key(case, GateRecord(), "a"),
        answer_key(case.model_copy(update={"case": "two"}), GateRecord(), "a"),
        answer_key(dear, GateRecord(), "a"),
        answer_key(case, GateRecord(licensed=frozenset({"N"})), "a"),
        answer_key(case, GateRecord(), "b"),
    }

    assert len(keys) == 4


def test_progress_is_counted_and_stopped(counted: Shop, counting: Counting) -> None:
    """Whoever waits is told how far it is; who stops it waits no more, and can ask again."""
    technician = counted.as_role("technician")
    job = technician.new_case()
    assert technician.get(f"/api/jobs/{job}/progress").status_code == 404
    counting.held.clear()

    begun = technician.get(f"/api/jobs/{job}/answer?wait=false")
    assert counting.begun.wait(10)
    during = technician.get(f"/api/jobs/{job}/progress").json()
    with ThreadPoolExecutor(1) as pool:
        waiting = pool.submit(counted.desk.answer, counted.store.jobs.state("shop", job))
        assert technician.send("DELETE", f"/api/jobs/{job}/progress").status_code == 204
        with pytest.raises(ProblemError, match="was stopped"):
            waiting.result(30)
    stopped = technician.get(f"/api/jobs/{job}/progress").json()
    counting.held.set()
    after = technician.get(f"/api/jobs/{job}/answer")

    assert (begun.status_code, begun.headers["retry-after"]) == (202, "1")
    assert (during["done"], during["of"], during["doing"]) == (1, len(STEPS), STEPS[1])
    assert not during["finished"]
    assert stopped["cancelled"]
    assert after.status_code == 200


def test_what_waits_knows_how_many_are_before_it(tmp_path: Path, counting: Counting) -> None:
    """Fifty who ask at once are told their place in the line."""
    with open_shop(tmp_path, compute=counting) as shop:
        technician = shop.as_role("technician")
        jobs = [technician.new_case(complaint=f"number {n}") for n in range(4)]
        counting.held.clear()
        for job in jobs:
            technician.get(f"/api/jobs/{job}/answer?wait=false")
        assert counting.begun.wait(10)

        last = technician.get(f"/api/jobs/{jobs[-1]}/progress").json()
        shop.desk.cancel(shop.desk.key(shop.store.jobs.state("shop", jobs[-1])))
        counting.held.set()
        for job in jobs[:-1]:
            assert technician.get(f"/api/jobs/{job}/answer").status_code == 200

    assert (last["done"], last["ahead"]) == (0, 3)
    assert len(counting.asked) == 3  # the one that was stopped never began


def test_no_list_is_made_from_nothing(counted: Shop, counting: Counting) -> None:
    """A write-up alone says nothing that a list could rest on, and the sentence says so."""
    technician = counted.as_role("technician")
    job = technician.new_job()

    answer = technician.get(f"/api/jobs/{job}/answer")

    assert answer.status_code == 409
    assert "no list is made from nothing" in answer.json()["detail"]
    assert counting.asked == []


def test_a_job_that_can_not_be_answered_says_why(tmp_path: Path) -> None:
    """The record is kept; the sentence says what to take back."""
    with open_shop(tmp_path, begin=begin_answer) as shop:
        technician = shop.as_role("technician")
        job = technician.new_job()
        both = [
            event({"kind": "finding", "finding": {"id": "sy-lamp-abs", "state": state, **place}})
            for state, place in (("present", {}), ("absent", {"place": "vehicle"}))
        ]
        sent = technician.post(f"/api/jobs/{job}/events", both)

        answer = technician.get(f"/api/jobs/{job}/answer")

    assert sent.status_code == 200
    assert answer.status_code == 422
    assert answer.headers["content-type"] == "application/problem+json"
    assert "sy-lamp-abs" in answer.json()["detail"]


GATE = "sg-wheel-separation"


def knocking(technician: Client) -> str:
    """Open the demo case `must-not-be-driven` as a job; return its id."""
    case = json.loads(Path("fixtures/cases/must-not-be-driven.json").read_text(encoding="utf-8"))
    job = technician.new_job(
        context=case["context"], vehicle=case["vehicle"], complaint=case["complaint"]
    )
    events = [event({"kind": "code-read", "codes": case["codes"]})]
    events += [event({"kind": "finding", "finding": row}) for row in case["findings"]]
    assert technician.post(f"/api/jobs/{job}/events", events).status_code == 200
    return job


@pytest.fixture(scope="module")
def engine(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Shop, Client, str]]:
    """Return a shop with the engine, and a job that opens a gate."""
    with open_shop(Path(tmp_path_factory.mktemp("engine")), begin=begin_answer) as shop:
        technician = shop.as_role("technician")
        job = knocking(technician)
        yield shop, technician, job


def opened_in(shop: Shop, job: str) -> list[GateOpened]:
    """Return what was written down about gates that opened."""
    bodies = [one.body for one in shop.store.jobs.events("shop", job)]
    return [body for body in bodies if isinstance(body, GateOpened)]


def test_a_gate_that_an_answer_opens_is_written_down_once(
    engine: tuple[Shop, Client, str],
) -> None:
    """By the program itself, with the corner, however often and by however many it is asked."""
    shop, technician, job = engine
    with ThreadPoolExecutor(4) as pool:
        states = [shop.store.jobs.state("shop", job)] * 4
        list(pool.map(shop.desk.answer, states))
    first = opened_in(shop, job)
    technician.get(f"/api/jobs/{job}/answer")

    assert GATE in {body.gate for body in first}
    assert opened_in(shop, job) == first
    assert len({(body.gate, body.because) for body in first}) == len(first)
    assert next(body.corners for body in first if body.gate == GATE) == ("lf",)
    names = {one.who.name for one in shop.store.jobs.events("shop", job) if one.who.id == "drypark"}
    assert names == {"Drypark"}


def test_a_gate_stays_open_when_its_reason_is_taken_back(
    engine: tuple[Shop, Client, str],
) -> None:
    """A tap on undo is no look at the wheel."""
    shop, technician, job = engine
    technician.get(f"/api/jobs/{job}/answer")
    knock = next(
        one.id
        for one in shop.store.jobs.events("shop", job)
        if isinstance(one.body, FindingSeen) and one.body.finding.id == "sy-knock-wheel-speed"
    )

    undone = technician.post(
        f"/api/jobs/{job}/undo",
        {"id": "undo-of-the-knock-1", "device_time": "2026-03-02T08:20:00Z", "event": knock},
    )
    after = technician.get(f"/api/jobs/{job}/answer").json()

    assert undone.status_code == 200
    findings = technician.get(f"/api/jobs/{job}").json()["case"]["findings"]
    assert "sy-knock-wheel-speed" not in [row["id"] for row in findings]
    assert GATE in [gate["id"] for gate in after["gates"]]


def test_an_opened_gate_is_not_taken_back(engine: tuple[Shop, Client, str]) -> None:
    """Neither by a technician nor by a senior technician: overruling has its own words."""
    shop, technician, job = engine
    technician.get(f"/api/jobs/{job}/answer")
    written = next(
        one.id for one in shop.store.jobs.events("shop", job) if isinstance(one.body, GateOpened)
    )

    for role in ("technician", "senior"):
        refused = shop.as_role(role).post(
            f"/api/jobs/{job}/undo",
            {
                "id": f"undo-by-a-{role:0>10}",
                "device_time": "2026-03-02T08:21:00Z",
                "event": written,
            },
        )
        assert refused.status_code == 422
        assert "an opened gate cannot be taken back" in refused.json()["detail"]


def test_a_look_at_the_past_writes_nothing(engine: tuple[Shop, Client, str]) -> None:
    """The history can be read without changing it."""
    shop, _technician, _job = engine
    technician = shop.as_role("technician")
    job = knocking(technician)

    past = technician.get(f"/api/jobs/{job}/answer?upto=5").json()

    assert GATE in [gate["id"] for gate in past["gates"]]
    assert opened_in(shop, job) == []


def test_gates_of_safety_questions_are_told_before_there_is_a_list(counted: Shop) -> None:
    """A program that asks gets what the page shows: an open gate, and no list."""
    client = counted.as_role("technician")
    job = client.new_job()
    asked = next(
        term
        for gate in known().gates.values()
        for trigger in gate.triggers
        for term in trigger.findings
        if term in known().findings and gate.id == "sg-wheel-separation"
    )
    body = {"kind": "gate-answered", "finding": asked, "answer": "skipped"}
    client.post(f"/api/jobs/{job}/events", [event(body)])

    got = client.get(f"/api/jobs/{job}/answer")

    assert got.status_code == 200, got.text
    assert "sg-wheel-separation" in [gate["id"] for gate in got.json()["gates"]]
    assert got.json()["checks"] == []
    assert client.get(f"/api/jobs/{job}/progress").status_code == 404

"""Accounts in the background: lists go first, the newest state counts, stopping ends the work."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import pytest

from api.answering.accounting import PARTS, Pause
from api.answering.gating import GateRecord
from api.documents import Answer, Case
from api.jobs.answering import Begun, at_once
from api.jobs.desk import Desk
from api.problems import ProblemError
from graph.terms import Knowledge
from tests.api.web.shop import Client, Shop, event, known, open_shop, quick_answer, until
from triage.errors import TriageError

FINDING = {"kind": "finding", "finding": {"id": "sy-hum-speed", "state": "present"}}


@dataclass
class Slow:
    """Makes lists at once, unless held, and accounts part by part as the test lets it."""

    lists: threading.Event = field(default_factory=threading.Event)
    parts: threading.Semaphore = field(default_factory=lambda: threading.Semaphore(0))
    begun: list[str] = field(default_factory=list)  # complaints whose list was made
    made: list[tuple[str, str]] = field(default_factory=list)  # complaint and part
    ended: list[str] = field(default_factory=list)  # complaints whose account ended early
    broken: bool = False

    def __call__(
        self, knowledge: Knowledge, case: Case, record: GateRecord, pause: Callable[[], None]
    ) -> Begun:
        """Begin one answer."""
        assert self.lists.wait(30)
        self.begun.append(case.complaint)
        answer = quick_answer(knowledge, case, record)
        answer = answer.model_copy(update={"account": "being-made"})
        return Begun(answer, lambda between: self.finish(answer, between))

    def finish(self, answer: Answer, pause: Pause) -> Iterator[Answer]:
        """Make one account."""
        name = f"{answer.complaint} {answer.log_evidence:.0f}"
        try:
            for part in PARTS:
                pause(part)
                self.made.append((name, part))
                assert self.parts.acquire(timeout=30)
                if self.broken:
                    raise TriageError("this account can't be made")
        except BaseException:
            self.ended.append(name)
            raise
        yield answer.model_copy(update={"account": "made", "changes_most": ("sy-hum-speed",)})

    def let(self, count: int = 100) -> None:
        """Let so many parts be made."""
        self.parts.release(count)


@pytest.fixture
def slow() -> Iterator[Slow]:
    """Return what answers; let go of at the end, so that no thread hangs."""
    made = Slow()
    made.lists.set()
    yield made
    made.lists.set()
    made.let(1000)


@pytest.fixture
def bay(tmp_path: Path, slow: Slow) -> Iterator[Shop]:
    """Return a shop whose accounts take their time."""
    with open_shop(tmp_path, begin=slow) as opened:
        yield opened


def answer(client: Client, job: str, asked: str = "") -> dict[str, Any]:
    """Return the answer of a job."""
    got = client.get(f"/api/jobs/{job}/answer{asked}")
    assert got.status_code == 200, got.text
    document: dict[str, Any] = got.json()
    return document


def test_the_list_is_given_before_its_account(bay: Shop, slow: Slow) -> None:
    """And the ETag changes when the account has come in: a page must not keep half of it."""
    technician = bay.as_role("technician")
    job = technician.new_case()

    first = technician.get(f"/api/jobs/{job}/answer")
    slow.let()
    until(lambda: answer(technician, job)["account"] == "made")
    whole = technician.get(f"/api/jobs/{job}/answer")

    assert first.json()["account"] == "being-made"
    assert first.headers["etag"] != whole.headers["etag"]
    assert whole.json()["changes_most"] == ["sy-hum-speed"]
    assert slow.begun == ["the light is on"]  # the account went on from the list


def test_the_whole_can_be_waited_for(bay: Shop, slow: Slow) -> None:
    """Who needs the account says so; who may not wait is told how far it is."""
    technician = bay.as_role("technician")
    job = technician.new_case()
    answer(technician, job)
    slow.let(2)
    until(lambda: len(slow.made) == 3)

    told = technician.get(f"/api/jobs/{job}/answer?account=wait&wait=false")
    slow.let()
    whole = answer(technician, job, "?account=wait")

    assert told.status_code == 202
    assert told.json()["finished"]
    assert told.json()["account"] == {
        "state": "being-made",
        "done": 2,
        "of": len(PARTS),
        "doing": PARTS[2],
    }
    assert whole["account"] == "made"
    assert technician.get(f"/api/jobs/{job}/progress").json()["account"]["state"] == "made"


def test_an_account_waits_while_a_list_is_being_made(bay: Shop, slow: Slow) -> None:
    """The car of another technician comes first: no further part is begun meanwhile."""
    technician = bay.as_role("technician")
    one, other = technician.new_case(), technician.new_case(complaint="another")
    answer(technician, one)
    until(lambda: len(slow.made) == 1)
    slow.lists.clear()

    technician.get(f"/api/jobs/{other}/answer?wait=false")
    slow.let()
    time.sleep(0.1)  # nothing may happen: there is nothing to wait for
    during = len(slow.made)
    slow.lists.set()
    listed = answer(technician, other)

    assert during == 1
    assert listed["complaint"] == "another"
    until(lambda: len(slow.made) == 2 * len(PARTS))


def test_the_account_of_an_older_state_is_dropped(bay: Shop, slow: Slow) -> None:
    """Nobody looks at it any more; the machine is for the list that somebody looks at."""
    technician = bay.as_role("technician")
    job = technician.new_case()
    answer(technician, job)
    until(lambda: len(slow.made) == 1)

    technician.post(f"/api/jobs/{job}/events", [event(FINDING)])
    answer(technician, job)
    slow.let()
    until(lambda: answer(technician, job)["account"] == "made")

    assert slow.ended == ["the light is on -1"]
    assert [name for name, _ in slow.made].count("the light is on -2") == len(PARTS)
    assert answer(technician, job, "?upto=2")["account"] == "left-out"


def test_an_older_state_that_somebody_waits_for_is_not_dropped(bay: Shop, slow: Slow) -> None:
    """Whoever asked for the whole of it gets the whole of it."""
    technician = bay.as_role("technician")
    job = technician.new_case()
    answer(technician, job)
    technician.get(f"/api/jobs/{job}/answer?account=wait&wait=false")

    technician.post(f"/api/jobs/{job}/events", [event(FINDING)])
    answer(technician, job)
    slow.let()
    whole = answer(technician, job, "?upto=2&account=wait")

    assert whole["account"] == "made"
    assert slow.ended == []


def test_a_stopped_account_ends_at_its_next_part_and_can_be_asked_for_again(
    bay: Shop, slow: Slow
) -> None:
    """The list stays; the thread does not go on, and nothing begins it again by itself."""
    technician = bay.as_role("technician")
    job = technician.new_case()
    answer(technician, job)
    until(lambda: len(slow.made) == 1)

    assert technician.send("DELETE", f"/api/jobs/{job}/progress").status_code == 204
    slow.let()
    until(lambda: slow.ended == ["the light is on -1"])
    left = answer(technician, job)
    time.sleep(0.05)  # nothing may begin: there is nothing to wait for
    parts = len(slow.made)
    whole = answer(technician, job, "?account=wait")

    assert left["account"] == "left-out"
    assert parts == 1
    assert whole["account"] == "made"


def test_whoever_waits_for_a_stopped_account_is_told(bay: Shop, slow: Slow) -> None:
    """A sentence, not a page that turns for ever."""
    technician = bay.as_role("technician")
    job = technician.new_case()
    answer(technician, job)
    waiting = bay.desk.account(bay.store.jobs.state("shop", job))
    assert waiting is not None

    assert bay.desk.cancel(waiting.key)

    with pytest.raises(ProblemError, match="not made: it was stopped"):
        waiting.future.result(30)


def test_list_and_whole_are_shown_again_exactly(bay: Shop, slow: Slow) -> None:
    """By another desk with newer knowledge, which works nothing out."""
    technician = bay.as_role("technician")
    job = technician.new_case()
    first = answer(technician, job)
    technician.post(f"/api/jobs/{job}/events", [event(FINDING)])
    answer(technician, job)
    slow.let()
    whole = answer(technician, job, "?account=wait")
    begun = len(slow.begun)

    again = Desk(replace(known(), sha256="0" * 64), bay.store, compute=slow)
    bay.app.state.desk = again
    then, now = answer(technician, job, "?upto=2"), answer(technician, job, "?upto=3")
    waited = answer(technician, job, "?upto=2&account=wait")
    again.close()

    assert then == first | {"account": "left-out"}
    assert waited == then  # of earlier knowledge: as it was shown
    assert now == whole
    assert len(slow.begun) == begun


def test_after_a_restart_a_missing_account_is_made_from_the_kept_list(
    bay: Shop, slow: Slow
) -> None:
    """The list is not made again for whoever looks at it; only for its account."""
    technician = bay.as_role("technician")
    job = technician.new_case()
    answer(technician, job)
    bay.desk.close()

    again = Desk(known(), bay.store, compute=slow)
    bay.app.state.desk = again
    first = answer(technician, job)
    slow.let()
    whole = answer(technician, job, "?account=wait")
    again.close()

    assert first["account"] == "being-made"
    assert whole["account"] == "made"


def test_an_account_that_fails_leaves_the_list(bay: Shop, slow: Slow) -> None:
    """It is told to whoever asked for it, and not tried again by itself for ever."""
    technician = bay.as_role("technician")
    job = technician.new_case()
    slow.broken = True
    slow.let()

    answer(technician, job)
    until(lambda: answer(technician, job)["account"] == "left-out")
    told = technician.get(f"/api/jobs/{job}/answer?account=wait")

    assert told.status_code == 422
    assert "this account can't be made" in told.json()["detail"]
    assert answer(technician, job)["account"] == "left-out"


def test_a_whole_answer_needs_no_account(tmp_path: Path) -> None:
    """What was kept before lists came first is whole: no word in it says otherwise."""
    with open_shop(tmp_path) as shop:
        technician = shop.as_role("technician")
        job = technician.new_case()
        desk = Desk(known(), shop.store, compute=at_once(quick_answer))

        assert answer(technician, job)["account"] == "made"
        assert desk.account(shop.store.jobs.state("shop", job)) is None
        assert not desk.busy()
        desk.close()

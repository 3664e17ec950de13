"""Accounts made fuller afterwards: when nothing else is to be done, and shown again as they end."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path

import pytest

from api.answering.accounting import PARTS, Pause
from api.documents import Answer
from api.jobs.desk import Desk
from tests.api.jobs.test_accounts import FINDING, Slow, answer
from tests.api.web.shop import Shop, event, known, open_shop, until
from triage.errors import TriageError

STAGES = 3


@dataclass
class Growing(Slow):
    """Makes accounts at once, and then ever fuller ones as the test lets it."""

    more: threading.Semaphore = field(default_factory=lambda: threading.Semaphore(0))
    told: list[tuple[str, int]] = field(default_factory=list)  # complaint and stage begun
    breaks: bool = False

    def finish(self, answer: Answer, pause: Pause) -> Iterator[Answer]:
        """Make one account, then `STAGES` fuller ones, told by a note each."""
        made = next(super().finish(answer, pause))
        yield made
        for stage in range(STAGES):
            pause(PARTS[0])
            self.told.append((f"{answer.complaint} {answer.log_evidence:.0f}", stage))
            assert self.more.acquire(timeout=30)
            pause(PARTS[0])
            if self.breaks:
                raise TriageError("no further")
            yield made.model_copy(update={"notes": (*made.notes, f"stage {stage}")})


@pytest.fixture
def growing() -> Iterator[Growing]:
    """Return what answers; let go of at the end, so that no thread hangs."""
    made = Growing()
    made.lists.set()
    made.let(1000)
    yield made
    made.more.release(1000)


@pytest.fixture
def bay(tmp_path: Path, growing: Growing) -> Iterator[Shop]:
    """Return a shop whose accounts grow."""
    with open_shop(tmp_path, begin=growing) as opened:
        yield opened


def test_an_account_grows_and_is_shown_as_far_as_it_is(bay: Shop, growing: Growing) -> None:
    """Made is made: nobody waits for what comes after it."""
    technician = bay.as_role("technician")
    job = technician.new_case()

    first = answer(technician, job, "?account=wait")
    growing.more.release()
    until(lambda: "stage 0" in answer(technician, job)["notes"])
    growing.more.release(STAGES)
    until(lambda: f"stage {STAGES - 1}" in answer(technician, job)["notes"])

    assert first["account"] == "made"
    assert not any(note.startswith("stage") for note in first["notes"])


def test_the_fullest_is_shown_again_after_a_restart(bay: Shop, growing: Growing) -> None:
    """By a desk with newer knowledge, which works nothing out; the stages between are not kept."""
    technician = bay.as_role("technician")
    job = technician.new_case()
    answer(technician, job, "?account=wait")
    growing.more.release(STAGES)
    until(lambda: f"stage {STAGES - 1}" in answer(technician, job)["notes"])
    full = answer(technician, job)
    until(lambda: not bay.desk.makes_fuller())

    again = Desk(replace(known(), sha256="0" * 64), bay.store, compute=growing)
    bay.app.state.desk = again
    then = answer(technician, job, "?upto=2")
    again.close()

    assert then == full


def test_the_account_of_another_job_goes_before_a_fuller_one(bay: Shop, growing: Growing) -> None:
    """Within one stage: the other account is made in between, and the stage goes on after it."""
    technician = bay.as_role("technician")
    one, other = technician.new_case(), technician.new_case(complaint="another")
    answer(technician, one, "?account=wait")
    until(lambda: len(growing.told) == 1)

    answer(technician, other)
    growing.more.release()
    until(lambda: answer(technician, other)["account"] == "made")
    growing.more.release(100)
    until(lambda: f"stage {STAGES - 1}" in answer(technician, one)["notes"])
    until(lambda: f"stage {STAGES - 1}" in answer(technician, other)["notes"])

    assert [name for name, _ in growing.told[:STAGES]] == ["the light is on -1"] * STAGES


def test_what_the_job_has_left_behind_is_made_no_fuller(bay: Shop, growing: Growing) -> None:
    """The machine is for the state that somebody looks at."""
    technician = bay.as_role("technician")
    job = technician.new_case()
    answer(technician, job, "?account=wait")
    until(lambda: len(growing.told) == 1)

    technician.post(f"/api/jobs/{job}/events", [event(FINDING)])
    answer(technician, job)
    growing.more.release(100)
    until(lambda: f"stage {STAGES - 1}" in answer(technician, job)["notes"])

    assert growing.told.count(("the light is on -1", 0)) == 1
    assert ("the light is on -1", 1) not in growing.told
    assert not any(note.startswith("stage") for note in answer(technician, job, "?upto=2")["notes"])


def test_a_stage_that_fails_leaves_the_account_as_it_is(bay: Shop, growing: Growing) -> None:
    """And the next account is made all the same."""
    technician = bay.as_role("technician")
    job, other = technician.new_case(), technician.new_case(complaint="another")
    growing.breaks = True
    growing.more.release(100)

    answer(technician, job, "?account=wait")
    until(lambda: not bay.desk.makes_fuller())

    assert answer(technician, job)["account"] == "made"
    assert answer(technician, other, "?account=wait")["account"] == "made"

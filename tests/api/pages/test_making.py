"""While the list is being made: said, counted, stoppable, and never in the way."""

from __future__ import annotations

import re
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from api.answering.gating import GateRecord
from api.documents import Answer, Case
from api.pages import sheet, write_up
from graph.terms import Knowledge
from tests.api.pages.bay import Bay, seen
from tests.api.pages.paper import paper_answer
from tests.api.web.shop import open_shop
from triage.errors import ContradictionError

GO = threading.Event()


def slow_answer(knowledge: Knowledge, case: Case, record: GateRecord) -> Answer:
    """Answer when the test says so."""
    assert GO.wait(20)
    if any(finding.id == "sy-pull-steady" for finding in case.findings):
        raise ContradictionError("sy-pull-steady", "present", "absent", where="findings[0]")
    return paper_answer(knowledge, case, record)


@pytest.fixture
def waiting(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Bay]:
    """Return a browser in a shop whose list takes its time."""
    GO.clear()
    monkeypatch.setattr(sheet, "PATIENCE", 0.05)
    with open_shop(tmp_path, compute=slow_answer) as shop:
        yield Bay(shop, shop.as_role("technician"))
        GO.set()


def test_the_page_comes_before_the_list(waiting: Bay) -> None:
    """Counted, with a way to stop and a link to look again; nothing loads itself anew."""
    text = waiting.page(f"/jobs/{waiting.hum()}")

    assert "The list is being made" in text
    assert '<progress max="4"' in text
    assert "Look again" in text
    assert "http-equiv" not in text
    assert "Stop making it" in text


def test_the_questions_of_the_write_up_say_how_far_their_list_is(
    waiting: Bay, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Counted, with a link to look again; the sheet is where it can be stopped."""
    monkeypatch.setattr(write_up, "PATIENCE", 0.05)
    text = waiting.page(f"/jobs/{waiting.hum()}/write-up?step=questions")

    assert re.search(r"is being made: \d of 4 steps done", text)
    assert "Look again" in text
    assert "on the bay sheet it can be stopped" in text


def test_a_stopped_list_can_be_asked_for_again(waiting: Bay) -> None:
    """Stopping loses nothing that was written down."""
    job = waiting.hum()
    waiting.page(f"/jobs/{job}")
    answer = waiting.post(f"/jobs/{job}/stop", [])
    stopped = waiting.page(answer.headers["location"])
    GO.set()

    assert "The list was stopped" in stopped
    assert "Everything written down is kept" in stopped
    assert "Make the list" in stopped


def test_the_next_look_finds_the_list(waiting: Bay) -> None:
    """Left and come back to, it is there."""
    job = waiting.hum()
    waiting.page(f"/jobs/{job}")
    GO.set()
    state = waiting.shop.store.jobs.state(waiting.shop.settings.shop, job)
    waiting.shop.desk.answer(state)

    assert "Next check" in waiting.page(f"/jobs/{job}")


def test_what_cannot_be_answered_says_why_and_what_to_do(waiting: Bay) -> None:
    """A contradiction is a sentence on the sheet, not a page that fails."""
    GO.set()
    job = waiting.job(seen("sy-pull-steady"))
    text = waiting.page(f"/jobs/{job}")

    assert "There is no list for this" in text
    assert "Correct the write-up" in text

"""The sheet comes with the list; what waits for its account says so and has its place."""

from __future__ import annotations

import re
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from api.pages import why
from tests.api.pages.bay import Bay, seen
from tests.api.pages.paper import paper_begun
from tests.api.web.shop import event, open_shop

GO = threading.Semaphore(0)
PLACE = re.compile(r'data-account="([^"]+)"')
WAITS = re.compile(r'data-account="([^"]+)" data-waits')


@pytest.fixture
def early(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Bay]:
    """Return a browser in a shop whose accounts take their time."""
    monkeypatch.setattr(why, "PATIENCE", 0.05)
    with open_shop(
        tmp_path,
        begin=lambda knowledge, case, record, _pause: paper_begun(
            knowledge, case, record, lambda: assert_true(GO.acquire(timeout=30))
        ),
    ) as shop:
        yield Bay(shop, shop.as_role("technician"))
        GO.release(1000)
    while GO.acquire(blocking=False):  # the next test starts with none
        pass


def assert_true(held: bool) -> None:
    """Fail where a wait was in vain."""
    assert held


def accounted(bay: Bay, job: str) -> None:
    """Let the account be made, and wait for it."""
    GO.release(100)
    end = time.monotonic() + 30
    while "data-waits" in bay.page(f"/jobs/{job}"):
        assert time.monotonic() < end, "the account did not come"
        time.sleep(0.01)


def test_the_sheet_comes_with_its_list_and_says_what_is_still_being_worked_out(early: Bay) -> None:
    """The next check can be answered at once."""
    text = early.page(f"/jobs/{early.hum()}")

    assert "Next check" in text
    assert re.search(r"likely, 7\d %", text)
    assert "How firm that is, is being worked out" in text
    assert "(range follows)" in text
    assert "Whether to replace it first is being worked out" in text
    assert "50 % to 80 %" not in text


def test_each_place_that_waits_is_there_when_the_account_has_come(early: Bay) -> None:
    """So that it can come in where it was waited for, and nothing moves."""
    job = early.hum()
    before = early.page(f"/jobs/{job}")
    accounted(early, job)
    after = early.page(f"/jobs/{job}")

    assert len(WAITS.findall(before)) == 2 * 3 + 1 + 1  # bar and ends of three causes; two lines
    assert PLACE.findall(before) == PLACE.findall(after)
    assert "50 % to 80 %" in after
    assert "look first" in after
    assert "being worked out" not in after


def test_without_scripts_a_link_looks_again(early: Bay) -> None:
    """The page does its job without them."""
    job = early.hum()
    text = early.page(f"/jobs/{job}?at=lr")

    assert f'<noscript><a class="tap" href="/jobs/{job}?at=lr">Look again</a></noscript>' in text


def test_why_waits_for_the_account_counted_and_can_be_stopped(early: Bay) -> None:
    """The list is there whatever becomes of its why; and it can be asked for again."""
    job = early.hum()
    early.page(f"/jobs/{job}")
    GO.release(2)
    waiting = early.page(f"/jobs/{job}/why?cause=rc-wss-sensor-failed@rr")
    stopped = early.post(f"/jobs/{job}/stop", [])
    sheet = early.page(stopped.headers["location"])
    left = early.page(f"/jobs/{job}/why")
    GO.release(100)
    end = time.monotonic() + 30
    while "For and against" not in early.page(f"/jobs/{job}/why?account=yes"):
        assert time.monotonic() < end, "the why did not come"

    assert re.search(r"\d of 6 parts done; now: ", waiting)
    assert '<progress max="6"' in waiting
    assert "Stop working it out" in waiting
    assert "Next check" in sheet
    assert "How firm that is was not worked out" in sheet
    assert "its why is not" in left


def test_what_was_left_out_is_made_when_it_is_asked_for(early: Bay) -> None:
    """Also of a state of the past, which its list is shown of without."""
    job = early.hum()
    first = early.shop.store.jobs.state(early.shop.settings.shop, job).version
    early.page(f"/jobs/{job}")
    early.client.post(f"/api/jobs/{job}/events", [event(seen("sy-lamp-abs"))])
    early.page(f"/jobs/{job}")

    asked = early.page(f"/jobs/{job}?upto={first}&account=yes")
    GO.release(100)
    end = time.monotonic() + 30
    while "50 % to 80 %" not in early.page(f"/jobs/{job}?upto={first}"):
        assert time.monotonic() < end, "the account did not come"

    assert "is being worked out" in asked

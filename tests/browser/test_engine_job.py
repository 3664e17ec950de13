"""The whole job with the engine itself: from the customer's words to the last verdict and closing.

Everywhere else in these tests the list is made on paper. Here it is made by the engine, after
every answer anew, until no further check is worth its time. One complaint with a short list, so
that it costs seconds.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from api.answering.gating import GateRecord
from api.jobs.answering import begin_answer
from api.jobs.demo import shop_folder
from api.store.fold import JobState
from tests.api.web.shop import known
from tests.browser.conftest import DESK, PHONE, Served, Windows, serve
from tests.browser.test_whole_job import button, close, go_on, press, settled

pytestmark = pytest.mark.browser

MOST = 30  # answers; the list of this complaint is a handful
ENDED = "No further check is worth its time"


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """Serve a shop with people and no job, answered by the engine."""
    folder = Path(tmp_path_factory.mktemp("people-only"))
    told = json.loads((shop_folder() / "shop.json").read_text(encoding="utf-8"))
    (folder / "shop.json").write_text(json.dumps({**told, "jobs": []}), encoding="utf-8")
    with serve(Path(tmp_path_factory.mktemp("shop")), begin_answer, folder) as running:
        yield running


def write_up(page: Any) -> None:
    """Take down a clunk, no codes, and that nothing dangerous was seen."""
    go_on(page, "car")
    go_on(page, "work")
    page.get_by_label("In the customer\u2019s own words").fill("it clunks when I brake")
    press(page, button(page, "Look for what fits"))
    press(page, page.locator("button[value^='accept|sy-clunk-brake|']").first)
    go_on(page, "words")
    go_on(page, "findings")
    go_on(page, "codes")
    go_on(page, "questions")
    for box in page.locator("input[name=asked]").all():
        box.check()
    go_on(page, "gates")


def answer_next(page: Any, *, find: bool) -> None:
    """Answer the check that is shown: something was found, or nothing."""
    single = page.locator("#next").get_by_role("link", name="Found", exact=True)
    if not (find and single.count()):
        press(page, page.locator("#next .answers .not-found").first)
        return
    press(page, single)
    press(page, page.locator("#things form.target .found").first)
    if page.locator("#where").count():
        press(page, page.locator("#where .corner, #where .taps button").first)
    rest = button(page, "Rest not found")
    if rest.count():
        press(page, rest)


def state_of(windows: Windows, job: str) -> JobState:
    """Return what is written down."""
    return windows.served.store.jobs.state(windows.served.shop, job)


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_the_engine_leads_a_job_from_the_words_to_the_last_verdict(
    windows: Windows, size: dict[str, int]
) -> None:
    """Every list is the engine's; the page says so when nothing is left, and the job is closed."""
    page = windows.signed_in(size)
    ticket = f"5200 {size['width']}"
    page.locator("#new input[name=ticket]").fill(ticket)
    press(page, button(page, "Open the job"))
    write_up(page)
    page.wait_for_url(re.compile(r"/jobs/[\w-]+$"))
    job = page.url.rpartition("/")[2]
    names = []
    for number in range(MOST):
        settled(page)
        names.append(page.locator("#next-name").inner_text())
        if names[-1] == ENDED:
            break
        answer_next(page, find=number == 2)

    assert names[-1] == ENDED
    case = state_of(windows, job).case
    answered = {(one.check, one.place) for one in case.verdicts}
    assert 3 <= len(names) - 1 == len(set(names)) - 1 <= len(answered)
    assert begin_answer(known(), case, GateRecord(), lambda: None).answer.checks == ()
    assert [one.verdict for one in case.verdicts].count("found") >= 1
    close(page, page.locator("input[name=causes]").first)
    page.get_by_role("heading", name="Open jobs").wait_for()
    closed = state_of(windows, job).closed
    assert closed is not None
    assert len(closed.causes) == 1

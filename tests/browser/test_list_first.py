"""The account comes into the page by itself, and nothing moves under a thumb."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.api.pages.paper import paper_begun
from tests.api.web.shop import event
from tests.browser.conftest import DESK, PHONE, Served, Windows, serve

pytestmark = pytest.mark.browser

GO = threading.Event()
UNFOLD = "document.querySelectorAll('details').forEach((box) => { box.open = true; })"
#: Where everything that can be pressed stands, from the top of the page.
SPOTS = """
() => [...document.querySelectorAll('main a, main button, main summary')]
  .filter(e => e.checkVisibility())
  .map(e => [e.innerText.slice(0, 30), Math.round(e.getBoundingClientRect().top + scrollY)])
"""


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """Serve the invented shop with accounts that wait for the test."""
    with serve(
        Path(tmp_path_factory.mktemp("shop")),
        lambda knowledge, case, record, _pause: paper_begun(
            knowledge, case, record, lambda: _held(GO.wait(60))
        ),
    ) as running:
        yield running
    GO.set()


def a_new_list(windows: Windows, page: Any, finding: str) -> str:
    """Write something down, so that there is a list whose account nobody has made; its address."""
    job = windows.served.jobs[0]
    sent = page.request.post(
        f"/api/jobs/{job}/events",
        data=[event({"kind": "finding", "finding": {"id": finding, "state": "absent"}})],
        headers={"origin": windows.served.base},
    )
    assert sent.ok, sent.text()
    return f"/jobs/{job}"


def _held(let: bool) -> None:
    assert let


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_the_account_comes_in_by_itself_and_nothing_moves(
    windows: Windows, size: dict[str, int]
) -> None:
    """On a phone the rest of the list lies below it: a thumb aims there."""
    GO.clear()
    page = windows.signed_in(size)
    page.goto(a_new_list(windows, page, "sy-lamp-abs" if size is PHONE else "sy-pull-steady"))
    page.evaluate(UNFOLD)
    page.get_by_text("(range follows)").first.wait_for()
    before = page.evaluate(SPOTS)
    GO.set()
    page.locator("[data-waits]").first.wait_for(state="detached")
    page.get_by_text("look first").wait_for()

    assert page.get_by_text("being worked out").count() == 0
    assert page.get_by_text("(50 % to 80 %)").count() == 1
    assert page.evaluate(SPOTS) == before
    assert len(before) > 10


def test_without_scripts_a_link_shows_the_account(windows: Windows) -> None:
    """Pressed when there is time for it."""
    GO.clear()
    page: Any = windows.signed_in(PHONE, js=False)
    page.goto(a_new_list(windows, page, "sy-brake-squeal"))
    page.locator("summary:has(#causes)").click()
    page.get_by_text("(range follows)").first.wait_for()
    GO.set()
    for _look in range(40):
        if not page.locator("details:has(#causes)[open]").count():
            page.locator("summary:has(#causes)").click()
        again = page.get_by_role("link", name="Look again")
        if not again.count():
            break
        with page.expect_navigation():
            again.click()
        page.wait_for_timeout(100)

    assert page.get_by_text("(50 % to 80 %)").count() == 1

"""A phone shows one thing a screen: what is not asked now is folded, counted and one tap away."""

from __future__ import annotations

import re
from typing import Any

import pytest

from tests.browser.conftest import DESK, PHONE, Windows

pytestmark = pytest.mark.browser

#: Screens of a phone that a sheet may be long, while nothing is unfolded.
SCREENS = 5.5
#: The folded parts: heading, what its line says, and whether it is open.
FOLDS = """
() => [...document.querySelectorAll('details.fold')].map(box => [
  box.querySelector('h2').id, box.querySelector('.inside').textContent.trim(), box.open,
  box.querySelectorAll(':scope > :not(summary) > *').length])
"""
LENGTH = "document.documentElement.scrollHeight"


@pytest.mark.parametrize("js", [True, False], ids=["scripts", "no-scripts"])
def test_a_sheet_on_a_phone_is_a_few_screens_and_says_what_is_folded(
    windows: Windows, js: bool
) -> None:
    """Every job of the invented shop, with and without scripts."""
    page = windows.signed_in(PHONE, js=js)
    lines = 0
    for job in windows.served.jobs:
        page.goto(f"/jobs/{job}")
        assert page.evaluate(LENGTH) < SCREENS * PHONE["height"]
        for name, inside, is_open, held in page.evaluate(FOLDS):
            lines += 1
            assert inside, name
            assert not is_open or name == "intake"
            assert held > 0, name
    assert lines > 8 * len(windows.served.jobs) - 10


def test_the_counts_of_the_folds_are_right(windows: Windows) -> None:
    """A line that miscounts is worse than none."""
    page = windows.signed_in(PHONE)
    page.goto(f"/jobs/{windows.served.jobs[0]}")
    counted = 0
    for name, items in (
        ("rest", "ol.checks > li"),
        ("causes", "ol.causes > li"),
        ("while", "ul.checks > li"),
        ("always", "ul > li"),
    ):
        box = page.locator(f"details:has(#{name})")
        told = re.match(r"\d+", box.locator(".inside").inner_text())
        assert told, name
        assert int(told.group()) == box.locator(items).count(), name
        counted += 1
    assert counted == 4


def test_everything_folded_is_reached_by_a_tap_and_by_keys_without_scripts(
    windows: Windows,
) -> None:
    """Native folds: a tap, Enter, and a link into one opens it."""
    page = windows.signed_in(PHONE, js=False)
    address = f"/jobs/{windows.served.jobs[0]}"
    page.goto(address)
    note = page.get_by_label("Note", exact=True)
    assert not note.is_visible()
    page.locator("summary:has(#notes)").click()
    assert note.is_visible()
    page.locator("summary:has(#rest)").press("Enter")
    assert page.locator("#rest").locator("xpath=ancestor::details").locator("li").first.is_visible()

    page.goto(f"{address}?find=joint")
    assert page.locator("#found li").first.is_visible()
    page.goto(f"{address}?at=lr#at")
    assert page.locator("#at").is_visible()


def test_a_fold_that_is_open_stays_open_when_somebody_else_writes(windows: Windows) -> None:
    """What is being read is not folded away."""
    job = windows.served.jobs[0]
    first, second = windows.signed_in(PHONE), windows.signed_in(DESK, who="senior")
    first.clock.install()
    for page in (first, second):
        page.goto(f"/jobs/{job}")
    first.locator("summary:has(#causes)").click()
    with second.expect_navigation():
        second.locator("#next .answers .cant-tell").first.click()
    first.clock.run_for(8_000)
    first.locator("[data-refresh=undo]").get_by_text("Severin").wait_for()

    assert first.locator(".causes > li").first.is_visible()
    assert not first.locator("details:has(#rest) li").first.is_visible()


def _visible(page: Any) -> int:
    return int(
        page.evaluate(
            "[...document.querySelectorAll('details.fold li')]"
            ".filter(e => e.checkVisibility()).length"
        )
    )


def test_a_desk_shows_what_a_phone_keeps_folded(windows: Windows) -> None:
    """There is room for it; the style shows it before the script has said so."""
    page = windows.signed_in(DESK)
    page.goto(f"/jobs/{windows.served.jobs[0]}")
    assert page.locator("details.fold:not([open], .late)").count() == 0
    shown = _visible(page)
    page.evaluate(
        "document.querySelectorAll('details.fold').forEach(e => e.open = false);"
        "delete document.documentElement.dataset.unfolded"
    )
    assert _visible(page) == shown > 10


def test_a_key_that_looks_for_a_check_opens_its_fold(windows: Windows) -> None:
    """On a small window with a keyboard the field is there when its key is pressed."""
    page = windows.signed_in(PHONE)
    page.goto(f"/jobs/{windows.served.jobs[0]}")
    page.keyboard.press("/")
    assert page.evaluate("document.activeElement.id") == "find"
    assert page.locator("#find").is_visible()

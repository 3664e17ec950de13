"""The picture of the reasoning in a real browser: walked by keyboard, read without colour."""

from __future__ import annotations

from typing import Any

import pytest

from tests.browser.conftest import DESK, PHONE, Windows

pytestmark = pytest.mark.browser
LINES = """() => [...document.querySelectorAll('.wide-path .edge.link')].map((edge) => {
  const style = getComputedStyle(edge.querySelector('path'));
  return [edge.classList.contains('on'), parseFloat(style.strokeWidth), style.strokeDasharray];
})"""


def open_why(windows: Windows, size: dict[str, int]) -> Any:
    """Return the page that says why, of the first job."""
    page = windows.signed_in(size)
    page.goto(f"/jobs/{windows.served.jobs[0]}/why")
    page.locator(".reasoning").first.wait_for(state="attached")
    return page


def test_tab_walks_the_boxes_and_enter_follows_one(windows: Windows) -> None:
    """Nothing needs a mouse; each box says its kind and its name."""
    page = open_why(windows, DESK)
    boxes = page.locator(".wide-path a")
    walked: list[str] = []
    page.locator(".wide-path").focus()
    for _ in range(boxes.count()):
        page.keyboard.press("Tab")
        walked.append(page.evaluate("document.activeElement.getAttribute('aria-label')"))

    assert len(walked) > 5
    assert sorted(walked) == sorted(box.get_attribute("aria-label") for box in boxes.all())
    check = page.locator(".wide-path a[aria-label^='check: ']").first
    check.focus()
    page.keyboard.press("Enter")
    page.wait_for_url("**?check=*")


@pytest.mark.parametrize("media", ["screen", "print"])
def test_the_strongest_path_reads_without_colour(windows: Windows, media: str) -> None:
    """Bold and solid against thin and dashed, on screen and on paper."""
    page = open_why(windows, DESK)
    page.emulate_media(media=media)
    rows = page.evaluate(LINES)
    on = [(width, dash) for strong, width, dash in rows if strong]
    rest = [(width, dash) for strong, width, dash in rows if not strong]

    assert on
    assert rest
    assert {dash for _, dash in on} == {"none"}
    assert "none" not in {dash for _, dash in rest}
    assert min(width for width, _ in on) >= 3 * max(width for width, _ in rest)


def test_a_phone_shows_the_strongest_path_alone(windows: Windows) -> None:
    """The other picture is there for nobody: neither seen nor walked."""
    page = open_why(windows, PHONE)

    assert page.locator(".tall-path .reasoning").is_visible()
    assert not page.locator(".wide-path .reasoning").is_visible()
    assert page.locator(".tall-path .node").count() < page.locator(".wide-path .node").count()

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

#: Whether the words of each box of the column lie within it, how tall letters and boxes are.
INSIDE = """() => [...document.querySelectorAll('.tall-path .node')].map((node) => {
  const box = node.querySelector('polygon').getBoundingClientRect();
  const words = [...node.querySelectorAll('text')];
  const scale = box.width / node.querySelector('polygon').getBBox().width;
  return { height: box.height, letters: parseFloat(getComputedStyle(words[0]).fontSize) * scale,
    fits: words.every((one) => { const r = one.getBoundingClientRect();
      return r.left > box.left && r.right < box.right && r.top > box.top && r.bottom < box.bottom;
    }) };
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


def test_a_phone_shows_every_box_in_one_column(windows: Windows) -> None:
    """The other picture is there for nobody: neither seen nor walked."""
    page = open_why(windows, PHONE)

    assert page.locator(".tall-path .reasoning").is_visible()
    assert not page.locator(".wide-path .reasoning").is_visible()
    assert page.locator(".tall-path .node").count() == page.locator(".wide-path .node").count() > 5


@pytest.mark.parametrize("width", [320, 360])
def test_the_column_is_read_without_scrolling_sideways(windows: Windows, width: int) -> None:
    """Letters of 16 pixels that stay within their boxes, boxes of a thumb's height."""
    page = open_why(windows, {"width": width, "height": 740})
    told = page.evaluate(INSIDE)

    assert len(told) > 5
    assert [row for row in told if not row["fits"]] == []
    assert min(row["letters"] for row in told) >= 16
    assert min(row["height"] for row in told) >= 60
    assert (
        page.evaluate(
            "(() => { const one = document.querySelector('.tall-path');"
            " return one.scrollWidth - one.clientWidth; })()"
        )
        == 0
    )

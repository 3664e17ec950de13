"""Who can use it: contrast, size, zoom, themes, measured in a real browser on every page.

axe finds a part of what hinders people; sizes, gaps, reflow and type are measured here besides.
The rules that axe is asked for: WCAG 2.0 to 2.2, A and AA, and best practice; in the two bay
themes the contrast rule of AAA (7:1) as well.
"""

from __future__ import annotations

from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe

from tests.browser.conftest import DESK, PHONE, Windows

pytestmark = pytest.mark.browser

RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
COLOUR = ["color-contrast", "link-in-text-block"]
THEMES = ("light", "dark", "bay", "bay-dark", "")
STEPS = ("car", "work", "words", "findings", "codes", "questions", "gates")

#: Everything that is pressed or typed into, with its box, in document order.
TARGETS = """
() => [...document.querySelectorAll('a, button, summary, select, textarea, input, label')]
  .filter(e => !e.closest('.gone, .skip') && !(e.matches('input') && e.closest('label.choice'))
    && !(e.matches('input') && e.type === 'hidden') && !e.matches('label.gone')
    && e.getClientRects().length && e.checkVisibility())
  .map(e => { const r = e.getBoundingClientRect();
    return { what: e.tagName + ' ' + (e.innerText || e.name || e.id).slice(0, 40),
      field: e.matches('label.field'), x: r.left, y: r.top + scrollY, w: r.width, h: r.height }; })
"""
SMALLEST_TYPE = """
() => [...document.querySelectorAll('body *')]
  .filter(e => !e.closest('.gone, svg') && e.checkVisibility()
    && [...e.childNodes].some(n => n.nodeType === 3 && n.textContent.trim()))
  .map(e => [parseFloat(getComputedStyle(e).fontSize), e.textContent.trim().slice(0, 30)])
  .filter(row => row[0] < 15.99)
"""


def addresses(windows: Windows) -> list[str]:
    """Return every page, and the sheet in each of its faces."""
    job = windows.served.jobs[0]
    return [
        "/",
        "/?search=nothing-like-it",
        f"/jobs/{job}",
        f"/jobs/{job}?check=ck-dry-park&place=front&which=1",
        f"/jobs/{job}?check=ck-dry-park&place=front&cause=rc-outer-tie-rod-worn",
        f"/jobs/{job}?at=lr&find=joint",
        f"/jobs/{job}?upto=3",
        f"/jobs/{windows.served.jobs[-1]}",
        *(f"/jobs/{job}/write-up?step={step}" for step in STEPS),
        f"/jobs/{job}/why",
        f"/jobs/{job}/history",
        "/people",
        "/keys",
        "/trust",
        "/sign-in",
        "/nowhere",
    ]


def shown(page: Any, theme: str) -> None:
    """Choose a theme as the form of the page does."""
    page.context.add_cookies([{"name": "theme", "value": theme, "url": page.url}])


def open_all(page: Any) -> None:
    """Open what is folded away, so that it is looked at too."""
    page.evaluate("document.querySelectorAll('details').forEach(e => e.open = true)")


@pytest.mark.parametrize("theme", THEMES, ids=lambda theme: theme or "system")
def test_axe_finds_nothing_on_any_page(windows: Windows, theme: str) -> None:
    """WCAG 2.2 AA on every page in every theme; 7:1 in the bay.

    What does not depend on colour is asked once at each size: light at a desk, bay on a phone.
    """
    page = windows.signed_in(PHONE if theme in ("bay", "dark") else DESK, who="senior")
    shown(page, theme)
    whole = theme in ("light", "bay")
    rules = {"type": "tag", "values": RULES} if whole else {"type": "rule", "values": COLOUR}
    options: dict[str, Any] = {"runOnly": rules, "resultTypes": ["violations"]}
    if theme.startswith("bay"):
        options["rules"] = {"color-contrast-enhanced": {"enabled": True}}
        rules["values"] = [*rules["values"], *([] if whole else ["color-contrast-enhanced"])]
    found, looked = [], 0
    for address in addresses(windows):
        page.goto(address)
        open_all(page)
        result = Axe().run(page, options=options)
        looked += len(result.response["passes"])
        for row in result.response["violations"]:
            nodes = [node["html"][:160] for node in row["nodes"][:3]]
            found.append((address, row["id"], nodes))

    assert found == []
    assert looked >= len(addresses(windows)) * (15 if whole else 1)


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_every_target_is_large_and_apart(windows: Windows, size: dict[str, int]) -> None:
    """60 px for a thumb in a glove, 8 px between two of them."""
    page = windows.signed_in(size, who="senior")
    small, close, looked = [], [], 0
    for address in addresses(windows):
        page.goto(address)
        open_all(page)
        rows = page.evaluate(TARGETS)
        looked += len(rows)
        small += [(address, r["what"], r["w"], r["h"]) for r in rows if min(r["w"], r["h"]) < 59.9]
        alone = [row for row in rows if not row["field"]]
        close += [(address, *pair) for pair in too_close(alone)]

    assert small == []
    assert close == []
    assert looked > 600


def too_close(rows: list[dict[str, Any]]) -> list[tuple[str, str]]:
    """Return the pairs of targets with less than 8 px between them."""
    found = []
    for n, one in enumerate(rows):
        for other in rows[n + 1 :]:
            across = max(one["x"], other["x"]) - min(one["x"] + one["w"], other["x"] + other["w"])
            down = max(one["y"], other["y"]) - min(one["y"] + one["h"], other["y"] + other["h"])
            if across < 7.9 and down < 7.9:
                found.append((one["what"], other["what"]))
    return found


def test_the_measure_of_gaps_sees_a_gap_that_is_too_small() -> None:
    """A measure that can't fail measures nothing."""
    box = {"what": "a", "x": 0, "y": 0, "w": 60, "h": 60}

    assert too_close([box, {**box, "what": "b", "x": 65}]) == [("a", "b")]
    assert too_close([box, {**box, "what": "b", "x": 68}]) == []


@pytest.mark.parametrize(
    ("size", "theme"),
    [(PHONE, "light"), ({"width": 320, "height": 640}, "bay"), ({"width": 640, "height": 450}, "")],
    ids=["phone", "320-px-bay", "desk-at-200-percent"],
)
def test_no_page_scrolls_sideways(windows: Windows, size: dict[str, int], theme: str) -> None:
    """WCAG 2.2, 1.4.10 Reflow: 320 px wide is enough; 200 % zoom halves a desk's width."""
    page = windows.signed_in(size, who="senior")
    shown(page, theme)
    wide = []
    for address in addresses(windows):
        page.goto(address)
        open_all(page)
        width = page.evaluate("document.documentElement.scrollWidth")
        if width > size["width"]:
            wide.append((address, width))

    assert wide == []


def test_no_type_is_smaller_than_16_px(windows: Windows) -> None:
    """At arm's length, under a lamp."""
    page = windows.signed_in(PHONE, who="senior")
    small = []
    for address in addresses(windows):
        page.goto(address)
        open_all(page)
        small += [(address, *row) for row in page.evaluate(SMALLEST_TYPE)]
        assert page.evaluate("getComputedStyle(document.body).fontSize") == "20px"

    assert small == []


def test_the_desk_has_two_columns_and_the_phone_one(windows: Windows) -> None:
    """The car stays in sight beside the check; on a phone one thing comes after the other."""
    page = windows.signed_in(DESK)
    place = "(() => { const b = s => document.querySelector(s).getBoundingClientRect();"
    place += "return [b('.bay > .next').right, b('.bay > .side').left]; })()"
    page.goto(f"/jobs/{windows.served.jobs[0]}")
    right, left = page.evaluate(place)
    assert left > right

    page.set_viewport_size(PHONE)
    right, left = page.evaluate(place)
    assert left < right


def test_forced_contrast_and_still_motion_are_respected(windows: Windows) -> None:
    """What the device asks for is done without a switch."""
    page = windows.signed_in(DESK, reduced_motion="reduce", contrast="more")
    page.goto("/")
    ink = "getComputedStyle(document.body).color"
    line = "getComputedStyle(document.querySelector('button')).borderTopWidth"

    assert page.evaluate(ink) == "rgb(5, 8, 10)"
    assert page.evaluate(line) == "2px"
    assert page.evaluate(
        "getComputedStyle(document.querySelector('button')).transitionDuration"
    ) in ("0s",)


def test_print_is_black_ink_with_job_and_knowledge_in_the_foot(windows: Windows) -> None:
    """A page for the file: no buttons, nothing tinted that carries meaning, who gave the answer."""
    page = windows.signed_in(DESK)
    shown(page, "bay-dark")
    page.goto(f"/jobs/{windows.served.jobs[0]}")
    page.emulate_media(media="print")
    ink = "getComputedStyle(document.querySelector('h1')).color"
    pressed = "[...document.querySelectorAll('button, form, .bar')]"
    pressed += ".filter(e => e.checkVisibility()).length"
    foot = page.locator(".print-foot")

    assert page.evaluate(ink) == "rgb(0, 0, 0)"
    assert page.evaluate(pressed) == 0
    assert windows.served.jobs[0] in foot.inner_text()
    assert "knowledge" in foot.inner_text()
    pages = page.pdf().count(b"/Type /Page\n")
    assert 1 <= pages <= 2

"""Every page on paper: what a finger needs is gone, what a reader needs is all there.

Each face of each page is opened once as it would be printed on A4, and measured: nothing to press
or to type into, no boxes that scroll, nothing cut off or folded away, black ink, and a head that
says what it is and of when.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import pytest

from api.accounts.permissions import TABLE
from tests.browser.conftest import DESK, Served, Windows
from tests.browser.everywhere import NOT_PAGES, Face, faces, window_of
from tests.browser.test_access import never_ready

pytestmark = pytest.mark.browser

#: What is between the margins of an A4 sheet, upright, in CSS pixels (ISO 216: 210 mm wide).
PAPER = {"width": 695, "height": 1020}
SEEN = "const seen = (e) => e.checkVisibility() && e.getClientRects().length > 0;"
#: What only a finger or a screen has a use for.
PRESSED = f"""
() => {{ {SEEN}
  const what = 'button, input, select, textarea, nav, progress, .skip, [data-queue], .told, .demo';
  return [...document.querySelectorAll(what)].filter(e => seen(e) && !e.closest('.gone'))
    .map(e => e.outerHTML.slice(0, 90)); }}
"""
#: What scrolls, or hides what does not fit, and then does not fit.
CUT = f"""
() => {{ {SEEN}
  return [...document.querySelectorAll('body, body *')]
    .filter(e => seen(e) && !e.closest('.gone, svg') && !e.matches('.gone'))
    .filter(e => {{ const s = getComputedStyle(e);
      const boxed = s.overflowX !== 'visible' || s.overflowY !== 'visible';
      return s.position === 'fixed' || s.position === 'sticky'
        || boxed && (e.scrollWidth > e.clientWidth + 1 || e.scrollHeight > e.clientHeight + 1)
        || e.getBoundingClientRect().right > innerWidth + 1; }})
    .map(e => e.outerHTML.slice(0, 90)); }}
"""
#: Folds that are printed closed, and headings with nothing below them.
EMPTY = f"""
() => {{ {SEEN}
  const text = (e) => [...e.querySelectorAll('*')]
    .filter(x => seen(x) && [...x.childNodes].some(n => n.nodeType === 3 && n.textContent.trim()));
  const shut = [...document.querySelectorAll('details')].filter(e => seen(e)
    && ![...e.children].some(x => x.localName !== 'summary' && seen(x)));
  const bare = [...document.querySelectorAll('section')].filter(e => seen(e)
    && text(e).every(x => x.closest('h1, h2, h3, summary')));
  return [...shut, ...bare].map(e => e.outerHTML.slice(0, 120)); }}
"""
#: The colours of all letters.
INK = f"""
() => {{ {SEEN}
  return [...new Set([...document.querySelectorAll('body *')]
    .filter(e => seen(e) && !e.closest('.gone, svg, .class.dangerous')
      && [...e.childNodes].some(n => n.nodeType === 3 && n.textContent.trim()))
    .map(e => getComputedStyle(e).color))]; }}
"""


@dataclass
class Paper:
    """What was measured of one face on paper."""

    face: Face
    head: str
    foot: str
    words: int
    pressed: list[str] = field(default_factory=list)
    cut: list[str] = field(default_factory=list)
    empty: list[str] = field(default_factory=list)
    ink: list[str] = field(default_factory=list)


def _printed(page: Any, face: Face) -> Paper:
    """Return what would be on paper."""
    page.goto(face.address)
    head = page.locator(".print-head")
    return Paper(
        face,
        head.inner_text() if head.count() else "",
        page.locator(".print-foot").inner_text() if page.locator(".print-foot").count() else "",
        len(page.locator("main").inner_text().split()),
        page.evaluate(PRESSED),
        page.evaluate(CUT),
        page.evaluate(EMPTY),
        page.evaluate(INK),
    )


@pytest.fixture(scope="module")
def papers(browser: Any, served: Served) -> Iterator[list[Paper]]:
    """Return every page in each of its faces, as it would be printed, out of a dark theme."""
    served.making = never_ready(served)
    windows = Windows(browser, served)
    rows: list[Paper] = []
    every = faces(served)
    for who in dict.fromkeys(face.who for face in every):
        page = window_of(windows, DESK, who)
        for base in (served.base, served.strict):
            page.context.add_cookies([{"name": "theme", "value": "bay-dark", "url": base}])
        page.set_viewport_size(PAPER)
        page.emulate_media(media="print")
        rows.extend(_printed(page, face) for face in every if face.who == who)
    yield rows
    windows.close()


def test_every_page_was_printed(papers: list[Paper]) -> None:
    """No page of the table of permissions is missing, and none is empty."""
    read = {row.path for row in TABLE if row.method == "GET"}
    pages = {path for path in read if path == "/api/" or not path.startswith("/api/")}

    assert {paper.face.route for paper in papers} - {""} == pages - NOT_PAGES
    assert len(papers) > 35
    assert {paper.face: paper.words for paper in papers if paper.words < 5} == {}


def test_nothing_to_press_is_printed(papers: list[Paper]) -> None:
    """No buttons, fields, ways to other pages, or what the page says of the network."""
    assert [(paper.face, paper.pressed) for paper in papers if paper.pressed] == []


def test_nothing_is_cut_off_on_paper(papers: list[Paper]) -> None:
    """Nothing scrolls, hangs over the edge, or lies over the text."""
    assert [(paper.face, paper.cut[:3]) for paper in papers if paper.cut] == []


def test_nothing_is_printed_folded_or_as_a_mere_heading(papers: list[Paper]) -> None:
    """What is printed is printed whole."""
    assert [(paper.face, paper.empty) for paper in papers if paper.empty] == []


def test_letters_are_black(papers: list[Paper]) -> None:
    """Whatever the theme on the screen."""
    assert {colour for paper in papers for colour in paper.ink} == {"rgb(0, 0, 0)"}


def test_the_head_says_what_it_is_and_of_when(papers: list[Paper]) -> None:
    """Job or page, day and time, who; the foot the job, its version and the knowledge."""
    for paper in papers:
        assert re.search(r"as it was on \d+ \w+ at \d\d:\d\d", paper.head), paper.face
        assert paper.foot.startswith("Drypark"), paper.face
        if paper.face.route.startswith("/jobs/"):
            assert re.match(r"\d{4} ?\(?\w*\)?, \w+", paper.head), paper
            assert re.search(r"job [\w-]+, version \d+", paper.foot), paper


def test_the_measures_see_what_they_look_for(windows: Windows) -> None:
    """On the screen every one of them finds something on a sheet."""
    page = windows.signed_in({"width": 360, "height": 640})
    page.goto(f"/jobs/{windows.served.jobs[0]}")
    page.locator("[data-queue] [role=status]").wait_for()

    assert len(page.evaluate(PRESSED)) > 5
    assert len(page.evaluate(CUT)) >= 1
    assert len(page.evaluate(EMPTY)) > 3
    assert "rgb(0, 0, 0)" not in page.evaluate(INK)


def test_the_write_up_is_on_paper_in_words(windows: Windows) -> None:
    """Its fields are not printed; what stands in them is."""
    page = windows.signed_in(DESK)
    page.goto(f"/jobs/{windows.served.jobs[0]}/write-up")
    complaint = page.get_by_label("In the customer\u2019s own words").input_value()
    page.emulate_media(media="print")

    assert complaint
    assert complaint in page.locator("main").inner_text()
    assert "C00" in page.locator(".written").inner_text()


def test_the_picture_of_the_reasoning_is_readable_on_paper(windows: Windows) -> None:
    """Across the sheet, whole, in black and white: the strongest way by weight, the rest dashed."""
    page = windows.signed_in(DESK)
    page.goto(f"/jobs/{windows.served.jobs[0]}/why")
    page.emulate_media(media="print")
    page.set_viewport_size({"width": 1024, "height": 700})  # A4 across, between its margins
    picture = page.locator(".wide-path svg")
    box, room = picture.bounding_box(), page.locator(".wide-path").bounding_box()

    assert box["width"] <= room["width"] + 1
    letters = page.evaluate(
        "(() => { const s = document.querySelector('.wide-path svg'), t = s.querySelector('text');"
        "return t.getBoundingClientRect().height; })()"
    )
    assert letters >= 7  # CSS pixels on paper: about 5 points
    paint = page.evaluate(
        "[...document.querySelectorAll('.wide-path .edge path, .wide-path .node polygon')]"
        ".map(e => { const s = getComputedStyle(e);"
        "return [s.stroke, s.strokeWidth, s.strokeDasharray, !!e.closest('.on')]; })"
    )
    assert {stroke for stroke, *_ in paint} == {"rgb(0, 0, 0)"}
    on = {(width, dash) for _stroke, width, dash, is_on in paint if is_on}
    off = {(width, dash) for _stroke, width, dash, is_on in paint if not is_on}
    assert on
    assert off
    assert not on & off
    assert len(re.findall(rb"/MediaBox\s*\[\s*0 0 84\d", page.pdf(prefer_css_page_size=True))) >= 1

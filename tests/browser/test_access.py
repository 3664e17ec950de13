"""Who can use it: contrast, size, zoom, themes, measured in a real browser on every page.

axe finds a part of what hinders people; sizes, gaps, reflow and type are measured here besides.
The rules that axe is asked for, all of them on every page in every theme: WCAG 2.0 to 2.2, A and
AA, and best practice; in the two bay themes the contrast rule of AAA (7:1) as well.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

import pytest

from api.accounts.permissions import TABLE
from api.documents.case import CaseFinding, CaseVehicle
from api.jobs.writing import open_job, write
from api.pages.rendering import THEMES
from api.store.events import FindingSeen, NewEvent, WrittenUp
from tests.browser.conftest import DESK, NEVER_READY, PHONE, Served, Windows
from tests.browser.everywhere import DEVICES, NOT_PAGES, Measured, go_everywhere

pytestmark = pytest.mark.browser
HEAVIEST = 150_000
NAMES = [
    f"{theme or 'system'}-{device['color_scheme']}-{device['contrast']}"
    for theme, device in DEVICES
]


def never_ready(served: Served, finding: str = "sy-hum-speed") -> str:
    """Open a job whose list is being made as long as the tests run."""
    people = served.store.people.list(served.shop)
    person = next(one for one in people if one.role == "technician")
    now = datetime.now(UTC)
    vehicle, seen = CaseVehicle(label="invented"), CaseFinding(id=finding, state="present")
    bodies: tuple[WrittenUp, FindingSeen] = (
        WrittenUp(ticket="4800", vehicle=vehicle, complaint=NEVER_READY),
        FindingSeen(finding=seen),
    )
    first, second = (
        NewEvent(id=f"never-ready-{finding}-{body.kind}", device_time=now, body=body)
        for body in bodies
    )
    job = open_job(served.store, served.desk, person, first).job
    write(served.store, served.desk, person, job, (second,))
    return job


@pytest.fixture(scope="module")
def measured(browser: Any, served: Served) -> Iterator[list[Measured]]:
    """Return what was measured of every page in each of its faces."""
    served.making = never_ready(served)
    windows = Windows(browser, served)
    yield go_everywhere(windows)
    windows.close()


@pytest.mark.parametrize("number", range(len(DEVICES)), ids=NAMES)
def test_axe_finds_nothing_on_any_page(measured: list[Measured], number: int) -> None:
    """WCAG 2.2 AA on every page in every theme; 7:1 in the bay."""
    theme, _device = DEVICES[number]
    rows = [(row.face, *told) for row in measured for told in row.axe[theme, number].found]

    assert rows == []


def test_axe_finds_nothing_on_any_page_at_a_desk(measured: list[Measured]) -> None:
    """What depends on the size: two columns, the whole write-up at once."""
    looks = [(row.face, row.axe["light", DESK["width"]]) for row in measured if row.face.desk]

    assert [(face, *told) for face, rules in looks for told in rules.found] == []


def test_every_page_was_looked_at_in_every_theme(measured: list[Measured]) -> None:
    """Pages times themes, counted; no page of the table of permissions is missing."""
    read = {row.path for row in TABLE if row.method == "GET"}
    pages = {path for path in read if path == "/api/" or not path.startswith("/api/")}
    looks = [rules for row in measured for rules in row.axe.values()]

    assert {row.face.route for row in measured} - {""} == pages - NOT_PAGES
    assert read >= NOT_PAGES
    assert {theme for theme, _device in DEVICES} == set(THEMES)
    assert len({row.face for row in measured}) == len(measured) > 25
    at_desk = sum(row.face.desk for row in measured)
    assert len(looks) == len(measured) * len(DEVICES) + at_desk
    assert at_desk == len(measured) - 6  # the steps of one write-up
    assert min(rules.passed for rules in looks) >= 12


def test_a_theme_is_chosen_on_the_page_and_stays(windows: Windows) -> None:
    """What was measured is what a person gets: the choice is the attribute of every page."""
    page = windows.signed_in(PHONE, js=False)
    for theme, words in THEMES.items():
        page.goto("/keys")
        page.get_by_role("button", name=words, exact=False).first.click()
        page.goto("/")
        assert (page.locator("html").get_attribute("data-theme") or "") == theme


@pytest.mark.parametrize("size", ["phone", "desk", "folded"])
def test_every_target_is_large_and_apart(measured: list[Measured], size: str) -> None:
    """60 px for a thumb in a glove, 8 px between; on a phone before and after unfolding."""
    small = [
        (row.face, one["what"], one["w"], one["h"])
        for row in measured
        for one in row.targets[size]
        if min(one["w"], one["h"]) < 59.9
    ]
    close = [
        (row.face, *pair)
        for row in measured
        for pair in too_close([one for one in row.targets[size] if not one["field"]])
    ]

    assert small == []
    assert close == []
    assert sum(len(row.targets[size]) for row in measured) > (600 if size == "folded" else 700)
    assert min(len(row.targets[size]) for row in measured) >= 3


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


@pytest.mark.parametrize("width", ["320", "360", "640"])
def test_no_page_scrolls_sideways(measured: list[Measured], width: str) -> None:
    """WCAG 2.2, 1.4.10 Reflow: 320 px wide is enough; 200 % zoom halves a desk's width."""
    wide = {row.face: row.wide[width] for row in measured if row.wide[width] > int(width)}

    assert wide == {}


def test_no_type_is_smaller_than_16_px(measured: list[Measured]) -> None:
    """At arm's length, under a lamp."""
    assert [(row.face, *one) for row in measured for one in row.small_type] == []
    assert {row.body for row in measured} == {"20px"}


def test_nothing_on_any_page_needs_a_mouse(measured: list[Measured]) -> None:
    """What can be pressed is reached by Tab, is a control by nature, and is not dragged."""
    assert [(row.face, *row.by_mouse_only) for row in measured if row.by_mouse_only] == []


def test_no_page_is_heavy_in_the_browser(measured: list[Measured]) -> None:
    """Under 150 kB each with all that the browser loads for it, unpacked."""
    assert {row.face: row.weight for row in measured if row.weight > HEAVIEST} == {}
    assert min(row.weight for row in measured) > 30_000


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
    page.context.add_cookies([{"name": "theme", "value": "bay-dark", "url": page.url}])
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

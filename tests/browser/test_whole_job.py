"""The whole job, from the write-up to the last verdict, as a technician does it."""

from __future__ import annotations

import re
from itertools import pairwise
from typing import Any

import pytest

from tests.browser.conftest import DESK, PHONE, Windows
from tests.browser.waiting import note_box

pytestmark = pytest.mark.browser

WAYS = [
    pytest.param(PHONE, True, id="phone"),
    pytest.param(PHONE, False, id="phone-no-scripts"),
    pytest.param(DESK, True, id="desk"),
    pytest.param(DESK, False, id="desk-no-scripts"),
]


def press(page: Any, what: Any) -> None:
    """Press something, and wait for the page that it leads to."""
    with page.expect_navigation():
        what.click()


def button(page: Any, name: str, inside: str = "main") -> Any:
    """Return the button of that very name."""
    return page.locator(inside).get_by_role("button", name=name, exact=True)


def go_on(page: Any, step: str) -> None:
    """Press the main button of a step."""
    press(page, page.locator(f"section[aria-labelledby={step}] .row .main").last)


def settled(page: Any) -> None:
    """Look again until the list is made, as the page itself says."""
    for _look in range(40):
        if not page.locator("[data-making]").count():
            return
        page.wait_for_timeout(250)
        page.goto(page.url)
    pytest.fail("the list was not made in time")


def write_up(page: Any) -> None:
    """Fill in the write-up, step by step."""
    page.get_by_label("Age in years").fill("8")
    go_on(page, "car")
    page.get_by_text("Pothole, kerb, animal, debris strike reported").click()
    go_on(page, "work")
    page.get_by_label("In the customer\u2019s own words").fill("it hums, louder with speed")
    press(page, button(page, "Look for what fits"))
    press(page, page.locator("button[value^='accept|']").first)
    page.locator("section[aria-labelledby=words]").get_by_text("Taken down").wait_for()
    go_on(page, "words")
    go_on(page, "findings")
    page.get_by_label("Codes", exact=True).fill("C0051-64")
    press(page, button(page, "Read them"))
    press(page, button(page, "Keep this code"))
    page.get_by_role("button", name="Take off").wait_for()
    go_on(page, "codes")
    go_on(page, "questions")
    page.locator("input[value=sy-knock-wheel-speed]").check()
    for box in page.locator("input[name=asked]").all():
        box.check()
    go_on(page, "gates")


@pytest.mark.parametrize(("size", "js"), WAYS)
def test_a_job_is_done_from_write_up_to_last_verdict(
    windows: Windows, size: dict[str, int], js: bool
) -> None:
    """On a phone and at a desk, with scripts and without."""
    page = windows.signed_in(size, js=js)
    ticket = f"4999 {size['width']} {js}"
    page.locator("#new input[name=ticket]").fill(ticket)
    press(page, button(page, "Open the job"))
    write_up(page)
    close_the_gate(page)
    answer_all(page)

    close(page, page.get_by_label("Hub bearing play, left rear"))
    page.get_by_role("heading", name="Open jobs").wait_for()
    assert not page.get_by_text(ticket).is_visible()


def close(page: Any, what: Any) -> None:
    """Close the job, naming what it was."""
    if not page.get_by_text("Close the job").first.is_visible():
        page.locator("summary:has(#job)").click()
    page.get_by_text("Close the job").first.click()
    what.check()
    press(page, button(page, "Close the job"))


def close_the_gate(page: Any) -> None:
    """Do what the gate asks for."""
    page.wait_for_url(re.compile(r"/jobs/[\w-]+$"))
    settled(page)
    page.get_by_role("heading", name="Must not be driven").wait_for()
    press(page, page.get_by_role("link", name="Wheel nut torque, left rear"))
    press(page, button(page, "Not found", "#next"))
    settled(page)
    page.get_by_role("heading", name="Must not be driven").wait_for(state="hidden")


def answer_all(page: Any) -> None:
    """Answer every check of the list, each in another way."""
    found = page.locator("#next").get_by_role("link", name="Found", exact=True)
    # One corner: found, and which of its things.
    press(page, found)
    press(page, button(page, "Found : Hub bearing play"))
    press(page, button(page, "Rest not found"))
    # One axle: found, and the corner tapped on the car.
    press(page, found)
    press(page, button(page, "Found : Worn outer tie-rod end"))
    press(page, button(page, "Right front", "#where"))
    press(page, button(page, "Can\u2019t tell the rest"))
    # One verdict, taken back and given again.
    one = page.locator("#next .answers button")
    press(page, one.nth(1))
    press(page, button(page, "Undo"))
    button(page, "Put it back").wait_for()
    press(page, one.nth(2))
    page.get_by_role("heading", name="No further check is worth its time").wait_for()


@pytest.mark.parametrize("js", [True, False], ids=["scripts", "no-scripts"])
def test_after_an_answer_the_next_check_is_in_sight(windows: Windows, js: bool) -> None:
    """A thumb in a glove does not scroll past the head of the page after every answer."""
    page = windows.signed_in(PHONE, js=js)
    page.goto(f"/jobs/{windows.served.jobs[1]}")
    press(page, page.locator("#next .answers .cant-tell").first)
    for _look in range(40):
        box = page.locator("#next").bounding_box() or {"y": -1.0}
        if 0 <= box["y"] < 300:
            break
        page.wait_for_timeout(100)

    assert 0 <= box["y"] < 300
    assert button(page, "Undo").is_visible()


def test_another_persons_answer_appears_and_takes_no_typed_word(windows: Windows) -> None:
    """Two people at one job: the list follows, a half-typed note stays."""
    first = windows.signed_in(PHONE)
    second = windows.signed_in(DESK, who="senior")
    address = f"/jobs/{windows.served.jobs[0]}"
    first.clock.install()
    first.goto(address)
    second.goto(address)
    second.get_by_role("button", name="Not found").first.click()
    first.clock.run_for(6_000)
    first.locator("[data-refresh=undo]").get_by_text("Severin").wait_for()

    first.clock.run_for(1_000)  # a tap at the very moment of the change is not taken
    note_box(first).fill("half a note")
    second.get_by_role("button", name="Undo").click()
    first.clock.run_for(6_000)
    first.get_by_text("Somebody else wrote something down").wait_for()
    assert first.get_by_label("Note", exact=True).input_value() == "half a note"


def test_single_keys_work_and_can_be_switched_off(windows: Windows) -> None:
    """`/` looks, `n` goes to the next check, `?` lists the keys; off means off."""
    page = windows.signed_in(DESK)
    page.goto(f"/jobs/{windows.served.jobs[0]}")
    page.keyboard.press("n")
    assert page.evaluate("document.activeElement.id") == "next"
    page.keyboard.press("/")
    assert page.evaluate("document.activeElement.id") == "find"
    page.locator("body").click(position={"x": 2, "y": 400})
    page.keyboard.press("g")
    page.keyboard.press("j")
    page.wait_for_url("**/")
    page.keyboard.press("?")
    page.wait_for_url("**/keys")

    page.get_by_role("button", name="Switch single keys off").click()
    page.goto("/")
    page.keyboard.press("?")
    page.keyboard.press("/")
    assert page.url.endswith("/")
    assert page.evaluate("document.activeElement.tagName") == "BODY"


def test_everything_is_reached_by_tab_in_reading_order(windows: Windows) -> None:
    """Nothing needs a mouse; the focus shows as a line of 4 px."""
    page = windows.signed_in(DESK)
    page.goto(f"/jobs/{windows.served.jobs[0]}")
    tops, widths = [], []
    for _press in range(25):
        page.keyboard.press("Tab")
        where = page.evaluate(
            "() => { const e = document.activeElement, r = e.getBoundingClientRect();"
            "return [r.top + scrollY, r.left, getComputedStyle(e).outlineWidth,"
            "e.closest('.side') ? 1 : 0, e.className]; }"
        )
        if not where[3]:
            tops.append(where[0])
        widths.append(where[2])

    steps = [after - before for before, after in pairwise(tops)]
    assert min(steps[1:]) > -120  # within one row of buttons, never back up the page
    assert set(widths) == {"4px"}


def test_codes_are_read_while_they_are_typed(windows: Windows) -> None:
    """The same reader as the server's, without a button."""
    page = windows.signed_in(PHONE)
    page.goto(f"/jobs/{windows.served.jobs[0]}/write-up?step=codes")
    page.get_by_label("Codes", exact=True).type("C0031-1F")

    page.locator("[data-decoded]").get_by_text("C0031-1F,").wait_for()

"""What a page does by itself takes no tap and no word, and moves nothing under a hand.

A finger is down for a tenth of a second or for half of one. What loads, comes in or is sent in
that time must not turn a tap into nothing, nor into an answer to something else.
"""

from __future__ import annotations

import re
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from api.answering.gating import GateRecord
from api.documents import Answer, Case
from api.jobs.answering import at_once
from graph.terms import Knowledge
from tests.api.pages.paper import paper_answer
from tests.browser.conftest import DESK, PHONE, Served, Windows, serve
from tests.browser.test_access import never_ready
from tests.browser.test_whole_job import settled
from tests.browser.waiting import note_box, notes, open_sheet, says, until

pytestmark = pytest.mark.browser

GO = threading.Event()
#: Where everything that can be pressed stands, from the top of the page.
SPOTS = """
() => [...document.querySelectorAll('header a, main a, main button, main summary, footer a')]
  .filter(e => e.checkVisibility())
  .map(e => [(e.innerText ?? '').slice(0, 30), Math.round(e.getBoundingClientRect().top + scrollY)])
"""
#: The worker of a first visit comes when the test lets it.
HELD_WORKER = """
const register = navigator.serviceWorker.register.bind(navigator.serviceWorker);
const let_ = new Promise((done) => { window.letWorker = done; });
navigator.serviceWorker.register = async (...what) => { await let_; return register(...what); };
"""
PAGES = ("/", "/jobs/{job}", "/jobs/{job}/write-up", "/jobs/{job}/history", "/jobs/{job}/why")


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """Serve the invented shop; the list of one complaint waits for the test."""

    def on_paper(knowledge: Knowledge, case: Case, record: GateRecord) -> Answer:
        if case.complaint.startswith("the list of this one"):
            assert GO.wait(60)
        return paper_answer(knowledge, case, record)

    with serve(Path(tmp_path_factory.mktemp("shop")), at_once(on_paper)) as running:
        yield running
        GO.set()


def finger_on(page: Any, what: Any) -> None:
    """Put a finger on something, near its lower edge, and leave it there."""
    what.evaluate("(one) => one.scrollIntoView({ block: 'center' })")  # not behind the foot
    box = what.bounding_box()
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] - 6)
    page.mouse.down()


def events(windows: Windows, job: str) -> list[Any]:
    """Return what is written down in a job."""
    rows = windows.served.store.jobs.events(windows.served.shop, job)
    return [row.body for row in rows if row.body.kind != "gate-opened"]


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_a_slow_tap_on_a_name_signs_in_while_the_page_still_settles(
    windows: Windows, size: dict[str, int]
) -> None:
    """On the first visit the worker comes, and what the page says of it changes meanwhile."""
    page = windows.open(size)
    page.add_init_script(HELD_WORKER)
    page.goto("/sign-in")
    says(page, "connection not trusted")
    finger_on(page, page.locator("button[name=name]").first)
    page.evaluate("letWorker()")
    says(page, "Works offline.")
    page.mouse.up()

    page.wait_for_url("**/")


def test_nothing_moves_when_the_page_says_something_else(windows: Windows) -> None:
    """Nothing sent, no network, something kept, sent again: all at the foot of the screen."""
    page, job = open_sheet(windows, 1)
    looked = 0
    for size in (PHONE, DESK):
        page.set_viewport_size(size)
        for path in PAGES:
            page.goto(path.format(job=job))
            page.evaluate("document.querySelectorAll('details').forEach((e) => e.open = true)")
            before = page.evaluate(SPOTS)
            page.context.set_offline(True)
            says(page, "No network")
            assert page.evaluate(SPOTS) == before, path
            put = "fields: [], who: document.documentElement.dataset.person, words: 'a note'"
            page.evaluate(
                "new Promise((done, fail) => { const asked = indexedDB.open('drypark', 1);"
                "setTimeout(() => fail(new Error('the store did not take it')), 20000);"
                "asked.onsuccess = () => asked.result.transaction('answers', 'readwrite')"
                f".objectStore('answers').put({{ action: '/jobs/{job}/events', {put},"
                "at: new Date().toISOString() }).onsuccess = () => done(1); })"
            )
            page.evaluate("dispatchEvent(new Event('offline'))")
            says(page, "1 answer waiting to be sent.")
            assert page.evaluate(SPOTS) == before, path
            page.get_by_text("What is kept on this device").click()
            page.locator("[data-queue]").get_by_role("button", name="Take back").click()
            page.context.set_offline(False)
            says(page, "All sent.")
            assert page.evaluate(SPOTS) == before, path
            looked += len(before)
    assert looked > 200


def test_what_has_the_focus_is_never_hidden_behind_the_foot(windows: Windows) -> None:
    """WCAG 2.2, 2.4.11: the foot lies over the page, and the page makes room for it."""
    page, _job = open_sheet(windows, 1)
    edge = "document.querySelector('[data-queue]').getBoundingClientRect().top"
    hidden = []
    for _press in range(60):
        page.keyboard.press("Tab")
        box = page.evaluate(
            "() => { const e = document.activeElement, r = e.getBoundingClientRect();"
            f"return [r.top, r.bottom, {edge}, (e.innerText ?? e.name ?? '').slice(0, 30)]; }}"
        )
        if box[1] > box[2] + 1 and box[1] - box[0] < 300:
            hidden.append(box)
    assert hidden == []


def test_somebody_elses_answer_does_not_take_the_check_from_under_a_finger(
    windows: Windows,
) -> None:
    """The finger is down on an answer when another answer comes: it counts for what it was on."""
    job = windows.served.jobs[2]
    first, second = windows.signed_in(PHONE), windows.signed_in(DESK, who="senior")
    first.clock.install()
    for page in (first, second):
        page.goto(f"/jobs/{job}?check=ck-calibration-status&place=vehicle")
        settled(page)
    check = first.locator("#next input[name=check]").first.get_attribute("value")
    finger_on(first, first.locator("#next .answers .not-found").first)
    with second.expect_navigation():
        second.locator("#next .answers .cant-tell").first.click()
    count = len(events(windows, job))
    first.clock.run_for(6_000)
    first.mouse.up()
    first.clock.run_for(2_000)

    until(first, lambda: len(events(windows, job)) > count, "it is written")
    last = events(windows, job)[-1].verdict
    assert (last.check, last.verdict) == (check, "not-found")


def test_a_tap_that_met_somebody_elses_change_is_told_and_not_taken(windows: Windows) -> None:
    """What was aimed at one check is no answer to the next; a tap after a look is."""
    job = windows.served.jobs[3]
    first, second = windows.signed_in(PHONE), windows.signed_in(DESK, who="senior")
    first.clock.install()
    for page in (first, second):
        page.goto(f"/jobs/{job}")
        settled(page)
    name = first.locator("#next-name").inner_text()
    with second.expect_navigation():
        second.locator("#next .answers .cant-tell").first.click()
    count = len(events(windows, job))
    for _look in range(100):
        first.clock.run_for(200)
        if first.locator("#next-name").inner_text() != name:
            break
        first.wait_for_timeout(20)
    answer = first.locator("#next .answers .not-found").first
    answer.dispatch_event("click", {"detail": 1})
    first.get_by_text("just as you tapped. Look, and tap again.").wait_for()
    assert len(events(windows, job)) == count

    first.clock.run_for(1_000)
    answer.click()
    first.clock.run_for(2_000)
    until(first, lambda: len(events(windows, job)) > count, "it is written")


def test_another_persons_change_leaves_the_check_where_it_was_on_the_screen(
    windows: Windows,
) -> None:
    """What comes in above it moves the page along, not the check."""
    job = windows.served.jobs[3]
    first, second = windows.signed_in(PHONE), windows.signed_in(DESK, who="senior")
    first.clock.install()
    for page in (first, second):
        page.goto(f"/jobs/{job}?check=ck-calibration-status&place=vehicle")
        settled(page)
    first.evaluate("document.querySelector('#next').scrollIntoView()")
    top = "Math.round(document.querySelector('#next').getBoundingClientRect().top)"
    before = first.evaluate(top)
    note_box(second).fill("a long note " * 12)
    with second.expect_navigation():
        second.get_by_role("button", name="Keep the note").click()
    first.clock.run_for(6_000)
    first.locator("[data-refresh=undo]").get_by_text("a long note").wait_for()

    assert abs(first.evaluate(top) - before) <= 1


def test_a_list_that_comes_takes_no_half_typed_word(windows: Windows) -> None:
    """The page says that it is there, and loads anew when that is asked for."""
    GO.clear()
    job = never_ready(windows.served)
    page = windows.signed_in(PHONE)
    page.goto(f"/jobs/{job}")
    page.get_by_role("heading", name="The list is being made").wait_for()
    box = note_box(page)
    box.fill("half a note")
    page.evaluate("window.same = true")
    GO.set()
    page.get_by_text("The list is ready.").wait_for(timeout=20_000)

    assert page.evaluate("window.same") is True
    assert box.input_value() == "half a note"
    box.fill("")
    with page.expect_navigation():
        page.get_by_role("link", name="Show it").click()
    page.locator("#next .answers").first.wait_for()


def test_a_list_that_comes_waits_for_a_finger(windows: Windows) -> None:
    """A finger is on a button while the list gets ready: the tap counts."""
    GO.clear()
    job = never_ready(windows.served, "sy-brake-squeal")
    page = windows.signed_in(PHONE)
    page.goto(f"/jobs/{job}")
    page.get_by_role("heading", name="The list is being made").wait_for()
    page.locator("summary:has(#job)").click()
    finger_on(page, page.locator("main").get_by_role("link", name="Write-up"))
    GO.set()
    page.wait_for_timeout(3_000)
    page.mouse.up()

    page.wait_for_url("**/write-up")


def test_a_list_that_comes_does_not_cut_off_the_way_to_another_page(windows: Windows) -> None:
    """Somebody has gone elsewhere by a key, and that page takes its time."""
    GO.clear()
    job = never_ready(windows.served, "sy-drag-after-braking")
    page = windows.signed_in(DESK, service_workers="block")
    page.goto(f"/jobs/{job}")
    page.get_by_role("heading", name="The list is being made").wait_for()
    held: list[Any] = []
    page.route(re.compile(r"^[^/]*//[^/]*/$"), lambda route: held.append(route))
    page.keyboard.press("g")
    page.keyboard.press("j")
    until(page, lambda: len(held) == 1, "the board is asked for")
    GO.set()
    page.wait_for_timeout(3_000)
    held[0].continue_()

    page.get_by_role("heading", name="Open jobs").wait_for()


def test_two_quick_answers_and_a_link_are_all_taken(windows: Windows) -> None:
    """While the first is being sent the second is tapped, and then a way out of the page."""
    job = windows.served.jobs[4]
    page = windows.signed_in(PHONE)
    page.goto(f"/jobs/{job}?check=ck-wheel-shake-12-6&place=lr&which=1")
    page.wait_for_load_state("networkidle")
    count = len(events(windows, job))
    windows.served.stuck.set()
    try:
        things = page.locator("#things form.target .cant-tell")
        assert things.count() > 2
        things.nth(0).click()
        things.nth(1).click()
        page.wait_for_timeout(300)
        page.get_by_text("Kept on this device, being sent.").first.wait_for()
        page.locator("summary:has(#job)").click()
        page.locator("main").get_by_role("link", name="Write-up").click(no_wait_after=True)
    finally:
        windows.served.stuck.clear()

    page.wait_for_url(re.compile("write-up"))
    until(page, lambda: len(events(windows, job)) == count + 2, "both are written")
    assert [one.verdict.verdict for one in events(windows, job)[count:]] == ["cant-tell"] * 2


def test_what_is_typed_while_an_answer_is_sent_is_not_cut_off(windows: Windows) -> None:
    """The page goes on when the word is typed, and the word is still there."""
    page, job = open_sheet(windows, 1)
    box = note_box(page)
    page.evaluate("window.same = true")
    windows.served.stuck.set()
    try:
        page.locator("#next .answers .cant-tell").first.click()
        box.press_sequentially("slowly", delay=60)
    finally:
        windows.served.stuck.clear()
    box.press_sequentially(" typed", delay=150)
    assert page.evaluate("window.same") is True

    with page.expect_navigation():
        pass  # a moment after the last letter
    until(page, lambda: box.input_value() == "slowly typed", "the words are there")
    assert "slowly typed" not in notes(windows, job)


@pytest.mark.parametrize("way", ["throws", "never-opens"])
def test_an_answer_goes_its_plain_way_where_this_browser_keeps_nothing(
    windows: Windows, way: str
) -> None:
    """A store that is locked away, or never opens, swallows no tap."""
    job = windows.served.jobs[5]
    page = windows.signed_in(PHONE)
    body = "throw new Error('locked')" if way == "throws" else "return {}"
    page.add_init_script(f"IDBFactory.prototype.open = function () {{ {body}; }};")
    page.goto(f"/jobs/{job}?check=ck-calibration-status&place=vehicle")
    count = len(events(windows, job))
    with page.expect_navigation():  # a page on its way is not closed under way
        page.locator("#next .answers .cant-tell").first.click()

    until(page, lambda: len(events(windows, job)) == count + 1, "it is written")
    assert events(windows, job)[-1].verdict.verdict == "cant-tell"

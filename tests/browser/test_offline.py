"""The network is cut in a real browser: nothing that was tapped or typed may be lost or doubled."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe

from tests.browser.conftest import PHONE, Windows
from tests.browser.everywhere import TARGETS
from tests.browser.test_access import too_close
from tests.browser.waiting import notes, open_sheet, says, status, until, write_note

pytestmark = pytest.mark.browser


def test_taps_and_typed_answers_survive_a_dead_network_and_a_reload(windows: Windows) -> None:
    """They arrive in order, each exactly once, with a count that can be seen."""
    page, job = open_sheet(windows)
    before = notes(windows, job)
    rows = len(windows.served.store.jobs.events(windows.served.shop, job))

    page.context.set_offline(True)
    page.locator("#next").get_by_role("button", name="Can\u2019t tell").first.click()
    says(page, "1 answer waiting to be sent.")
    write_note(page, "first")
    says(page, "2 answers waiting to be sent.")
    page.reload()
    says(page, "2 answers waiting to be sent.")
    assert "No network" in status(page)
    assert "Works offline." in status(page)
    write_note(page, "second")
    says(page, "3 answers waiting to be sent.")
    assert notes(windows, job) == before

    page.context.set_offline(False)
    says(page, "All sent.")
    assert notes(windows, job) == [*before, "first", "second"]
    kinds = [r.body.kind for r in windows.served.store.jobs.events(windows.served.shop, job)]
    written = [kind for kind in kinds[rows:] if not kind.startswith("gate")]
    assert written == ["verdict", "note", "note"]


def test_two_taps_on_one_answer_are_one_answer(windows: Windows) -> None:
    """A glove taps twice."""
    page, job = open_sheet(windows, 1)
    page.context.set_offline(True)
    write_note(page, "tapped twice")
    page.get_by_role("button", name="Keep the note").click()
    says(page, "1 answer waiting to be sent.")

    page.context.set_offline(False)
    says(page, "All sent.")
    assert notes(windows, job).count("tapped twice") == 1


def test_two_tabs_send_each_answer_once(windows: Windows) -> None:
    """Both tabs hold the same queue and wake at the same moment."""
    page, job = open_sheet(windows, 1)
    other = page.context.new_page()
    other.goto(f"/jobs/{job}")
    says(other, "Works offline.")
    page.context.set_offline(True)
    for text in ("tab 1", "tab 2"):
        write_note(page, text)
        says(page, "waiting to be sent.")
    write_note(other, "tab 3")
    says(other, "3 answers waiting to be sent.")

    page.context.set_offline(False)
    says(page, "All sent.")
    says(other, "All sent.")
    assert [text for text in notes(windows, job) if text.startswith("tab")] == [
        "tab 1",
        "tab 2",
        "tab 3",
    ]


def test_a_refused_answer_is_shown_and_kept_for_repair(windows: Windows) -> None:
    """An answer that can't stand must not vanish, nor hold up those behind it."""
    page, job = open_sheet(windows, 1)
    page.context.set_offline(True)
    page.evaluate("document.querySelector('#queue').scrollIntoView()")
    page.get_by_label("Note", exact=True).evaluate("box => box.removeAttribute('maxlength')")
    write_note(page, "x" * 5000)
    says(page, "1 answer waiting to be sent.")
    page.reload()
    write_note(page, "behind it")
    says(page, "2 answers waiting to be sent.")

    page.context.set_offline(False)
    says(page, "1 answer not taken")
    until(page, lambda: "behind it" in notes(windows, job), "the one behind it is sent")
    page.get_by_text("Not taken: ").first.wait_for()
    page.reload()
    says(page, "1 answer not taken")
    with page.expect_download() as saved:
        page.get_by_role("link", name="Save as a file (JSON)").click()
    rows = json.loads(Path(saved.value.path()).read_text(encoding="utf-8"))
    assert [dict(row["fields"])["text"] for row in rows] == ["x" * 5000]
    page.get_by_role("button", name="Throw away").click()
    says(page, "All sent.")


@pytest.mark.parametrize("number", [401, 429])
def test_nobody_signed_in_and_too_many_keep_the_queue(windows: Windows, number: int) -> None:
    """The answer is right; only the moment is wrong."""
    page, job = open_sheet(windows, 1)
    path = f"**/jobs/{job}/events"
    page.route(path, lambda route: route.fulfill(status=number, json={"detail": "later"}))
    write_note(page, f"kept at {number}")
    says(page, "1 answer waiting to be sent.")
    assert "sign in" in status(page) or "busy" in status(page)
    assert f"kept at {number}" not in notes(windows, job)

    page.unroute(path)
    page.reload()
    says(page, "All sent.")
    assert notes(windows, job).count(f"kept at {number}") == 1


def test_signed_out_meanwhile_keeps_the_queue_until_the_same_person_is_back(
    windows: Windows,
) -> None:
    """An answer stands under the name of whoever gave it, never of who came next."""
    page, job = open_sheet(windows, 1)
    page.context.set_offline(True)
    write_note(page, "mine")
    says(page, "1 answer waiting to be sent.")
    page.context.clear_cookies()
    page.context.set_offline(False)
    page.goto("/sign-in")
    says(page, "1 answer waiting to be sent.")
    people = windows.served.store.people.list(windows.served.shop)
    senior, mine = (
        next(one.name for one in people if one.role == role) for role in ("senior", "technician")
    )

    page.get_by_role("button", name=senior).click()
    page.wait_for_url("**/")
    says(page, "belong to somebody else")
    assert "mine" not in notes(windows, job)
    page.context.clear_cookies()
    page.goto("/sign-in")
    page.get_by_role("button", name=mine).click()
    says(page, "All sent.")
    assert notes(windows, job).count("mine") == 1


def test_signing_out_waits_for_what_is_not_sent(windows: Windows) -> None:
    """Leaving must not leave answers behind without a word."""
    page, job = open_sheet(windows, 1)
    path = f"**/jobs/{job}/events"
    page.route(path, lambda route: route.fulfill(status=429, json={"detail": "later"}))
    write_note(page, "before I go")
    says(page, "1 answer waiting to be sent.")
    page.goto("/people")
    page.get_by_role("button", name="Sign out").click()
    says(page, "Tap again to sign out all the same.")
    assert page.url.endswith("/people")

    page.unroute(path)
    page.reload()
    says(page, "All sent.")
    page.get_by_role("button", name="Sign out").click()
    page.wait_for_url("**/sign-in*")
    names = "caches.keys().then((all) => all.filter((one) => one.startsWith('pages-')).length)"
    until(page, lambda: page.evaluate(names) == 0, "the pages of who left are gone")
    assert notes(windows, job).count("before I go") == 1


def test_the_pages_of_one_person_are_not_shown_to_the_next(windows: Windows) -> None:
    """A shared tablet changes hands, and then the network dies."""
    page, _job = open_sheet(windows, 1)
    page.context.clear_cookies()
    page.goto("/sign-in")
    people = windows.served.store.people.list(windows.served.shop)
    page.get_by_role("button", name=next(o.name for o in people if o.role == "trainee")).click()
    page.wait_for_url("**/")
    says(page, "Works offline.")
    kept = "caches.keys().then((all) => all.filter((one) => one.startsWith('pages-')))"
    until(page, lambda: len(page.evaluate(kept)) == 1, "one person's pages are kept")
    trainee = page.evaluate("document.documentElement.dataset.person")
    assert page.evaluate(kept)[0].endswith(f"-{trainee}")


def test_a_post_is_never_kept_by_the_worker(windows: Windows) -> None:
    """What is kept are pages and their parts; answers are the queue's."""
    page, _job = open_sheet(windows, 1)
    write_note(page, "sent at once")
    says(page, "All sent.")
    urls = page.evaluate(
        "caches.keys().then((names) => Promise.all(names.map((name) => caches.open(name).then("
        "(one) => one.keys())))).then((all) => all.flat().map((one) => [one.method, one.url]))"
    )
    assert urls
    assert {method for method, _ in urls} == {"GET"}
    assert not [url for _, url in urls if "/events" in url or "/api/" in url or "/people" in url]


def test_the_same_form_works_without_scripts(windows: Windows) -> None:
    """A browser that runs nothing sends the form itself."""
    page = windows.signed_in(PHONE, js=False)
    job = windows.served.jobs[1]
    page.goto(f"/jobs/{job}")
    write_note(page, "without scripts")
    page.wait_for_url(f"**/jobs/{job}*")
    assert notes(windows, job).count("without scripts") == 1


def test_a_page_that_was_never_seen_says_so_without_network(windows: Windows) -> None:
    """Better than the browser's own error: what is safe, and where to go."""
    page, _job = open_sheet(windows, 1)
    page.context.set_offline(True)
    page.goto("/people")

    page.get_by_role("heading", name="No network").wait_for()
    page.get_by_role("link", name="To the board").click()
    page.wait_for_url("**/")
    says(page, "No network")
    page.context.set_offline(False)


def test_an_open_job_of_the_board_can_be_read_without_network(windows: Windows) -> None:
    """Nobody opens every job beforehand."""
    page = windows.signed_in(PHONE)
    job = windows.served.jobs[2]
    says(page, "Works offline.")
    held = f"caches.match('/jobs/{job}').then((one) => Boolean(one))"
    until(page, lambda: bool(page.evaluate(held)), "the job of the board is kept", 30.0)
    page.context.set_offline(True)
    page.goto(f"/jobs/{job}")

    assert page.locator(".title-block h1").inner_text()
    says(page, "No network")
    page.context.set_offline(False)


def test_an_answer_that_waits_can_be_taken_back_and_given_again(windows: Windows) -> None:
    """Undo must not need the network."""
    page, job = open_sheet(windows, 1)
    page.context.set_offline(True)
    write_note(page, "a slip")
    says(page, "1 answer waiting to be sent.")
    page.get_by_text("What is kept on this device").click()
    page.get_by_role("button", name="Take back").wait_for()
    rows = page.evaluate(TARGETS)
    assert [row["what"] for row in rows if min(row["w"], row["h"]) < 59.9] == []
    for foot in (False, True):  # what is kept lies over the page, at the foot of the screen
        here = [row for row in rows if row["foot"] is foot and not row["field"]]
        assert len(here) > 2
        assert too_close(here) == []
    assert Axe().run(page).response["violations"] == []
    page.get_by_role("button", name="Take back").click()
    until(page, lambda: "waiting" not in status(page), "nothing waits any more")
    write_note(page, "as meant")
    says(page, "1 answer waiting to be sent.")

    page.context.set_offline(False)
    says(page, "All sent.")
    assert [text for text in notes(windows, job) if text in ("a slip", "as meant")] == ["as meant"]

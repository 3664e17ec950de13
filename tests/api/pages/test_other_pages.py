"""Board, history, people, sign-in, look: the pages around the sheet."""

from __future__ import annotations

import re

from tests.api.pages.bay import Bay, forms_of, seen
from tests.api.pages.paper import CORNER
from tests.api.web.shop import PASSWORD, event


def test_an_empty_board_teaches(bay: Bay) -> None:
    """What will be here, and the one thing to do now."""
    text = bay.page("/")

    assert "No car is in the bay" in text
    assert "Begin with the ticket number" in text


def test_the_board_shows_stage_next_check_gate_and_waiting(bay: Bay) -> None:
    """One look at the board says what to do on each job."""
    job = bay.hum(
        seen("sy-knock-wheel-speed"), {"kind": "waiting", "waiting_for": "studs, tomorrow"}
    )
    assert "The list is made when you open it" in bay.page("/")

    bay.page(f"/jobs/{job}")
    text = bay.page("/")
    for words in ("4711", "Must not be driven", "Wheel shake, top and bottom, left rear"):
        assert words in text
    assert "Waiting for: studs, tomorrow" in text
    assert "Most suspect: left rear, likely" in text


def test_a_new_job_leads_to_its_write_up(bay: Bay) -> None:
    """The board opens it, twice sent is one job."""
    form = next(form for form in forms_of(bay.page("/")) if form.action == "/jobs")
    first, second = (bay.send(form, ticket="4800", label="a van") for _tap in range(2))

    assert first.status_code == 303
    assert re.fullmatch(r"/jobs/[\w-]+/write-up\?step=car", first.headers["location"])
    assert first.headers["location"] == second.headers["location"]


def test_the_board_finds_by_word_and_shows_closed_jobs_when_asked(bay: Bay) -> None:
    """A search without a hit says what else to try."""
    job = bay.hum()
    bay.client.post(f"/api/jobs/{job}/events", [event({"kind": "closed", "outcome": "done"})])

    assert "4711" not in bay.page("/?search=light")
    assert "4711" in bay.page("/?search=light&closed=true")
    assert "A single word finds more" in bay.page("/?search=zebra")


def test_a_trainee_is_not_offered_what_a_trainee_may_not_do(bay: Bay) -> None:
    """No button that ends in a refusal."""
    text = bay.as_role("trainee").page("/")

    assert 'action="/jobs"' not in text
    assert "a technician opens a new job" in text


def test_the_history_takes_back_and_keeps_what_was_taken(bay: Bay) -> None:
    """Struck through, with the name of whoever took it back."""
    job = bay.hum()
    bay.send(
        bay.form(f"/jobs/{job}?check={CORNER[0]}", kind="verdict-rest"), ("answer", "not-found")
    )
    path = f"/jobs/{job}/history"
    form = next(form for form in forms_of(bay.page(path)) if form.action.endswith("/undo"))
    answer = bay.send(form)
    text = bay.page(path)

    assert answer.headers["location"] == path
    assert bay.verdicts(job) == set()
    assert 'class="taken"' in text
    assert "taken back by Test technician" in text


def test_any_past_sheet_is_shown_as_it_was(bay: Bay) -> None:
    """Without a button that would write into the past."""
    job = bay.hum()
    bay.send(
        bay.form(f"/jobs/{job}?check={CORNER[0]}", kind="verdict-rest"), ("answer", "not-found")
    )
    text = bay.page(f"/jobs/{job}?upto=2")

    assert "As it was on" in text
    assert "Wheel shake, top and bottom, left rear" in text
    assert [form for form in forms_of(text) if form.method == "post"] == []


def test_a_wrong_password_says_no_more_than_that(bay: Bay) -> None:
    """Whether the name exists is not told."""
    nobody = Bay(bay.shop, bay.shop.anybody())
    tries = [
        nobody.post("/sign-in", [("name", name), ("password", "not this one")])
        for name in ("Test technician", "No Such Person")
    ]

    assert [answer.status_code for answer in tries] == [401, 401]
    said = [re.findall(r'role="alert">(.*?)</p>', answer.text, re.DOTALL) for answer in tries]
    assert said[0] == said[1] != []


def test_signing_in_leads_on_and_signing_out_ends_it(bay: Bay) -> None:
    """The cookie is for this server alone and no script reads it."""
    nobody = Bay(bay.shop, bay.shop.anybody())
    assert nobody.client.get("/", headers={"accept": "text/html"}).status_code == 303

    rows = [("name", "Test owner"), ("password", PASSWORD), ("back", "/people")]
    answer = nobody.post("/sign-in", rows)
    assert (answer.status_code, answer.headers["location"]) == (303, "/people")
    assert "HttpOnly" in answer.headers["set-cookie"]
    assert "Test owner" in nobody.page("/people")

    nobody.post("/sign-out", [])
    assert nobody.client.get("/people", headers={"accept": "text/html"}).status_code == 303


def test_an_owner_adds_somebody(bay: Bay) -> None:
    """A short password is refused with what would be one."""
    owner = bay.as_role("owner")
    short = owner.post("/people", [("name", "New"), ("role", "trainee"), ("password", "abc")])
    rows = [("name", "New"), ("role", "trainee"), ("password", "a long enough password")]

    assert short.status_code == 422
    assert owner.post("/people", rows).status_code == 303
    assert "New" in owner.page("/people")
    assert bay.post("/people", rows).status_code == 403


def test_the_theme_is_kept_on_this_device_without_scripts(bay: Bay) -> None:
    """A cookie, set by a form."""
    answer = bay.post("/keys", [("theme", "bay-dark"), ("back", "/")])

    assert answer.headers["location"] == "/"
    assert '<html lang="en" data-theme="bay-dark"' in bay.page("/")
    assert bay.post("/keys", [("theme", "plaid")]).status_code == 303
    assert 'data-theme="bay-dark"' in bay.page("/keys")


def test_single_keys_can_be_switched_off(bay: Bay) -> None:
    """WCAG 2.2, 2.1.4 Character Key Shortcuts: there is a way to turn them off."""
    assert 'data-keys="on"' in bay.page("/keys")
    bay.post("/keys", [("keys", "off")])

    assert 'data-keys="off"' in bay.page("/keys")


def test_a_page_that_is_not_there_says_what_is_and_what_to_do(bay: Bay) -> None:
    """What happened, what is safe, what to do."""
    answer = bay.client.get("/nowhere", headers={"accept": "text/html"})

    assert answer.status_code == 404
    for words in ("There is nothing here", "is kept", "To the board"):
        assert words in answer.text


def test_what_was_written_down_together_is_one_line_that_opens(bay: Bay) -> None:
    """Sixty safety questions are one answer; each is still there, and can be taken back."""
    job = bay.job()
    form = bay.form(f"/jobs/{job}/write-up?step=gates", step="gates")
    bay.send(form, ("go", "sheet"))
    text = bay.page(f"/jobs/{job}/history")
    count = len(bay.bodies(job)) - 1

    assert f"and {count - 1} more, written down together" in text
    assert text.count('class="many"') == 1
    assert text.count(">As it was<") == count + 1

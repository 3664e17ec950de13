"""The bay sheet: gate, next check, answers, and what is written down for each button."""

from __future__ import annotations

import re

import pytest

from api.accounts.permissions import ROLES, Role
from api.jobs.writing import WHO_WRITES
from tests.api.pages.bay import Bay, forms_of, seen
from tests.api.pages.paper import CORNER, GATE_CHECK, NEXT, ONE

HERE = "?check={0}&place={1}"


def jump(job: str, doing: tuple[str, str], more: str = "") -> str:
    """Return the address of a check of a job."""
    return f"/jobs/{job}" + HERE.format(*doing) + more


def test_the_gate_stands_before_the_next_check(bay: Bay) -> None:
    """What must not be driven is said before anything is asked."""
    text = bay.page(f"/jobs/{bay.hum(seen('sy-knock-wheel-speed'))}")

    places = [text.index(words) for words in ("Must not be driven", "Next check", "After that")]
    assert places == sorted(places)
    assert "a knock in time with the wheel" in text
    assert "Wheel nut torque, left rear" in text  # what closes it, and where
    assert "Only a senior technician overrules" in text


def test_a_gate_before_every_car_is_quieter_than_one_that_opened(bay: Bay) -> None:
    """Where everything shouts, nothing is heard."""
    text = bay.page(f"/jobs/{bay.hum()}")

    assert 'class="gate usual prints"' in text
    assert 'class="gate"' not in text


def test_the_three_answers_stand_in_one_order(bay: Bay) -> None:
    """A hand that knows the place does not read any more."""
    job = bay.hum()
    for doing in (CORNER, NEXT, ONE):
        text = bay.page(jump(job, doing, "&which=1"))
        groups = re.findall(r'<div class="answers".*?</div>', text, re.DOTALL)
        assert groups
        for group in groups:
            words = re.findall(r">(Found|Not found|Can.t tell)<", group)
            assert words == ["Found", "Not found", "Can\u2019t tell"]


def test_one_verdict_is_one_event_at_the_check(bay: Bay) -> None:
    """A check that shows one thing is answered as a whole."""
    job = bay.hum()
    form = bay.form(jump(job, ONE), kind="verdict")

    assert bay.send(form, ("answer", "not-found")).status_code == 303
    assert bay.verdicts(job) == {(ONE[0], "", "vehicle", "not-found")}


def test_found_at_a_corner_needs_no_second_question(bay: Bay) -> None:
    """A check at one corner shows corner things at that corner."""
    job = bay.hum()
    form = bay.form(jump(job, CORNER, "&which=1"), cause="rc-bearing-play")
    answer = bay.send(form, ("answer", "found"))

    assert answer.status_code == 303
    assert (CORNER[0], "rc-bearing-play", "lr", "found") in bay.verdicts(job)


def test_found_where_two_corners_can_be_asks_for_the_corner(bay: Bay) -> None:
    """The corner is tapped on the car, with one named button for each."""
    job = bay.hum()
    form = bay.form(jump(job, NEXT, "&which=1"), cause="rc-outer-tie-rod-worn")
    answer = bay.send(form, ("answer", "found"))
    asked = answer.headers["location"].partition("#")[0]
    where = bay.form(asked, kind="verdict", cause="rc-outer-tie-rod-worn", answer="found")

    assert bay.verdicts(job) == set()
    assert where.buttons == [("at", "lf"), ("at", "rf")]
    assert bay.send(where, ("at", "rf")).status_code == 303
    assert bay.verdicts(job) == {(NEXT[0], "rc-outer-tie-rod-worn", "rf", "found")}


def test_not_found_after_a_find_speaks_of_the_other_corner(bay: Bay) -> None:
    """Found on the right and not on the left is two statements, not a contradiction."""
    job = bay.hum()
    path = jump(job, NEXT, "&which=1")
    where = bay.form(path, cause="rc-outer-tie-rod-worn")
    bay.send(where, ("answer", "found"), ("at", "rf"))
    bay.send(bay.form(path, cause="rc-outer-tie-rod-worn"), ("answer", "not-found"))

    about = {row for row in bay.verdicts(job) if row[1] == "rc-outer-tie-rod-worn"}
    assert {row[2:] for row in about} == {("rf", "found"), ("lf", "not-found")}


def test_nothing_found_on_a_check_is_one_event(bay: Bay) -> None:
    """The most usual answer takes one tap."""
    job = bay.hum()
    bay.send(bay.form(jump(job, CORNER), kind="verdict-rest"), ("answer", "not-found"))

    assert bay.verdicts(job) == {(CORNER[0], "", "lr", "not-found")}


def test_a_find_replaces_nothing_found_on_the_same_check(bay: Bay) -> None:
    """Two answers that stand must not contradict each other."""
    job = bay.hum()
    bay.send(bay.form(jump(job, CORNER), kind="verdict-rest"), ("answer", "not-found"))
    bay.send(bay.form(jump(job, CORNER), cause="rc-bearing-play"), ("answer", "found"))

    assert bay.verdicts(job) == {(CORNER[0], "rc-bearing-play", "lr", "found")}


def test_the_rest_not_found_leaves_what_was_found(bay: Bay) -> None:
    """After a find, the rest of the check is one tap."""
    job = bay.hum()
    path = jump(job, CORNER, "&which=1")
    bay.send(bay.form(path, cause="rc-bearing-play"), ("answer", "found"))
    bay.send(bay.form(path, kind="verdict-rest"), ("answer", "not-found"))
    found = bay.verdicts(job)

    assert [row for row in found if row[3] == "found"] == [
        (CORNER[0], "rc-bearing-play", "lr", "found")
    ]
    assert len([row for row in found if row[3] == "not-found"]) > 3


def test_undo_takes_back_all_of_one_tap(bay: Bay) -> None:
    """A tap that wrote several verdicts is undone by one tap."""
    job = bay.hum()
    path = jump(job, CORNER, "&which=1")
    bay.send(bay.form(path, cause="rc-bearing-play"), ("answer", "found"))
    bay.send(bay.form(path, kind="verdict-rest"), ("answer", "not-found"))
    undo = next(form for form in forms_of(bay.page(f"/jobs/{job}")) if "undo" in form.names)
    bay.send(undo)

    assert bay.verdicts(job) == {(CORNER[0], "rc-bearing-play", "lr", "found")}


def test_undo_of_undo_puts_it_back(bay: Bay) -> None:
    """Undo pressed by mistake is no loss."""
    job = bay.hum()
    bay.send(bay.form(jump(job, CORNER), kind="verdict-rest"), ("answer", "not-found"))
    for _press in range(2):
        undo = next(form for form in forms_of(bay.page(f"/jobs/{job}")) if "undo" in form.names)
        bay.send(undo)

    assert bay.verdicts(job) == {(CORNER[0], "", "lr", "not-found")}


def test_undo_brings_back_what_an_answer_replaced(bay: Bay) -> None:
    """A find that replaced "nothing found" gives it back when it is undone."""
    job = bay.hum()
    bay.send(bay.form(jump(job, CORNER), kind="verdict-rest"), ("answer", "not-found"))
    bay.send(bay.form(jump(job, CORNER), cause="rc-bearing-play"), ("answer", "found"))
    undo = next(form for form in forms_of(bay.page(f"/jobs/{job}")) if "undo" in form.names)
    bay.send(undo)

    assert bay.verdicts(job) == {(CORNER[0], "", "lr", "not-found")}


def test_a_double_tap_is_one_event(bay: Bay) -> None:
    """A glove taps twice."""
    job = bay.hum()
    form = bay.form(jump(job, CORNER, "&which=1"), cause="rc-bearing-play")
    first, second = (bay.send(form, ("answer", "found")) for _tap in range(2))
    note = bay.form(f"/jobs/{job}", kind="note")
    for _tap in range(2):
        bay.send(note, text="left rear hub warm")

    assert (first.status_code, second.status_code) == (303, 303)
    assert [body.kind for body in bay.bodies(job)].count("verdict") == 1
    assert [body.kind for body in bay.bodies(job)].count("note") == 1


def test_a_form_without_an_event_id_writes_nothing(bay: Bay) -> None:
    """Without an id, sent twice would be twice."""
    job = bay.hum()
    rows = [("kind", "note"), ("text", "no id")]
    answer = bay.post(f"/jobs/{job}/events", rows)

    assert answer.status_code == 422
    assert "no event id" in answer.text
    assert "note" not in [body.kind for body in bay.bodies(job)]


def test_a_reading_is_a_verdict_with_its_limit(bay: Bay) -> None:
    """Value and limit are typed in, with a decimal comma where the hand is used to it."""
    job = bay.hum()
    form = bay.form(jump(job, CORNER), kind="reading")
    answer = bay.send(
        form, target="rc-bearing-play@lr", value="0,19", unit="mm", limit="0.05",
        uncertainty="0.02", source="maker's sheet, page 4", limit_kind="upper",
    )  # fmt: skip
    text = bay.page(jump(job, CORNER))

    assert answer.status_code == 303
    assert (CORNER[0], "rc-bearing-play", "lr", "found") in bay.verdicts(job)
    assert "0.19 mm" in text


@pytest.mark.parametrize(
    ("typed", "said"),
    [("1.234", "two ways"), ("1,234", "two ways"), ("a lot", "no number"), ("nan", "no number")],
)
def test_a_reading_that_cannot_be_read_is_asked_about(bay: Bay, typed: str, said: str) -> None:
    """A thousand taken for one, or one for a thousand, is worse than a question."""
    job = bay.hum()
    answer = bay.send(
        bay.form(jump(job, CORNER), kind="reading"), target="rc-bearing-play@lr", value=typed,
        limit="2", uncertainty="0.1", source="maker",
    )  # fmt: skip

    assert answer.status_code == 422
    assert said in answer.text
    assert bay.verdicts(job) == set()


def test_any_check_of_the_knowledge_can_be_jumped_to(bay: Bay) -> None:
    """The list proposes; the technician decides."""
    job = bay.hum()
    text = bay.page(f"/jobs/{job}?find=nut+torque")
    large = bay.page(f"/jobs/{job}?check={GATE_CHECK}")

    assert f"check={GATE_CHECK}" in text
    assert "You jumped here" in large
    assert "Loose wheel nuts" in large


def test_a_search_without_a_hit_says_what_to_do(bay: Bay) -> None:
    """An empty answer teaches."""
    assert "Try a single word" in bay.page(f"/jobs/{bay.hum()}?find=flux+capacitor")


def test_an_intake_step_is_ticked_off(bay: Bay) -> None:
    """Procedure is done, not found."""
    job = bay.hum()
    bay.send(bay.form(f"/jobs/{job}", kind="intake-done", check="ck-full-scan"))

    assert "intake-done" in [body.kind for body in bay.bodies(job)]
    assert "✓ done" in bay.page(f"/jobs/{job}")


def test_the_corner_shows_what_is_suspect_there(bay: Bay) -> None:
    """Shading, word and figure say the same; a tap says what it is."""
    text = bay.page(f"/jobs/{bay.hum()}?at=lr")

    assert 'class="shade-3"' in text
    assert "Most suspect: left rear, likely" in text
    assert re.search(r'id="at".*?Hub bearing play, left rear: likely, 70 %', text, re.DOTALL)


def test_sensor_and_causes_are_told_in_words(bay: Bay) -> None:
    """The word first, the figure beside it, no jargon of statistics."""
    text = bay.page(f"/jobs/{bay.hum()}")

    assert "That the sensor itself is bad is unlikely, 12 %: look first." in text
    assert "likely, 70 % <span" in text
    assert "(50 % to 80 %)" in text
    for word in ("posterior", "prior", "responsibility", "likelihood ratio"):
        assert word not in text.lower()


def test_a_job_without_anything_to_go_by_teaches(bay: Bay) -> None:
    """An empty sheet says what will be here, and the one thing to do now."""
    text = bay.page(f"/jobs/{bay.job()}")

    assert "Nothing to go by yet" in text
    assert "step=words" in text


def test_a_job_with_no_check_left_says_to_decide(bay: Bay) -> None:
    """When no check is worth its time the page says so."""
    job = bay.hum()
    for doing in (CORNER, NEXT):
        bay.send(bay.form(jump(job, doing), kind="verdict-rest"), ("answer", "not-found"))
    bay.send(bay.form(jump(job, ONE), kind="verdict"), ("answer", "cant-tell"))

    assert "No further check is worth its time" in bay.page(f"/jobs/{job}")


def test_closing_offers_only_what_was_found(bay: Bay) -> None:
    """Only proven faults are named, and a comeback opens the job again."""
    job = bay.hum()
    bay.send(bay.form(jump(job, CORNER, "&which=1"), cause="rc-bearing-play"), ("answer", "found"))
    form = bay.form(f"/jobs/{job}", kind="closed")
    assert "causes" in form.names
    bay.send(form, causes="rc-bearing-play@lr", outcome="new hub bearing")
    again = bay.form(f"/jobs/{job}", kind="comeback")
    bay.send(again, words="it hums again")

    kinds = [body.kind for body in bay.bodies(job)]
    assert kinds[-2:] == ["closed", "comeback"]


def test_two_people_see_who_answered_what(bay: Bay) -> None:
    """Both answers stand, each with its name."""
    job, other = bay.hum(), bay.as_role("senior")
    bay.send(bay.form(jump(job, CORNER, "&which=1"), cause="rc-bearing-play"), ("answer", "found"))
    other.send(
        other.form(jump(job, CORNER, "&which=1"), cause="rc-axle-nut-loose"),
        ("answer", "cant-tell"),
    )
    text = bay.page(jump(job, CORNER))

    assert len(bay.verdicts(job)) == 2
    assert "Test technician" in text
    assert "Test senior" in text


def test_a_senior_technician_overrules_with_a_reason(bay: Bay) -> None:
    """Nobody else is offered the form, and it takes what was done instead."""
    job, senior = bay.hum(seen("sy-knock-wheel-speed")), bay.as_role("senior")
    form = senior.form(f"/jobs/{job}", kind="gate-overruled")
    senior.send(form, reason="nuts are tight", instead="torqued on the ground")

    assert all(f.value("kind") != "gate-overruled" for f in forms_of(bay.page(f"/jobs/{job}")))
    assert "gate-overruled" in [body.kind for body in bay.bodies(job)]


@pytest.mark.parametrize("role", ROLES)
def test_nobody_is_offered_a_form_that_would_be_refused(bay: Bay, role: Role) -> None:
    """A gate that is shut, a job that is open, one that is closed; what is refused is not shown."""
    shut, done = bay.hum(seen("sy-knock-wheel-speed")), bay.hum()
    bay.send(bay.form(f"/jobs/{done}", kind="closed"), outcome="done")
    person, kinds = bay.as_role(role), set()
    for job in (shut, done, bay.hum()):
        kinds |= {one.value("kind") for one in forms_of(person.page(f"/jobs/{job}"))} - {""}
    refused = {kind for kind in kinds if role not in WHO_WRITES.get(kind, ROLES)}

    assert refused == set()
    assert {"note", "intake-done"} <= kinds
    assert ("closed" in kinds) is ("comeback" in kinds) is (role != "trainee")


def test_what_a_role_may_not_write_is_refused_with_a_sentence(bay: Bay) -> None:
    """A form that somebody sends by hand changes nothing."""
    job, trainee = bay.hum(), bay.as_role("trainee")
    rows = [("event", "f" * 24), ("kind", "closed"), ("outcome", "done")]
    answer = trainee.post(f"/jobs/{job}/events", rows)

    assert answer.status_code == 403
    assert "trainee" in answer.text


def test_an_unknown_kind_of_form_is_refused(bay: Bay) -> None:
    """What nobody foresaw writes nothing."""
    job = bay.hum()
    for kind in ("", "gate-opened", "written-up"):
        answer = bay.post(f"/jobs/{job}/events", [("event", "e" * 24), ("kind", kind)])
        assert answer.status_code == 422
        assert "not known here" in answer.text

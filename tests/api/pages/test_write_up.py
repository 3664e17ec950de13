"""The write-up: what each button keeps, and that two people lose nothing to each other."""

from __future__ import annotations

import re
from typing import Any

from api.store.events import GateAnswered
from tests.api.pages.bay import Bay, Form, forms_of, seen

STEPS = ("car", "work", "words", "findings", "codes", "questions", "gates")


def form_of(bay: Bay, job: str, step: str = "car") -> Form:
    """Return the one form of a write-up."""
    return bay.form(f"/jobs/{job}/write-up?step={step}", step=step)


def case_of(bay: Bay, job: str) -> Any:
    """Return what is known of the car."""
    return bay.shop.store.jobs.state(bay.shop.settings.shop, job).case


def test_one_question_stands_on_a_phone_at_each_step(bay: Bay) -> None:
    """Of all steps one is the current one; the style hides the others on a narrow screen."""
    job = bay.job()
    for step in STEPS:
        text = bay.page(f"/jobs/{job}/write-up?step={step}")
        current = re.findall(r'<section class="step current" aria-labelledby="(\w+)"', text)
        assert current == [step]
        assert len(re.findall(r'<section class="step', text)) == len(STEPS)


def test_every_step_leads_to_the_next_and_the_last_to_the_sheet(bay: Bay) -> None:
    """Pressing the main button again and again walks through all of it."""
    job, step, walked = bay.job(), "car", []
    while step != "sheet":
        walked.append(step)
        answer = bay.send(form_of(bay, job, step), ("go", _next(bay, job, step)))
        assert answer.status_code == 303
        step = _next(bay, job, step)
    assert walked == list(STEPS)
    assert answer.headers["location"] == f"/jobs/{job}"


def _next(bay: Bay, job: str, step: str) -> str:
    text = bay.page(f"/jobs/{job}/write-up?step={step}")
    section = text.split(f'aria-labelledby="{step}"')[1].split("</section>")[0]
    found: list[str] = re.findall(r'class="main" name="go" value="(\w+)"', section)
    return found[-1]


def test_an_untouched_form_writes_nothing(bay: Bay) -> None:
    """Looking through a write-up leaves no mark in the history."""
    job = bay.hum()
    before = bay.bodies(job)
    bay.send(form_of(bay, job), ("go", "work"))

    assert bay.bodies(job) == before


def test_the_car_is_kept_as_typed(bay: Bay) -> None:
    """Numbers with a comma, unknown left unknown."""
    job = bay.job()
    bay.send(
        form_of(bay, job), ("go", "work"), age_years="7,5", odometer_km="181000",
        salted_roads="yes", drivetrain="rwd", tyres="225/60R17", **{"fact-0": "vf-air-suspension"},
    )  # fmt: skip
    car = case_of(bay, job).vehicle

    assert (car.age_years, car.odometer_km, car.salted_roads) == (7.5, 181000.0, True)
    assert (car.drivetrain, car.tyres, car.facts) == (
        "rwd", {"all": "225/60R17"}, ("vf-air-suspension",),
    )  # fmt: skip


def test_two_people_at_one_write_up_lose_nothing(bay: Bay) -> None:
    """Each changes another field of the same page; both changes stand."""
    job, other = bay.job(), bay.as_role("senior")
    mine, theirs = form_of(bay, job), form_of(other, job)
    other.send(theirs, ("go", "work"), age_years="9")
    bay.send(mine, ("go", "work"), complaint="the light came back")
    case = case_of(bay, job)

    assert (case.vehicle.age_years, case.complaint) == (9.0, "the light came back")


def test_words_are_no_evidence_until_picked(bay: Bay) -> None:
    """The customer's words are kept; at most five findings are offered, none of them chosen."""
    job = bay.job()
    answer = bay.send(
        form_of(bay, job, "words"), ("go", "words"), complaint="growl or hum with road speed"
    )
    text = bay.page(answer.headers["location"])
    offered = re.findall(r'value="accept\|(sy-[a-z-]+)\|', text)

    assert case_of(bay, job).findings == ()
    assert 0 < len(offered) <= 5
    assert "None of these" in text


def test_a_picked_finding_is_taken_down(bay: Bay) -> None:
    """One tap on a large button is one finding."""
    job = bay.job(complaint="it hums")
    bay.send(form_of(bay, job, "words"), ("do", "accept|sy-hum-speed|rear|present"))
    (found,) = case_of(bay, job).findings

    assert (found.id, found.place, found.state) == ("sy-hum-speed", "rear", "present")


def test_none_of_these_keeps_the_words_for_the_senior_technician(bay: Bay) -> None:
    """What no finding fits is how the knowledge learns."""
    job = bay.job(complaint="it goes wubba wubba")
    bay.send(form_of(bay, job, "words"), ("do", "none"))

    assert "it goes wubba wubba" in [getattr(body, "words", "") for body in bay.bodies(job)]
    assert "No finding fits" in bay.page(f"/jobs/{job}")


def test_a_finding_changes_its_place_and_goes(bay: Bay) -> None:
    """A place that was wrong leaves no second finding behind."""
    job = bay.hum()
    bay.send(form_of(bay, job, "findings"), ("go", "codes"), **{"place-sy-hum-speed@": "rear"})
    assert [(one.id, one.place) for one in case_of(bay, job).findings] == [("sy-hum-speed", "rear")]

    form = form_of(bay, job, "findings")
    bay.send(form, ("go", "codes"), **{"state-sy-hum-speed@rear": "gone"})
    assert case_of(bay, job).findings == ()


def test_codes_are_read_before_they_are_kept(bay: Bay) -> None:
    """Typed text and bytes give the same rows; nothing is written by reading."""
    job = bay.job()
    text = _read_page(bay, job, "found c0051-64\n\n59 02 FF 40 31 1F 2F")

    assert "C0051-64" in text
    assert "C0031-1F" in text
    assert "fails now" in text
    assert case_of(bay, job).codes == ()


def test_kept_codes_stand_in_the_case(bay: Bay) -> None:
    """Each is one event, so that each can be taken off by itself."""
    job = bay.job()
    kept = _read(bay, job, "C0051-64 U0126")
    bay.send(kept, ("go", "codes"))
    text = bay.page(f"/jobs/{job}/write-up?step=codes")
    drop = re.findall(r'value="(drop-code\|[^"]+)"', text)
    bay.send(form_of(bay, job, "codes"), ("do", drop[0]))

    assert len(drop) == 2
    assert [(one.code, one.failure_type) for one in case_of(bay, job).codes] == [("U0126", "")]


def _read(bay: Bay, job: str, text: str) -> Form:
    """Return the form after codes were read."""
    return next(form for form in forms_of(_read_page(bay, job, text)) if "raw" in form.names)


def _read_page(bay: Bay, job: str, text: str) -> str:
    """Return the page after "Read them" was pressed."""
    answer = bay.send(form_of(bay, job, "codes"), ("do", "read"), raw=text)
    return bay.page(answer.headers["location"])


def test_a_number_with_two_meanings_is_asked_about(bay: Bay) -> None:
    """Two layouts are on the road: neither is picked by the page."""
    job = bay.job()
    form = _read(bay, job, "C0040")
    assert "meaning-0" in form.names
    assert form.value("meaning-0") == ""

    text = _read_page(bay, job, "C0040")
    meanings = re.findall(r'name="meaning-0" value="(dtc-[a-z0-9-]+)"', text)
    bay.send(form, ("go", "codes"), **{"meaning-0": meanings[1]})
    assert len(meanings) == 2
    assert case_of(bay, job).codes[0].meaning == meanings[1]


def test_what_cannot_be_read_is_said(bay: Bay) -> None:
    """A text without a code is answered with what would be one."""
    job = bay.job()

    assert 'class="note"' in _read_page(bay, job, "nothing stored")


def test_the_questions_that_matter_are_asked_and_kept(bay: Bay) -> None:
    """Only findings are asked here; checks are for the sheet."""
    job = bay.job(seen("sy-lamp-abs"))
    bay.page(f"/jobs/{job}")
    form = form_of(bay, job, "questions")
    bay.send(form, ("go", "gates"), **{"q-sy-hum-speed": "absent"})

    assert [name for name in form.names if name.startswith("q-")] == ["q-sy-hum-speed"]
    assert ("sy-hum-speed", "absent") in [(one.id, one.state) for one in case_of(bay, job).findings]


def test_a_safety_question_left_open_counts_as_yes(bay: Bay) -> None:
    """Nothing ticked and nothing confirmed: every question is written down as not asked."""
    job = bay.job()
    form = form_of(bay, job, "gates")
    assert "What is not asked counts as yes" in bay.page(f"/jobs/{job}/write-up?step=gates")
    bay.send(form, ("go", "sheet"))
    told = [body for body in bay.bodies(job) if isinstance(body, GateAnswered)]

    assert len(told) > 15
    assert {body.answer for body in told} == {"skipped"}


def test_gates_stand_on_the_page_before_there_is_any_list(bay: Bay) -> None:
    """Every question left open and nothing else written: shut, on the sheet and on the board."""
    job = bay.job()
    quiet = bay.page(f"/jobs/{job}")
    bay.send(form_of(bay, job, "gates"), ("go", "sheet"))
    sheet, board = bay.page(f"/jobs/{job}"), bay.page("/")

    assert "Must not be driven" not in quiet
    assert sheet.count("Must not be driven") >= 3
    assert "which counts as yes" in sheet
    assert "Nothing to go by yet" in sheet
    assert "After that" not in sheet
    assert "Must not be driven" in board


def test_safety_questions_all_answered_no_shut_nothing(bay: Bay) -> None:
    """The way out of it is to ask."""
    job = bay.job()
    form = form_of(bay, job, "gates")
    page = bay.page(f"/jobs/{job}/write-up?step=gates")
    gates = re.findall(r'name="asked" value="([^"]+)"', page)
    bay.send(form, ("go", "sheet"), asked=gates)

    assert len(gates) >= 5
    assert "Must not be driven" not in bay.page(f"/jobs/{job}")


def test_ticked_is_yes_and_confirmed_is_no(bay: Bay) -> None:
    """Two ticks answer a whole gate."""
    job = bay.job()
    bay.send(
        form_of(bay, job, "gates"), ("go", "sheet"), yes="sy-pedal-low", asked="sg-brake-hydraulic"
    )
    told = {body.finding: body.answer for body in bay.bodies(job) if isinstance(body, GateAnswered)}
    findings = {one.id: one.state for one in case_of(bay, job).findings}

    assert (told["sy-pedal-low"], told["sy-pedal-hard"]) == ("yes", "no")
    assert told["sy-tyre-bulge"] == "skipped"
    assert (findings["sy-pedal-low"], findings["sy-pedal-hard"]) == ("present", "absent")


def test_another_step_leaves_the_safety_questions_alone(bay: Bay) -> None:
    """On a desk all questions stand on one page; keeping the car answers none of them."""
    job = bay.job()
    bay.send(form_of(bay, job, "car"), ("go", "work"), age_years="3")

    assert not [body for body in bay.bodies(job) if isinstance(body, GateAnswered)]


def test_a_number_that_cannot_be_is_refused_in_a_sentence(bay: Bay) -> None:
    """Nothing of the form is written then."""
    job = bay.job()
    for typed in ("soon", "-3", "900"):
        answer = bay.send(form_of(bay, job), ("go", "work"), age_years=typed, label="a van")
        assert answer.status_code == 422
        assert "othing was written" in answer.text
    assert case_of(bay, job).vehicle.label == "invented van"
